"""The drawing sheet round the view: scale bar, title block, and the box of figures beside the pointer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from app.look import drawing, fonts
from app.look.title_block import title_block
from app.look.tokens import Pen, Space, Type
from app.view.page import Page, pen, text_width
from core.units import MM_PER, UnitName

#: The scale bar: three even steps, together as long as fits in here.
BAR_LONGEST: Final = 190.0
BAR_STEPS: Final = 3
BAR_INSET: Final = 22.0
BLOCK_HIGH: Final = 48.0
BLOCK_WIDE: Final = 326.0
#: A view narrower than this has no room for the blocks, logical px.
NARROWEST_FOR_BLOCKS: Final = 560.0


@dataclass(frozen=True)
class TitleBlock:
    """What the title block says: file and size on the left, material and setup on the right."""

    name: str = ""
    size: str = ""
    material: str = ""
    setup: str = ""


def scale_box(page: Page) -> QRectF:
    """Where the scale bar's block stands."""
    return QRectF(page.frame.left(), page.frame.bottom() - BLOCK_HIGH, BLOCK_WIDE, BLOCK_HIGH)


def paint_scale_bar(painter: QPainter, page: Page, px_per_mm: float, unit: UnitName, where: str) -> None:
    """A bar of known length in the lower left corner; ``where`` tells at which depth of the view it holds."""
    box = scale_box(page)
    painter.setPen(pen(page.theme.line, Pen.FRAME, cap=Qt.PenCapStyle.SquareCap))
    painter.setBrush(QColor(page.theme.sheet))
    painter.drawRect(box)
    if not math.isfinite(px_per_mm) or px_per_mm <= 0:
        return
    px_per_unit = MM_PER[unit] * px_per_mm
    start = QPointF(box.left() + BAR_INSET, box.top() + 33.0)
    drawing.scale_bar(painter, start, px_per_unit, room=BAR_LONGEST, parts=BAR_STEPS, ink=QColor(page.theme.ink))
    length = BAR_STEPS * drawing.nice_length(BAR_LONGEST / BAR_STEPS / px_per_unit) * px_per_unit
    painter.setFont(fonts.text_font(Type.LABEL))
    painter.setPen(QColor(page.theme.ink2))
    painter.drawText(QPointF(start.x() + length + 14.0, start.y() + 5.0), where)


def paint_title_block(painter: QPainter, page: Page, block: TitleBlock) -> QRectF:
    """File, size, material and setup in the lower right corner; returns where it stands."""
    rows = ((block.name, block.material), (block.size, block.setup))
    return title_block(painter, page.frame.bottomRight(), rows)


def paint_note(painter: QPainter, page: Page, pointer: QPointF, rows: Sequence[tuple[str, str]]) -> QRectF:
    """The box beside the pointer: labels on the left, figures on the right. Returns where it stands."""
    label, figure = fonts.text_font(Type.LABEL), fonts.text_font(Type.TEXT, Type.SEMIBOLD)
    left = max((text_width(label, a) for a, _ in rows), default=0.0)
    right = max((text_width(figure, b) for _, b in rows), default=0.0)
    row_high = 20.0
    box = QRectF(0, 0, left + right + 16.0 + 2 * Space.M, row_high * len(rows) + 2 * 5.0)
    x, y = pointer.x() + 44.0, pointer.y() - 36.0
    if x + box.width() > page.frame.right() - 4:
        x = pointer.x() - 28.0 - box.width()
    box.moveTo(max(x, page.frame.left() + 4), min(max(y, page.frame.top() + 4), page.frame.bottom() - box.height() - 4))
    painter.setPen(pen(page.theme.ink, 1.2))
    painter.setBrush(QColor(page.theme.sheet))
    painter.drawRoundedRect(box, Space.RADIUS, Space.RADIUS)
    for k, (name, value) in enumerate(rows):
        row = QRectF(box.left() + Space.M, box.top() + 5.0 + k * row_high, box.width() - 2 * Space.M, row_high)
        painter.setFont(label)
        painter.setPen(QColor(page.theme.ink2))
        painter.drawText(row, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, name)
        painter.setFont(figure)
        painter.setPen(QColor(page.theme.ink))
        painter.drawText(row, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, value)
    return box
