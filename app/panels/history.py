"""The steps of the job by name; a click goes back, or forward again, to the state after one of them."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.look.current import box_height, colour
from app.look.fonts import lettering_font, scale, text_font
from app.look.icons import pixmap
from app.look.tokens import Space, Type
from app.panels.widgets import ThemedLabel
from app.panels.widgets.painted import framed
from app.store import Store

WIDTH: Final = 320
MOST_SHOWN: Final = 14
_STATE: Final = Qt.ItemDataRole.UserRole + 1
DONE, HERE, UNDONE = "done", "here", "undone"


class _Row(QStyledItemDelegate):
    """Steps done in ink, those undone paler, the state in hand with a bar and a tick."""

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:  # noqa: N802
        return QSize(120, box_height() - 4)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        rect, state = QRectF(option.rect), index.data(_STATE)
        if option.state & (QStyle.StateFlag.State_Selected | QStyle.StateFlag.State_MouseOver):
            painter.fillRect(rect, colour("pressed"))
        if state == HERE:
            painter.fillRect(QRectF(rect.left(), rect.top(), 3, rect.height()), colour("ink"))
            ratio = painter.device().devicePixelRatio()
            painter.drawPixmap(round(rect.left()) + 12, round(rect.center().y()) - 8, pixmap("done", 16, ratio))
        font = text_font(Type.TEXT, Type.SEMIBOLD if state == HERE else Type.REGULAR)
        painter.setFont(font)
        painter.setPen(colour("ink3" if state == UNDONE else "ink"))
        field = rect.adjusted(36, 0, -12, 0)
        words = painter.fontMetrics().elidedText(index.data(), Qt.TextElideMode.ElideRight, int(field.width()))
        painter.drawText(field, Qt.AlignmentFlag.AlignVCenter, words)


class HistoryPanel(QWidget):
    """A small list over the window; it closes on Esc and on a click elsewhere, and stays open while one jumps about."""

    def __init__(self, store: Store, parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Popup | Qt.WindowType.FramelessWindowHint)
        self._store = store
        self.setAccessibleName(self.tr("Steps of the job"))
        self.title = ThemedLabel(self.tr("STEPS"), "ink", Type.LABEL)
        self.list = QListWidget(self)
        self.list.setItemDelegate(_Row(self.list))
        self.list.setMouseTracking(True)
        self.list.setStyleSheet("QListWidget { border: none; }")  # the popup has a frame, and nothing else to focus
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setAccessibleName(self.tr("Steps of the job"))
        self.list.itemClicked.connect(lambda item: self._jump(self.list.row(item)))
        self.list.installEventFilter(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.S, Space.M, Space.S, Space.S)
        column.setSpacing(Space.S)
        head = QVBoxLayout()
        head.setContentsMargins(Space.XS, 0, 0, 0)
        head.addWidget(self.title)
        column.addLayout(head)
        column.addWidget(self.list, 1)
        store.history_changed.connect(self._later)

    def open_at(self, widget: QWidget) -> None:
        """Show below a widget, the state in hand chosen."""
        self.title.setFont(lettering_font(Type.HEAD))
        self.refresh()
        rows = min(max(self.list.count(), 3), MOST_SHOWN)
        self.resize(round(WIDTH * scale()), rows * (box_height() - 4) + self.title.sizeHint().height() + 34)
        corner = widget.mapToGlobal(widget.rect().bottomLeft())
        limit = widget.screen().availableGeometry()
        x = max(min(corner.x(), limit.right() - self.width()), limit.left())
        self.move(x, max(min(corner.y() + Space.XS, limit.bottom() - self.height()), limit.top()))
        self.show()
        self.list.setFocus(Qt.FocusReason.PopupFocusReason)

    def refresh(self) -> None:
        """Show the steps as they are now."""
        done, undone = self._store.history, self._store.undone
        self.list.clear()
        for k, label in enumerate([self.tr("As opened"), *done, *undone]):
            item = QListWidgetItem(label, self.list)
            state = HERE if k == len(done) else DONE if k < len(done) else UNDONE
            item.setData(_STATE, state)
            word = {HERE: self.tr("here"), DONE: self.tr("done"), UNDONE: self.tr("undone")}[state]
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{label}, {word}")
            item.setToolTip(label)
        self.list.setCurrentRow(len(done))

    def _later(self) -> None:
        if self.isVisible():
            self.refresh()

    def _jump(self, index: int) -> None:
        if index >= 0:
            self._store.jump(index)

    def eventFilter(self, watched: object, event: QEvent) -> bool:  # noqa: N802
        if watched is self.list and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._jump(self.list.currentRow())
                return True
            if event.key() == Qt.Key.Key_Escape:
                self.close()
                return True
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        framed(QPainter(self), QRectF(self.rect()), radius=0)
