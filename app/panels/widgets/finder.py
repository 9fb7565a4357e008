"""The finder: type a word or two, take an action. It knows every action of the window by its menu path."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QModelIndex, QObject, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QAction, QFontMetricsF, QKeyEvent, QKeySequence, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QMainWindow,
    QMenu,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from app.look.current import box_height, colour
from app.look.fonts import text_font
from app.look.tokens import Space, Type
from app.panels.widgets.painted import framed

WIDTH, SHOWN = 520, 9  # px; rows seen at once
FOUND = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True)
class Found:
    """An action with the menus that lead to it."""

    action: QAction
    path: str

    @property
    def name(self) -> str:
        return plain(self.action.text())


def plain(text: str) -> str:
    """A menu text without its mnemonic mark and dots."""
    return text.replace("&&", "\0").replace("&", "").replace("\0", "&").removesuffix("…").strip()


def actions_of(window: QMainWindow) -> list[Found]:
    """Every action that the window offers, in menu order, then those that stand in no menu."""
    found = {f.action: f for menu in _menus(window) for f in _walk(menu, plain(menu.title()))}
    for action in window.actions():
        if action.text() and not action.isSeparator() and action.menu() is None:
            found.setdefault(action, Found(action, ""))
    return list(found.values())


def _menus(window: QMainWindow) -> Iterator[QMenu]:
    for action in window.menuBar().actions():
        menu = action.menu()
        if isinstance(menu, QMenu):
            yield menu


def _walk(menu: QMenu, path: str) -> Iterator[Found]:
    for action in menu.actions():
        below = action.menu()
        if isinstance(below, QMenu):
            yield from _walk(below, f"{path} › {plain(below.title())}")
        elif action.text() and not action.isSeparator() and action.isVisible():
            yield Found(action, path)


def ranked(query: str, found: Iterable[Found]) -> list[Found]:
    """Those that hold every word of ``query``, names that begin with it first; all of them for an empty one."""
    words = query.casefold().split()
    scored = [(score, k, f) for k, f in enumerate(found) if (score := _score(words, f)) is not None]
    return [f for _, _, f in sorted(scored, key=lambda entry: entry[:2])]


def _score(words: list[str], found: Found) -> int | None:
    name = found.name.casefold()
    field = f"{name} {found.path} {found.action.toolTip()} {found.action.statusTip()}".casefold()
    if not all(word in field for word in words):
        return None
    starts = sum(any(part.startswith(word) for part in name.split()) for word in words)
    inside = sum(word in name for word in words)
    return -(4 * bool(words and name.startswith(words[0])) + 2 * starts + inside) + 8 * (not found.action.isEnabled())


class _Row(QStyledItemDelegate):
    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:  # noqa: N802
        return QSize(120, box_height())

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        found = index.data(FOUND)
        rect = QRectF(option.rect)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(rect, colour("pressed"))
            painter.fillRect(QRectF(rect.left(), rect.top(), 3, rect.height()), colour("ink"))
        action = found.action
        painter.drawPixmap(
            round(rect.left()) + 12,
            round(rect.center().y()) - 8,
            action.icon().pixmap(QSize(16, 16), painter.device().devicePixelRatio()),
        )
        words = rect.adjusted(40, 0, -12, 0)
        usable = action.isEnabled()
        used = _say(painter, words, found.name, "ink" if usable else "ink3", Type.MEDIUM)
        keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText) if usable else self.tr("not now")
        kept = _say(painter, words, keys, "ink2", Type.REGULAR, right=True)
        _say(painter, words.adjusted(used + 12, 0, -kept - 12, 0), found.path, "ink3", Type.REGULAR)


def _say(painter: QPainter, rect: QRectF, text: str, role: str, weight: int, *, right: bool = False) -> float:
    font = text_font(Type.TEXT, weight)
    metrics = QFontMetricsF(font)
    shown = metrics.elidedText(text, Qt.TextElideMode.ElideRight, rect.width())
    painter.setFont(font)
    painter.setPen(colour(role))
    side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
    painter.drawText(rect, side | Qt.AlignmentFlag.AlignVCenter, shown)
    return metrics.horizontalAdvance(shown)


class Finder(QWidget):
    """Opens over the window; closes on Esc, on a click elsewhere, and after an action was taken."""

    taken = Signal(QAction)

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window, Qt.WindowType.Popup | Qt.WindowType.FramelessWindowHint)
        self._window, self._found = window, list[Found]()
        self.setAccessibleName(self.tr("Find a command"))
        self.edit = QLineEdit(self)
        self.edit.setPlaceholderText(self.tr("Type what you want to do"))
        self.edit.setAccessibleName(self.tr("Find a command"))
        self.list = QListWidget(self)
        self.list.setItemDelegate(_Row(self.list))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setAccessibleName(self.tr("Commands found"))
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.S, Space.S, Space.S, Space.S)
        column.addWidget(self.edit)
        column.addWidget(self.list)
        self.edit.textChanged.connect(self._search)
        self.edit.installEventFilter(self)
        self.list.itemClicked.connect(lambda _: self._take())

    def open(self) -> None:
        """Show with an empty line, at the top middle of the window."""
        self._found = actions_of(self._window)
        self.edit.clear()
        self._search("")
        self.resize(WIDTH, 2 * Space.S + 6 + box_height() * (SHOWN + 1) + 8)
        middle = self._window.mapToGlobal(self._window.rect().center())
        self.move(middle.x() - self.width() // 2, self._window.mapToGlobal(self._window.rect().topLeft()).y() + 64)
        self.show()
        self.edit.setFocus(Qt.FocusReason.PopupFocusReason)

    def _search(self, query: str) -> None:
        self.list.clear()
        for found in ranked(query, self._found):
            item = QListWidgetItem(found.name, self.list)
            item.setData(FOUND, found)
        self.list.setCurrentRow(0)

    def _take(self) -> None:
        item = self.list.currentItem()
        if item is None or not item.data(FOUND).action.isEnabled():
            return
        action = item.data(FOUND).action
        self.close()
        action.trigger()
        self.taken.emit(action)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        if watched is self.edit and isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            moves = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1, Qt.Key.Key_PageDown: SHOWN, Qt.Key.Key_PageUp: -SHOWN}
            if event.key() in moves:
                row = self.list.currentRow() + moves[Qt.Key(event.key())]
                self.list.setCurrentRow(min(max(row, 0), self.list.count() - 1))
                return True
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._take()
                return True
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        framed(QPainter(self), QRectF(self.rect()), radius=0)
