"""Dimension lines with their figures and arrowheads, placed by the room that there is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPolygonF

from app.look.fonts import lettering_font
from app.look.strokes import Ink, arrowhead, ink_of, kept, pen
from app.look.tokens import Pen, Type

TAIL: Final = 14.0  # px of line behind an arrowhead that stands outside
CLEAR: Final = 5.0  # px between a line and the figure that breaks it


def dimension(
    painter: QPainter,
    a: QPointF,
    b: QPointF,
    text: str,
    *,
    ink: Ink = "ink",
    place: str = "auto",
    size: float = Type.DIMENSION,
    ground: QColor | None = None,
) -> QRectF:
    """A dimension line from ``a`` to ``b`` (left to right, or bottom to top) with its figure.

    ``place`` says where the figure stands: "in" breaks the line, "above" stands over it (left of an upright one),
    "beyond" follows after b; "auto" takes the first of these that has room. Arrowheads go outside when they have none.
    ``ground`` is painted under the figure, for hatched places. Returns the figure's field, for clicks on it.
    """
    length = math.hypot(b.x() - a.x(), b.y() - a.y())
    if length < 1e-6:
        return QRectF()
    wide = QFontMetricsF(lettering_font(size)).horizontalAdvance(text)
    plan = _Plan.of(length, wide, place)
    with kept(painter):
        painter.translate(a)
        painter.rotate(math.degrees(math.atan2(b.y() - a.y(), b.x() - a.x())))
        _line(painter, plan, ink)
        painter.setPen(ink_of(ink))
        field = _figure(painter, plan, text, size, ground)
    return _mapped(field, a, b)


def _mapped(field: QRectF, a: QPointF, b: QPointF) -> QRectF:
    """The field in the caller's coordinates: turned with the line, moved to its start."""
    angle = math.atan2(b.y() - a.y(), b.x() - a.x())
    cos, sin = math.cos(angle), math.sin(angle)
    corners = [field.topLeft(), field.topRight(), field.bottomRight(), field.bottomLeft()]
    turned = [QPointF(a.x() + c.x() * cos - c.y() * sin, a.y() + c.x() * sin + c.y() * cos) for c in corners]
    return QPolygonF(turned).boundingRect()


@dataclass(frozen=True)
class _Plan:
    """Where arrowheads and figure go: lengths along the line, from its start."""

    length: float
    wide: float
    place: str
    outside: bool

    @classmethod
    def of(cls, length: float, wide: float, place: str) -> _Plan:
        outside = length < 2 * Pen.ARROW_LONG + 4
        if place == "auto":
            fits = length >= wide + 2 * (CLEAR + Pen.ARROW_LONG + 6)
            place = "in" if fits else "above" if length >= wide + 2 else "beyond"
        return cls(length, wide, place, outside)

    @property
    def figure_left(self) -> float:
        return self.length + TAIL + CLEAR if self.place == "beyond" else (self.length - self.wide) / 2


def _line(painter: QPainter, plan: _Plan, ink: Ink) -> None:
    painter.setPen(pen(Pen.DIMENSION, ink))
    tail = TAIL if plan.outside else 0.0
    end = plan.length + (TAIL if plan.outside or plan.place == "beyond" else 0.0)
    if plan.place == "in":
        painter.drawLine(QLineF(-tail, 0, plan.figure_left - CLEAR, 0))
        painter.drawLine(QLineF(plan.figure_left + plan.wide + CLEAR, 0, end, 0))
    else:
        painter.drawLine(QLineF(-tail, 0, end, 0))
    turn = 1 if plan.outside else -1
    arrowhead(painter, QPointF(0, 0), QPointF(turn, 0), ink)
    arrowhead(painter, QPointF(plan.length, 0), QPointF(-turn, 0), ink)


def _figure(painter: QPainter, plan: _Plan, text: str, size: float, ground: QColor | None) -> QRectF:
    """The figure in the painter's pen; returns its field along the line."""
    font = lettering_font(size)
    high = QFontMetricsF(font).capHeight()
    base = -4.0 if plan.place == "above" else high / 2
    field = QRectF(plan.figure_left - 2, base - high - 2, plan.wide + 4, high + 4)
    if ground is not None:
        painter.fillRect(field, ground)
    painter.setFont(font)
    painter.drawText(QPointF(plan.figure_left, base), text)
    return field
