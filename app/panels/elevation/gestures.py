"""What the mouse does to the elevation: hover, choose, pull, zoom and pan."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QContextMenuEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QWidget

from app.panels.elevation import drags
from app.panels.elevation.drags import Manner
from app.panels.elevation.editing_canvas import MEASURED
from app.panels.elevation.handles import Handle, empty_place, handle_at, in_gap, layer_at
from app.panels.elevation.key_canvas import KeyCanvas
from app.panels.elevation.sheet import Sheet, View
from app.panels.elevation.words import hover_hint

#: A press that moves less than this (and less than the platform's drag distance) is a click, logical px.
CLICK = 4
#: How near a pulled handle snaps, logical px.
CATCH = 6.0
#: Zoom of one notch of a wheel (120 eighths of a degree).
NOTCH = 1.2
_Mod = Qt.KeyboardModifier
_CURSORS: Final = {
    "start": Qt.CursorShape.SizeHorCursor, "stop": Qt.CursorShape.SizeHorCursor, "tooth": Qt.CursorShape.SizeHorCursor,
    "dimension": Qt.CursorShape.IBeamCursor, "layer": Qt.CursorShape.PointingHandCursor,
    "place": Qt.CursorShape.PointingHandCursor,
}  # fmt: skip


class HandledCanvas(KeyCanvas):
    """The canvas with handles under the mouse."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._press: tuple[QPointF, Handle | None] | None = None
        self._pan_from: QPointF | None = None
        self._pull_sheet = Sheet(1.0, 0.0, 0.0)

    # under the pointer

    def handle_under(self, at: QPointF) -> Handle | None:
        """What the pointer would take, in the main drawing or in the detail."""
        view = self._view_under(at)
        if view is None:
            return None
        fields = self.figures.fields() if view is self.view else []
        handle = handle_at(view, at.x(), at.y(), fields)
        if handle is None:
            number = empty_place(view, at.x(), at.y())
            return Handle("place", number) if number is not None else None
        return handle if view is self.view or handle.kind not in ("layer", "start", "stop") else None

    def _view_under(self, at: QPointF) -> View | None:
        detail = self.detail_view
        if detail is not None and at.y() >= detail.field.top:
            return detail if detail.window.holds(at.x(), at.y()) else None
        return self.view

    def _hover(self, handle: Handle | None) -> None:
        if handle == self.hovered:
            return
        self.hovered = handle
        teeth = handle.number if handle is not None and (handle.kind == "tooth" or handle.corner) else None
        if teeth != self.hovered_tooth:
            self.hovered_tooth = teeth
            self.tooth_hovered.emit(teeth)
        kind = "foot" if handle is None else handle.kind
        cursor = Qt.CursorShape.ArrowCursor if handle is None else _CURSORS.get(kind, Qt.CursorShape.SizeHorCursor)
        if handle is not None and handle.kind == "dimension" and handle.key in MEASURED:
            cursor = Qt.CursorShape.ArrowCursor
        self.setCursor(cursor)
        hint = hover_hint(handle, handle is not None and handle.key not in MEASURED)
        self.setToolTip(hint if handle is not None and handle.kind in ("dimension", "place") else "")
        self.hint_changed.emit(hint)
        self.relaid()

    def _let_go(self) -> None:
        super()._let_go()
        self._press = None
        at = self.mapFromGlobal(self.cursor().pos())
        self._hover(self.handle_under(QPointF(at)) if self.rect().contains(at) else None)

    # mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._hush()
        at = event.position()
        if event.button() == Qt.MouseButton.MiddleButton or (
            event.button() == Qt.MouseButton.LeftButton and self._space
        ):
            self._pan_from = at
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        elif event.button() == Qt.MouseButton.LeftButton and not self.dragging:
            handle = self.handle_under(at)
            self._press = (at, handle)
            if handle is not None and handle.kind == "layer":
                self._choose_layer_at(at)
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        at = event.position()
        if self._pan_from is not None:
            self.pan(at.x() - self._pan_from.x(), at.y() - self._pan_from.y())
            self._pan_from = at
        elif self.dragging and self._press is not None:
            self._pull(at, event.modifiers())
        elif self._press is not None and event.buttons() & Qt.MouseButton.LeftButton:
            self._maybe_start(at, event.modifiers())
        elif not event.buttons():
            self._hover(self.handle_under(at))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if self._pan_from is not None and event.button() in (Qt.MouseButton.MiddleButton, Qt.MouseButton.LeftButton):
            self._pan_from = None
            self.unsetCursor()
            return
        if event.button() != Qt.MouseButton.LeftButton:
            return
        press, self._press = self._press, None
        if self.dragging:
            self.finish(commit=True)
        elif press is not None:
            self._click(press[1])

    def _click(self, handle: Handle | None) -> None:
        if handle is None:
            self.select(None)
        elif handle.kind == "tooth" or handle.corner:
            self.select(Handle("tooth", handle.number))
        elif handle.kind in ("start", "stop"):
            self.select(handle)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if event.button() != Qt.MouseButton.LeftButton:
            return
        at = event.position()
        handle, view = self.handle_under(at), self._view_under(at)
        if handle is not None and handle.kind == "dimension":
            self.edit_dimension(handle.key)
        elif handle is not None and handle.kind == "place" and handle.number is not None:
            self.put_back(handle.number)
        elif handle is None and view is not None and in_gap(view, at.x(), at.y()):
            self.add_tooth(view.sheet.u(at.x()))

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802
        """The menu of the right button, or of the menu key about what is selected."""
        if self.dragging:
            event.ignore()
            return
        at = event.pos()
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            at = self._place_of_selected()
        self.menu_asked.emit(at)
        event.accept()

    def _place_of_selected(self) -> QPoint:
        view = self.view
        if view is None or self.model is None or self.selected is None:
            return self.rect().center()
        u = drags.place_of(self.model, self.selected)
        middle = (float(self.model.ledge_at(u)) + float(self.model.edge_at(u))) / 2
        return QPoint(round(view.sheet.x(u)), round(view.sheet.y(middle)))

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802
        if not self.dragging:
            self._hover(None)
        super().leaveEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802
        turn = event.angleDelta()
        if self.dragging or self.model is None:
            event.ignore()
            return
        if turn.y():
            self.zoom(NOTCH ** (turn.y() / 120), event.position())
        elif turn.x():
            self.pan(turn.x() / 3, 0.0)
        event.accept()

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            if not self.dragging:
                self.zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    # pulling at a handle

    def _maybe_start(self, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        assert self._press is not None
        start, handle = self._press
        if handle is not None and handle.kind == "layer":
            self._choose_layer_at(at)
            return
        far = (at - start).manhattanLength() >= min(CLICK, QApplication.startDragDistance())
        if far and handle is not None and (handle.kind in ("start", "stop", "tooth") or handle.corner):
            self._take(handle, start, pitch=bool(modifiers & _Mod.AltModifier) and handle.kind == "tooth")
            self._pull(at, modifiers)

    def _take(self, handle: Handle, at: QPointF, *, pitch: bool) -> None:
        """Take a handle in hand."""
        view = self._view_under(at)
        if view is None or self.model is None:
            return
        if pitch and not drags.pitch_free(self.model):
            self.say(self.tr("These teeth fill in between others, so they have no pitch of their own."))
            self._press = None
            return
        self._pull_sheet = view.sheet  # the detail may follow the tooth; the pull goes by the ground as it was
        self._begin(handle, view.sheet.u(at.x()), pitch=pitch)

    def _pull(self, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        if self.grip is None or self.view is None:
            return
        free = bool(modifiers & _Mod.ControlModifier)
        catch = 0.0 if free else CATCH / self._pull_sheet.scale
        manner = Manner(catch, bool(modifiers & _Mod.ShiftModifier), self.pulls_pitch)
        wishes, self.snap = drags.dragged(self.grip, self._pull_sheet.u(at.x()), manner)
        self._preview(wishes)

    # layers

    def _choose_layer_at(self, at: QPointF) -> None:
        if self.view is not None:
            self.choose_layer(layer_at(self.view, at.x(), at.y()))

    # single edits

    # keys
