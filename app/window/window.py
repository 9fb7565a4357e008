"""The window itself: everything put together, and what keys, menus and drops do."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QGuiApplication

from app import actions, carrying, settings
from app.housekeeping import Housekeeping
from app.look.current import current
from app.look.icons import window_icon
from app.panels.job_sheet import SPAN, SPOTS, TEETH
from app.side_windows import SideWindows
from app.tools import ToolStrip
from app.view.viewport import Viewport
from app.window.files import WindowFiles
from app.work.runner import Runner
from samples import sample_path

#: An edge nearer than this to what lies below is none to walk to, mm.
LEAST_GAP = 0.2


class Window(WindowFiles):
    """One window, one job."""

    def __init__(
        self,
        runner: Runner | None = None,
        remembered: settings.Settings | None = None,
        view: Viewport | None = None,
    ) -> None:
        """``view`` lends a 3D view that is already there; it is then not closed with the window."""
        super().__init__(runner, remembered, view)
        self.keep, self.side = Housekeeping(self), SideWindows(self)
        self._walked = -1
        self.setWindowIcon(window_icon())
        self.setAcceptDrops(True)
        self.actions_by_name = actions.build(self)
        self.side.put_keys_on()
        self._lay_out()
        self.tools = ToolStrip(self.actions_by_name, actions.TOOLS, self.view)
        self._corner()
        self._put_in_order()
        self._connect()
        self._fill_start()
        self._refresh()

    def _put_in_order(self) -> None:
        """Tab goes as one reads: job sheet, tools, view, elevation, unit, and the corner of the menu bar."""
        order = [self.sheet.setup, *self.tools.buttons, self.view]
        for one, following in pairwise(order):
            self.setTabOrder(one, following)
        self.menuBar().setAccessibleName(self.tr("Menus"))

    def _connect(self) -> None:
        self.bench.refreshed.connect(self._refresh)
        self.bench.said.connect(self.say)
        self.bench.progressed.connect(self._progress)
        self.bench.written.connect(self._written)
        self.bench.choice_needed.connect(self._choose)
        self.bench.mesh_wanted.connect(lambda file, problem: carrying.offer_mesh(self, file, problem))
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

    def enter(self) -> None:
        """Enter: take, accept, add; or build at the points that were picked."""
        if self.bench.view.mode == "points":
            self.bench.finish_points()
            if self.bench.job is not None and self.bench.job.draft is not None:
                self.sheet.unfold(SPAN)
            return
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
        on, mesh = self.actions_by_name["section"].isChecked(), self.bench.bed_mesh()
        if mesh is not None:
            normal = self.view.camera.basis[2]
            self.view.set_section_plane(mesh.bounds.mean(axis=0) if on else None, normal if on else None)

    def toggle_full_screen(self) -> None:
        """Full screen or not."""
        self.showNormal() if self.isFullScreen() else self.showFullScreen()

    def copy_measurement(self) -> None:
        """The last measurement to the clipboard."""
        words = self.scene.measure_words()
        if words:
            QGuiApplication.clipboard().setText(words)

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
        if not self.may_leave():
            event.ignore()
            return
        self.remembered.geometry = bytes(self.saveGeometry().toBase64().data()).decode()
        settings.save(self.remembered)
        self.keep.close()
        self.runner.close()
        if not self._lent:
            self.view.close()
        event.accept()
