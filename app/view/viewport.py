"""The 3D view: it is given data by setters and tells by signals what the hand does. It holds no truth of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from app.look.tokens import Space, Theme
from app.view.balloon_drawing import Balloon
from app.view.camera import NAMED
from app.view.canvas import Canvas
from app.view.handling import Handling, Moves
from app.view.heat_drawing import Heat
from app.view.hit import Hit, Kind
from app.view.measure_drawing import Dimension
from app.view.sheet_drawing import TitleBlock
from app.view.view_block import ViewBlock
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology
from core.units import UnitName

F64 = NDArray[np.float64]

#: Up to this many triangles the search tree for faces is built while nothing else is to be done (some 10 ms).
FINDER_AT_ONCE = 150_000
#: A flight to a small place shows at least this share of the part round it.
LEAST_SHOWN = 0.30


class Viewport(Canvas):
    """Shows a part on its bed, with teeth, chosen edges, balloons and dimensions; all points are bed mm.

    ``hovered`` carries a Hit or None at every move of the pointer; ``clicked`` and ``double_clicked`` a Hit or None
    and the keyboard modifiers. ``escape_pressed`` asks to step back. ``balloon_clicked`` carries a balloon's number.
    """

    hovered = Signal(object)
    clicked = Signal(object, object)
    double_clicked = Signal(object, object)
    balloon_clicked = Signal(int)
    escape_pressed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("3D view of the part"))
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._kinds: tuple[Kind, ...] = ("edge", "face")
        self._pivot: F64 | None = None
        moves = Moves(
            orbit=self._orbit,
            pan=lambda dx, dy: self.move_camera(self.camera.panned(dx, dy, self.height()), settle=False),
            zoom=self._zoom,
            hover=self._hover,
            click=self._click,
            double_click=lambda place, keys: self.double_clicked.emit(self.pick(place), keys),
            grab=self._grab,
            release=self._release,
            frame=self.frame_all,
            turn=self.turn,
            step_back=self.escape_pressed.emit,
        )
        self._handling = Handling(moves)
        self.views = ViewBlock(self)
        self.views.chosen.connect(self.view_named)
        self.camera_changed.connect(self._mark_view)
        self.set_theme(self._theme)

    # Data

    def set_mesh(
        self, mesh: Mesh | None, features: NDArray[np.generic] | None = None, topology: Topology | None = None
    ) -> None:
        """Show a mesh in bed mm, or none.

        ``features`` are its feature edges: vertex pairs (k, 2) int, or segments (k, 2, 3) in bed mm. The topology, if
        given, is that of the same triangles; it serves outline and rounded shading and is worked out for small parts.
        """
        segments, pairs = _features(mesh, features, topology)
        if mesh is not None and topology is not None and topology.mesh is not mesh:
            topology = replace(topology, mesh=mesh)
        first = self.rendering.part.mesh is None
        self.rendering.forget()
        self.rendering.part.set_mesh(mesh, segments, topology)
        self.picker.set_part(mesh, segments, pairs)
        self.layers.bounds = self.bounds
        self.layers.bed.set_bounds(self.bounds)
        self.layers.heat = None
        if mesh is not None and 0 < len(mesh.triangles) <= FINDER_AT_ONCE:
            self.picker.build_finder()
        if first:
            self._unframed = True
            self.frame_all()
        self.request(part=True)

    def set_theme(self, theme: Theme) -> None:
        """Show everything in the colours of a theme."""
        self._theme = theme
        self.rendering.set_theme(theme, self.devicePixelRatioF())
        self.views.lay_out()
        self._place_views()
        self.views.update()
        self.request(part=True)

    def set_view_rotation(self, rotation: F64) -> None:
        """Working axes: a rotation (3, 3) from the bed frame, for looking only. The bed stays under the part."""
        if not np.allclose(rotation, self.camera.working):
            self.fly(self.framing(replace(self.camera, working=np.asarray(rotation, float)), self.bounds))

    def set_hover(self, polyline: F64 | None, figures: Sequence[tuple[str, str]] = ()) -> None:
        """The edge chain (n, 3) that a click would take, and the figures beside the pointer (label, value)."""
        self.layers.edges.hover = _line(polyline)
        self.layers.note = tuple(figures)
        self.request()

    def set_overhang_edge(self, polyline: F64 | None) -> None:
        """The chosen overhang edge (n, 3), or None."""
        self.layers.edges.overhang = _line(polyline)
        self.request()

    def set_ledge(self, polyline: F64 | None) -> None:
        """The chosen ledge (n, 3), or None."""
        self.layers.edges.ledge = _line(polyline)
        self.request()

    def set_ghost_teeth(self, teeth: Mesh | None, attention: Sequence[bool] | NDArray[np.bool_] | None = None) -> None:
        """Teeth that are planned; ``attention`` marks by tooth, in the order of the mesh, what will not print."""
        self.rendering.teeth.set_ghosts(teeth, attention)
        self.request(teeth=True)

    def set_added_teeth(self, teeth: Mesh | None) -> None:
        """Teeth of the rows that are in the job."""
        self.rendering.teeth.set_added(teeth)
        self.request(teeth=True)

    def set_existing_teeth(self, triangles: NDArray[np.float64] | None) -> None:
        """Triangles (k, 3, 3) of the part that are teeth which came with the file: they are hatched."""
        self.rendering.teeth.set_existing(triangles)
        self.request(teeth=True)

    def set_heat(self, values: F64 | None, limit: float = 0.0, label: str = "", unit: str = "mm") -> None:
        """Colour by vertex value (n,), NaN for plaster, with a scale and a line at the limit; None takes it away."""
        heat = None if values is None else Heat(np.asarray(values, float), limit, label, unit)
        self.layers.heat = heat
        self.rendering.part.set_colours(None if heat is None else heat.colours())
        self.request(part=True)

    def set_balloons(self, balloons: Sequence[tuple[int, F64, str, str]]) -> None:
        """Numbered balloons: (number, anchor, title, subtitle)."""
        self.layers.balloons = [Balloon(n, np.asarray(anchor, float), title, sub) for n, anchor, title, sub in balloons]
        self.request()

    def set_dimension(self, p: F64 | None, q: F64 | None = None, text: str = "", *, on_bed: bool = False) -> None:
        """One dimension between two points, laid on the bed if wished; None takes it away."""
        ends = [] if p is None or q is None else [np.asarray(p, float), np.asarray(q, float)]
        self.set_dimensions([Dimension(ends[0], ends[1], text, on_bed)] if ends else [])

    def set_dimensions(self, dimensions: Sequence[Dimension]) -> None:
        """Several dimensions."""
        self.layers.dimensions = list(dimensions)
        self.request()

    def set_title(self, name: str, size: str = "", material: str = "", setup: str = "") -> None:
        """The words of the title block; without a name there is none."""
        self.layers.title = TitleBlock(name, size, material, setup)
        self.request()

    def set_unit(self, unit: UnitName, words: str) -> None:
        """The unit of the scale bar, and the words beside it."""
        self.layers.unit, self.layers.scale_words = unit, words
        self.request()

    def set_section_plane(self, origin: F64 | None, normal: F64 | None = None) -> None:
        """Look inside: cut away the side that ``normal`` points to. None shows the whole part."""
        self.rendering.part.set_section(origin, normal)
        self.picker.set_section(origin, normal)
        self.request(part=True)

    def set_pick_kinds(self, kinds: Sequence[Kind]) -> None:
        """What can be taken at the moment, among "vertex", "edge" and "face"."""
        self._kinds = tuple(kinds)
        if "face" in kinds and "edge" not in kinds:
            self.picker.build_finder()

    def clear(self) -> None:
        """An empty bed: nothing of any part is left."""
        self.set_mesh(None)
        for take_away in (self.set_hover, self.set_overhang_edge, self.set_ledge, self.set_dimension):
            take_away(None)
        for teeth in (self.set_ghost_teeth, self.set_added_teeth, self.set_existing_teeth):
            teeth(None)
        self.set_balloons([])
        self.set_section_plane(None)
        self.set_title("")

    # Looking

    def view_named(self, view: str) -> None:
        """Front, back, left, right, plan or below, with the whole part in the frame."""
        self.fly(self.framing(self.camera.named(view), self.bounds))

    def frame_all(self) -> None:
        """The whole part from where one looks now."""
        self.fly(self.framing(self.camera, self.bounds))

    def fly_to(self, bounds: F64, direction: F64 | None = None) -> None:
        """Show a box (2, 3) with some of the part round it, from the side that ``direction`` points to."""
        camera = self.camera if direction is None else self.camera.towards(direction)
        middle, half = np.mean(bounds, axis=0), np.ptp(np.asarray(bounds, float), axis=0) / 2
        half = np.maximum(half, LEAST_SHOWN / 2 * float(np.ptp(self.bounds, axis=0).max()))
        self.fly(self.framing(camera, np.array([middle - half, middle + half])))

    def turn(self, quarters_right: int, quarters_up: int = 0) -> None:
        """Quarter turns to the next square view."""
        self.fly(self.camera.turned(quarters_right, quarters_up))

    def set_parallel(self, parallel: bool) -> None:
        """Parallel lines stay parallel, or the eye's own perspective."""
        self.fly(replace(self.camera, parallel=parallel))

    def camera_state(self) -> dict[str, object]:
        """Where one looks from, in plain numbers, to be kept for a file."""
        return self.camera.state()

    def restore_camera(self, state: dict[str, object]) -> None:
        """Look from where a kept state says; a state that makes no sense changes nothing."""
        self._unframed = False
        self.move_camera(self.camera.restored(state))

    def pick(self, place: QPointF, kinds: tuple[Kind, ...] | None = None) -> Hit | None:
        """What a click at a place (logical px) would take."""
        return self.picker.pick(place.x(), place.y(), kinds or self._kinds)

    # The hand

    def _grab(self, place: QPointF) -> None:
        self.stop_flight()
        self._pivot = self.picker.surface_point(place.x(), place.y())
        self.set_hover(None)

    def _orbit(self, dx: float, dy: float) -> None:
        self.move_camera(self.camera.orbited(dx, dy, self._pivot), settle=False)

    def _release(self) -> None:
        self._pivot = None
        self._rest()

    def _zoom(self, factor: float, place: QPointF | None) -> None:
        self.stop_flight()
        anchor = None
        if place is not None:
            anchor = self.picker.surface_point(place.x(), place.y())
            if anchor is None:
                lens = self.lens()
                anchor = lens.at(place.x(), place.y(), lens.distance)
        self.move_camera(self.camera.zoomed(factor, anchor))

    def _hover(self, place: QPointF) -> None:
        self.layers.pointer = place
        over = self._balloon_at(place) is not None
        self.setCursor(Qt.CursorShape.PointingHandCursor if over else Qt.CursorShape.ArrowCursor)
        self.hovered.emit(self.pick(place))
        if self.layers.note:
            self.request()

    def _click(self, place: QPointF, keys: Qt.KeyboardModifier) -> None:
        number = self._balloon_at(place)
        if number is not None:
            self.balloon_clicked.emit(number)
            return
        hit = self.pick(place)
        if hit is not None and hit.kind == "face":
            hit = replace(hit, index=self.picker.triangle_of(hit))
        self.clicked.emit(hit, keys)

    def _balloon_at(self, place: QPointF) -> int | None:
        return next((one.balloon.number for one in self.layers.placed if one.box.contains(place)), None)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A click or a drag begins."""
        self._handling.press(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Hover, orbit or pan."""
        self._handling.move(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A click or the end of a drag."""
        self._handling.release(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A double click."""
        self._handling.double(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Zoom to the pointer."""
        self._handling.wheel(event)
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Keys of the view; others go on to the window."""
        if not self._handling.key(event):
            super().keyPressEvent(event)

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing is under the pointer any more."""
        self.layers.pointer = None
        self.hovered.emit(None)
        super().leaveEvent(event)

    def event(self, event: QEvent) -> bool:
        """Pinching on a trackpad zooms to the pointer."""
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self._zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the views in their corner; frame a part that nobody has looked at yet."""
        super().resizeEvent(event)
        self._place_views()
        if self._unframed:
            self.frame_all()
            self._unframed = not self.isVisible()

    def _place_views(self) -> None:
        self.views.move(self.width() - self.views.width() - Space.XXL, Space.XXL)

    def _mark_view(self) -> None:
        here = (self.camera.azimuth, self.camera.elevation)
        there = (name for name, view in NAMED.items() if np.allclose(np.cos(np.subtract(view, here)), 1.0, atol=1e-9))
        self.views.set_view(next(there, None))


def _line(polyline: F64 | None) -> F64 | None:
    return None if polyline is None or len(polyline) < 2 else np.asarray(polyline, float).reshape(-1, 3)


def _features(
    mesh: Mesh | None, features: NDArray[np.generic] | None, topology: Topology | None
) -> tuple[F64, NDArray[np.int32] | None]:
    """Segments (k, 2, 3) and, where known, their vertices (k, 2)."""
    if mesh is None or (features is None and topology is None):
        return np.zeros((0, 2, 3)), None
    if features is None:
        assert topology is not None
        features = topology.edges[topology.features]
    if features.ndim == 2:
        pairs = features.astype(np.int32, copy=False)
        return mesh.vertices[pairs], pairs
    return np.asarray(features, float), None
