"""Pieces of a workshop drawing for a QPainter, in logical pixels, y down.

Practice followed: dimension and extension lines, leaders, hatching at 45°, break lines and chain lines as in the
ISO 128 and ISO 129-1 series (from memory); widths and lengths are our own and stand in ``tokens.Pen``.
Painters are left as they were found.
"""

from __future__ import annotations

import math
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath

from app.look.current import colour
from app.look.dimension import dimension
from app.look.fonts import lettering_font, scale
from app.look.strokes import Ink, arrowhead, chain_line, extension_line, ink_of, kept, line, pen
from app.look.tokens import Pen, Type

__all__ = [
    "arrowhead", "balloon", "break_line", "centred_lettering", "chain_line", "corner_marks", "cross_hatch", "dimension",
    "extension_line", "frame", "hatch", "kept", "leader", "line", "nice_length", "pen", "scale_bar",
]  # fmt: skip

BALLOON: Final = 12.0  # px, radius
CENTRING: Final = 10.0  # px, length of the frame's centring marks


def balloon(
    painter: QPainter,
    centre: QPointF,
    text: str,
    *,
    filled: bool = False,
    radius: float = BALLOON,
    ink: Ink = "ink",
) -> None:
    """A number in a circle, as parts are numbered on an assembly drawing; filled for the one in hand."""
    tone = ink_of(ink)
    with kept(painter):
        painter.setPen(pen(Pen.FEATURE, tone))
        painter.setBrush(tone if filled else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(centre, radius - 0.5, radius - 0.5)
        painter.setPen(colour("paper") if filled else tone)
        centred_lettering(painter, centre, text, Type.BALLOON * radius / BALLOON / scale())


def centred_lettering(
    painter: QPainter, centre: QPointF, text: str, size: float = Type.DIMENSION, spacing: float = 0.0
) -> None:
    """Lettering with the middle of its capitals at ``centre``, in the painter's pen."""
    font = lettering_font(size, spacing)
    metrics = QFontMetricsF(font)
    painter.setFont(font)
    x = centre.x() - (metrics.horizontalAdvance(text) - font.letterSpacing()) / 2
    painter.drawText(QPointF(x, centre.y() + metrics.capHeight() / 2), text)


def leader(
    painter: QPainter,
    target: QPointF,
    elbow: QPointF,
    end: QPointF,
    *,
    ink: Ink = "ink",
    halo: QColor | None = None,
) -> None:
    """A leader line with a dot on what it names: dot, slanted line, elbow, level line to the note."""
    path = QPainterPath(target)
    path.lineTo(elbow)
    path.lineTo(end)
    tone = ink_of(ink)
    with kept(painter):
        if halo is not None:
            painter.strokePath(path, pen(Pen.DIMENSION + 2.4, halo))
        painter.strokePath(path, pen(Pen.DIMENSION, tone))
        painter.setPen(pen(Pen.DIMENSION, halo or colour("paper")))
        painter.setBrush(tone)
        painter.drawEllipse(target, 3.4, 3.4)


def hatch(
    painter: QPainter,
    area: QPainterPath,
    *,
    ink: Ink = "ink2",
    step: float = Pen.HATCH_STEP,
    rising: bool = True,
    width: float = Pen.HATCH,
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


def cross_hatch(painter: QPainter, area: QPainterPath, *, ink: Ink = "attention", step: float = Pen.LOSS_STEP) -> None:
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


def scale_bar(
    painter: QPainter,
    left: QPointF,
    px_per_unit: float,
    *,
    room: float = 200.0,
    parts: int = 3,
    note: str = "",
    ink: Ink = "ink",
) -> QRectF:
    """A scale bar that starts at ``left`` and takes at most ``room`` px, figures above it; returns its field.

    ``px_per_unit``: logical px that one unit of the drawing (mm or inch) takes; ``note`` follows after the bar.
    """
    step = nice_length(room / parts / px_per_unit)
    long = step * px_per_unit
    tone = ink_of(ink)
    with kept(painter):
        painter.setPen(pen(Pen.FRAME, tone))
        for k in range(parts):
            painter.setBrush(tone if k % 2 == 0 else colour("sheet"))
            painter.drawRect(QRectF(left.x() + k * long, left.y(), long, 5))
        for k in range(parts + 1):
            centred_lettering(painter, QPointF(left.x() + k * long, left.y() - 11), f"{k * step:g}", 13)
        painter.setFont(lettering_font(13))
        painter.drawText(QPointF(left.x() + parts * long + 12, left.y() + 5), note)
    return QRectF(
        left.x() - 8, left.y() - 18, parts * long + 20 + QFontMetricsF(lettering_font(13)).horizontalAdvance(note), 26
    )


def frame(painter: QPainter, rect: QRectF, ink: Ink = "line") -> None:
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


def corner_marks(painter: QPainter, rect: QRectF, long: float = 24.0, ink: Ink = "ink") -> None:
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
