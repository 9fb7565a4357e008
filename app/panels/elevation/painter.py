"""Paints a view of the elevation: section, teeth, layers, figures and height rule, on a window, an image, SVG or paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPolygonF

from app.look.current import colour
from app.look.drawing import chain_line, cross_hatch, hatch, kept, pen
from app.look.tokens import Pen
from app.panels.elevation.drags import Snap
from app.panels.elevation.figures import Figures
from app.panels.elevation.handles import Handle, corners_of, stops_shown
from app.panels.elevation.model import DrawnTooth, StandingTooth
from app.panels.elevation.rule import draw_rule
from app.panels.elevation.sheet import Rect, View
from app.panels.elevation.strokes import (
    area,
    between,
    draw_dimension,
    draw_label,
    draw_note,
    polygon,
    polyline,
    qrect,
    wavy,
)
from core.units import UnitName

# Logical pixels.
LEAST_LAYER = 2.0  # thinner layers would run into a grey
BAR_LAYER = 5.0  # from here on a tooth shows each layer as wide as it is laid
STANDING_STEP = 4.0  # hatching of teeth that are there
CORNER_SIZE = 7.0
FLAG: Final = 12.0  # end stop's flag


@dataclass(frozen=True)
class Marks:
    """What else is shown: ticks, what the pointer is on, what is in hand, what is chosen."""

    layer_lines: bool = True
    hovered: Handle | None = None
    selected: int | None = None
    hovered_tooth: int | None = None
    hand: Handle | None = None
    layer: int | None = None
    ghost: DrawnTooth | None = None
    snap: Snap | None = None
    detail: Rect | None = None
    rule: bool = True
    flags: bool = True
    unit: UnitName = "millimeter"

    @property
    def in_hand(self) -> int | None:
        """The tooth that is pulled at."""
        return self.hand.number if self.hand is not None else None


def paint_view(painter: QPainter, view: View, figures: Figures, marks: Marks) -> None:
    """The whole drawing of a view, clipped to its field."""
    with kept(painter):
        painter.setClipRect(qrect(view.field), Qt.ClipOperation.IntersectClip)
        _paint_drawing(painter, view, marks)
        _paint_stops(painter, view, marks)
        _paint_figures(painter, figures, marks)
        if marks.rule:
            draw_rule(painter, view, marks.layer, marks.unit)
        _paint_corners(painter, view, marks)
        if marks.detail is not None:
            _paint_detail_frame(painter, marks.detail)


def _paint_drawing(painter: QPainter, view: View, marks: Marks) -> None:
    """What is drawn to scale, within the window and between the break lines."""
    region = _region(view)
    with kept(painter):
        painter.setClipPath(region, Qt.ClipOperation.IntersectClip)
        if marks.layer_lines:
            _paint_layers(painter, view)
        _paint_section(painter, view)
        if marks.layer is not None:
            _paint_layer_chosen(painter, view, marks.layer)
        for standing in view.model.section.standing:
            _paint_standing(painter, view, standing)
        for gone in view.model.left_out:
            _paint_ghost(painter, view, gone)
        if marks.ghost is not None:
            _paint_ghost(painter, view, marks.ghost)
        for tooth in _repeated(view):
            _paint_tooth(painter, view, tooth, marks)
        _paint_edges(painter, view)
    _paint_breaks(painter, view, region)


# The section


def _region(view: View) -> QPainterPath:
    """The window between the two freehand break lines, wavy also at its sides."""
    window = view.window
    top = max(view.ceiling, view.field.top - 12)
    bottom = min(view.floor, view.field.bottom + 12)
    corners = [QPointF(window.left, top), QPointF(window.right, top), QPointF(window.right, bottom), QPointF(window.left, bottom)]
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
    seen.addRect(qrect(_seen(view).grown(4)))
    return path.intersected(seen)


def _seen(view: View) -> Rect:
    window = view.window
    return Rect(window.left, max(view.ceiling, view.field.top), window.right, min(view.floor, view.field.bottom))


def _paint_breaks(painter: QPainter, view: View, region: QPainterPath) -> None:
    """The freehand lines, where they cross material."""
    section, sheet = view.model.section, view.sheet
    material = area(sheet, section.above)
    material.addPath(area(sheet, section.below))
    material.setFillRule(Qt.FillRule.OddEvenFill)
    with kept(painter):
        painter.setClipPath(_near(view, material), Qt.ClipOperation.IntersectClip)
        painter.strokePath(region, pen(Pen.BREAK * 2, "paper"))
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


def _gap_area(view: View) -> QPainterPath:
    profile = view.model.profile
    return between(view.sheet, profile.ledge, profile.edge, 0.0, view.model.length)


def layer_px(view: View) -> float:
    """How thick a layer is on the screen, px."""
    at = view.model.layers.at
    spacing = float(np.abs(np.diff(at)).min()) if len(at) > 1 else view.model.layers.height
    return spacing * view.sheet.scale


def _layer_lines(view: View) -> list[QLineF]:
    """The tops of the layers across what is seen."""
    seen, sheet = _seen(view), view.sheet
    if view.model.layers.axis == "u":
        return [QLineF(sheet.x(u), seen.top, sheet.x(u), seen.bottom) for u in view.model.layers.at if seen.left <= sheet.x(u) <= seen.right]
    return [QLineF(seen.left, sheet.y(z), seen.right, sheet.y(z)) for z in view.model.layers.at if seen.top <= sheet.y(z) <= seen.bottom]


def _paint_layers(painter: QPainter, view: View) -> None:
    if layer_px(view) < LEAST_LAYER:
        return
    with kept(painter):
        painter.setClipPath(_gap_area(view), Qt.ClipOperation.IntersectClip)
        painter.setPen(pen(Pen.LAYER, colour("line", 0.55)))
        painter.drawLines(_layer_lines(view))


def _paint_layer_chosen(painter: QPainter, view: View, number: int) -> None:
    """The chosen layer as a band across the gap."""
    layers, sheet, seen = view.model.layers, view.sheet, _seen(view)
    if number not in layers.numbers:
        return
    i = layers.numbers.index(number)
    at = float(layers.at[i])
    thick = abs(float(layers.at[i] - layers.at[i - 1])) if i else layers.height
    rising = len(layers.at) < 2 or layers.at[-1] > layers.at[0]
    low, high = (at - thick, at) if rising else (at, at + thick)
    if layers.axis == "u":
        band = QRectF(sheet.x(low), seen.top, max((high - low) * sheet.scale, 1.5), seen.height)
    else:
        tall = max((high - low) * sheet.scale, 1.5)
        band = QRectF(seen.left, sheet.y((low + high) / 2) - tall / 2, seen.width, tall)
    with kept(painter):
        painter.setClipPath(_gap_area(view), Qt.ClipOperation.IntersectClip)
        painter.fillRect(band, colour("ledge", 0.28))


# Teeth


def _repeated(view: View) -> list[DrawnTooth]:
    """The teeth, and in a closed span those over the cut once more at the other end."""
    out = list(view.model.teeth)
    if not view.model.closed:
        return out
    for tooth in view.model.teeth:
        for shift in (-view.model.length, view.model.length):
            if tooth.foot[1] + shift > 0 and tooth.foot[0] + shift < view.model.length:
                out.append(_shifted(tooth, shift))
    return out


def _shifted(tooth: DrawnTooth, by: float) -> DrawnTooth:
    foot, tip = (tooth.foot[0] + by, tooth.foot[1] + by), (tooth.tip[0] + by, tooth.tip[1] + by)
    return DrawnTooth(tooth.number, tooth.centre + by, tooth.base + by, tooth.outline + [by, 0.0], foot, tip, tooth.survival, tooth.lost_from)


def _paint_standing(painter: QPainter, view: View, tooth: StandingTooth) -> None:
    """A tooth that is there: plaster's ground, hatched in ink."""
    shape = area(view.sheet, [tooth.outline])
    painter.fillPath(shape, colour("sheet"))
    hatch(painter, shape, ink="ink", step=STANDING_STEP, width=0.8)
    painter.strokePath(shape, pen(Pen.TOOTH, "ink"))


