"""The window: job sheet, 3D view and elevation around one bench, with menus, status line and banners."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QByteArray, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication, QImage
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QHBoxLayout,
    QMainWindow,
    QMessageBox,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app import actions, settings
from app.bench import Bench
from app.housekeeping import Housekeeping
from app.keeping import log as log_keeping
from app.language import translator
from app.look import fonts, theme
from app.look.current import current
from app.look.dialogs import file_dialog
from app.look.icons import window_icon
from app.look.tokens import Space, Type
from app.panels.elevation.panel import ElevationPanel
from app.panels.job_sheet import HAND_OVER, PART, SPAN, SPOTS, TEETH, JobSheet
from app.panels.start_page import RecentEntry, SampleEntry, StartPage
from app.panels.widgets import Banner, Choice, IconButton, Segmented, ThemedLabel
from app.scene import Scene
from app.setups import Shelf
from app.side_windows import SideWindows
from app.store import Store
from app.tools import ToolStrip
from app.view.viewport import Viewport
from app.work.runner import Runner, WorkerRunner
from core.errors import NeedsChoice
from core.job.hand_over import HandedOver, suggested_path
from core.job.job import Job
from samples import SAMPLES, sample_path

log = logging.getLogger(__name__)
#: An edge nearer than this to what lies below is none to walk to, mm.
LEAST_GAP = 0.2
#: The worker processes start so long after the window is shown, ms: its first picture comes before them.
WARM_UP_AFTER = 150
MESHES = "*.stl *.3mf *.obj *.ply *.json"


class Window(QMainWindow):
    """One window, one job."""

    def __init__(
        self,
        runner: Runner | None = None,
        remembered: settings.Settings | None = None,
        view: Viewport | None = None,
    ) -> None:
        """``view`` lends a 3D view that is already there; it is then not closed with the window."""
        super().__init__()
        self._lent = view is not None
        self.remembered = remembered or settings.load()
        self.store = Store()
        self.runner = runner or WorkerRunner()
        self.shelf = Shelf(self.remembered)
        kept = self.shelf.current()
        self.bench = Bench(self.store, self.runner, kept.setup)
        self.bench.lessons = kept.lessons
        self.bench.view.unit = "inch" if self.remembered.unit == "inch" else "millimeter"
        self.view = view or Viewport()
        self.scene = Scene(self.bench, self.view)
        self.sheet = JobSheet(self.bench)
        self.elevation = ElevationPanel(self.bench)
        self.start = StartPage()
        self.keep, self.side = Housekeeping(self), SideWindows(self)
        self._hint, self._walked = "", -1
        self.setWindowIcon(window_icon())
        self.setAcceptDrops(True)
        self.resize(QSize(1440, 900))
        self.actions_by_name = actions.build(self)
        self.side.put_keys_on()
        self._lay_out()
        self._connect()
        self._fill_start()
        self._refresh()

    def _lay_out(self) -> None:
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.view, 1)
        column.addWidget(self.elevation)
        work = QWidget()
        row = QHBoxLayout(work)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sheet)
        row.addWidget(right, 1)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.start)
        self.pages.addWidget(work)
        self.banner = Banner(wide=True, dismissable=True)
        self.banner.hide()
        outer = QWidget()
        whole = QVBoxLayout(outer)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.banner)
        whole.addWidget(self.pages, 1)
        whole.addWidget(self._status_line())
        self.setCentralWidget(outer)
        self.tools = ToolStrip(self.actions_by_name, actions.TOOLS, self.view)
        self._corner()

    def _status_line(self) -> QWidget:
        line = QWidget()
        line.setFixedHeight(Space.STATUS)
        row = QHBoxLayout(line)
        row.setContentsMargins(Space.XL, 0, Space.XL, 0)
        row.setSpacing(Space.L)
        self.hint = ThemedLabel("", "ink", Type.TEXT, Type.SEMIBOLD)
        self.progress = ThemedLabel("", "ink2", Type.LABEL)
        self.cursor_label = ThemedLabel("", "ink2", Type.LABEL)
        self.units = Segmented([Choice("millimeter", "mm"), Choice("inch", self.tr("inch"))], self.tr("Unit shown"))
        self.units.set_current(self.bench.view.unit)
        self.units.chosen.connect(self.set_unit)
        row.addWidget(self.hint, 1)
        row.addWidget(self.progress)
        row.addWidget(self.cursor_label)
        row.addWidget(self.units)
        return line

    def _corner(self) -> None:
        self._corner_holder = holder = QWidget(self.menuBar())  # the menu bar does not keep it alive
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, Space.M, 0)
        row.setSpacing(0)
        for name, action in (("job_sheet", "sheet"), ("theme", "theme"), ("settings", "setup")):
            button = IconButton(name, self.actions_by_name[action].text().replace("&", ""))
            button.clicked.connect(self.actions_by_name[action].trigger)
            row.addWidget(button)
        holder.setFixedSize(holder.sizeHint())
        self.menuBar().setCornerWidget(holder, Qt.Corner.TopRightCorner)
        holder.show()

    def _connect(self) -> None:
        self.bench.refreshed.connect(self._refresh)
        self.bench.said.connect(self.say)
        self.bench.progressed.connect(self._progress)
        self.bench.written.connect(self._written)
        self.bench.choice_needed.connect(self._choose)
        self.bench.part_shown.connect(self._shown)
        self.runner.busy_changed.connect(self._busy)
        self.store.history_changed.connect(self._history)
        self.store.changed.connect(self._follow)
        self.scene.hinted.connect(self._show_hint)
        self.scene.pointed.connect(self._show_place)
        self.sheet.hand_over_asked.connect(self.ask_hand_over)
        self.sheet.open_asked.connect(self.ask_open)
        self.sheet.setup_asked.connect(self.side.show_setup)
        self.sheet.trial_asked.connect(self.side.show_trial)
        self.sheet.outcomes_asked.connect(self.side.show_outcomes)
        self.bench.setup_changed.connect(self.side.keep_setup)
        self.start.open_requested.connect(self.ask_open)
        self.start.file_dropped.connect(self.open)
        self.start.sample_chosen.connect(lambda name: self.open(sample_path(name)))
        self.start.recent_chosen.connect(self.open)
        self.banner.dismissed.connect(self.banner.hide)
        self.banner.chosen.connect(self._answered)
        self._answer: object = None

    # Opening and closing

    def _fill_start(self) -> None:
        self.start.set_samples([SampleEntry(s.name, s.title, s.line) for s in SAMPLES])
        recent = [Path(p) for p in self.remembered.recent]
        self.start.set_recent([RecentEntry(p) for p in recent if p.exists()])
        self.keep.draw_start_page()

    def open(self, path: Path) -> None:
        """Open a mesh, after asking about work that is not handed over yet."""
        if self._may_leave():
            self.banner.hide()
            self.bench.open(Path(path))

    def ask_open(self) -> None:
        """The file dialog."""
        dialog = file_dialog(
            self, self.tr("Open a mesh"), self.remembered.folder, self.tr("Meshes ({0})").format(MESHES)
        )
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        if dialog.exec() and dialog.selectedFiles():
            self.open(Path(dialog.selectedFiles()[0]))

    def put_away(self) -> None:
        """Back to the start page."""
        if self._may_leave():
            self.bench.close()
            self._fill_start()

    def _may_leave(self) -> bool:
        """Ask about work that would be lost. True when it may go on."""
        if not self.store.unsaved:
            return True
        box = QMessageBox(self)
        box.setWindowTitle(self.tr("Snapcomb"))
        box.setText(self.tr("The work on {0} has not been handed over.").format(self.bench.job.part.name))
        box.setInformativeText(self.tr("It would be lost."))
        save = box.addButton(self.tr("Hand over…"), QMessageBox.ButtonRole.AcceptRole)
        discard = box.addButton(self.tr("Discard"), QMessageBox.ButtonRole.DestructiveRole)
        cancel = box.addButton(self.tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(save)
        box.setEscapeButton(cancel)
        box.exec()
        if box.clickedButton() is save:
            self.ask_hand_over("part", "file")
            return False
        return box.clickedButton() is discard

    def _shown(self) -> None:
        job = self.bench.job
        if job is not None and job.part.source is not None:
            settings.remember_file(self.remembered, job.part.source.path)
        self.pages.setCurrentIndex(1)
        self.scene.show_part()
        self.sheet.unfold(PART if self.sheet.asks_for_unit() else SPOTS)
        self.view.setFocus()

    # Handing over

    def quick_hand_over(self) -> None:
        """Write beside the original under a new name, asking nothing unless that name is taken."""
        job = self.bench.job
        if job is None:
            return
        self.bench.hand_over(_free_name(suggested_path(job)))

    def ask_hand_over(self, what: str, frame: str) -> None:
        """Ask for the name and format of the file."""
        job = self.bench.job
        if job is None:
            return
        dialog = file_dialog(self, self.tr("Hand over"), str(suggested_path(job).parent), ";;".join(
            (self.tr("STL (*.stl)"), self.tr("3MF (*.3mf)"), self.tr("As the original (*.{0})").format(
                job.part.source.format if job.part.source else "stl"))))  # fmt: skip
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("stl")
        dialog.setLabelText(QFileDialog.DialogLabel.Accept, self.tr("Hand over"))
        name = suggested_path(job)
        dialog.selectFile(name.name if what == "part" else f"{name.stem}_only{name.suffix}")
        if dialog.exec() and dialog.selectedFiles():
            self.bench.hand_over(Path(dialog.selectedFiles()[0]), frame, what, True)

    def _written(self, done: HandedOver) -> None:
        settings.save(self.remembered)
        self.sheet.unfold(HAND_OVER)
        self._show_hint(self.tr("Written: {0}").format(done.path.name))

    # Showing

    def _refresh(self) -> None:
        job = self.bench.job
        if job is None:
            self.pages.setCurrentIndex(0)
            self.setWindowTitle(self.tr("Snapcomb"))
        else:
            self.setWindowTitle(f"{job.part.name}{'*' if self.store.unsaved else ''} — Snapcomb")
        for action in self.actions_by_name.values():
            action.setEnabled(job is not None or not action.data())
        self._history()
        self.tools.setVisible(job is not None)
        self.hint.setText(self._hint if job else self.tr("Drop a mesh, or press Ctrl+O."))

    def _follow(self, old: Job | None, new: Job | None) -> None:
        """Unfold the line of the sheet where the work goes on."""
        if new is None or old is None or old.part is not new.part:
            return
        if new.draft is not None and (old.draft is None or old.draft.number != new.draft.number):
            self.sheet.unfold(TEETH)
        elif new.draft is None and old.draft is not None:
            self.sheet.unfold(HAND_OVER if len(new.rows) > len(old.rows) else SPOTS)

    def _history(self) -> None:
        undo, redo = self.actions_by_name["undo"], self.actions_by_name["redo"]
        for action, label, words in (
            (undo, self.store.undo_label, self.tr("Undo")), (redo, self.store.redo_label, self.tr("Redo")),
        ):  # fmt: skip
            action.setEnabled(label is not None)
            action.setText(f"{words}: {label}" if label else words)

    def _show_hint(self, text: str) -> None:
        self._hint = text
        self.hint.setText(text)

    def _show_place(self, point: np.ndarray | None) -> None:
        scale = 25.4 if self.bench.view.unit == "inch" else 1.0
        self.cursor_label.setText("" if point is None else "x {:.2f}   y {:.2f}   z {:.2f}".format(*(point / scale)))

    def _progress(self, lane: str, fraction: float, text: str) -> None:
        self.progress.setText(f"{text}  {round(fraction * 100)} %" if fraction else text)

    def _busy(self, lane: str, busy: bool) -> None:
        if not busy and not any(self.runner.busy(name) for name in ("open", "inspect", "write")):
            self.progress.setText("")
        QTimer.singleShot(0, self._refresh_sheet)

    def _refresh_sheet(self) -> None:
        if self.bench.job is not None:
            self.sheet.refresh()

    def say(self, kind: str, text: str, steps: object) -> None:
        """A sentence across the window."""
        self._answer = None
        self.banner.show_message(text, tuple(steps), kind=kind)
        self.banner.show()

    def _choose(self, problem: NeedsChoice, go_on: Callable[[str], object]) -> None:
        """A question of a file format, answered by a button."""
        names = {
            "all": self.tr("All of them"),
            "copy": self.tr("A copy"),
            "take_whole_facets": self.tr("Take the whole facets"),
        }
        self.ask(str(problem), tuple((c, names.get(c, c.replace("_", " "))) for c in problem.choices), go_on)

    def ask(self, text: str, steps: tuple[tuple[str, str], ...], answer: Callable[[str], object]) -> None:
        """A question across the window, answered by a button."""
        self.banner.show_message(text, steps, kind="attention")
        self.banner.show()
        self._answer = answer

    def _answered(self, word: str) -> None:
        self.banner.hide()
        if callable(self._answer):
            self._answer(word)

    # Small actions

    def enter(self) -> None:
        """Enter: take, accept, add."""
        if self.bench.job is not None and self.bench.job.draft is None and self.sheet.unfolded() not in (0, SPOTS):
            self.sheet.unfold(SPOTS)
            return
        if self.bench.job is not None and self.bench.job.draft is None:
            self.sheet.take_chosen_spot()
            return
        self.bench.accept()
        if self.bench.job is not None and self.bench.job.draft is not None:
            self.sheet.unfold(TEETH if self.bench.view.accepted else SPAN)

    def walk_edges(self, step: int) -> None:
        """Walk by keyboard over the lower edges, worst first, and take the one shown with Enter."""
        edges = self.bench.results.edges
        if edges is None or not len(edges.length):
            return
        longest = (self.bench.job.setup if self.bench.job else self.bench.setup).longest_tooth
        order = np.lexsort((-edges.length, edges.gap > longest / 3))
        order = order[(edges.lower & (edges.gap > LEAST_GAP) & (edges.gap <= longest))[order]]
        if not len(order):
            self.say("note", self.tr("No edge of this part hangs over anything."), ())
            return
        self._walked = (self._walked + step) % len(order)
        feature = int(np.flatnonzero(edges.chain_of == order[self._walked])[0])
        self.bench.click_edge(feature)

    def set_unit(self, unit: str) -> None:
        """Show millimetres or inches."""
        self.bench.view.unit = "inch" if unit == "inch" else "millimeter"
        self.remembered.unit = unit
        self.units.set_current(unit)
        self.bench.refreshed.emit()

    def toggle_theme(self) -> None:
        """Light or dark."""
        self.side.put_on("light" if current().dark else "dark")

    def toggle_parallel(self) -> None:
        """Parallel lines or perspective."""
        self.view.set_parallel(self.actions_by_name["parallel"].isChecked())

    def toggle_sheet(self) -> None:
        """Show or hide the job sheet."""
        self.sheet.setVisible(self.sheet.isHidden())

    def toggle_heat(self) -> None:
        """Colour the part by how far it hangs."""
        self.scene.show_heat(self.actions_by_name["heat"].isChecked())

    def toggle_section(self) -> None:
        """Cut the front half away to look inside."""
        on = self.actions_by_name["section"].isChecked()
        mesh = self.bench.bed_mesh()
        if mesh is not None:
            normal = (
                self.view.camera.towards_eye()
                if hasattr(self.view.camera, "towards_eye")
                else np.array([0.0, -1.0, 0.0])
            )
            self.view.set_section_plane(mesh.bounds.mean(axis=0) if on else None, normal if on else None)

    def toggle_full_screen(self) -> None:
        """Full screen or not."""
        self.showNormal() if self.isFullScreen() else self.showFullScreen()

    def copy_measurement(self) -> None:
        """The last measurement to the clipboard."""
        words = self.scene.measure_words()
        if words:
            QGuiApplication.clipboard().setText(words)

    def copy_picture(self) -> None:
        """The view to the clipboard."""
        QGuiApplication.clipboard().setImage(self.view.screenshot())

    def ask_picture(self) -> None:
        """The view to a file."""
        dialog = file_dialog(self, self.tr("Save a picture"), self.remembered.folder, self.tr("Pictures (*.png)"))
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("png")
        if dialog.exec() and dialog.selectedFiles():
            image: QImage = self.view.screenshot()
            if not image.save(dialog.selectedFiles()[0]):
                self.say("attention", self.tr("The picture could not be written there. Choose another folder."), ())

    # Events

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        """Take files that look like meshes."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        """Open the first file dropped."""
        urls = event.mimeData().urls()
        if urls and urls[0].isLocalFile():
            event.acceptProposedAction()
            self.open(Path(urls[0].toLocalFile()))

    def keyPressEvent(self, event: object) -> None:  # noqa: N802
        """Esc steps back."""
        if event.key() == Qt.Key.Key_Escape:
            self.bench.step_back()
            return
        super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Ask about unsaved work, then end everything in order."""
        if not self._may_leave():
            event.ignore()
            return
        self.remembered.geometry = bytes(self.saveGeometry().toBase64().data()).decode()
        settings.save(self.remembered)
        self.keep.close()
        self.runner.close()
        if not self._lent:
            self.view.close()
        event.accept()


def _free_name(path: Path) -> Path:
    """The path, or the first numbered one that is not taken."""
    number, fresh = 2, path
    while fresh.exists():
        fresh = path.with_stem(f"{path.stem}_{number}")
        number += 1
    return fresh


def run(path: Path | None = None) -> int:
    """Open the window, on a file if one is given, and return the exit status."""
    theme.prepare()
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName("Snapcomb")
    remembered = settings.load()
    log_keeping.start()
    translator.install(translator.chosen_language(remembered.language))
    fonts.set_scale(remembered.type_scale)
    theme.apply(app, remembered.theme if remembered.theme in ("light", "dark") else "light")
    window = Window(remembered=remembered)
    if remembered.geometry:
        window.restoreGeometry(QByteArray.fromBase64(remembered.geometry.encode()))
    window.view.animated = remembered.animation
    unwatch = log_keeping.watch_exceptions(lambda text: window.say("attention", text, ()))
    window.show()
    if path is not None:
        QTimer.singleShot(0, lambda: window.open(path))
    QTimer.singleShot(WARM_UP_AFTER, window.runner.warm_up)
    try:
        return app.exec()
    finally:
        unwatch()
        log_keeping.stop()
