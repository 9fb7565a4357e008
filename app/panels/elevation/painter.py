"""Paints a view of the elevation: section, teeth, layers, figures and height rule, on any painter."""

from __future__ import annotations

from typing import Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPolygonF

from app.look.current import colour
from app.look.drawing import chain_line, hatch, kept, pen, scale_bar
from app.look.tokens import Pen
from app.panels.elevation.drags import Snap
from app.panels.elevation.figures import Figures
from app.panels.elevation.handles import corners_of, stops_shown
from app.panels.elevation.layers_painter import paint_layer_chosen, paint_layers, seen_of
from app.panels.elevation.marks import Marks
from app.panels.elevation.rule import draw_rule
from app.panels.elevation.sheet import SCALE_ROOM, Rect, View, scale_field
from app.panels.elevation.strokes import (
    area,
    draw_dimension,
    draw_label,
    draw_note,
    polygon,
    polyline,
    qrect,
    wavy,
)
from app.panels.elevation.teeth_painter import paint_ghost, paint_standing, paint_tooth, repeated
from core.units import MM_PER

CORNER_SIZE = 7.0
FLAG: Final = 12.0  # end stop's flag


def paint_view(painter: QPainter, view: View, figures: Figures, marks: Marks) -> None:
    """The whole drawing of a view, clipped to its field."""
    with kept(painter):
        painter.setClipRect(qrect(view.field), Qt.ClipOperation.IntersectClip)
        _paint_drawing(painter, view, marks)
        _paint_stops(painter, view, marks)
        _paint_figures(painter, figures, marks)
        if marks.rule:
            draw_rule(painter, view, marks.layer, marks.unit)
        _paint_scale(painter, view, marks)
        _paint_corners(painter, view, marks)
        if marks.detail is not None:
            _paint_detail_frame(painter, marks.detail)


def _paint_drawing(painter: QPainter, view: View, marks: Marks) -> None:
    """What is drawn to scale, within the window and between the break lines."""
    region = _region(view)
    with kept(painter):
        painter.setClipPath(region, Qt.ClipOperation.IntersectClip)
        if marks.layer_lines:
            paint_layers(painter, view)
        _paint_section(painter, view)
        if marks.layer is not None:
            paint_layer_chosen(painter, view, marks.layer)
        for standing in view.model.section.standing:
            paint_standing(painter, view, standing)
        for gone in view.model.left_out:
            paint_ghost(painter, view, gone)
        if marks.ghost is not None:
            paint_ghost(painter, view, marks.ghost)
        for tooth in repeated(view):
            paint_tooth(painter, view, tooth, marks)
        _paint_edges(painter, view)
    _paint_breaks(painter, view, region)


def _paint_scale(painter: QPainter, view: View, marks: Marks) -> None:
    """A scale bar in the lower left corner: one scale holds for both directions."""
    px_per_unit = MM_PER[marks.unit] * view.sheet.scale
    left = QPointF(scale_field(view).left + 8, view.field.bottom - 12)
    scale_bar(painter, left, px_per_unit, room=SCALE_ROOM, parts=2, note="in" if marks.unit == "inch" else "mm")


# The section


def _region(view: View) -> QPainterPath:
    """The window between the two freehand break lines, wavy also at its sides."""
    window = view.window
    top = max(view.ceiling, view.field.top - 12)
    bottom = min(view.floor, view.field.bottom + 12)
    corners = [
        QPointF(window.left, top),
        QPointF(window.right, top),
        QPointF(window.right, bottom),
        QPointF(window.left, bottom),
    ]
    points: list[QPointF] = []
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        points += [a, *wavy(a, b)]
    path = QPainterPath()
    path.addPolygon(QPolygonF(points))
    path.closeSubpath()
    return path


def _paint_section(painter: QPainter, view: View) -> None:
    section, sheet = view.model.section, view.sheet
    for rings, rising in ((section.above, True), (section.below, False)):
        hatch(painter, _near(view, area(sheet, rings)), rising=rising)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(Pen.CUT, "ink"))
    for points in section.lines:
        painter.drawPath(polyline(sheet, points))


def _near(view: View, path: QPainterPath) -> QPainterPath:
    """An area cut to what is seen, so that hatching a large part costs no more than a small one."""
    seen = QPainterPath()
    seen.addRect(qrect(seen_of(view).grown(4)))
    return path.intersected(seen)


def _paint_breaks(painter: QPainter, view: View, region: QPainterPath) -> None:
    """The freehand lines, where they cross material."""
    section, sheet = view.model.section, view.sheet
    material = area(sheet, section.above)
    material.addPath(area(sheet, section.below))
    material.setFillRule(Qt.FillRule.OddEvenFill)
    with kept(painter):
        painter.setClipPath(_near(view, material), Qt.ClipOperation.IntersectClip)
        painter.strokePath(region, pen(Pen.BREAK, "ink2"))


