"""Pieces of a workshop drawing for a QPainter, in logical pixels, y down.

Practice followed: dimension and extension lines, leaders, hatching at 45°, break lines and chain lines as in the
ISO 128 and ISO 129-1 series (from memory); widths and lengths are our own and stand in ``tokens.Pen``.
Painters are left as they were found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPen, QPolygonF

from app.look.current import colour
from app.look.fonts import lettering_font
from app.look.tokens import Pen, Type

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PySide6.QtGui import QFont

EXTENSION_GAP: Final = 2.0  # px left free between the part and its extension line
OVERSHOOT: Final = 3.0  # px that an extension line passes the dimension line
TAIL: Final = 14.0  # px of line behind an arrowhead that stands outside
CLEAR: Final = 5.0  # px between a line and the figure that breaks it
BALLOON: Final = 12.0  # px, radius
CENTRING: Final = 10.0  # px, length of the frame's centring marks


@contextmanager
def kept(painter: QPainter) -> Iterator[QPainter]:
    """The painter with smooth lines, put back afterwards."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    try:
        yield painter
    finally:
        painter.restore()


def pen(width: float, ink: QColor | str = "ink", dash: Sequence[float] = ()) -> QPen:
    """A drawing pen; ``ink`` is a colour or a role of the theme, ``dash`` lengths in px."""
    made = QPen(colour(ink) if isinstance(ink, str) else ink, width)
    made.setCapStyle(Qt.PenCapStyle.FlatCap)
    made.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    if dash:
        made.setDashPattern([length / width for length in dash])
    return made


def line(painter: QPainter, a: QPointF, b: QPointF, with_pen: QPen) -> None:
    with kept(painter):
        painter.setPen(with_pen)
        painter.drawLine(QLineF(a, b))


def chain_line(painter: QPainter, a: QPointF, b: QPointF, width: float = Pen.CENTRE, ink: QColor | str = "ink2") -> None:
    """A long-dashed dotted line: an axis or a stop."""
    line(painter, a, b, pen(width, ink, Pen.CHAIN))


def extension_line(painter: QPainter, start: QPointF, end: QPointF, ink: QColor | str = "ink2") -> None:
    """From a point of the part to its dimension line: a gap at the part, a little past the line."""
    way = QLineF(start, end)
    if way.length() > EXTENSION_GAP:
        unit = (end - start) / way.length()
        line(painter, start + unit * EXTENSION_GAP, end + unit * OVERSHOOT, pen(Pen.EXTENSION, ink))


def arrowhead(painter: QPainter, tip: QPointF, along: QPointF, ink: QColor | str = "ink") -> None:
    """A slim filled arrowhead with its point at ``tip``, pointing along the vector ``along``."""
    unit = along / (math.hypot(along.x(), along.y()) or 1.0)
    foot, side = tip - unit * Pen.ARROW_LONG, QPointF(-unit.y(), unit.x()) * (Pen.ARROW_WIDE / 2)
    with kept(painter):
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour(ink) if isinstance(ink, str) else ink)
        painter.drawPolygon(QPolygonF([tip, foot + side, foot - side]))


def dimension(
    painter: QPainter, a: QPointF, b: QPointF, text: str, *, ink: QColor | str = "ink", place: str = "auto", size: float = Type.DIMENSION, ground: QColor | None = None
) -> QRectF:
    """A dimension line from ``a`` to ``b`` (left to right, or bottom to top) with its figure.

    ``place`` says where the figure stands: "in" breaks the line, "above" stands over it (left of an upright one),
    "beyond" follows after b; "auto" takes the first of these that has room. Arrowheads go outside when they have none.
    ``ground`` is painted under the figure, for hatched places. Returns the figure's field, for clicks on it.
    """
    length = math.hypot(b.x() - a.x(), b.y() - a.y())
    if length < 1e-6:
        return QRectF()
    font = lettering_font(size)
    wide = QFontMetricsF(font).horizontalAdvance(text)
    layout = _Layout.choose(length, wide, place)
    with kept(painter):
        painter.translate(a)
        painter.rotate(math.degrees(math.atan2(b.y() - a.y(), b.x() - a.x())))
        _dimension_line(painter, length, wide, layout, ink)
        field = _figure(painter, length, wide, text, font, layout, ink, ground)
    return _mapped(field, a, b)


def _mapped(field: QRectF, a: QPointF, b: QPointF) -> QRectF:
    """The field in the caller's coordinates: turned with the line, moved to its start."""
    angle = math.atan2(b.y() - a.y(), b.x() - a.x())
    cos, sin = math.cos(angle), math.sin(angle)
    corners = [field.topLeft(), field.topRight(), field.bottomRight(), field.bottomLeft()]
    turned = [QPointF(a.x() + c.x() * cos - c.y() * sin, a.y() + c.x() * sin + c.y() * cos) for c in corners]
    return QPolygonF(turned).boundingRect()


