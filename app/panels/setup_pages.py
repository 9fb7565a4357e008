"""The pages of the print setup: its figures and its material, each with where it comes from."""

from __future__ import annotations

from dataclasses import Field

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from app.bench import Bench
from app.language import said
from app.look.current import box_height
from app.look.tokens import Space, Type
from app.panels.setup_own import OwnMaterialForm
from app.panels.widgets import CountBox, LengthBox, LinkButton, NumberBox, ThemedLabel
from app.panels.widgets.value_box import ValueBox
from app.setups import Shelf
from core.design.learned import Learned
from core.design.materials import MATERIALS, YOURS, Material, Range, materials
from core.design.setup import FIGURES, PrintSetup


def source_words(source: str) -> str:
    """Where a default comes from, for the person: common practice, from memory, their own, or what published it."""
    word = said(QCoreApplication.translate("SetupDialog", source))
    if source == YOURS:
        return word
    if source.startswith(("common practice", "from memory")):
        return word[:1].upper() + word[1:]
    return QCoreApplication.translate("SetupDialog", "Published: {0}").format(word)


def _wrapped(text: str, role: str = "ink", size: float = Type.LABEL) -> ThemedLabel:
    made = ThemedLabel(text, role, size)
    made.setWordWrap(True)
    return made


def _captioned(caption: str, control: QWidget, below: QWidget | None = None) -> QWidget:
    """A control under its caption, and what is to be known about it below."""
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(2)
    if caption:
        column.addWidget(ThemedLabel(caption, "ink2", Type.LABEL))
    column.addWidget(control)
    if below is not None:
        column.addWidget(below)
    column.addStretch(1)
    return holder


