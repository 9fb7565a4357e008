"""The state of a line of the job sheet: a shape and a word, never a colour alone."""

from __future__ import annotations

from enum import Enum

from PySide6.QtCore import QCoreApplication, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.look.current import colour, current
from app.look.fonts import text_font
from app.look.icons import pixmap
from app.look.tokens import Type

ICON, GAP = 16, 6


class State(Enum):
    """Tick: done. Triangle: wants a look. Ring: to do. NONE shows nothing."""

    NONE = ""
    DONE = "done"
    LOOK = "look"
    TODO = "todo"

    def word(self) -> str:
        return {
            State.NONE: "",
            State.DONE: QCoreApplication.translate("State", "Done"),
            State.LOOK: QCoreApplication.translate("State", "Look"),
            State.TODO: QCoreApplication.translate("State", "To do"),
        }[self]


def mark_width() -> int:
    """Room for any mark (logical px), so that the marks of several lines stand in one column."""
    metrics = QFontMetricsF(text_font(Type.LABEL, Type.MEDIUM))
    return ICON + GAP + max(round(metrics.horizontalAdvance(state.word()) + 0.5) for state in State)


def paint_state(painter: QPainter, state: State, rect: QRectF, ratio: float) -> None:
    """Paint a mark at the left of ``rect``, in the middle of its height."""
    if state is State.NONE:
        return
    ink = {State.LOOK: "attention_text", State.TODO: "ink2"}.get(state, "ink")
    y = rect.center().y()
    picture = pixmap(state.value, ICON, ratio, ink=None if state is State.LOOK else getattr(current(), ink))
    painter.drawPixmap(QPointF(rect.left(), round(y - ICON / 2)), picture)
    painter.setFont(text_font(Type.LABEL, Type.MEDIUM))
    painter.setPen(colour(ink))
    painter.drawText(
        rect.adjusted(ICON + GAP, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, state.word()
    )


class StateMark(QWidget):
    """A mark on its own."""

    def __init__(self, state: State = State.NONE, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = State.NONE
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.set_state(state)

    def set_state(self, state: State) -> None:
        self._state = state
        self.setAccessibleName(state.word())
        self.update()

    def state(self) -> State:
        return self._state

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(mark_width(), 20)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        paint_state(QPainter(self), self._state, QRectF(self.rect()), self.devicePixelRatioF())
