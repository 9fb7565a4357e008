"""The canvas with everything that can be wished on it; which mouse or key asked for it is decided elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from app.panels.elevation import drags
from app.panels.elevation.canvas import Canvas
from app.panels.elevation.drags import Grip
from app.panels.elevation.editor import DimensionEditor
from app.panels.elevation.handles import Handle
from app.panels.elevation.model import ElevationModel
from app.panels.elevation.words import drag_label, edit_label
from core.design.plan import RowWishes
from core.errors import SnapcombError

#: Dimensions that only measure.
MEASURED: Final = ("gap", "gap_far")


class EditingCanvas(Canvas):
    """Selects, begins and ends pulls, edits and types; see the panel for what the signals carry."""

    wishes_edited = Signal(str, object)
    drag_started = Signal(str)
    drag_previewed = Signal(object)
    drag_ended = Signal(bool)
    tooth_hovered = Signal(object)
    tooth_selected = Signal(object)
    layer_chosen = Signal(object)
    hint_changed = Signal(str)
    refused = Signal(str)
    menu_asked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._last: RowWishes | None = None
        self.editor: DimensionEditor | None = None

    @property
    def dragging(self) -> bool:
        """Whether a handle is in hand."""
        return self.grip is not None

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

    def _begin(self, handle: Handle, u: float, *, pitch: bool) -> None:
        assert self.model is not None
        self.grip = Grip.take(self.model, handle, u)
        self.pulls_pitch, self._last = pitch, self.model.wishes
        if handle.number is not None:
            self.select(Handle("tooth", handle.number))
        self.relaid(view=True)
        self.drag_started.emit(drag_label(handle, pitch=pitch))

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
        self.grip, self.snap, self.pulls_pitch, self._last = None, None, False, None
        self.drag_ended.emit(commit and changed)
        self.relaid(view=True)
        self._let_go()

    def _let_go(self) -> None:
        """A pull has ended: forget what led to it."""

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

    def _edit(self, key: str, number: int | None, make: Callable[[ElevationModel], RowWishes]) -> None:
        """Emit the wishes that an edit makes, or say why it cannot be."""
        if self.model is None or self.dragging:
            return
        try:
            wishes = make(self.model)
        except SnapcombError as problem:
            self.say(str(problem))
            return
        if wishes != self.model.wishes:
            self.wishes_edited.emit(edit_label(key, number), wishes)

    def wish(self, key: str, make: Callable[[ElevationModel], RowWishes], number: int | None = None) -> None:
        """Any other edit, by the key of its name."""
        self._hush()
        self._edit(key, number, make)

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
