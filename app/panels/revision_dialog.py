"""A job on a newer revision of its mesh: every row as it was and as it is, to be decided before anything is taken."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QComboBox, QGridLayout, QScrollArea, QWidget

from app.language import said
from app.look.current import box_height
from app.look.tokens import Space, Type
from app.panels.dialog import SheetDialog
from app.panels.widgets import State, StateMark, ThemedLabel, VerbButton
from core.job.job import Job
from core.job.revision import Revision, settled
from core.job.row_again import Figures, RowFound
from core.units import MM_PER, UnitName

#: Rows that are shown without scrolling, and how wide the column of words is, logical px.
MOST_HIGH, WORDS_WIDE = 460, 280
#: What a person may say of a row, beside the number of a place.
TAKE, LEAVE = "take", "leave"
_MARKS = {"matched": State.DONE, "moved": State.DONE}


def _tr(text: str) -> str:
    return QCoreApplication.translate("RevisionDialog", text)


def status_word(row: RowFound) -> str:
    """What became of a row, in one word."""
    return {
        "matched": _tr("matched"), "moved": _tr("moved"), "changed": _tr("changed"), "gone": _tr("gone"),
        "ambiguous": _tr("in doubt"),
    }[row.status]  # fmt: skip


class RevisionDialog(SheetDialog):
    """``take`` is called with the job as it was decided. Closing the dialog takes nothing."""

    def __init__(
        self, old: Job, revision: Revision, name: str, unit: UnitName, take: Callable[[Job], None],
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(_tr("Rows on {0}").format(name), parent)
        self.old, self.revision, self._unit, self._take = old, revision, unit, take
        self.choices: dict[int, QComboBox] = {}
        self.words(" ".join(said(note) for note in revision.notes), "ink", Type.TEXT)
        self.column.addWidget(self._table())
        self.summary = self.words("")
        self.take_button = VerbButton(_tr("Go on with the newer file"), primary=True)
        self.take_button.clicked.connect(self.decide)
        leave = VerbButton(_tr("Leave it"))
        leave.clicked.connect(self.reject)
        self.foot(leave, self.take_button)
        self._count()
        self.take_button.setFocus()

    def _table(self) -> QWidget:
        inner = QWidget()
        grid = QGridLayout(inner)
        grid.setContentsMargins(0, 0, Space.M, 0)
        grid.setHorizontalSpacing(Space.L)
        grid.setVerticalSpacing(Space.S)
        unit = "in" if self._unit == "inch" else "mm"
        heads = (
            _tr("Row"), "", _tr("What became of it"), _tr("Length was, {0}").format(unit), _tr("is"),
            _tr("Gap was, {0}").format(unit), _tr("is"), _tr("On the newer file"),
        )  # fmt: skip
        for column, head in enumerate(heads):
            grid.addWidget(ThemedLabel(head, "ink2", Type.LABEL), 0, column)
        for line, row in enumerate(self.revision.rows, start=1):
            self._line(grid, line, row)
        grid.setColumnStretch(2, 1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inner)
        inner.adjustSize()
        scroll.setMinimumWidth(inner.minimumSizeHint().width() + scroll.verticalScrollBar().sizeHint().width())
        scroll.setMinimumHeight(min(inner.sizeHint().height() + Space.M, MOST_HIGH))
        return scroll

    def _line(self, grid: QGridLayout, line: int, row: RowFound) -> None:
        top = Qt.AlignmentFlag.AlignTop
        right = Qt.AlignmentFlag.AlignRight
        name = str(row.number) if row.kind == "row" else _tr("post {0}").format(row.number)
        number = ThemedLabel(name, "ink", Type.LABEL)
        grid.addWidget(number, line, 0, top)
        grid.addWidget(StateMark(_MARKS.get(row.status, State.LOOK)), line, 1, top)
        words = ThemedLabel(f"{status_word(row)}: {said(row.words)}", "ink", Type.LABEL)
        words.setWordWrap(True)
        words.setMinimumWidth(WORDS_WIDE)
        grid.addWidget(words, line, 2, top)
        was, now = self._figures(row.before), self._figures(row.after)
        for column, (figure, other) in enumerate(((was[0], now[0]), (now[0], was[0]), (was[1], now[1]),
                                                  (now[1], was[1])), start=3):  # fmt: skip
            differs = bool(figure) and figure != other
            weight = Type.SEMIBOLD if differs else Type.REGULAR
            grid.addWidget(ThemedLabel(figure or "–", "ink" if figure else "ink3", Type.LABEL, weight), line, column,
                           top | right)  # fmt: skip
        grid.addWidget(self._choice(row), line, 7, top)

    def _figures(self, figures: Figures | None) -> tuple[str, str]:
        if figures is None:
            return "", ""
        scale, digits = MM_PER[self._unit], 3 if self._unit == "inch" else 2
        length, low, high = (f"{x / scale:.{digits}f}" for x in (figures.length, figures.low, figures.high))
        return length, low if low == high else f"{low}–{high}"

    def _choice(self, row: RowFound) -> QWidget:
        """What is to be done with a row; for one that is gone there is nothing to choose."""
        if not row.kept and not row.choices:
            return ThemedLabel(_tr("stays out"), "ink2", Type.LABEL)
        box = QComboBox()
        box.setMinimumHeight(box_height())
        box.setAccessibleName(_tr("Row {0} on the newer file").format(row.number))
        if row.kept:
            box.addItem(_tr("take it"), TAKE)
        else:
            box.addItem(_tr("leave it out"), LEAVE)
        for place, pick in enumerate(row.choices):
            x, y, z = (float(c) / MM_PER[self._unit] for c in pick.edge.at(pick.edge.length / 2)[0])
            box.addItem(_tr("take the one at {0}").format(f"{x:.1f}, {y:.1f}, {z:.1f}"), place)
        if row.kept:
            box.addItem(_tr("leave it out"), LEAVE)
        box.activated.connect(lambda _: self._count())
        self.choices[row.number] = box
        return box

    def _count(self) -> None:
        """How many rows go on, in words."""
        taken = sum(box.currentData() != LEAVE for box in self.choices.values())
        out = len(self.revision.rows) - taken
        self.summary.setText(
            _tr("{0} of {1} rows go on with the newer file, {2} stay out. Undo brings the file as it was back.").format(
                taken, len(self.revision.rows), out
            )
        )

    def decide(self) -> None:
        """Take what was decided."""
        said_of = {number: box.currentData() for number, box in self.choices.items()}
        places = {number: word for number, word in said_of.items() if isinstance(word, int)}
        left_out = [number for number, word in said_of.items() if word == LEAVE]
        self._take(settled(self.revision, self.old, places, left_out))
        self.accept()
