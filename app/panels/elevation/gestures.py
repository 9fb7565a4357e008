"""What mouse and keys do to the elevation: hover, choose, pull, nudge, zoom and pan. Wishes go out as signals."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QWidget

from app.panels.elevation import drags
from app.panels.elevation.canvas import Canvas
from app.panels.elevation.drags import Grip, Manner
from app.panels.elevation.editor import DimensionEditor
from app.panels.elevation.handles import Handle, empty_place, handle_at, in_gap, layer_at, stops_shown
from app.panels.elevation.sheet import Sheet, View
from app.panels.elevation.words import drag_label, edit_label, hover_hint
from core.design.plan import RowWishes
from core.errors import SnapcombError

#: A press that moves less than this (and less than the platform's drag distance) is a click, logical px.
CLICK = 4
#: How near a pulled handle snaps, logical px.
CATCH = 6.0
#: Zoom of one notch of a wheel (120 eighths of a degree).
NOTCH = 1.2
#: Dimensions that only measure.
MEASURED: Final = ("gap", "gap_far")
_Mod = Qt.KeyboardModifier
_CURSORS: Final = {
    "start": Qt.CursorShape.SizeHorCursor, "stop": Qt.CursorShape.SizeHorCursor, "tooth": Qt.CursorShape.SizeHorCursor,
    "dimension": Qt.CursorShape.IBeamCursor, "layer": Qt.CursorShape.PointingHandCursor, "place": Qt.CursorShape.PointingHandCursor,
}  # fmt: skip


class HandledCanvas(Canvas):
    """The canvas with handles."""

    wishes_edited = Signal(str, object)
    drag_started = Signal(str)
    drag_previewed = Signal(object)
    drag_ended = Signal(bool)
    tooth_hovered = Signal(object)
    tooth_selected = Signal(object)
    layer_chosen = Signal(object)
    hint_changed = Signal(str)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._press: tuple[QPointF, Handle | None] | None = None
        self._pan_from: QPointF | None = None
        self._space = False
        self._last: RowWishes | None = None
        self._pull_sheet = Sheet(1.0, 0.0, 0.0)
        self._nudge_key: int | None = None
        self._nudged = 0.0
        self.editor: DimensionEditor | None = None

    @property
    def dragging(self) -> bool:
        """Whether a handle is in hand."""
        return self.grip is not None

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

    def select(self, handle: Handle | None, *, tell: bool = True) -> None:
        """Select a tooth or an end stop."""
        if handle == self.selected:
            return
        before, self.selected = self.selected_tooth, handle
        self.relaid(view=self.detail_view is not None)
        if tell and before != self.selected_tooth:
            self.tooth_selected.emit(self.selected_tooth)

    def say(self, text: str) -> None:
        """Say why something cannot be; taken away by the next thing that is done."""
        if text != self.message:
            self.message = text
            self.update()
        if text:
            self.refused.emit(text)

    def _hush(self) -> None:
        if self.message:
            self.message = ""
            self.update()

    # mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._hush()
        at = event.position()
        if event.button() == Qt.MouseButton.MiddleButton or (event.button() == Qt.MouseButton.LeftButton and self._space):
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
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and self._wants(event):
            event.accept()
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

    def _begin(self, handle: Handle, u: float, *, pitch: bool) -> None:
        assert self.model is not None
        self.grip = Grip.take(self.model, handle, u)
        self.pulls_pitch, self._last = pitch, self.model.wishes
        if handle.number is not None:
            self.select(Handle("tooth", handle.number))
        self.relaid(view=True)
        self.drag_started.emit(drag_label(handle, pitch=pitch))

    def _pull(self, at: QPointF, modifiers: Qt.KeyboardModifier) -> None:
        if self.grip is None or self.view is None:
            return
        free = bool(modifiers & _Mod.ControlModifier)
        catch = 0.0 if free else CATCH / self._pull_sheet.scale
        manner = Manner(catch, bool(modifiers & _Mod.ShiftModifier), self.pulls_pitch)
        wishes, self.snap = drags.dragged(self.grip, self._pull_sheet.u(at.x()), manner)
        self._preview(wishes)

    def _preview(self, wishes: RowWishes) -> None:
        if wishes != self._last:
            self._last = wishes
            self.drag_previewed.emit(wishes)
        self.relaid()

    def finish(self, *, commit: bool) -> None:
        """End a pull: keep it, or give it up."""
        if self.grip is None:
            return
        changed = self._last != self.grip.model.wishes
        self.grip, self.snap, self.pulls_pitch, self._press = None, None, False, None
        self._nudge_key, self._last = None, None
        self.drag_ended.emit(commit and changed)
        self.relaid(view=True)
        at = self.mapFromGlobal(self.cursor().pos())
        self._hover(self.handle_under(QPointF(at)) if self.rect().contains(at) else None)

    # layers

    def _choose_layer_at(self, at: QPointF) -> None:
        if self.view is not None:
            self.choose_layer(layer_at(self.view, at.x(), at.y()))

    def choose_layer(self, number: int | None) -> None:
        """Point the rule at a layer, and tell."""
        if number != self.layer:
            self.layer = number
            self.update()
            self.layer_chosen.emit(number)

    def step_layer(self, by: int) -> None:
        """Point at the next layer up or down."""
        numbers = self.model.layers.numbers if self.model is not None else ()
        if not numbers:
            return
        if self.layer not in numbers:
            self.choose_layer(numbers[len(numbers) // 2])
            return
        at = min(max(numbers.index(self.layer) + by, 0), len(numbers) - 1)
        self.choose_layer(numbers[at])

    # single edits

    def _edit(self, key: str, number: int | None, make: object) -> None:
        """Emit the wishes that an edit makes, or say why it cannot be."""
        if self.model is None or self.dragging:
            return
        try:
            wishes = make(self.model)  # type: ignore[operator]
        except SnapcombError as problem:
            self.say(str(problem))
            return
        if wishes != self.model.wishes:
            self.wishes_edited.emit(edit_label(key, number), wishes)

    def leave_out(self, number: int) -> None:
        """Leave a tooth out of the row."""
        self._edit("leave_out", number, lambda m: drags.left_out(m, number))

    def put_back(self, number: int) -> None:
        """Put a tooth back that was left out."""
        self._edit("put_back", number, lambda m: drags.put_back(m, number))

    def add_tooth(self, u: float | None = None) -> None:
        """Put back the left-out tooth nearest to a place; with none left out the row gets one tooth more."""
        if self.model is None:
            return
        tooth = self.model.tooth(self.selected_tooth)
        place = u if u is not None else tooth.centre if tooth is not None else self.model.length / 2
        gone = drags.nearest_left_out(self.model, place)
        if gone is not None:
            self.put_back(gone)
        else:
            self.change_count(1)

    def change_count(self, by: int) -> None:
        """One tooth more or fewer."""
        self._edit("more" if by > 0 else "fewer", None, lambda m: drags.counted(m, by))

    def edit_dimension(self, key: str) -> None:
        """Open the box that types a dimension."""
        dimension = self.figures.dimension(key)
        if dimension is None or key in MEASURED or self.dragging:
            return
        if self.editor is not None:
            self.editor.close_up()
        self.editor = DimensionEditor(dimension, self.unit, self)
        self.editor.typed.connect(self._typed)
        self.editor.closed.connect(self._editor_closed)
        self.editor.next_wanted.connect(self._edit_next)

    def _typed(self, key: str, number: object, value: float) -> None:
        tooth = number if isinstance(number, int) else None
        kind = "clear" if key.startswith("over") else key
        self._edit(kind, tooth, lambda m: drags.typed(m, kind, value, tooth))

    def _editor_closed(self) -> None:
        self.editor = None
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _edit_next(self, key: str, step: int) -> None:
        keys = self._editable()
        if keys:
            at = keys.index(key) + step if key in keys else 0
            self.edit_dimension(keys[at % len(keys)])

    def _editable(self) -> list[str]:
        return [d.key for d in self.figures.dimensions if d.key not in MEASURED]

    # keys

    def _wants(self, event: QKeyEvent) -> bool:
        """Keys that belong to the drawing while it has the focus, whatever shortcuts the window has."""
        if event.key() == Qt.Key.Key_Escape:
            return self.dragging or self.selected is not None
        plain = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Delete, Qt.Key.Key_Insert,
                 Qt.Key.Key_Plus, Qt.Key.Key_Minus, Qt.Key.Key_Home, Qt.Key.Key_Space)  # fmt: skip
        return self.model is not None and event.key() in plain and not event.modifiers() & _Mod.AltModifier

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if self.model is None or not self._key(event):
            event.ignore()
            return
        event.accept()

    def _key(self, event: QKeyEvent) -> bool:
        """Do what a key says; whether it said anything."""
        key, mods = event.key(), event.modifiers()
        if key == Qt.Key.Key_Escape:
            return self._escape()
        if mods & _Mod.AltModifier:
            return False
        self._hush()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            way = 1 if key == Qt.Key.Key_Right else -1
            return self._nudge(key, way, mods) if mods & _Mod.ControlModifier else self._select_next(way)
        if self.dragging:
            return True
        actions = {
            Qt.Key.Key_Up: lambda: self.step_layer(1), Qt.Key.Key_Down: lambda: self.step_layer(-1),
            Qt.Key.Key_PageUp: lambda: self.step_layer(5), Qt.Key.Key_PageDown: lambda: self.step_layer(-5),
            Qt.Key.Key_Delete: self._delete, Qt.Key.Key_Backspace: self._delete, Qt.Key.Key_Insert: self.add_tooth,
            Qt.Key.Key_Plus: lambda: self.change_count(1), Qt.Key.Key_Minus: lambda: self.change_count(-1),
            Qt.Key.Key_Equal: lambda: self.change_count(1), Qt.Key.Key_Home: self.show_whole,
            Qt.Key.Key_F2: self._edit_first, Qt.Key.Key_Return: self._edit_first, Qt.Key.Key_Enter: self._edit_first,
            Qt.Key.Key_Space: lambda: self._hold_space(event),
        }  # fmt: skip
        action = actions.get(Qt.Key(key))
        if action is None:
            return False
        action()
        return True

    def keyReleaseEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if event.isAutoRepeat():
            return
        if event.key() == Qt.Key.Key_Space:
            self._space = False
            self.unsetCursor()
        elif event.key() == self._nudge_key:
            self.finish(commit=True)
        else:
            super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        self._space = False
        if self._nudge_key is not None:
            self.finish(commit=True)
        super().focusOutEvent(event)

    def _hold_space(self, event: QKeyEvent) -> None:
        if not event.isAutoRepeat():
            self._space = True
            self.setCursor(Qt.CursorShape.OpenHandCursor)

    def _escape(self) -> bool:
        if self.dragging:
            self.finish(commit=False)
            return True
        if self.selected is not None:
            self.select(None)
            return True
        return False

    def _places(self) -> list[Handle]:
        """Everything that can be selected, from left to right."""
        if self.model is None or self.view is None:
            return []
        teeth = [Handle("tooth", t.number) for t in self.model.teeth]
        return [Handle("start"), *teeth, Handle("stop")] if stops_shown(self.view) else teeth

    def _select_next(self, way: int) -> bool:
        places = self._places()
        if not places or self.dragging:
            return bool(places)
        if self.selected in places:
            at = min(max(places.index(self.selected) + way, 0), len(places) - 1)
        else:
            at = next((i for i, p in enumerate(places) if p.kind == "tooth"), 0) if way > 0 else len(places) - 1
            at = at if way > 0 or len(places) < 3 else max(i for i, p in enumerate(places) if p.kind == "tooth" or i == 0)
        self.select(places[at])
        if self.model is not None:
            self.show_place(drags.place_of(self.model, places[at]))
        return True

    def _nudge(self, key: int, way: int, mods: Qt.KeyboardModifier) -> bool:
        """Push what is selected along; a key held down makes one step for undo."""
        if self.model is None or self.selected is None or (self.dragging and self._nudge_key is None):
            return True
        step = drags.FINEST if mods & _Mod.ShiftModifier else drags.STEP
        if self._nudge_key is None:
            self._nudge_key, self._nudged = key, 0.0
            self._begin(self.selected, drags.place_of(self.model, self.selected), pitch=False)
        if self.grip is not None:
            self._nudged += way * step
            self._preview(drags.nudged(self.grip.model, self.grip.handle, self._nudged))
        return True

    def _delete(self) -> None:
        number = self.selected_tooth if self.selected_tooth is not None else self.hovered_tooth
        if number is not None:
            after = self._after(number)
            self.leave_out(number)
            if self.model is not None and self.model.tooth(number) is None:
                self.select(after)

    def _after(self, number: int) -> Handle | None:
        """The neighbour that is selected once a tooth is gone."""
        numbers = [t.number for t in self.model.teeth] if self.model is not None else []
        if number not in numbers or len(numbers) < 2:
            return None
        at = numbers.index(number)
        return Handle("tooth", numbers[at + 1] if at + 1 < len(numbers) else numbers[at - 1])

    def _edit_first(self) -> None:
        keys = self._editable()
        wanted = [k for k in keys if k in ("shift", "clear_left", "clear_right")] if self.selected_tooth is not None else []
        if keys:
            self.edit_dimension((wanted or keys)[0])

