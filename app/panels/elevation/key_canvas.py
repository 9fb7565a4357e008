"""What keys do to the elevation: every edit that the mouse can make has its keys."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QWidget

from app.panels.elevation import drags
from app.panels.elevation.editing_canvas import EditingCanvas
from app.panels.elevation.handles import Handle, stops_shown

_Mod = Qt.KeyboardModifier
#: Keys that belong to the drawing while it has the focus, whatever shortcuts the window has.
OWN_KEYS = frozenset({
    Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Delete, Qt.Key.Key_Insert,
    Qt.Key.Key_Plus, Qt.Key.Key_Minus, Qt.Key.Key_Home, Qt.Key.Key_Space, Qt.Key.Key_F2,
})  # fmt: skip


class KeyCanvas(EditingCanvas):
    """The canvas that listens to keys."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._space = False
        self._nudge_key: int | None = None
        self._nudged = 0.0

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and self._wants(event):
            event.accept()
            return True
        return super().event(event)

    def _let_go(self) -> None:
        super()._let_go()
        self._nudge_key = None

    def _wants(self, event: QKeyEvent) -> bool:
        """Whether a key is for the drawing and not for a shortcut of the window."""
        if event.key() == Qt.Key.Key_Escape:
            return self.dragging or self.selected is not None
        return self.model is not None and event.key() in OWN_KEYS and not event.modifiers() & _Mod.AltModifier

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
            at = (
                at
                if way > 0 or len(places) < 3
                else max(i for i, p in enumerate(places) if p.kind == "tooth" or i == 0)
            )
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
        wanted = (
            [k for k in keys if k in ("shift", "clear_left", "clear_right")] if self.selected_tooth is not None else []
        )
        if keys:
            self.edit_dimension((wanted or keys)[0])
