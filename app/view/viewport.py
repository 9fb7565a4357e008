"""The 3D view: it is given data by setters and tells by signals what the hand does. It holds no truth of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QNativeGestureEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from app.view.board import Board
from app.view.camera import NAMED
from app.view.handling import Handling, Moves
from app.view.hit import Hit, Kind

F64 = NDArray[np.float64]

#: A flight to a small place shows at least this share of the part round it.
LEAST_SHOWN = 0.30


class Viewport(Board):
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
        self.views.chosen.connect(self.view_named)
        self.camera_changed.connect(self._mark_view)

    # Looking

    def view_named(self, view: str) -> None:
        """Front, back, left, right, plan or below, with the whole part in the frame."""
        self.fly(self.framing(self.camera.named(view), self.bounds))

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

    def _mark_view(self) -> None:
        here = (self.camera.azimuth, self.camera.elevation)
        there = (name for name, view in NAMED.items() if np.allclose(np.cos(np.subtract(view, here)), 1.0, atol=1e-9))
        self.views.set_view(next(there, None))
