"""The six views, laid out as on a sheet in third-angle projection, and the words on the working axes below them."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QWidget

from app.look import fonts, icons
from app.look.current import current
from app.look.tokens import Space, Type
from app.view.page import haloed_text, pen, text_width

BUTTON: Final = QSize(64, 23)
GAP: Final = 4
LEGEND_HIGH: Final = 34
COLUMNS, ROWS = 4, 3


class ViewButton(QAbstractButton):
    """A square drawing block with a word; the view that is on is filled darker and underlined."""

    def __init__(self, words: str, spoken: str, parent: QWidget) -> None:
        super().__init__(parent)
        self.setText(words)
        self.setAccessibleName(spoken)
        self.setToolTip(spoken)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCursor(Qt.CursorShape.ArrowCursor)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Frame, ground and word."""
        theme = current()
        painter = QPainter(self)
        box = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        pressed, hovered = self.isDown() or self.isChecked(), self.underMouse()
        ground = theme.pressed if pressed else theme.well if hovered else theme.sheet
        painter.setBrush(QColor(ground))
        painter.setPen(pen(theme.line, 1.0, cap=Qt.PenCapStyle.SquareCap))
        painter.drawRect(box)
        if self.hasFocus():
            painter.setPen(pen(theme.ledge, Space.FOCUS, cap=Qt.PenCapStyle.SquareCap))
            painter.drawRect(box.adjusted(0.5, 0.5, -0.5, -0.5))
        painter.setFont(fonts.text_font(Type.LEAST, Type.MEDIUM))
        painter.setPen(QColor(theme.ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self.text())
        painter.end()

    def enterEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Show the hover ground."""
        self.update()
        super().enterEvent(event)

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Take the hover ground away."""
        self.update()
        super().leaveEvent(event)


class ViewBlock(QWidget):
    """Asks for a view by its name: plan, left, front, right, back, below."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Views"))
        places = {
            "plan": (1, 0, self.tr("Plan"), self.tr("Plan: seen from above")),
            "left": (0, 1, self.tr("Left end"), self.tr("Left end elevation")),
            "front": (1, 1, self.tr("Front"), self.tr("Front elevation")),
            "right": (2, 1, self.tr("Right end"), self.tr("Right end elevation")),
            "back": (3, 1, self.tr("Back"), self.tr("Back elevation")),
            "below": (1, 2, self.tr("Below"), self.tr("Seen from below")),
        }
        self.buttons: dict[str, ViewButton] = {}
        self._places = {name: (column, row) for name, (column, row, _, _) in places.items()}
        for name, (_, _, words, spoken) in places.items():
            button = ViewButton(words, spoken, self)
            button.clicked.connect(lambda _checked=False, name=name: self._choose(name))
            self.buttons[name] = button
        self._legend, self._legend_note = "", ""
        self.lay_out()

    def lay_out(self) -> None:
        """Size the block for the type of the moment."""
        scale = fonts.scale()
        size = BUTTON * scale
        for name, (column, row) in self._places.items():
            corner = QPoint(column * (size.width() + GAP), row * (size.height() + GAP))
            self.buttons[name].setGeometry(QRect(corner, size))
        wide = COLUMNS * size.width() + (COLUMNS - 1) * GAP
        high = ROWS * size.height() + (ROWS - 1) * GAP
        self.resize(wide, high + Space.S + round(LEGEND_HIGH * scale))
        self._legend_top = high + Space.S

    def set_legend(self, words: str, note: str = "") -> None:
        """The words on the working axes, in bold, and what they do not do, below."""
        self._legend, self._legend_note = words, note
        self.setAccessibleDescription(f"{words}, {note}" if note else words)
        self.update()

    def set_view(self, name: str | None) -> None:
        """Mark the view that is on, or none."""
        for key, button in self.buttons.items():
            button.setChecked(key == name)

    def _choose(self, name: str) -> None:
        self.set_view(name)
        self.chosen.emit(name)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The legend; the buttons paint themselves."""
        if not self._legend:
            return
        theme = current()
        painter = QPainter(self)
        bold, plain = fonts.text_font(Type.LEAST, Type.SEMIBOLD), fonts.text_font(Type.LEAST)
        half = LEGEND_HIGH * fonts.scale() / 2
        first = QRectF(0, self._legend_top, self.width(), half)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide = text_width(bold, self._legend)
        base = first.bottom() - half * 0.3
        at = QPointF(self.width() - wide - 2, base)
        haloed_text(painter, at, self._legend, bold, colour=theme.ink, halo=theme.paper)
        mark = icons.pixmap("working_axes", 16, self.devicePixelRatioF())
        painter.drawPixmap(QPoint(round(self.width() - wide - 16 - Space.S), round(first.top())), mark)
        at = QPointF(self.width() - text_width(plain, self._legend_note) - 2, base + half)
        haloed_text(painter, at, self._legend_note, plain, colour=theme.ink2, halo=theme.paper)
        painter.end()
