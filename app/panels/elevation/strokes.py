"""Small pieces that the elevation paints with, beyond those of ``app.look.drawing``: paths, texts, dimensions."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPainterPath, QPolygonF

from app.look.current import colour
from app.look.drawing import arrowhead, kept, line, pen
from app.look.fonts import lettering_font, text_font
from app.look.tokens import Pen, Type
from app.panels.elevation.figures import CLEAR, TAIL, Dimension, Label, Note, Rulers
from app.panels.elevation.sheet import Rect, Sheet
from core.geometry.mesh import F64

# Freehand lines, logical px: length and height of a wave, and how far apart the points of the line are.
WAVE, SWING, WAVY_STEP = 46.0, 1.3, 5.0


def rulers() -> Rulers:
    """The measures of the two faces at the type size of the moment."""
    lettering = QFontMetricsF(lettering_font(Type.DIMENSION))
    words = QFontMetricsF(text_font(Type.LABEL, Type.MEDIUM))
    return Rulers(lettering.horizontalAdvance, words.horizontalAdvance, lettering.capHeight())


def qrect(rect: Rect) -> QRectF:
    return QRectF(rect.left, rect.top, rect.width, rect.height)


def polygon(points: F64) -> QPolygonF:
    """A polygon from px (k, 2)."""
    return QPolygonF([QPointF(x, y) for x, y in points.tolist()])


def area(sheet: Sheet, rings: Iterable[F64]) -> QPainterPath:
    """Outlines of (u, z) as one area; a ring inside a ring is a hole."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in rings:
        path.addPolygon(polygon(sheet.points(ring)))
        path.closeSubpath()
    return path


def polyline(sheet: Sheet, points: F64) -> QPainterPath:
    """An open line of (u, z)."""
    path = QPainterPath()
    path.addPolygon(polygon(sheet.points(points)))
    return path


def between(sheet: Sheet, lower: F64, upper: F64, left: float, right: float) -> QPainterPath:
    """The area between two lines of (u, z), from ``left`` to ``right`` in u."""
    rows = []
    for points in (lower, upper):
        u = np.unique(np.clip(np.r_[left, points[:, 0], right], left, right))
        rows.append(np.column_stack([u, np.interp(u, points[:, 0], points[:, 1])]))
    return area(sheet, [np.vstack([rows[0], rows[1][::-1]])])


def write(painter: QPainter, at: QPointF, text: str, font: QFont) -> None:
    """Text with its base line starting at ``at``, in the painter's pen."""
    painter.setFont(font)
    painter.drawText(at, text)


def write_centred(painter: QPainter, x: float, y: float, text: str, font: QFont) -> None:
    """Text with the middle of its capitals at (x, y)."""
    metrics = QFontMetricsF(font)
    write(painter, QPointF(x - metrics.horizontalAdvance(text) / 2, y + metrics.capHeight() / 2), text, font)


def draw_dimension(painter: QPainter, d: Dimension, *, hovered: bool = False) -> None:
    """A dimension as it was laid out."""
    width = Pen.DIMENSION * (1.6 if d.strong else 1.0)
    with kept(painter):
        for k, (x0, y0, x1, y1) in enumerate(d.extensions):
            dash = Pen.CHAIN if d.chain else ()
            line(painter, QPointF(x0, y0), QPointF(x1, y1), pen(Pen.EXTENSION, "ink2" if k >= 0 else "ink", dash))
        if d.upright:
            _upright_line(painter, d, width)
        else:
            _level_line(painter, d, width)
        if d.ground or hovered:
            painter.fillRect(qrect(d.field), colour("pressed" if hovered else "paper"))
        painter.setPen(colour(d.ink))
        _dimension_text(painter, d)


def _level_line(painter: QPainter, d: Dimension, width: float) -> None:
    (x0, y), (x1, _) = d.a, d.b
    ends = x0, x1
    if d.visible is not None:
        x0, x1 = d.visible
    painter.setPen(pen(width, d.ink))
    start, stop = (x0 - TAIL, x1 + TAIL) if d.outside else (x0, x1)
    if d.place == "beyond" and not d.outside:
        stop += TAIL / 2
    if d.place == "before" and not d.outside:
        start -= TAIL / 2
    if d.place == "in":
        painter.drawLine(QLineF(start, y, d.field.left - CLEAR + 2, y))
        painter.drawLine(QLineF(d.field.right + CLEAR - 2, y, stop, y))
    else:
        painter.drawLine(QLineF(start, y, stop, y))
    with kept(painter):
        if d.visible is not None:
            painter.setClipRect(QRectF(x0, y - 8, x1 - x0, 16), Qt.ClipOperation.IntersectClip)
        _heads(painter, d, QPointF(ends[0], y), QPointF(ends[1], y), QPointF(1, 0))


def _upright_line(painter: QPainter, d: Dimension, width: float) -> None:
    (x, y0), (_, y1) = d.a, d.b
    tail = TAIL if d.outside else 0.0
    painter.setPen(pen(width, d.ink))
    painter.drawLine(QLineF(x, y0 + tail, x, y1 - tail))
    _heads(painter, d, QPointF(x, y0), QPointF(x, y1), QPointF(0, -1))


def _heads(painter: QPainter, d: Dimension, a: QPointF, b: QPointF, along: QPointF) -> None:
    turn = 1.0 if d.outside else -1.0
    arrowhead(painter, a, along * turn, d.ink)
    arrowhead(painter, b, along * -turn, d.ink)


def _dimension_text(painter: QPainter, d: Dimension) -> None:
    font = lettering_font(Type.DIMENSION)
    x, y = (d.field.left + d.field.right) / 2, (d.field.top + d.field.bottom) / 2
    if not (d.upright and d.place == "above"):
        write_centred(painter, x, y, d.text, font)
        return
    painter.translate(x, y)
    painter.rotate(-90)
    write_centred(painter, 0, 0, d.text, font)


def draw_label(painter: QPainter, label: Label) -> None:
    """A tooth number on the hatching."""
    with kept(painter):
        painter.fillRect(qrect(label.field), colour("paper"))
        painter.setPen(colour(label.ink))
        write_centred(painter, *label.centre, label.text, lettering_font(Type.DIMENSION))


def draw_note(painter: QPainter, note: Note) -> None:
    """Words in the attention colour, with their leaders."""
    with kept(painter):
        for x0, y0, x1, y1 in note.leaders:
            line(painter, QPointF(x0, y0), QPointF(x1, y1), pen(Pen.DIMENSION, "attention"))
        painter.fillRect(qrect(note.field), colour("paper"))
        painter.setPen(colour("attention_text"))
        write_centred(painter, *note.centre, note.text, text_font(Type.LABEL, Type.MEDIUM))


def wavy(a: QPointF, b: QPointF) -> list[QPointF]:
    """Points of a freehand line from a to b, both left out; the same hand each time at the same place."""
    length = math.hypot(b.x() - a.x(), b.y() - a.y())
    t = np.arange(WAVY_STEP, length, WAVY_STEP)
    if not len(t):
        return []
    unit = np.array([b.x() - a.x(), b.y() - a.y()]) / length
    points = np.array([a.x(), a.y()]) + t[:, None] * unit
    at = points[:, 0] if abs(unit[0]) > 0.5 else points[:, 1] * 1.7
    turn = at * 2 * math.pi / WAVE
    lift = SWING * (np.sin(turn) + 0.45 * np.sin(turn / 0.37 + 1.3))
    return [QPointF(x, y) for x, y in (points + lift[:, None] * [-unit[1], unit[0]]).tolist()]
