"""A form built from typed fields: each says its title, unit, range and choices, and gets the control that fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin, get_type_hints

import msgspec
from PySide6.QtCore import QCoreApplication, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QVBoxLayout, QWidget

from app.look.tokens import Space, Type
from app.panels.widgets import CountBox, LengthBox, NumberBox, ThemedLabel
from app.panels.widgets.value_box import ValueBox
from app.settings import TYPE_SCALES, Settings
from core.design.materials import materials
from core.design.setup import FIGURES
from core.units import UnitName

Kind = Literal["choice", "switch", "length", "count", "number"]


@dataclass(frozen=True)
class FieldSpec:
    """One field: its name, what is said about it, and what it may hold. ``choices`` are values with their words."""

    name: str
    title: str
    about: str = ""
    kind: Kind = "number"
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[tuple[Any, str], ...] = ()


def settings_fields(page: str) -> list[FieldSpec]:
    """The settings that stand on a page of the preferences, in their order."""
    out = []
    for name, hint in get_type_hints(Settings, include_extras=True).items():
        metas = [m for m in getattr(hint, "__metadata__", ()) if isinstance(m, msgspec.Meta) and m.extra]
        for meta in metas:
            if meta.extra["page"] == page:
                out.append(_setting(name, get_args(hint)[0], meta))
    return out


def _setting(name: str, kind: Any, meta: msgspec.Meta) -> FieldSpec:
    title, about = _tr("Settings", meta.title or name), _tr("Settings", meta.description or "")
    if kind is bool:
        return FieldSpec(name, title, about, "switch")
    if get_origin(kind) is Literal:
        words = (meta.extra or {})["words"]
        return FieldSpec(
            name, title, about, "choice", choices=tuple((v, _tr("Settings", words[v])) for v in get_args(kind))
        )
    return FieldSpec(name, title, about, "choice", choices=tuple((s, f"{s:.0%}") for s in TYPE_SCALES))


def setup_fields(own: Sequence[str] = ()) -> list[FieldSpec]:
    """The fields of the print setup; ``own`` are names of the person's own materials."""
    return [_setup(f.name, dict(f.metadata), own) for f in FIGURES]


def _setup(name: str, meta: dict[str, Any], own: Sequence[str]) -> FieldSpec:
    title = _tr("SetupDialog", str(meta["label"]))
    about = _tr("SetupDialog", "Default: {0}").format(_tr("SetupDialog", str(meta["source"])))
    if "low" not in meta:
        words = {"fixed": _tr("SetupDialog", "Fixed width"), "variable": _tr("SetupDialog", "Variable width")}
        values = meta.get("choices", (*(m.name for m in materials()), *own))
        return FieldSpec(name, title, about, "choice", choices=tuple((v, words.get(v, v)) for v in values))
    kind: Kind = "length" if meta["unit"] == "mm" else "number" if meta["unit"] else "count"
    return FieldSpec(name, title, about, kind, str(meta["unit"]), float(meta["low"]), float(meta["high"]))


class FieldForm(QWidget):
    """Shows the values that it is given and emits (name, value) where the person wishes another."""

    edited = Signal(str, object)

    def __init__(self, specs: Sequence[FieldSpec], parent: QWidget | None = None, *, columns: int = 2) -> None:
        super().__init__(parent)
        self.controls: dict[str, QWidget] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(Space.XL)
        grid.setVerticalSpacing(Space.L)
        for k, spec in enumerate(specs):
            grid.addWidget(self._field(spec), k // columns, k % columns, Qt.AlignmentFlag.AlignTop)
        for column in range(columns):
            grid.setColumnStretch(column, 1)
        grid.setRowStretch((len(specs) + columns - 1) // columns, 1)

    def set_values(self, values: dict[str, Any]) -> None:
        """Show these; emits nothing."""
        for name, control in self.controls.items():
            if name in values:
                _show(control, values[name])

    def set_unit(self, unit: UnitName) -> None:
        """Show lengths in this unit."""
        for control in self.controls.values():
            if isinstance(control, LengthBox):
                control.set_unit(unit)

    def set_error(self, name: str, words: str) -> None:
        """Say below a box what is wrong with it; without words all is well again."""
        control = self.controls[name]
        if isinstance(control, ValueBox):
            control.set_error(words)

    def _field(self, spec: FieldSpec) -> QWidget:
        if spec.kind == "switch":
            return self._switch(spec)
        if spec.kind == "choice":
            return self._choice(spec)
        box = _box(spec)
        box.setToolTip(spec.about)
        box.edited.connect(lambda value: self.edited.emit(spec.name, round(value) if spec.kind == "count" else value))
        self.controls[spec.name] = box
        return box

    def _switch(self, spec: FieldSpec) -> QWidget:
        box = QCheckBox(spec.title)
        box.clicked.connect(lambda on: self.edited.emit(spec.name, bool(on)))
        self.controls[spec.name] = box
        return _captioned("", box, spec.about)

    def _choice(self, spec: FieldSpec) -> QWidget:
        box = QComboBox()
        box.setAccessibleName(spec.title)
        for value, words in spec.choices:
            box.addItem(words, value)
        box.activated.connect(lambda i: self.edited.emit(spec.name, box.itemData(i)))
        self.controls[spec.name] = box
        return _captioned(spec.title, box, spec.about)


def _box(spec: FieldSpec) -> ValueBox:
    if spec.kind == "length":
        return LengthBox(spec.title, returnable=False)
    if spec.kind == "count":
        return CountBox(spec.title, least=round(spec.low), most=round(spec.high))
    return NumberBox(spec.title, spec.unit, decimals=0)


def _captioned(title: str, control: QWidget, about: str) -> QWidget:
    """A control under its title, with a sentence below it."""
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(Space.XS)
    if title:
        column.addWidget(ThemedLabel(title, "ink2", Type.LABEL))
    column.addWidget(control)
    if about:
        words = ThemedLabel(about, "ink3", Type.LABEL)
        words.setWordWrap(True)
        column.addWidget(words)
        control.setAccessibleDescription(about)
    return holder


def _show(control: QWidget, value: Any) -> None:
    if isinstance(control, QCheckBox):
        control.setChecked(bool(value))
    elif isinstance(control, QComboBox):
        control.setCurrentIndex(_nearest(control, value))
    elif isinstance(control, ValueBox):
        control.set_value(float(value))


def _nearest(box: QComboBox, value: Any) -> int:
    """The choice itself, or for a figure the one that is nearest to it."""
    if isinstance(value, float):
        return min(range(box.count()), key=lambda i: abs(float(box.itemData(i)) - value))
    return box.findData(value)


def _tr(context: str, text: str) -> str:
    return QCoreApplication.translate(context, text) if text else ""