@dataclass(frozen=True)
class _Layout:
    """Where arrowheads and figure of a dimension go."""

    place: str
    outside: bool

    @classmethod
    def choose(cls, length: float, wide: float, place: str) -> _Layout:
        outside = length < 2 * Pen.ARROW_LONG + 4
        if place != "auto":
            return cls(place, outside)
        if length >= wide + 2 * (CLEAR + Pen.ARROW_LONG + 6):
            return cls("in", outside)
        return cls("above" if length >= wide + 2 else "beyond", outside)


def _dimension_line(painter: QPainter, length: float, wide: float, layout: _Layout, ink: QColor | str) -> None:
    painter.setPen(pen(Pen.DIMENSION, ink))
    start, end = (-TAIL, length + TAIL) if layout.outside else (0.0, length)
    if layout.place == "in":
        half = wide / 2 + CLEAR
        painter.drawLine(QLineF(start, 0, length / 2 - half, 0))
        painter.drawLine(QLineF(length / 2 + half, 0, end, 0))
    else:
        beyond = layout.place == "beyond" and not layout.outside
        painter.drawLine(QLineF(start, 0, end + (TAIL if beyond else 0), 0))
    turn = 1 if layout.outside else -1
    arrowhead(painter, QPointF(0, 0), QPointF(turn, 0), ink)
    arrowhead(painter, QPointF(length, 0), QPointF(-turn, 0), ink)


def _figure(
    painter: QPainter, length: float, wide: float, text: str, font: QFont, layout: _Layout, ink: QColor | str, ground: QColor | None
) -> QRectF:
    metrics = QFontMetricsF(font)
    high = metrics.capHeight()
    left = {"in": (length - wide) / 2, "above": (length - wide) / 2, "beyond": length + TAIL + CLEAR}[layout.place]
    base = -4.0 if layout.place == "above" else high / 2
    field = QRectF(left - 2, base - high - 2, wide + 4, high + 4)
    if ground is not None:
        painter.fillRect(field, ground)
    painter.setFont(font)
    painter.setPen(colour(ink) if isinstance(ink, str) else ink)
    painter.drawText(QPointF(left, base), text)
    return field