def _paint_ghost(painter: QPainter, view: View, tooth: DrawnTooth) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(Pen.FEATURE, "tooth_text", (3.5, 3.0)))
    painter.drawPath(area(view.sheet, [tooth.outline]))


def _paint_tooth(painter: QPainter, view: View, tooth: DrawnTooth, marks: Marks) -> None:
    box = Rect(view.sheet.x(tooth.foot[0]), 0, view.sheet.x(tooth.foot[1]), 1)
    if box.right < view.window.left - 4 or box.left > view.window.right + 4:
        return
    shape = area(view.sheet, [tooth.outline])
    whole = tooth.lost_from is not None and tooth.survival.whole
    lit = tooth.number in (marks.in_hand, marks.selected, marks.hovered_tooth)
    if not whole:
        painter.fillPath(shape, colour("tooth_fill"))
        if marks.layer_lines:
            _paint_tooth_layers(painter, view, shape, tooth)
        painter.strokePath(shape, pen(Pen.TOOTH_IN_HAND if lit else Pen.TOOTH, "tooth_text" if lit else "tooth"))
    if tooth.lost_from is not None:
        _paint_loss(painter, view, shape, tooth, Pen.TOOTH_IN_HAND if lit and whole else Pen.TOOTH)


def _paint_tooth_layers(painter: QPainter, view: View, shape: QPainterPath, tooth: DrawnTooth) -> None:
    """The layers of a tooth: lines, or bars as wide as they are laid when there is room to see them."""
    thick = layer_px(view)
    if thick < LEAST_LAYER:
        return
    with kept(painter):
        painter.setClipPath(shape, Qt.ClipOperation.IntersectClip)
        wide = Pen.LAYER if thick < 2.4 else min(0.32 * thick, 3.2)
        painter.setPen(pen(wide, colour("tooth", 0.75)))
        left, right = view.sheet.x(tooth.foot[0]) - 2, view.sheet.x(tooth.foot[1]) + 2
        lines = _layer_lines(view)
        if view.model.layers.axis == "z":
            lines = [QLineF(left, v.y1(), right, v.y1()) for v in lines]
        else:
            lines = [v for v in lines if left <= v.x1() <= right]
        painter.drawLines(lines)


def _paint_loss(painter: QPainter, view: View, shape: QPainterPath, tooth: DrawnTooth, width: float) -> None:
    """What will not print: cross-hatched, with a dashed outline."""
    lost = shape
    if not tooth.survival.whole and tooth.lost_from is not None:
        y = view.sheet.y(tooth.lost_from)
        cut = QPainterPath()
        cut.addRect(QRectF(view.sheet.x(tooth.foot[0]) - 2, -1e5, (tooth.foot[1] - tooth.foot[0]) * view.sheet.scale + 4, 1e5 + y))
        lost = shape.intersected(cut)
    painter.fillPath(lost, colour("attention_ground"))
    cross_hatch(painter, lost)
    painter.strokePath(lost, pen(width, "attention", Pen.LOSS_DASH))


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
    chain_line(painter, QPointF(x, view.sheet.y(view.model.z_range[1]) - 8), QPointF(x, view.sheet.y(view.model.z_range[0]) + 8), Pen.STOP, "ledge")


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
