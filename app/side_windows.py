"""What opens beside the work: setup, preferences, steps, log, tour and finder, each made when it is first asked for."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QApplication, QDialog

from app import settings
from app.look import fonts, theme
from app.look.current import current
from app.panels.coupon_dialog import CouponDialog, TrialDialog
from app.panels.history import HistoryPanel
from app.panels.log_view import LogView
from app.panels.outcomes_dialog import OutcomesDialog
from app.panels.preferences import Preferences
from app.panels.revision_dialog import RevisionDialog
from app.panels.setup_dialog import SetupDialog
from app.panels.steps.hand_over_step import minding
from app.panels.widgets import Finder
from app.setups import Kept
from app.shortcuts import Shortcuts
from app.tour import Tour

if TYPE_CHECKING:
    from app.window import Window


class SideWindows(QObject):
    """Opens them for one window."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window = window
        self.finder: Finder | None = None
        self.setup_dialog: SetupDialog | None = None
        self.piece: CouponDialog | TrialDialog | None = None
        self.outcomes: OutcomesDialog | None = None
        self.preferences: Preferences | None = None
        self.history: HistoryPanel | None = None
        self.log: LogView | None = None
        self.tour: Tour | None = None
        self.revision: RevisionDialog | None = None
        self.shortcuts: Shortcuts | None = None

    def put_keys_on(self) -> None:
        """Give the actions the keys that the person chose."""
        self.shortcuts = Shortcuts(self.window.actions_by_name, self.window.remembered)

    def show_finder(self) -> None:
        """Find an action by a word."""
        self.finder = self.finder or Finder(self.window)
        self.finder.open()

    def show_setup(self) -> None:
        """The print setup of the job."""
        window = self.window
        self.setup_dialog = self.setup_dialog or SetupDialog(window.bench, window.shelf, window)
        self.setup_dialog.refresh()
        self.setup_dialog.show()
        self.setup_dialog.raise_()

    def keep_setup(self) -> None:
        """New jobs begin with the setup in use, also after the next start."""
        bench, shelf = self.window.bench, self.window.shelf
        shelf.use(Kept(self.window.remembered.setup_name, bench.setup, bench.lessons))
        settings.save(self.window.remembered)

    def show_coupon(self) -> None:
        """The coupon for the setup in hand."""
        _let_go(self.piece)
        self.piece = CouponDialog(self.window.bench, self.window)
        self.piece.show()

    def show_trial(self) -> None:
        """A trial piece of a row."""
        job = self.window.bench.job
        if job is None or not job.all_rows:
            self.window.say("note", self.tr("There is no row to cut a trial piece of. Take a gap first."), ())
            return
        _let_go(self.piece)
        self.piece = TrialDialog(self.window.bench, self.window)
        self.piece.show()

    def show_outcomes(self) -> None:
        """How the printed rows went."""
        job = self.window.bench.job
        if job is None or not job.rows:
            self.window.say("note", self.tr("No row has been added, so none was printed."), ())
            return
        _let_go(self.outcomes)
        self.outcomes = OutcomesDialog(self.window.bench, self.window)
        self.outcomes.show()

    def show_preferences(self) -> None:
        """What is the same for all jobs."""
        if self.preferences is None:
            assert self.shortcuts is not None
            self.preferences = Preferences(self.window.remembered, self.shortcuts, self.window)
            self.preferences.changed.connect(self._preferred)
        self.preferences.refresh()
        self.preferences.show()
        self.preferences.raise_()

    def _preferred(self, name: str) -> None:
        window = self.window
        if name in ("theme", "type_scale"):
            fonts.set_scale(window.remembered.type_scale)
            self.put_on(window.remembered.theme)
        elif name == "unit":
            window.set_unit(window.remembered.unit)
        elif name == "setup":
            window.bench.setup = window.shelf.current().setup
        elif name == "animation":
            window.view.animated = window.remembered.animation

    def put_on(self, name: str) -> None:
        """Show everything in a theme."""
        window = self.window
        window.remembered.theme = "dark" if name == "dark" else "light"
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        theme.apply(application, name)
        window.view.set_theme(current())
        window.elevation.set_theme(current())
        window.keep.draw_start_page()
        settings.save(window.remembered)

    def show_history(self) -> None:
        """The steps of the job; a click jumps there."""
        self.history = self.history or HistoryPanel(self.window.store, self.window)
        self.history.open_at(self.window.tools)

    def show_log(self) -> None:
        """The log, and what to tell when asking for help."""
        self.log = self.log or LogView(self.window.view.rendering.stage.renderer_name(), self.window)
        self.log.refresh()
        self.log.show()
        self.log.raise_()

    def show_tour(self) -> None:
        """Lead through one job on the sample."""
        if self.tour is None:
            self.tour = Tour(self.window)
        self.tour.start()

    def show_minding(self) -> None:
        """What to mind when printing."""
        self.window.say("note", minding(), ())

    def show_about(self) -> None:
        """Version and licence."""
        try:
            number = version("snapcomb")
        except PackageNotFoundError:
            number = self.tr("not installed")
        words = self.tr("Snapcomb {0}, under the MIT licence. All forces and sags are estimates.")
        self.window.say("note", words.format(number), ())


def _let_go(dialog: QDialog | None) -> None:
    """A dialog that is made anew each time: the one before belongs to the window and would stay with it."""
    if dialog is not None:
        dialog.close()
        dialog.deleteLater()
