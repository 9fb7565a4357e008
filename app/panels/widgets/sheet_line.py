"""A line of the job sheet: number in a circle, title, live figure, state; the line in hand unfolds its controls."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QVBoxLayout, QWidget

from app.language import said
from app.look.current import colour, line_height, sheet_width
from app.look.drawing import BALLOON, balloon
from app.look.fonts import scale, text_font
from app.look.style import draw_focus
from app.look.tokens import Space, Type
from app.panels.widgets.painted import THEME_EVENTS
from app.panels.widgets.state_mark import State, mark_width, paint_state

MARK_RIGHT = 16  # px right of the mark column


class _Header(QAbstractButton):
    def __init__(self, number: int, title: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.number, self.title, self.figure = number, title, ""
        self.state = State.NONE
        self.unfolded = False
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.describe()

    def describe(self) -> None:
        """Say for a screen reader what the line shows."""
        parts = [f"{self.number} {self.title}", self.figure, self.state.word()]
        self.setText(", ".join(part for part in parts if part))
        self.setAccessibleName(self.text())
        self.setAccessibleDescription(self.tr("unfolded") if self.unfolded else self.tr("folded"))

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(sheet_width(), line_height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        rect = QRectF(self.rect())
        hovered = not self.unfolded and (self.underMouse() or self.isDown())
        painter.fillRect(rect, colour("sheet" if self.unfolded else "pressed" if hovered else "well"))
        if self.unfolded:
            painter.fillRect(QRectF(0, 0, 4, rect.height()), colour("ink"))
        radius = BALLOON * scale()
        centre = QPointF(Space.XL + radius, rect.center().y())
        balloon(painter, centre, str(self.number), filled=self.unfolded, radius=radius)
        self._words(painter, rect)
        if self.hasFocus():
            draw_focus(painter, rect.adjusted(1, 1, -1, -1))

    def _words(self, painter: QPainter, rect: QRectF) -> None:
        font = text_font(Type.TITLE, Type.SEMIBOLD if self.unfolded else Type.MEDIUM)
        painter.setFont(font)
        painter.setPen(colour("ink"))
        title_x = Space.XL + 2 * BALLOON * scale() + Space.M
        title_wide = QFontMetricsF(font).horizontalAdvance(self.title)
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.drawText(rect.adjusted(title_x, 0, 0, 0), middle | Qt.AlignmentFlag.AlignLeft, self.title)
        mark_x = rect.width() - MARK_RIGHT - mark_width()
        paint_state(painter, self.state, QRectF(mark_x, 0, mark_width() + 8, rect.height()), self.devicePixelRatioF())
        small = text_font(Type.TEXT)
        painter.setFont(small)
        painter.setPen(colour("ink2"))
        room = QRectF(title_x + title_wide + Space.M, 0, mark_x - 2 * Space.M - title_x - title_wide - 2, rect.height())
        words = QFontMetricsF(small).elidedText(self.figure, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, middle | Qt.AlignmentFlag.AlignRight, words)


class SheetLine(QWidget):
    """Emits ``asked`` with its number when the person wants it unfolded or folded; the sheet decides."""

    asked = Signal(int)

    def __init__(self, number: int, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.number = number
        self.header = _Header(number, title, self)
        self._body: QWidget | None = None
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 1)
        self._column.setSpacing(0)
        self._column.addWidget(self.header)
        self.header.clicked.connect(lambda: self.asked.emit(self.number))
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)

    def set_title(self, title: str) -> None:
        self.header.title = title
        self._changed()

    def set_figure(self, figure: str) -> None:
        """The live figure at the right, such as “15, pitch 4.97”."""
        self.header.figure = said(figure)
        self.header.setToolTip(self.header.figure)
        self._changed()

    def set_state(self, state: State) -> None:
        self.header.state = state
        self._changed()

    def state(self) -> State:
        return self.header.state

    def set_body(self, body: QWidget) -> None:
        """The controls that the line unfolds; the line owns them from here on."""
        if self._body is not None:
            self._column.removeWidget(self._body)
            self._body.deleteLater()
        self._body = body
        body.setParent(self)
        body.setContentsMargins(Space.XL, Space.S, Space.XL, Space.L)
        if body.layout() is not None:
            body.layout().setContentsMargins(0, 0, 0, 0)
        self._column.addWidget(body)
        body.setVisible(self.header.unfolded)

    def body(self) -> QWidget | None:
        return self._body

    def set_expanded(self, expanded: bool) -> None:
        """Unfold or fold; emits nothing."""
        self.header.unfolded = expanded
        if self._body is not None:
            self._body.setVisible(expanded)
        self._changed()

    def expanded(self) -> bool:
        return self.header.unfolded

    def _changed(self) -> None:
        self.header.describe()
        self.header.update()
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("sheet" if self.header.unfolded else "well"))
        painter.fillRect(0, self.height() - 1, self.width(), 1, colour("rule"))

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() in THEME_EVENTS:
            self.header.updateGeometry()
            self.header.update()
        super().changeEvent(event)
