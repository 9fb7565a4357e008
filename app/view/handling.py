"""How mouse, wheel, trackpad and keys move the camera and what counts as a click."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication

#: One notch of a wheel (120 of Qt's eighths of a degree) enlarges by this.
NOTCH_ZOOM: Final = 1.18
NOTCH: Final = 120.0
#: A trackpad tells pixels instead of notches.
PIXELS_PER_NOTCH: Final = 50.0
#: Keys + and − enlarge by this.
KEY_ZOOM: Final = 1.25


@dataclass
class Moves:
    """What the hand can ask of the view."""

    orbit: Callable[[float, float], None]
    pan: Callable[[float, float], None]
    zoom: Callable[[float, QPointF | None], None]
    hover: Callable[[QPointF], None]
    click: Callable[[QPointF, Qt.KeyboardModifier], None]
    double_click: Callable[[QPointF, Qt.KeyboardModifier], None]
    grab: Callable[[QPointF], None]
    release: Callable[[], None]
    frame: Callable[[], None]
    turn: Callable[[int, int], None]
    step_back: Callable[[], None]


class Handling:
    """Turns Qt's events into moves. A press that stays within the platform's drag distance is a click."""

    def __init__(self, moves: Moves) -> None:
        self._moves = moves
        self._pressed: QPointF | None = None
        self._last = QPointF()
        self._button = Qt.MouseButton.NoButton
        self._dragging = False
        self._doubled = False

    @property
    def dragging(self) -> bool:
        """Whether the view is being turned or shifted."""
        return self._dragging

    def press(self, event: QMouseEvent) -> None:
        """Remember where a button went down; nothing moves yet."""
        if self._pressed is not None or event.button() not in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            return
        self._pressed = self._last = event.position()
        self._button, self._dragging = event.button(), False

    def move(self, event: QMouseEvent) -> None:
        """Hover, or orbit and pan once the drag distance is passed."""
        place = event.position()
        if self._pressed is None:
            self._moves.hover(place)
            return
        if not self._dragging:
            if (place - self._pressed).manhattanLength() < QApplication.startDragDistance():
                return
            self._dragging = True
            self._moves.grab(self._pressed)
        step = place - self._last
        self._last = place
        pans = self._button == Qt.MouseButton.MiddleButton or event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        (self._moves.pan if pans else self._moves.orbit)(step.x(), step.y())

    def release(self, event: QMouseEvent) -> None:
        """End of a drag, or a click."""
        if self._pressed is None or event.button() != self._button:
            return
        was_drag, self._dragging = self._dragging, False
        place, self._pressed = self._pressed, None
        if was_drag:
            self._moves.release()
        elif self._doubled:
            self._doubled = False
        elif event.button() == Qt.MouseButton.LeftButton:
            self._moves.click(place, event.modifiers())

    def double(self, event: QMouseEvent) -> None:
        """Second press of a double click; its release is no click of its own."""
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self.press(event)
        self._doubled = True
        self._moves.double_click(event.position(), event.modifiers())

    def give_up(self) -> None:
        """The pointer was taken away in the middle of a press."""
        if self._dragging:
            self._moves.release()
        self._pressed, self._dragging, self._doubled = None, False, False

    def wheel(self, event: QWheelEvent) -> None:
        """Zoom to the pointer."""
        notches = event.angleDelta().y() / NOTCH
        if not event.pixelDelta().isNull():
            notches = event.pixelDelta().y() / PIXELS_PER_NOTCH
        if notches:
            self._moves.zoom(NOTCH_ZOOM**notches, event.position())

    def key(self, event: QKeyEvent) -> bool:
        """Home, Alt with arrows, plus and minus, Esc. False when the key is not for the view."""
        turns = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        key = Qt.Key(event.key())
        if event.modifiers() & Qt.KeyboardModifier.AltModifier and key in turns:
            self._moves.turn(*turns[key])
        elif key == Qt.Key.Key_Home:
            self._moves.frame()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._moves.zoom(KEY_ZOOM, None)
        elif key == Qt.Key.Key_Minus:
            self._moves.zoom(1.0 / KEY_ZOOM, None)
        elif key == Qt.Key.Key_Escape:
            if self._dragging:
                self.give_up()
            self._moves.step_back()
        else:
            return False
        return True
