"""The ground of all our own controls: they paint with the theme of the moment and repaint when it changes."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QLabel, QWidget

from app.language import said
from app.look.current import colour
from app.look.fonts import text_font
from app.look.tokens import Space, Type

THEME_EVENTS = (QEvent.Type.PaletteChange, QEvent.Type.StyleChange, QEvent.Type.FontChange)


def framed(
    painter: QPainter,
    rect: QRectF,
    *,
    ground: str = "sheet",
    line: str = "line",
    width: float = 1.0,
    radius: float = Space.RADIUS,
) -> None:
    """A box of ``rect``: filled, with a line of ``width`` px that stays inside."""
    half = width / 2
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setBrush(colour(ground))
    painter.setPen(QPen(colour(line), width))
    painter.drawRoundedRect(rect.adjusted(half, half, -half, -half), radius, radius)
    painter.restore()


class ThemedLabel(QLabel):
    """A label that takes its colour and size from the look: ``role`` is a field of Theme.

    Sentences of the computation are said in the person's language.
    """

    def __init__(
        self,
        text: str = "",
        role: str = "ink",
        size: float = Type.TEXT,
        weight: int = Type.REGULAR,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(said(text), parent)
        self._role, self._size, self._weight = role, size, weight
        self._dress()

    def set_role(self, role: str) -> None:
        self._role = role
        self._dress()

    def setText(self, text: str) -> None:  # noqa: N802
        super().setText(said(text))
        self._take_lines()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._take_lines()

    def _take_lines(self) -> None:
        """Claim the height of all lines of a wrapped text; layouts within layouts do not ask for it."""
        if self.wordWrap():
            field = QRect(0, 0, self.width(), 0)
            high = self.fontMetrics().boundingRect(field, Qt.TextFlag.TextWordWrap, self.text()).height() + 1
            if high != self.minimumHeight():
                self.setMinimumHeight(high)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() == QEvent.Type.StyleChange:
            self._dress()
        super().changeEvent(event)

    def _dress(self) -> None:
        wanted, palette = colour(self._role), self.palette()
        if palette.color(self.foregroundRole()) != wanted:
            palette.setColor(self.foregroundRole(), wanted)
            self.setPalette(palette)
        font = text_font(self._size, self._weight)
        if self.font() != font:
            self.setFont(font)
