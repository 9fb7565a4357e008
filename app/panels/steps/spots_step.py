"""Line 3: what will sag, worst first, each with the gap below it; Enter takes it."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from app.look.current import colour
from app.look.fonts import text_font
from app.look.tokens import Space, Type
from app.panels.steps.body import Body
from app.panels.widgets import LinkButton, State, VerbButton
from app.spots import Entry, entries
from core.job.job import take_in_hand

ENTRY = Qt.ItemDataRole.UserRole + 1
ROW, MOST = 48, 6


class _Painter(QStyledItemDelegate):
    """Two lines an entry: what it is, and why."""

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:  # noqa: N802
        return QSize(200, ROW)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        entry: Entry = index.data(ENTRY)
        rect = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.fillRect(rect, colour("pressed" if chosen else "sheet"))
        if chosen:
            painter.fillRect(QRectF(rect.left(), rect.top(), 3, rect.height()), colour("ink"))
        painter.fillRect(QRectF(rect.left(), rect.bottom() - 1, rect.width(), 1), colour("rule"))
        field = rect.adjusted(Space.M, 6, -Space.S, -6)
        title = text_font(Type.TEXT, Type.SEMIBOLD)
        painter.setFont(title)
        painter.setPen(colour("attention_text" if entry.open and entry.severity > 0 else "ink"))
        painter.drawText(field, Qt.AlignmentFlag.AlignTop, QFontMetricsF(title).elidedText(
            entry.title, Qt.TextElideMode.ElideRight, field.width()))  # fmt: skip
        small = text_font(Type.LABEL)
        painter.setFont(small)
        painter.setPen(colour("ink2"))
        painter.drawText(field, Qt.AlignmentFlag.AlignBottom, QFontMetricsF(small).elidedText(
            entry.line, Qt.TextElideMode.ElideRight, field.width()))  # fmt: skip


class _List(QListWidget):
    entered = Signal()

    def keyPressEvent(self, event: Any) -> None:  # noqa: N802
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.entered.emit()
            return
        super().keyPressEvent(event)


class SpotsStep(Body):
    """The list, and what can be done with the entry that is chosen."""

    def build(self) -> None:
        self.words = self.label()
        self.list = _List()
        self.list.setAccessibleName(self.tr("Weak spots and gaps"))
        self.list.setItemDelegate(_Painter(self.list))
        self.list.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._chosen)
        self.list.itemDoubleClicked.connect(lambda _: self.take_chosen())
        self.list.entered.connect(self.take_chosen)
        self.column.addWidget(self.list)
        self.cause = self.label(role="ink")
        self.take = VerbButton(self.tr("Take this gap"), primary=True)
        self.take.clicked.connect(self.take_chosen)
        self.all = VerbButton(self.tr("Take all"))
        self.all.clicked.connect(self.bench.take_all)
        self.row(self.take, self.all)
        self.fine = LinkButton(self.tr("Fine as it is"))
        self.fine.clicked.connect(self._fine)
        self.row(self.fine, stretch=True)
        self._entries: list[Entry] = []

    def entry(self) -> Entry | None:
        """The entry that is chosen."""
        row = self.list.currentRow()
        return self._entries[row] if 0 <= row < len(self._entries) else None

    def _chosen(self, row: int) -> None:
        entry = self.entry()
        if entry is not None and row != self.bench.view.chosen_spot:
            self.bench.choose_spot(row, entry)
        self._buttons()

    def take_chosen(self) -> None:
        """Take the gap of the entry that is chosen, or build a wall where it has none."""
        entry = self.entry()
        if entry is not None and entry.row and not entry.open:
            self.bench.change(self.tr("Change row {0}").format(entry.row), lambda job: take_in_hand(job, entry.row))
        elif entry is not None and entry.gap:
            self.bench.take_gap(entry.gap)
        elif entry is not None and entry.spot and entry.open:
            self.bench.build_walls(entry.spot)

    def _fine(self) -> None:
        entry = self.entry()
        if entry is not None and entry.spot:
            self.bench.dismiss(entry.spot)

    def refresh(self) -> None:
        found = self.bench.results.inspection
        fresh = entries(self.bench)
        if [e.key for e in fresh] != [e.key for e in self._entries] or fresh != self._entries:
            self._fill(fresh)
        if found is None:
            self.words.setText(self.tr("Looking for what will sag…") if self.bench.job else "")
        elif not fresh:
            self.words.setText(self.tr("Nothing here will sag. There is nothing to add."))
        else:
            self.words.setText(self.tr("Worst first. Limit {0:g}° from vertical.").format(
                self.bench.job.setup.overhang if self.bench.job else 45))  # fmt: skip
        self.list.setVisible(bool(fresh))
        self._buttons()

    def _fill(self, fresh: list[Entry]) -> None:
        self.list.blockSignals(True)
        self.list.clear()
        self._entries = fresh
        for entry in fresh:
            item = QListWidgetItem(f"{entry.title}. {entry.line}")
            item.setData(ENTRY, entry)
            self.list.addItem(item)
        self.list.setCurrentRow(min(self.bench.view.chosen_spot, len(fresh) - 1))
        self.list.setFixedHeight(ROW * min(max(len(fresh), 1), MOST) + 2)
        self.list.blockSignals(False)

    def _buttons(self) -> None:
        entry = self.entry()
        self.cause.setText(entry.cause if entry else "")
        self.cause.setVisible(bool(entry and entry.cause))
        self.take.setVisible(bool(self._entries))
        bare = entry is not None and not entry.gap
        there = entry is not None and entry.row and not entry.open
        offered = self.tr("Build a wall here") if bare else self.tr("Take this gap")
        self.take.setText(self.tr("Change row {0}").format(entry.row) if there else offered)
        self.take.setEnabled(bool(there or (entry and entry.open and (entry.gap or entry.spot))))
        self.all.setVisible(sum(1 for e in self._entries if e.gap and e.open) > 1)
        self.fine.setVisible(bool(entry and entry.spot))
        if entry is not None and entry.spot:
            self.fine.setText(self.tr("Not fine after all") if entry.dismissed else self.tr("Fine as it is"))

    def figure(self) -> str:
        if self.bench.job is None:
            return ""
        if self.bench.results.inspection is None:
            return self.tr("looking…")
        if not self._entries:
            return self.tr("none")
        waiting = sum(1 for e in self._entries if e.open)
        return self.tr("{0} of {1} open").format(waiting, len(self._entries))

    def state(self) -> State:
        if self.bench.results.inspection is None:
            return State.TODO
        return State.LOOK if any(e.open for e in self._entries) else State.DONE
