"""Detail A: one tooth and its neighbours drawn larger, with the figures that matter while it is pulled at."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath

from app.look.current import colour
from app.look.drawing import kept, pen
from app.look.fonts import lettering_font, text_font
from app.look.tokens import Type
from app.panels.elevation.choose_figures import figures_of
from app.panels.elevation.drags import Grip, Snap
from app.panels.elevation.figures import Focus
from app.panels.elevation.marks import Marks
from app.panels.elevation.model import DrawnTooth, ElevationModel
from app.panels.elevation.painter import direction_mark, paint_view
from app.panels.elevation.sheet import MOST_SCALE, Rect, Sheet, View
from app.panels.elevation.strokes import rulers, write
from app.panels.elevation.words import Line, detail_hint, detail_lines, detail_title, fate_words
from app.panels.widgets.state_mark import State, mark_width, paint_state
from core.units import UnitName

# Logical pixels.
HEIGHT = 190.0  # what the detail takes of the panel
LEAST_MAIN = 150.0  # what the main drawing must keep
TEXT_WIDTH = 520.0
LEAST_DRAWING = 360.0
TOP, ABOVE, BELOW, FOOT_LANE = 10.0, 32.0, 26.0, 34.0
LETTER_ROOM = 46.0
ROW = 24.0


@dataclass(frozen=True)
class Detail:
    """What the detail shows: the tooth, its grip while it is pulled at, and how."""

    tooth: DrawnTooth
    grip: Grip | None
    snap: Snap | None
    pitch: bool
    px_per_mm: float


def split(field: Rect, wanted: bool) -> tuple[Rect, Rect | None]:
    """The main drawing's field and the detail's, when it is wanted and the panel is tall enough."""
    if not wanted or field.height < LEAST_MAIN + HEIGHT:
        return field, None
    line = field.bottom - HEIGHT
    return replace(field, bottom=line), replace(field, top=line)


def _columns(field: Rect) -> tuple[Rect, Rect | None]:
    """Drawing on the left, figures on the right."""
    text = min(TEXT_WIDTH, field.width * 0.42)
    if field.width - text < LEAST_DRAWING:
        return field, None
    line = field.right - text
    return replace(field, right=line - 24), replace(field, left=line)


def detail_view(model: ElevationModel, tooth: DrawnTooth, field: Rect, px_per_mm: float) -> View:
    """The larger view about a tooth, at a round scale that leaves room for the neighbours."""
    drawing, _ = _columns(field)
    low, high = float(model.ledge_at(tooth.centre)), float(model.edge_at(tooth.centre))
    slope = abs(model.gap_at(tooth.tip[0]) - model.gap_at(tooth.tip[1]))
    tall = field.height - TOP - ABOVE - BELOW - FOOT_LANE
    pitch = model.plan.pitch if model.plan else 5.0
    wide = drawing.width - LETTER_ROOM - 70
    scale = min(tall / max(high - low + slope, 1e-6), wide / max(2.5 * pitch, 1e-6), MOST_SCALE)
    ratio = scale / px_per_mm
    scale = (math.floor(ratio) if ratio >= 2 else math.floor(ratio * 10) / 10 or ratio) * px_per_mm
    left = drawing.left + LETTER_ROOM
    middle = (left + 58 + drawing.right) / 2
    y0 = field.top + TOP + ABOVE + (tall - (high - low) * scale) / 2 + high * scale
    local = replace(drawing, left=left, right=drawing.right, top=drawing.top + 2)
    return View(model, Sheet(scale, middle - tooth.centre * scale, y0), local, ABOVE, BELOW, (58.0, 4.0))


def stretch(view: View) -> tuple[float, float]:
    """What the detail shows of the span, u."""
    return view.sheet.u(view.window.left), view.sheet.u(view.window.right)


def frame_in(main: View, detail: View) -> Rect:
    """The frame around that stretch on the main drawing."""
    a, b = stretch(detail)
    left, right = main.sheet.x(a), main.sheet.x(b)
    low, high = main.model.z_range
    return Rect(
        max(left, main.window.left - 6),
        main.sheet.y(high) - 26,
        min(right, main.window.right + 6),
        main.sheet.y(low) + 8,
    )


def paint_detail(
    painter: QPainter, field: Rect, model: ElevationModel, detail: Detail, marks: Marks, focus: Focus
) -> View:
    """Drawing and figures of the detail; returns its view, for the pointer."""
    view = detail_view(model, detail.tooth, field, detail.px_per_mm)
    with kept(painter):
        painter.setPen(pen(1.0, "rule"))
        painter.drawLine(QLineF(field.left, field.top + 0.5, field.right, field.top + 0.5))
    local = replace(focus, detail=True, selected=detail.tooth.number)
    figures = figures_of(view, rulers(), marks.unit, local, fate_words)
    own = replace(marks, rule=False, flags=False, detail=None, hovered_tooth=detail.tooth.number, layer=marks.layer)
    paint_view(painter, view, figures, own)
    _paint_letter(painter, field, view.sheet.scale / detail.px_per_mm)
    _paint_hang(painter, view, detail.tooth)
    if detail.grip is not None and detail.grip.handle.kind == "tooth":
        z = float(model.ledge_at(detail.tooth.centre)) + model.gap_at(detail.tooth.centre) * 0.38
        direction_mark(painter, view.sheet.x(detail.tooth.centre), view.sheet.y(z))
    text = _columns(field)[1]
    if text is not None:
        _paint_text(painter, text, model, detail, marks.unit)
    return view


def _paint_letter(painter: QPainter, field: Rect, ratio: float) -> None:
    with kept(painter):
        painter.setPen(colour("ink"))
        write(painter, QPointF(field.left + 24, field.top + 31), "A", lettering_font(Type.VIEW_TITLE))
        painter.setPen(colour("ink2"))
        scale = f"{ratio:.0f} : 1" if ratio >= 2 else f"{ratio:.1f} : 1"
        write(painter, QPointF(field.left + 24, field.top + 52), scale, lettering_font(Type.DIMENSION))


def _paint_hang(painter: QPainter, view: View, tooth: DrawnTooth) -> None:
    """A dotted line under each bridge that is longer than allowed: here it hangs. Only a sign, not a figure."""
    with kept(painter):
        painter.setClipRect(QRectF(view.window.left, view.field.top, view.window.width, view.field.height))
        painter.setPen(pen(1.3, "attention", (1.6, 3.2)))
        for bridge in view.model.bridges:
            if bridge.over:
                a, b = (
                    QPointF(view.sheet.x(u), view.sheet.y(float(view.model.edge_at(u))) + 3)
                    for u in (bridge.start, bridge.stop)
                )
                path = QPainterPath(a)
                path.quadTo((a + b) / 2 + QPointF(0, 16), b)
                painter.drawPath(path)


def _paint_text(painter: QPainter, field: Rect, model: ElevationModel, detail: Detail, unit: UnitName) -> None:
    """Title, figures in columns, and the hint."""
    x, y = field.left + 28, field.top + 31
    lines = detail_lines(model, detail.tooth, unit, detail.grip, pitch=detail.pitch)
    with kept(painter):
        painter.setPen(pen(1.0, "rule"))
        painter.drawLine(QLineF(field.left, field.top + 18, field.left, field.bottom - 16))
        painter.setPen(colour("ink"))
        write(
            painter,
            QPointF(x, y),
            detail_title(detail.grip, detail.tooth, pitch=detail.pitch),
            text_font(Type.VALUE, Type.SEMIBOLD),
        )
        labels = QFontMetricsF(text_font(Type.TEXT))
        values = QFontMetricsF(text_font(Type.TEXT, Type.SEMIBOLD))
        edge = (
            x
            + max(labels.horizontalAdvance(line.label) for line in lines)
            + 22
            + max(values.horizontalAdvance(line.value) for line in lines)
        )
        for k, line in enumerate(lines):
            _paint_line(painter, line, x, edge, y + ROW * (k + 1) + 4, field.right - 12)
        painter.setPen(colour("ink2"))
        hint = QFontMetricsF(text_font(Type.LABEL)).elidedText(
            detail_hint(detail.grip, detail.snap), Qt.TextElideMode.ElideRight, field.right - 12 - x
        )
        write(painter, QPointF(x, field.bottom - 16), hint, text_font(Type.LABEL))


def _paint_line(painter: QPainter, line: Line, x: float, edge: float, y: float, right: float) -> None:
    """One line: label, value ending at ``edge``, remark and mark after it."""
    normal, strong = text_font(Type.TEXT), text_font(Type.TEXT, Type.SEMIBOLD)
    painter.setPen(colour("ink2"))
    write(painter, QPointF(x, y), line.label, normal)
    ink = "attention_text" if line.look else "ink"
    painter.setPen(colour(ink))
    write(painter, QPointF(edge - QFontMetricsF(strong).horizontalAdvance(line.value), y), line.value, strong)
    at = edge + 20
    remark = text_font(Type.LABEL)
    if at + QFontMetricsF(remark).horizontalAdvance(line.remark) <= right:
        painter.setPen(colour(ink if line.look else "ink2"))
        write(painter, QPointF(at, y), line.remark, remark)
        at += QFontMetricsF(remark).horizontalAdvance(line.remark) + 14
    if line.look and at + mark_width() <= right + 8:
        ratio = painter.device().devicePixelRatio()
        paint_state(painter, State.LOOK, QRectF(at, y - 14, mark_width(), 20), ratio)
