"""What a move or click of the pointer in the 3D view means to the bench."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt

from app.bench import Bench
from app.scene.looking import Looking
from app.view.hit import Hit
from app.view.viewport import Viewport

PICKS = {
    "pick": ("edge",), "ledge": ("edge", "face"), "measure": ("vertex",), "seat": ("face",), "axes": ("edge", "face"),
    "points": ("face",),
}  # fmt: skip


class Scene(Looking):
    """The 3D view of a bench, with what is shown, looked at and pointed at."""

    def __init__(self, bench: Bench, view: Viewport) -> None:
        super().__init__(bench, view)
        self._hovered: tuple[str, int] | None = None
        bench.refreshed.connect(self.refresh)
        bench.part_shown.connect(self.show_part)
        bench.edges_found.connect(self.show_part)
        bench.mode_changed.connect(self._mode)
        bench.spot_chosen.connect(self._fly)
        bench.place_shown.connect(self._fly_to_place)
        bench.layer_shown.connect(self._refresh_layer)
        bench.mending.changed.connect(self._refresh_trouble)
        bench.mending.looked.connect(self._fly_to_defect)
        view.hovered.connect(self._hover)
        view.clicked.connect(self._click)
        view.escape_pressed.connect(bench.step_back)
        view.camera_changed.connect(self._turned)
        self._mode(bench.view.mode)

    def refresh(self) -> None:
        """Show what changed, and say what the next click does."""
        super().refresh()
        if self.bench.job is None:
            return
        self._face_worst()
        if self._hovered is None:
            self.hinted.emit(self.hint())

    def fresh_part(self) -> None:
        """Nothing of another part is under the pointer."""
        self._hovered = None

    def _mode(self, mode: str) -> None:
        self._hovered = None
        self.view.set_pick_kinds(PICKS[mode])
        self.view.set_hover(None)
        self.hinted.emit(self.hint())

    def hint(self) -> str:
        """What the next click does, when nothing is under the pointer."""
        job = self.bench.job
        in_hand = job is not None and job.draft is not None
        return {
            "pick": self.tr("Enter adds the row in hand. A click takes another edge, with Shift adds one. Esc lets go.")
            if in_hand
            else self.tr("Click the edge that hangs free. Drag turns the view."),
            "ledge": self.tr("Click another ledge, or press Enter to take the one proposed. Esc lets the edge go."),
            "measure": self.tr("Click a corner of the part, then another one. Esc ends measuring."),
            "points": self.tr("Click points of an underside: one for a post, more for a wall. Enter builds, Esc ends."),
            "seat": self.tr("Click the face that shall lie on the bed. Esc leaves the part as it is."),
            "axes": self.tr("Click a face to look at it squarely, or an edge that shall run across. Esc leaves it."),
        }[self.bench.view.mode]

    def _hover(self, hit: Hit | None) -> None:
        self.pointed.emit(None if hit is None else np.array(hit.point))
        key = None if hit is None else (hit.kind, hit.index)
        if key == self._hovered and key is not None:
            return
        self._hovered = key
        if hit is None or hit.kind == "none" or (hit.index < 0 and hit.kind != "face"):
            self.view.set_hover(None)
            self.hinted.emit(self.hint())
            return
        if hit.kind == "edge":
            self._hover_edge(hit.index)
        else:
            self.view.set_hover(None)
            self.hinted.emit(self.hint())

    def _hover_edge(self, feature: int) -> None:
        line, edges = self.bench.edge_polyline(feature), self.bench.results.edges
        if line is None or edges is None:
            return
        chain = int(edges.chain_of[feature])
        height, gap = float(edges.height[chain]), float(edges.gap[chain])
        rows = [(self.tr("Length"), self._mm(line.length)), (self.tr("Above bed"), self._mm(height))]
        words = self.tr("Click takes this edge: {0} long, {1} above the bed").format(
            self._mm(line.length), self._mm(height)
        )
        if self.bench.view.mode == "ledge":
            words = self.tr("Click takes this as the ledge: {0} long, {1} above the bed").format(
                self._mm(line.length), self._mm(height)
            )
        elif np.isfinite(gap):
            rows.append((self.tr("Gap"), self._mm(gap)))
            words += self.tr(", gap {0} to what lies below").format(self._mm(gap))
        self.view.set_hover(line.ring, rows)
        self.hinted.emit(words + ".")

    def _click(self, hit: Hit | None, keys: Qt.KeyboardModifier) -> None:
        mode = self.bench.view.mode
        if hit is None:
            return
        if mode == "measure" and hit.kind == "vertex":
            self._measure(np.array(hit.point))
        elif mode == "points" and hit.kind == "face":
            self.bench.click_point(hit.index, np.array(hit.point))
        elif hit.kind == "edge" and mode == "axes":
            self.bench.set_mode("pick")
            self.bench.line_up_edge(hit.index)
        elif hit.kind == "edge" and keys & Qt.KeyboardModifier.ShiftModifier:
            self.bench.join_edge(hit.index)
        elif hit.kind == "edge":
            self.bench.click_edge(hit.index)
        elif hit.kind == "face":
            self.bench.click_face(hit.index, np.array(hit.point))

    def _measure(self, point: np.ndarray) -> None:
        measured = self.bench.view.measured
        measured = [point] if len(measured) != 1 else [measured[0], point]
        self.bench.view.measured = measured
        if len(measured) == 2:
            self.hinted.emit(self.measure_words())
        self.refresh()

    def measure_words(self) -> str:
        """The last measurement in words, also for the clipboard."""
        if len(self.bench.view.measured) != 2:
            return ""
        a, b = self.bench.view.measured
        d = b - a
        return self.tr("Distance {0}, dx {1}, dy {2}, dz {3}").format(
            self._mm(float(np.linalg.norm(d))), *(self._mm(float(abs(x)), False) for x in d)
        )
