"""Paints teeth: planned ones, those that are there already, places left empty, and what will not print."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath

from app.look.current import colour
from app.look.drawing import cross_hatch, hatch, kept, pen
from app.look.tokens import Pen
from app.panels.elevation.layers_painter import LEAST_LAYER, layer_lines, layer_px
from app.panels.elevation.marks import Marks
from app.panels.elevation.model import DrawnTooth
from app.panels.elevation.section import StandingTooth
from app.panels.elevation.sheet import Rect, View
from app.panels.elevation.strokes import area

STANDING_STEP = 4.0  # px, hatching of teeth that are there


def repeated(view: View) -> list[DrawnTooth]:
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
    return DrawnTooth(
        tooth.number,
        tooth.centre + by,
        tooth.base + by,
        tooth.outline + np.array([by, 0.0]),
        foot,
        tip,
        tooth.survival,
        tooth.lost_from,
    )


def paint_standing(painter: QPainter, view: View, tooth: StandingTooth) -> None:
    """A tooth that is there: plaster's ground, hatched in ink."""
    shape = area(view.sheet, [tooth.outline])
    painter.fillPath(shape, colour("sheet"))
    hatch(painter, shape, ink="ink", step=STANDING_STEP, width=0.8)
    painter.strokePath(shape, pen(Pen.TOOTH, "ink"))


def paint_ghost(painter: QPainter, view: View, tooth: DrawnTooth) -> None:
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(Pen.FEATURE, "tooth_text", (3.5, 3.0)))
    painter.drawPath(area(view.sheet, [tooth.outline]))


def paint_tooth(painter: QPainter, view: View, tooth: DrawnTooth, marks: Marks) -> None:
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
        lines = layer_lines(view)
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
        cut.addRect(
            QRectF(
                view.sheet.x(tooth.foot[0]) - 2, -1e5, (tooth.foot[1] - tooth.foot[0]) * view.sheet.scale + 4, 1e5 + y
            )
        )
        lost = shape.intersected(cut)
    painter.fillPath(lost, colour("attention_ground"))
    cross_hatch(painter, lost)
    painter.strokePath(lost, pen(width, "attention", Pen.LOSS_DASH))
