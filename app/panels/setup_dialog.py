"""The print setup, built from its typed fields: label, unit, range and source come from there."""

from __future__ import annotations

from dataclasses import fields

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QDialog, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from app.bench import Bench
from app.look.tokens import Space, Type
from app.panels.widgets import CountBox, LengthBox, NumberBox, ThemedLabel, VerbButton
from app.panels.widgets.value_box import ValueBox
from core.design.materials import MATERIALS
from core.design.setup import PrintSetup


class SetupDialog(QDialog):
    """Changes go to the bench at once, each an undo step; the sentence below says what was refused."""

    def __init__(self, bench: Bench, parent: object = None) -> None:
        super().__init__(parent)
        self.bench = bench
        self.setWindowTitle(self.tr("Print setup"))
        self.setModal(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.XL, Space.XL, Space.XL, Space.XL)
        column.setSpacing(Space.M)
        column.addWidget(
            ThemedLabel(self.tr("What your printer lays down, and how far it can reach unsupported."), "ink2")
        )
        grid = QGridLayout()
        grid.setHorizontalSpacing(Space.L)
        grid.setVerticalSpacing(Space.S)
        column.addLayout(grid)
        self.boxes: dict[str, ValueBox] = {}
        self.choices: dict[str, QComboBox] = {}
        for i, f in enumerate(fields(PrintSetup)):
            grid.addWidget(self._control(f.name, dict(f.metadata)), i // 2, i % 2, Qt.AlignmentFlag.AlignTop)
        self.trouble = ThemedLabel("", "attention_text", Type.LABEL)
        self.trouble.setWordWrap(True)
        column.addWidget(self.trouble)
        line = QHBoxLayout()
        line.addStretch(1)
        close = VerbButton(self.tr("Done"), primary=True)
        close.clicked.connect(self.accept)
        line.addWidget(close)
        column.addLayout(line)
        bench.refreshed.connect(self.refresh)
        self.refresh()

    def _control(self, name: str, meta: dict[str, object]) -> object:
        label = self.tr(str(meta["label"]))
        if "low" not in meta:
            return self._choice(name, label, meta)
        box: ValueBox
        if meta["unit"] == "mm":
            box = LengthBox(label, returnable=False)
        elif meta["unit"] == "":
            box = CountBox(label, least=int(float(str(meta["low"]))), most=int(float(str(meta["high"]))))
        else:
            box = NumberBox(label, str(meta["unit"]), decimals=0)
        box.setToolTip(self.tr("Default: {0}").format(meta["source"]))
        box.edited.connect(lambda value, n=name, caption=label: self._set(n, caption, value))
        self.boxes[name] = box
        return box

    def _choice(self, name: str, label: str, meta: dict[str, object]) -> object:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.XS)
        column.addWidget(ThemedLabel(label, "ink2", Type.LABEL))
        box = QComboBox()
        box.setMinimumHeight(Space.BOX)
        box.setAccessibleName(label)
        words = {"fixed": self.tr("Fixed width"), "variable": self.tr("Variable width")}
        for option in meta.get("choices", tuple(m.name for m in MATERIALS)):
            box.addItem(words.get(option, option), option)
        box.activated.connect(lambda i, n=name, caption=label: self._set(n, caption, box.itemData(i)))
        column.addWidget(box)
        self.choices[name] = box
        return holder

    def _set(self, name: str, caption: str, value: object) -> None:
        figure = round(value) if isinstance(value, float) and isinstance(self.boxes.get(name), CountBox) else value
        self.bench.set_setup(self.tr("Setup: {0}").format(caption.lower()), **{name: figure})
        self.refresh()

    def refresh(self) -> None:
        """Show the setup of the job, or the one for the next job."""
        setup = self.bench.job.setup if self.bench.job else self.bench.setup
        for name, box in self.boxes.items():
            if isinstance(box, LengthBox):
                box.set_unit(self.bench.view.unit)
            box.set_value(float(getattr(setup, name)))
        for name, choice in self.choices.items():
            choice.setCurrentIndex(choice.findData(getattr(setup, name)))
        self.trouble.setText(self.bench.results.trouble.get("setup", ""))
        self.trouble.setVisible(bool(self.trouble.text()))