def _paint_edges(painter: QPainter, view: View) -> None:
    """The ledge dashed, and the overhang edge: the heaviest line of the drawing."""
    profile, sheet = view.model.profile, view.sheet
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(Pen.LEDGE, "ledge", Pen.LEDGE_DASH))
    painter.drawPath(polyline(sheet, profile.ledge))
    painter.setPen(pen(Pen.EDGE, "edge"))
    painter.drawPath(polyline(sheet, profile.edge))


# Layers


# Teeth


# Figures and handles


def _paint_stops(painter: QPainter, view: View, marks: Marks) -> None:
    """End stops: a chain line through the drawing, and a flag at the dimension line to take it by."""
    real = stops_shown(view)  # else a closed span is cut open where nothing ends: the same lines, nothing to take
    for kind, u, side in (("start", view.model.stops[0], -1), ("stop", view.model.stops[1], 1)):
        x = view.sheet.x(u)
        if not view.window.left - 2 <= x <= view.window.right + 2:
            continue
        lit = any(h is not None and h.kind == kind for h in (marks.hovered, marks.hand))
        top = view.top_lane - 6 if marks.rule else view.ceiling
        chain_line(painter, QPointF(x, top), QPointF(x, view.floor), Pen.STOP * (1.8 if lit else 1.0), "ink")
        if marks.flags and real:
            _flag(painter, x, view.top_lane, side, lit)


def _flag(painter: QPainter, x: float, y: float, side: int, lit: bool) -> None:
    """A triangle that points at the span."""
    with kept(painter):
        painter.setPen(pen(Pen.FEATURE * (1.5 if lit else 1.0), "ink"))
        painter.setBrush(colour("ink") if lit else colour("sheet"))
        tip, back = x + side * 1.5, x + side * FLAG
        painter.drawPolygon(QPolygonF([QPointF(tip, y), QPointF(back, y - 5.5), QPointF(back, y + 5.5)]))


def _paint_figures(painter: QPainter, figures: Figures, marks: Marks) -> None:
    over = marks.hovered.key if marks.hovered is not None and marks.hovered.kind == "dimension" else ""
    for dimension in figures.dimensions:
        draw_dimension(painter, dimension, hovered=dimension.key == over)
    for label in figures.labels:
        draw_label(painter, label)
    for note in figures.notes:
        draw_note(painter, note)


def _paint_corners(painter: QPainter, view: View, marks: Marks) -> None:
    """Squares on the corners of the teeth that the person has to do with."""
    number = marks.in_hand if marks.hand is not None else marks.hovered_tooth
    for wanted in {n for n in (number, marks.selected) if n is not None}:
        tooth = view.model.tooth(wanted)
        if tooth is None:
            continue
        for kind, x, y in corners_of(view, tooth):
            if view.window.holds(x, y):
                lit = any(h is not None and h.kind == kind and h.number == wanted for h in (marks.hovered, marks.hand))
                _corner(painter, x, y, lit)
    if marks.hand is not None and marks.hand.kind == "tooth" and marks.snap is not None:
        _snap_line(painter, view, marks.snap)


def _corner(painter: QPainter, x: float, y: float, lit: bool) -> None:
    with kept(painter):
        painter.setPen(pen(Pen.FEATURE, "ink"))
        painter.setBrush(colour("ink" if lit else "sheet"))
        half = (CORNER_SIZE + (2 if lit else 0)) / 2
        painter.drawRect(QRectF(x - half, y - half, 2 * half, 2 * half))


def _snap_line(painter: QPainter, view: View, snap: Snap) -> None:
    """A chain line through the place that the drag caught on."""
    x = view.sheet.x(snap.u)
    chain_line(
        painter,
        QPointF(x, view.sheet.y(view.model.z_range[1]) - 8),
        QPointF(x, view.sheet.y(view.model.z_range[0]) + 8),
        Pen.STOP,
        "ledge",
    )


def _paint_detail_frame(painter: QPainter, frame: Rect) -> None:
    """The stretch that is drawn larger beside, with its letter."""
    with kept(painter):
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen(Pen.FRAME, "ink"))
        painter.drawRoundedRect(qrect(frame), 7, 7)


def direction_mark(painter: QPainter, x: float, y: float) -> None:
    """A ring with two arrowheads: this can be pulled left and right."""
    with kept(painter):
        painter.setPen(pen(1.6, "ink"))
        painter.setBrush(colour("sheet"))
        painter.drawLine(QLineF(x - 12, y, x + 12, y))
        painter.drawEllipse(QPointF(x, y), 4.2, 4.2)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour("ink"))
        for s in (-1, 1):
            head = np.array([[x + s * 17, y], [x + s * 10, y - 4.5], [x + s * 10, y + 4.5]])
            painter.drawPolygon(polygon(head))
