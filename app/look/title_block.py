"""The title block in the corner of the drawing: ruled cells, the first one in bold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter

from app.look.current import colour
from app.look.drawing import kept, pen
from app.look.fonts import text_font
from app.look.tokens import Pen, Space, Type

ROW: Final = 24.0  # px
LEAST: Final = 96.0  # px, narrowest column


def column_widths(rows: Sequence[Sequence[str]]) -> list[float]:
    """Width of each column (logical px) for the texts in it."""
    metrics = QFontMetricsF(text_font(Type.LABEL, Type.SEMIBOLD))
    columns = max((len(row) for row in rows), default=0)
    return [
        max(LEAST, *(metrics.horizontalAdvance(row[k]) + 2 * Space.M for row in rows if k < len(row)))
        for k in range(columns)
    ]


def title_block(painter: QPainter, corner: QPointF, rows: Sequence[Sequence[str]]) -> QRectF:
    """Draw ``rows`` of cells with the block's lower right corner at ``corner``; returns the block."""
    widths = column_widths(rows)
    high = max(ROW, QFontMetricsF(text_font(Type.LABEL)).height() + 8)
    block = QRectF(corner.x() - sum(widths), corner.y() - high * len(rows), sum(widths), high * len(rows))
    with kept(painter):
        painter.fillRect(block, colour("paper"))
        y = block.top()
        for number, row in enumerate(rows):
            _row(painter, QRectF(block.left(), y, block.width(), high), row, widths, bold=number == 0)
            y += high
    return block


def _row(painter: QPainter, rect: QRectF, cells: Sequence[str], widths: Sequence[float], *, bold: bool) -> None:
    x = rect.left()
    for k, (cell, wide) in enumerate(zip(cells, widths, strict=False)):
        last = k == len(cells) - 1
        field = QRectF(x, rect.top(), rect.right() - x if last else wide, rect.height())
        painter.setPen(pen(Pen.FRAME, "line"))
        painter.drawRect(field)
        strong = bold and k == 0
        painter.setFont(text_font(Type.LABEL, Type.SEMIBOLD if strong else Type.REGULAR))
        painter.setPen(colour("ink" if strong else "ink2"))
        painter.drawText(
            field.adjusted(Space.M, 0, -4, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, cell
        )
        x += wide
