"""Single lines of a drawing: pens, chain and extension lines, arrowheads."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final

from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.look.current import colour
from app.look.tokens import Pen

EXTENSION_GAP: Final = 2.0  # px left free between the part and its extension line
OVERSHOOT: Final = 3.0  # px that an extension line passes the dimension line
Ink = QColor | str  # a colour, or a role of the theme


def ink_of(ink: Ink) -> QColor:
    """The colour that is meant."""
    return colour(ink) if isinstance(ink, str) else ink


@contextmanager
def kept(painter: QPainter) -> Iterator[QPainter]:
    """The painter with smooth lines, put back afterwards."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        yield painter
    finally:
        painter.restore()


def pen(width: float, ink: Ink = "ink", dash: Sequence[float] = ()) -> QPen:
    """A drawing pen; ``ink`` is a colour or a role of the theme, ``dash`` lengths in px."""
    made = QPen(ink_of(ink), width)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    if dash:
        made.setDashPattern([length / width for length in dash])
    return made


def line(painter: QPainter, a: QPointF, b: QPointF, with_pen: QPen) -> None:
    with kept(painter):
        painter.setPen(with_pen)
        painter.drawLine(QLineF(a, b))


def chain_line(painter: QPainter, a: QPointF, b: QPointF, width: float = Pen.CENTRE, ink: Ink = "ink2") -> None:
    """A long-dashed dotted line: an axis or a stop."""
    line(painter, a, b, pen(width, ink, Pen.CHAIN))


def extension_line(painter: QPainter, start: QPointF, end: QPointF, ink: Ink = "ink2") -> None:
    """From a point of the part to its dimension line: a gap at the part, a little past the line."""
    way = QLineF(start, end)
    if way.length() > EXTENSION_GAP:
        unit = (end - start) / way.length()
        line(painter, start + unit * EXTENSION_GAP, end + unit * OVERSHOOT, pen(Pen.EXTENSION, ink))


def arrowhead(painter: QPainter, tip: QPointF, along: QPointF, ink: Ink = "ink") -> None:
    """A slim filled arrowhead with its point at ``tip``, pointing along the vector ``along``."""
    unit = along / (math.hypot(along.x(), along.y()) or 1.0)
    foot, side = tip - unit * Pen.ARROW_LONG, QPointF(-unit.y(), unit.x()) * (Pen.ARROW_WIDE / 2)
    with kept(painter):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink_of(ink))
        painter.drawPolygon(QPolygonF([tip, foot + side, foot - side]))
