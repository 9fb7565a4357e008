"""The print setup: figures with their sources, materials, and what the person's own prints have taught."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QTabWidget, QVBoxLayout, QWidget

from app.bench import Bench
from app.look.current import box_height
from app.look.tokens import Space, Type
from app.panels.dialog import SheetDialog
from app.panels.setup_own import TaughtPage
from app.panels.setup_pages import FiguresPage, MaterialPage
from app.panels.widgets import LinkButton, VerbButton
from app.setups import Kept, Shelf
from core.design.setup import PrintSetup
from core.errors import SnapcombError

USUAL = ""


class SetupDialog(SheetDialog):
    """Changes go to the bench at once, each an undo step; the sentence below says what was refused."""

    def __init__(self, bench: Bench, shelf: Shelf, parent: QWidget | None = None) -> None:
        super().__init__(bench.tr("Print setup"), parent)
        self.bench, self.shelf = bench, shelf
        self.words(self.tr("What your printer lays down, and how far it can reach unsupported."), "ink2", Type.TEXT)
        self.column.addWidget(self._names())
        self.figures = FiguresPage(bench)
        self.material = MaterialPage(bench, shelf)
        self.taught = TaughtPage(bench)
        self.pages = QTabWidget()
        for page, title in (
            (self.figures, self.tr("Figures")), (self.material, self.tr("Material")),
            (self.taught, self.tr("What your printer taught us")),
        ):  # fmt: skip
            self.pages.addTab(_padded(page), title)
        self.column.addWidget(self.pages, 1)
        done = VerbButton(self.tr("Done"), primary=True)
        done.clicked.connect(self.accept)
        self.foot(done)
        self.boxes, self.choices = self.figures.boxes, self.figures.choices
        self.setMinimumWidth(680)
        bench.refreshed.connect(self.refresh)
        bench.setup_changed.connect(self.refresh)  # without a job nothing else would tell
        self.refresh()

    def _names(self) -> QWidget:
        """Setups that are kept by name: choose one, keep the one in hand, take one off the shelf."""
        holder = QWidget()
        line = QHBoxLayout(holder)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(Space.S)
        self.chosen = QComboBox()
        self.chosen.setAccessibleName(self.tr("Kept setups"))
        self.chosen.activated.connect(lambda i: self.choose(self.chosen.itemData(i)))
        self.name = QLineEdit()
        self.name.setPlaceholderText(self.tr("A name, such as that of the printer"))
        self.name.setAccessibleName(self.tr("Name of the setup"))
        self.name.returnPressed.connect(self.keep)
        keep = VerbButton(self.tr("Keep it"))
        keep.clicked.connect(self.keep)
        self.drop_button = LinkButton(self.tr("Forget it"))
        self.drop_button.clicked.connect(self.drop)
        for widget, share in ((self.chosen, 2), (self.name, 3), (keep, 0), (self.drop_button, 0)):
            if not isinstance(widget, LinkButton):
                widget.setMinimumHeight(box_height())
            line.addWidget(widget, share)
        return holder

    def choose(self, name: str) -> None:
        """Work with a kept setup, or with the usual one."""
        kept = next((k for k in self.shelf.kept() if k.name == name), Kept(USUAL, PrintSetup()))
        self.shelf.settings.setup_name = kept.name
        self.bench.use_setup(self.tr("Setup: {0}").format(kept.name or self.tr("usual")), kept.setup, kept.lessons)

    def keep(self) -> None:
        """Keep the setup in hand under the name that was typed, with what its prints taught."""
        kept = Kept(" ".join(self.name.text().split()), self._setup(), self.bench.lessons)
        try:
            self.shelf.keep(kept)
        except SnapcombError as problem:
            self.refuse(str(problem))
            return
        self.refuse("")
        self.name.clear()
        self.shelf.settings.setup_name = kept.name
        self.bench.setup_changed.emit()
        self.refresh()

    def drop(self) -> None:
        """Take the kept setup off the shelf; its figures stay in use."""
        self.shelf.drop(self.shelf.settings.setup_name)
        self.bench.setup_changed.emit()
        self.refresh()

    def _setup(self) -> PrintSetup:
        return self.bench.job.setup if self.bench.job is not None else self.bench.setup

    def refresh(self) -> None:
        """Show the setup of the job, or the one for the next job."""
        name = self.shelf.settings.setup_name
        kept = {k.name: k for k in self.shelf.kept()}
        self.chosen.clear()
        self.chosen.addItem(self.tr("Usual setup") if not name else self.tr("Back to the usual setup"), USUAL)
        for one, entry in kept.items():
            changed = one == name and entry.setup != self._setup()
            self.chosen.addItem(self.tr("{0}, changed").format(one) if changed else one, one)
        self.chosen.setCurrentIndex(max(self.chosen.findData(name), 0))
        self.drop_button.setEnabled(name in kept)
        if name in kept and not self.name.isModified():
            self.name.setText(name)
        for page in (self.figures, self.material, self.taught):
            page.show_setup(self._setup())
        self.refuse(self.bench.results.trouble.get("setup", ""))


def _padded(page: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(Space.XS, Space.L, Space.XS, 0)
    column.addWidget(page, 0, Qt.AlignmentFlag.AlignTop)
    return holder
