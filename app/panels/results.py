"""How printed rows went, row by row: the same table for a coupon and for the rows of a finished part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QWidget

from app.look.current import box_height
from app.look.tokens import Space, Type
from app.panels.widgets import ThemedLabel
from core.errors import BadValue
from core.proof.learn import Outcome

#: Room beside the words of a box, px.
PADDING = 28


@dataclass(frozen=True)
class Asked:
    """A row that is asked about: its number, and what it is in a few words."""

    number: int
    words: str


class ResultsTable(QWidget):
    """Emits ``edited`` when something was chosen. A row about whose tips nothing was said counts as not looked at."""

    edited = Signal()

    def __init__(self, rows: Sequence[Asked], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setHorizontalSpacing(Space.M)
        self.grid.setVerticalSpacing(Space.S)
        heads = (
            "", self.tr("Tips"), self.tr("Edge above"), self.tr("Came off"), self.tr("Left on the edge"),
            self.tr("Straight pull, N"),
        )  # fmt: skip
        for column, head in enumerate(heads):
            self.grid.addWidget(ThemedLabel(head, "ink2", Type.LABEL), 0, column)
        self.lines = {asked.number: _Line(self, asked, line) for line, asked in enumerate(rows, start=1)}
        self.grid.setColumnStretch(0, 1)

    def outcomes(self) -> list[tuple[int, Outcome]]:
        """What was entered, by number. Raises BadValue for a pull that is none."""
        found = [(number, line.outcome()) for number, line in self.lines.items()]
        return [(number, seen) for number, seen in found if seen is not None]

    def show_outcomes(self, seen: Sequence[tuple[int, Outcome]]) -> None:
        """Show what was entered before; emits nothing."""
        for number, outcome in seen:
            if number in self.lines:
                self.lines[number].show_outcome(outcome)


class _Line:
    """The controls of one row."""

    def __init__(self, table: ResultsTable, asked: Asked, line: int) -> None:
        self.table, self.asked = table, asked
        name = ThemedLabel(asked.words, "ink", Type.LABEL)
        name.setMinimumWidth(name.sizeHint().width())
        tr = table.tr
        self.printed = self._box(tr("Tips"), (
            (None, tr("not looked at")), (True, tr("all there")), (False, tr("some missing"))))  # fmt: skip
        self.held = self._box(tr("Edge above"), (
            (None, tr("not looked at")), (True, tr("straight")), (False, tr("sagged"))))  # fmt: skip
        self.came_off = self._box(tr("Came off"), (
            ("untried", tr("not tried")), ("fingers", tr("with fingers")), ("pliers", tr("with pliers")),
            ("knife", tr("with a knife")), ("stuck", tr("not at all"))))  # fmt: skip
        self.scar = self._box(tr("Left on the edge"), (
            ("untold", tr("not looked at")), ("clean", tr("hardly a mark")), ("stubs", tr("sharp stubs")),
            ("torn", tr("edge torn"))))  # fmt: skip
        self.pulled = QLineEdit()
        words = QFontMetricsF(self.pulled.font()).horizontalAdvance(tr("if weighed"))
        self.pulled.setFixedWidth(max(100, round(words) + PADDING))
        self.pulled.setMinimumHeight(box_height())
        self.pulled.setPlaceholderText(tr("if weighed"))
        self.pulled.setAccessibleName(f"{asked.words}: {tr('Straight pull, N')}")
        self.pulled.textEdited.connect(lambda _: table.edited.emit())
        for column, control in enumerate((name, self.printed, self.held, self.came_off, self.scar, self.pulled)):
            table.grid.addWidget(control, line, column, Qt.AlignmentFlag.AlignVCenter)

    def _box(self, name: str, choices: Sequence[tuple[Any, str]]) -> QComboBox:
        box = QComboBox()
        box.setMinimumHeight(box_height())
        box.setAccessibleName(f"{self.asked.words}: {name}")
        for value, words in choices:
            box.addItem(words, value)
        box.activated.connect(lambda _: self.table.edited.emit())
        return box

    def outcome(self) -> Outcome | None:
        if self.printed.currentData() is None:
            return None
        return Outcome(
            self.printed.currentData(), self.held.currentData(), self.came_off.currentData(), self._pulled(),
            self.scar.currentData(),
        )  # fmt: skip

    def _pulled(self) -> float | None:
        text = self.pulled.text().strip().removesuffix("N").strip().replace(",", ".")
        if not text:
            return None
        try:
            return float(text)
        except ValueError:
            words = self.table.tr("“{0}” is not a force.").format(self.pulled.text())
            raise BadValue(words, self.table.tr("Give the reading of a scale in newtons.")) from None

    def show_outcome(self, seen: Outcome) -> None:
        for box, value in (
            (self.printed, seen.printed), (self.held, seen.held), (self.came_off, seen.came_off),
            (self.scar, seen.scar),
        ):  # fmt: skip
            box.setCurrentIndex(next(i for i in range(box.count()) if box.itemData(i) == value))
        self.pulled.setText("" if seen.pulled is None else f"{seen.pulled:g}")