class FiguresPage(QWidget):
    """Every figure with where its default comes from, and what the person's own prints put in its place."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.bench = bench
        self.boxes: dict[str, ValueBox] = {}
        self.choices: dict[str, QComboBox] = {}
        self.sources: dict[str, ThemedLabel] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(Space.L)
        grid.setVerticalSpacing(Space.M)
        shown = [f for f in FIGURES if f.name != "material"]
        for i, f in enumerate(shown):
            grid.addWidget(self._control(f), i // 3, i % 3, Qt.AlignmentFlag.AlignTop)
        for column in range(3):
            grid.setColumnStretch(column, 1)
        self.least = _wrapped("", "ink2")
        grid.addWidget(self.least, (len(shown) + 2) // 3, 0, 1, 3)

    def _control(self, f: Field[object]) -> QWidget:
        meta, name = dict(f.metadata), f.name
        caption = QCoreApplication.translate("SetupDialog", str(meta["label"]))
        self.sources[name] = _wrapped("", "ink3")
        if "low" not in meta:
            return _captioned(caption, self._choice(name, caption, meta), self.sources[name])
        box: ValueBox
        if meta["unit"] == "mm":
            box = LengthBox(caption, returnable=False)
        elif meta["unit"] == "":
            box = CountBox(caption, least=int(float(str(meta["low"]))), most=int(float(str(meta["high"]))))
        else:
            box = NumberBox(caption, str(meta["unit"]), decimals=0)
        box.edited.connect(lambda value: self._set(name, caption, value))
        self.boxes[name] = box
        return _captioned("", box, self.sources[name])

    def _choice(self, name: str, caption: str, meta: dict[str, object]) -> QComboBox:
        box = QComboBox()
        box.setMinimumHeight(box_height())
        box.setAccessibleName(caption)
        words = {"fixed": self.tr("Fixed width"), "variable": self.tr("Variable width")}
        for option in meta["choices"]:
            box.addItem(words.get(option, option), option)
        box.activated.connect(lambda i: self._set(name, caption, box.itemData(i)))
        self.choices[name] = box
        return box

    def _set(self, name: str, caption: str, value: object) -> None:
        figure = round(value) if isinstance(value, float) and isinstance(self.boxes.get(name), CountBox) else value
        self.bench.set_setup(self.tr("Setup: {0}").format(caption.lower()), **{name: figure})

    def show_setup(self, setup: PrintSetup) -> None:
        """Show these figures."""
        for name, box in self.boxes.items():
            if isinstance(box, LengthBox):
                box.set_unit(self.bench.view.unit)
            box.set_value(float(getattr(setup, name)))
        for name, choice in self.choices.items():
            choice.setCurrentIndex(choice.findData(getattr(setup, name)))
        learned = self.bench.learned()
        for f in FIGURES:
            if f.name in self.sources:
                self.sources[f.name].setText(self._source(f, getattr(setup, f.name), learned))
        least = learned.least_printable or setup.least_printable
        source = learned.source if learned.least_printable else self.tr("from memory")
        words = self.tr("So the narrowest width that prints is {0} mm ({1}).")
        self.least.setText(words.format(f"{least:.2f}", source))

    def _source(self, f: Field[object], value: object, learned: Learned) -> str:
        if f.name == "clear_bridge" and learned.clear_bridge is not None:
            return self.tr("{0} mm from {1} goes before it").format(f"{learned.clear_bridge:.2f}", learned.source)
        return source_words(str(f.metadata["source"])) if value == f.default else self.tr("Set by you")


class MaterialPage(QWidget):
    """The material with a source for every figure, and a form for the person's own."""

    def __init__(self, bench: Bench, shelf: Shelf) -> None:
        super().__init__()
        self.bench, self.shelf = bench, shelf
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.M)
        self.chosen = QComboBox()
        self.chosen.setMinimumHeight(box_height())
        self.chosen.setAccessibleName(self.tr("Material"))
        self.chosen.activated.connect(lambda i: self.choose(self.chosen.itemData(i)))
        column.addWidget(self.chosen)
        self.table = QGridLayout()
        self.table.setHorizontalSpacing(Space.L)
        self.table.setVerticalSpacing(Space.XS)
        self.table.setColumnStretch(2, 1)
        self.cells = [[_wrapped("", role) for role in ("ink2", "ink", "ink3")] for _ in range(4)]
        for line, cells in enumerate(self.cells):
            for k, cell in enumerate(cells):
                cell.setWordWrap(k == 2)
                self.table.addWidget(cell, line, k, Qt.AlignmentFlag.AlignTop)
        column.addLayout(self.table)
        self.form = OwnMaterialForm()
        self.form.kept.connect(self.add)
        self.open_form = LinkButton(self.tr("Add a material…"))
        self.open_form.clicked.connect(lambda: self.form.setVisible(self.form.isHidden()))
        self.drop_button = LinkButton(self.tr("Forget this material"))
        self.drop_button.clicked.connect(self.drop)
        line = QHBoxLayout()
        line.addWidget(self.open_form)
        line.addWidget(self.drop_button)
        line.addStretch(1)
        column.addLayout(line)
        column.addWidget(self.form)
        self.form.hide()
        column.addStretch(1)

    def choose(self, name: str) -> None:
        """Print with this material."""
        own = next((m for m in self.shelf.materials() if m.name == name), None)
        self.bench.set_setup(self.tr("Setup: material"), material=name, own=own)

    def add(self, made: Material) -> None:
        """Keep a material of the person's own and print with it."""
        self.shelf.keep_material(made)
        self.form.hide()
        self.bench.set_setup(self.tr("Setup: material"), material=made.name, own=made)

    def drop(self) -> None:
        """Take the material off the shelf, and print with the usual one."""
        self.shelf.drop_material(self.chosen.currentData())
        self.bench.set_setup(self.tr("Setup: material"), material=MATERIALS[0].name, own=None)

    def show_setup(self, setup: PrintSetup) -> None:
        """Show the material of a setup."""
        own = {m.name for m in self.shelf.materials()} | ({setup.own.name} if setup.own else set())
        names = [m.name for m in materials()] + sorted(own)
        if [self.chosen.itemData(i) for i in range(self.chosen.count())] != names:
            self.chosen.clear()
            for name in names:
                self.chosen.addItem(self.tr("{0} (your own)").format(name) if name in own else name, name)
        self.chosen.setCurrentIndex(self.chosen.findData(setup.filament.name))
        self.drop_button.setVisible(setup.own is not None)
        m = setup.filament
        rows = (
            (self.tr("Density"), f"{m.density:.2f} g/cm³", m.density_source),
            (self.tr("Strength along the layers"), _range(m.in_plane, "MPa"), m.in_plane.source),
            (self.tr("Strength across them"), _range(m.across_layers, "MPa"), m.across_layers.source),
            (self.tr("Clear bridge to start from"), _range(m.clear_bridge, "mm"), m.clear_bridge.source),
        )
        for cells, (what, figure, source) in zip(self.cells, rows, strict=True):
            for cell, words in zip(cells, (what, figure, source_words(source)), strict=True):
                cell.setText(words)


def _range(r: Range, unit: str) -> str:
    return f"{r.low:g} {unit}" if r.low == r.high else f"{r.low:g}–{r.high:g} {unit}"
