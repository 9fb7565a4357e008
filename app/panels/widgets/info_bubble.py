"""A small framed table beside the pointer: what a click would take, in figures."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPoint, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QGuiApplication, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QWidget

from app.look.current import colour
from app.look.fonts import text_font
from app.look.tokens import Space, Type
from app.panels.widgets.painted import framed

Rows = Sequence[tuple[str, str]]
OFFSET = QPoint(24, -12)  # px from the pointer, so that it hides nothing under it


def _row_height() -> float:
    return max(20.0, QFontMetricsF(text_font(Type.TEXT)).height() + 4)


def bubble_size(rows: Rows) -> QSize:
    """Size of the table for ``rows`` of label and figure (logical px)."""
    label, figure = QFontMetricsF(text_font(Type.LABEL)), QFontMetricsF(text_font(Type.TEXT, Type.SEMIBOLD))
    left = max((label.horizontalAdvance(a) for a, _ in rows), default=0.0)
    right = max((figure.horizontalAdvance(b) for _, b in rows), default=0.0)
    return QSize(round(left + right + Space.M * 3 + 1), round(len(rows) * _row_height() + 2 * Space.S - 4))


def paint_bubble(painter: QPainter, rect: QRectF, rows: Rows) -> None:
    """Paint the table into ``rect``, for pictures laid over the view."""
    framed(painter, rect, line="ink")
    field = QRectF(rect.left() + Space.M, rect.top() + Space.S - 2, rect.width() - 2 * Space.M, _row_height())
    for label, figure in rows:
        painter.setFont(text_font(Type.LABEL))
        painter.setPen(colour("ink2"))
        painter.drawText(field, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, label)
        painter.setFont(text_font(Type.TEXT, Type.SEMIBOLD))
        painter.setPen(colour("ink"))
        painter.drawText(field, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, figure)
        field.translate(0, _row_height())


def bubble_picture(rows: Rows, ratio: float = 1.0) -> QPixmap:
    """The table as a picture at a device pixel ratio."""
    size = bubble_size(rows)
    picture = QPixmap(size * ratio)
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint_bubble(painter, QRectF(0, 0, size.width(), size.height()), rows)
    painter.end()
    return picture


class InfoBubble(QWidget):
    """The table in a little window of its own, because the view's picture covers its children."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.ToolTip | Qt.WindowType.FramelessWindowHint)
        self.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAttribute(Qt.WidgetAttribute.WA_TranslucentBackground)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._rows: tuple[tuple[str, str], ...] = ()

    def show_at(self, pointer: QPoint, rows: Rows) -> None:
        """Show ``rows`` beside ``pointer`` (global, logical px), on the screen whatever the corner."""
        self._rows = tuple(rows)
        self.setAccessibleName(", ".join(f"{label} {figure}" for label, figure in rows))
        self.resize(bubble_size(rows))
        self.move(self._placed(pointer))
        self.show()
        self.update()

    def _placed(self, pointer: QPoint) -> QPoint:
        screen = (QGuiApplication.screenAt(pointer) or QGuiApplication.primaryScreen()).availableGeometry()
        at = pointer + OFFSET
        if at.x() + self.width() > screen.right():
            at.setX(pointer.x() - OFFSET.x() - self.width())
        at.setY(min(max(at.y(), screen.top()), screen.bottom() - self.height()))
        return at

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        paint_bubble(QPainter(self), QRectF(self.rect()), self._rows)