def balloon(painter: QPainter, centre: QPointF, text: str, *, filled: bool = False, radius: float = BALLOON, ink: QColor | str = "ink") -> None:
    """A number in a circle, as parts are numbered on an assembly drawing; filled for the one in hand."""
    tone = colour(ink) if isinstance(ink, str) else ink
    with kept(painter):
        painter.setPen(pen(Pen.FEATURE, tone))
        painter.setBrush(tone if filled else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(centre, radius - 0.5, radius - 0.5)
        painter.setPen(colour("paper") if filled else tone)
        centred_lettering(painter, centre, text, Type.BALLOON * radius / BALLOON)


def centred_lettering(painter: QPainter, centre: QPointF, text: str, size: float = Type.DIMENSION, spacing: float = 0.0) -> None:
    """Lettering with the middle of its capitals at ``centre``, in the painter's pen."""
    font = lettering_font(size, spacing)
    metrics = QFontMetricsF(font)
    painter.setFont(font)
    x = centre.x() - (metrics.horizontalAdvance(text) - font.letterSpacing()) / 2
    painter.drawText(QPointF(x, centre.y() + metrics.capHeight() / 2), text)


def leader(painter: QPainter, target: QPointF, elbow: QPointF, end: QPointF, *, ink: QColor | str = "ink", halo: QColor | None = None) -> None:
    """A leader line with a dot on what it names: dot, slanted line, elbow, level line to the note."""
    path = QPainterPath(target)
    path.lineTo(elbow)
    path.lineTo(end)
    tone = colour(ink) if isinstance(ink, str) else ink
    with kept(painter):
        if halo is not None:
            painter.strokePath(path, pen(Pen.DIMENSION + 2.4, halo))
        painter.strokePath(path, pen(Pen.DIMENSION, tone))
        painter.setPen(pen(Pen.DIMENSION, halo or colour("paper")))
        painter.setBrush(tone)
        painter.drawEllipse(target, 3.4, 3.4)


def hatch(
    painter: QPainter, area: QPainterPath, *, ink: QColor | str = "ink2", step: float = Pen.HATCH_STEP, rising: bool = True, width: float = Pen.HATCH
) -> None:
    """Hatch an area at 45°, rising to the right or falling. Lines keep their place when the area moves."""
    box = area.boundingRect()
    if box.isEmpty():
        return
    gap, sign = step * math.sqrt(2), 1 if rising else -1
    # along one line x + sign·y is the same; counting it from the origin keeps the lines where they are
    ends = (box.top(), box.bottom()) if rising else (-box.bottom(), -box.top())
    first, last = math.floor((box.left() + ends[0]) / gap), math.ceil((box.right() + ends[1]) / gap)
    lines = [
        QLineF(k * gap - sign * box.bottom(), box.bottom(), k * gap - sign * box.top(), box.top())
        for k in range(first, last + 1)
    ]
    with kept(painter):
        painter.setClipPath(area, Qt.ClipOperation.IntersectClip)
        painter.setPen(pen(width, ink))
        painter.drawLines(lines)


def cross_hatch(painter: QPainter, area: QPainterPath, *, ink: QColor | str = "attention", step: float = Pen.LOSS_STEP) -> None:
    """Both ways: what will not print."""
    hatch(painter, area, ink=ink, step=step)
    hatch(painter, area, ink=ink, step=step, rising=False)


def break_line(a: QPointF, b: QPointF, *, swing: float = 1.8, wave: float = 46.0) -> QPainterPath:
    """A freehand break line from ``a`` to ``b``: the same hand each time, so that nothing trembles on repaint.

    Returned as a path, to close a cut area with it or to stroke it with ``Pen.BREAK``.
    """
    length = math.hypot(b.x() - a.x(), b.y() - a.y()) or 1.0
    unit = (b - a) / length
    side = QPointF(-unit.y(), unit.x())
    count = max(2, round(length / wave))
    path = QPainterPath(a)
    for k in range(count):
        start, end = a + unit * (length * k / count), a + unit * (length * (k + 1) / count)
        lift = swing * (0.75 + 0.5 * math.sin(2.4 * k + 0.7)) * (1 if k % 2 else -1)
        third = (end - start) / 3
        path.cubicTo(start + third + side * lift * 1.6, end - third - side * lift * 0.9, end)
    return path


def nice_length(most: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above ``most``."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= most * (1 + 1e-9))


def scale_bar(painter: QPainter, left: QPointF, px_per_unit: float, *, room: float = 200.0, parts: int = 3, note: str = "", ink: QColor | str = "ink") -> QRectF:
    """A scale bar that starts at ``left`` and takes at most ``room`` px, figures above it; returns its field.

    ``px_per_unit``: logical px that one unit of the drawing (mm or inch) takes; ``note`` follows after the bar.
    """
    step = nice_length(room / parts / px_per_unit)
    long = step * px_per_unit
    tone = colour(ink) if isinstance(ink, str) else ink
    with kept(painter):
        painter.setPen(pen(Pen.FRAME, tone))
        for k in range(parts):
            painter.setBrush(tone if k % 2 == 0 else colour("sheet"))
            painter.drawRect(QRectF(left.x() + k * long, left.y(), long, 5))
        for k in range(parts + 1):
            centred_lettering(painter, QPointF(left.x() + k * long, left.y() - 11), f"{k * step:g}", 13)
        painter.setFont(lettering_font(13))
        painter.drawText(QPointF(left.x() + parts * long + 12, left.y() + 5), note)
    return QRectF(left.x() - 8, left.y() - 18, parts * long + 20 + QFontMetricsF(lettering_font(13)).horizontalAdvance(note), 26)


def frame(painter: QPainter, rect: QRectF, ink: QColor | str = "line") -> None:
    """The drawing's frame with a centring mark in the middle of each side."""
    cx, cy, half = round(rect.center().x()) + 0.5, round(rect.center().y()) + 0.5, CENTRING / 2
    edge = rect.adjusted(0.5, 0.5, -0.5, -0.5)
    marks = [
        QLineF(cx, edge.top() - half, cx, edge.top() + half),
        QLineF(cx, edge.bottom() - half, cx, edge.bottom() + half),
        QLineF(edge.left() - half, cy, edge.left() + half, cy),
        QLineF(edge.right() - half, cy, edge.right() + half, cy),
    ]
    with kept(painter):
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen(Pen.FRAME, ink))
        painter.drawRect(edge)
        painter.setPen(pen(Pen.CUT, "ink"))
        painter.drawLines(marks)


def corner_marks(painter: QPainter, rect: QRectF, long: float = 24.0, ink: QColor | str = "ink") -> None:
    """Heavy trimming marks on the four corners of ``rect``."""
    path = QPainterPath()
    for x, y, sx, sy in (
        (rect.left(), rect.top(), 1, 1), (rect.right(), rect.top(), -1, 1),
        (rect.right(), rect.bottom(), -1, -1), (rect.left(), rect.bottom(), 1, -1),
    ):  # fmt: skip
        path.moveTo(x + sx * long, y)
        path.lineTo(x, y)
        path.lineTo(x, y + sy * long)
    with kept(painter):
        painter.strokePath(path, pen(2.0, ink))
