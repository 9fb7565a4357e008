"""The elevation of a row on paper: unrolled to a standard scale, in strips where it is long, with a larger detail."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final, cast

from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QPainter

from app.look.current import colour
from app.look.drawing import arrowhead, dimension, extension_line, kept, pen
from app.look.fonts import lettering_font
from app.look.tokens import Pen
from app.panels.elevation.build import elevation_model
from app.panels.elevation.choose_figures import figures_of
from app.panels.elevation.fates import fates_of
from app.panels.elevation.figures import Figures, Focus
from app.panels.elevation.marks import Marks
from app.panels.elevation.model import DrawnTooth, ElevationModel
from app.panels.elevation.painter import paint_view
from app.panels.elevation.section import span_section
from app.panels.elevation.sheet import FAR_GAP, SAME_GAP, Rect, Sheet, View
from app.panels.elevation.strokes import rulers, write
from app.panels.elevation.svg_painter import SvgPainter
from app.panels.elevation.words import fate_words
from app.sheet.paper import HEAD, PX_PER_MM, on_paper
from core.design.setup import PrintSetup
from core.geometry.mesh import Mesh
from core.job.sheet_row import SheetRow
from core.units import UnitName, format_length

#: Scales of technical drawings, ISO 5455:1979 (from memory), largest first.
SCALES: Final = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50)
#: A span that is too long for one strip is cut into so many at most, by the scale; smaller scales get one.
MOST_STRIPS: Final = {2.0: 3, 1.0: 4}
#: A short span is not drawn larger than this: beside it there is the detail.
MOST_WHOLE: Final = 5.0
#: Tallest gap on paper, px; a higher one is drawn to a smaller scale.
TALLEST: Final = 90.0

#: Pitches that the detail shows at least: one tooth whole, its neighbours begun.
SHOWN: Final = 1.55

#: A gap lower than this on paper gets no height rule beside it, px: its ticks would be a blot.
LEAST_RULE: Final = 22.0

# px, as on the screen: lanes for figures above and below, section shown above the edge and below the ledge.
TOP_LANE, ABOVE, BELOW, LOW_LANE = 30.0, 30.0, 28.0, 42.0
LEFT, RIGHT, BARE_RIGHT = 58.0, 70.0, 24.0
DETAIL_LEFT, DETAIL_RIGHT = 58.0, 8.0
DETAIL_TOP, DETAIL_ABOVE, DETAIL_BELOW, DETAIL_LOW = 28.0, 34.0, 26.0, 40.0


@dataclass(frozen=True, eq=False)
class Drawing:
    """A drawing ready to be painted: its size in px, and its scale as drawn : true."""

    view: View
    figures: Figures
    marks: Marks
    width: float
    height: float
    ratio: float
    cut: float | None = None
    tip: tuple[float, float] | None = None

    def paint(self, painter: QPainter) -> None:
        """Paint it with its upper left corner at the painter's origin."""
        paint_view(painter, self.view, self.figures, self.marks)
        with kept(painter):
            painter.setPen(colour("ink"))
            if self.marks.detail is not None:
                self._letter(painter, self.marks.detail)
            if self.cut is not None:
                self._cut_mark(painter, self.view.sheet.x(self.cut))
            if self.tip is not None:
                self._tip(painter, *self.tip)

    def _free(self, field: Rect) -> bool:
        figures = self.figures
        words = [*(n.field for n in figures.labels), *(n.field for n in figures.notes)]
        lines = (d.field.meets(field, 1.0) or d.shaft.meets(field, 0.0) for d in figures.dimensions)
        return not any(lines) and not any(w.meets(field) for w in words)

    def _letter(self, painter: QPainter, frame: Rect) -> None:
        """The letter of the detail at a corner of its frame that is free."""
        corners = [(x, y) for y in (frame.top + 13, frame.bottom - 1) for x in (frame.right + 5, frame.left - 16)]
        x, y = next((c for c in corners if self._free(Rect(c[0], c[1] - 13, c[0] + 12, c[1]))), corners[0])
        painter.fillRect(QRectF(x - 2, y - 15, 15, 17), colour("paper"))
        write(painter, QPointF(x, y), "A", lettering_font(HEAD))

    def _tip(self, painter: QPainter, start: float, stop: float) -> None:
        """The width of a tip above the break line, where the drawing is large enough to lead it there."""
        y = self.view.ceiling - 13
        a, b = (QPointF(self.view.sheet.x(u), y) for u in (start, stop))
        edge = self.view.sheet.y(float(self.view.model.edge_at((start + stop) / 2)))
        for p in (a, b):
            extension_line(painter, QPointF(p.x(), edge - 2), p)
        dimension(painter, a, b, format_length(stop - start, self.marks.unit, with_unit=False))

    def _cut_mark(self, painter: QPainter, x: float) -> None:
        """Where the section B–B runs: a heavy stroke beyond the break lines, with an arrow the way one looks."""
        for y, step in ((self.view.ceiling - 3, -9.0), (self.view.floor + 3, 9.0)):
            field = Rect(x - 3, min(y, y + step), x + 24, max(y, y + step))
            if not self._free(field):
                continue
            painter.setPen(pen(2.0, "ink"))
            painter.drawLine(QLineF(x, y, x, y + step))
            painter.setPen(pen(Pen.FEATURE, "ink"))
            painter.drawLine(QLineF(x, y + step, x + 10, y + step))
            arrowhead(painter, QPointF(x + 11, y + step), QPointF(1, 0))
            painter.setPen(colour("ink"))
            write(painter, QPointF(x + 14, y + step + 5), "B", lettering_font(14))

    @property
    def scale(self) -> str:
        """The scale in words."""
        return scale_words(self.ratio)


def scale_words(ratio: float) -> str:
    """A scale as drawings state it.

    >>> scale_words(2.0), scale_words(0.2)
    ('2 : 1', '1 : 5')
    """
    return f"{ratio:g} : 1" if ratio >= 1 else f"1 : {1 / ratio:g}"


def row_model(mesh: Mesh, row: SheetRow, setup: PrintSetup) -> ElevationModel:
    """The elevation of a row; ``mesh`` is the part in bed mm. A closed span is cut open beside a tooth."""
    span, plan, wishes = row.span, row.plan, row.design.row.wishes
    section = span_section(mesh, span)
    cut = float(plan.centres[0]) - plan.pitch / 2 if span.closed and plan.teeth else 0.0
    return elevation_model(
        span, plan, wishes, setup, section=section, survival=fates_of(row.proof.survival), cut=cut,
        standing=[t.tip for t in section.standing],
    )  # fmt: skip


def strips(model: ElevationModel, width: float, unit: UnitName = "millimeter") -> list[Drawing]:
    """The whole span on strips ``width`` px wide, left to right, all to one standard scale."""
    low, high = model.z_range
    whole = [r for r in SCALES if r <= MOST_WHOLE]
    fitting = [r for r in whole if (high - low) * r * PX_PER_MM <= TALLEST] or [SCALES[-1]]
    rooms = [(r, (width - LEFT - _right(model, r)) / PX_PER_MM) for r in fitting]
    ratio, count = _scale_and_count(model.length, rooms)
    step = model.length / count
    return [_strip(model, width, ratio, (k * step, (k + 1) * step), unit) for k in range(count)]


def _ruled(model: ElevationModel, ratio: float) -> bool:
    """Whether the gap is high enough on paper for a rule of heights beside it."""
    low, high = model.z_range
    return (high - low) * ratio * PX_PER_MM >= LEAST_RULE


def _right(model: ElevationModel, ratio: float) -> float:
    """What is kept free on the right for the height rule and, where the gap changes, for a second figure of it, px."""
    low, high = model.gap
    figure = FAR_GAP if high - low > SAME_GAP and model.layers.axis == "z" else 0.0
    return (RIGHT if _ruled(model, ratio) else BARE_RIGHT) + figure


def _scale_and_count(length: float, rooms: Iterable[tuple[float, float]]) -> tuple[float, int]:
    """The largest scale at which a length (mm) fits, and over how many strips; ``rooms`` are scales, each with the
    mm of paper that it leaves."""
    ratio = 1.0
    for ratio, room in rooms:
        need = length * ratio / room
        if need <= MOST_STRIPS.get(ratio, 1):
            return ratio, max(math.ceil(need), 1)
    return ratio, 1


def _strip(model: ElevationModel, width: float, ratio: float, part: tuple[float, float], unit: UnitName) -> Drawing:
    low, high = model.z_range
    scale, ruled = ratio * PX_PER_MM, _ruled(model, ratio)
    height = TOP_LANE + ABOVE + (high - low) * scale + BELOW + LOW_LANE
    middle = LEFT + (width - LEFT - _right(model, ratio)) / 2
    sheet = Sheet(scale, middle - sum(part) / 2 * scale, TOP_LANE + ABOVE + high * scale)
    margins = (LEFT, RIGHT if ruled else BARE_RIGHT)
    view = View(model, sheet, Rect(0.0, 0.0, width, height), ABOVE, BELOW, margins)
    marks = Marks(layer_lines=ratio >= 1, unit=unit, flags=False, rule=ruled)
    return Drawing(view, figures_of(view, rulers(), unit, None, fate_words), marks, width, height, ratio)


def telling_tooth(model: ElevationModel) -> DrawnTooth | None:
    """The tooth that the detail shows: the first that does not print whole, else one near the middle."""
    if not model.teeth:
        return None
    lost = [t for t in model.teeth if t.survival.fate != "prints"]
    return lost[0] if lost else model.teeth[(len(model.teeth) - 1) // 2]


def detail(model: ElevationModel, width: float, height: float, unit: UnitName = "millimeter") -> Drawing | None:
    """One tooth and its neighbours, larger: at most ``width`` × ``height`` px. None for a row without teeth."""
    tooth = telling_tooth(model)
    if tooth is None:
        return None
    pitch = model.plan.pitch if model.plan else 5.0
    gap = model.gap_at(tooth.centre)
    wide, tall = width - DETAIL_LEFT - DETAIL_RIGHT, height - DETAIL_TOP - DETAIL_ABOVE - DETAIL_BELOW - DETAIL_LOW
    most = min(wide / max(SHOWN * pitch, 1e-6), tall / max(gap, 1e-6)) / PX_PER_MM
    ratio = next((r for r in SCALES if r <= most), SCALES[-1])
    scale = ratio * PX_PER_MM
    high = float(model.edge_at(tooth.centre))
    needed = DETAIL_TOP + DETAIL_ABOVE + gap * scale + DETAIL_BELOW + DETAIL_LOW
    sheet = Sheet(scale, DETAIL_LEFT + wide / 2 - tooth.centre * scale, DETAIL_TOP + DETAIL_ABOVE + high * scale)
    view = View(model, sheet, Rect(0, 0, width, needed), DETAIL_ABOVE, DETAIL_BELOW, (DETAIL_LEFT, DETAIL_RIGHT))
    figures = figures_of(view, rulers(), unit, Focus(selected=tooth.number, detail=True), fate_words)
    shown = tuple(d for d in figures.dimensions if d.key != "length")
    marks = Marks(unit=unit, flags=False, rule=False)
    return Drawing(view, replace(figures, dimensions=shown), marks, width, needed, ratio, tip=tooth.tip)


def framed(drawing: Drawing, other: Drawing, cut: float) -> Drawing:
    """A strip with a frame round what the detail ``other`` shows and a mark where the section is cut (u, mm).

    Both only where they lie on the strip.
    """
    window, sheet = other.view.window, other.view.sheet
    a, b = (drawing.view.sheet.x(sheet.u(x)) for x in (window.left, window.right))
    own = drawing.view.window
    if own.left < drawing.view.sheet.x(cut) < own.right:
        drawing = replace(drawing, cut=cut)
    if b < own.left or a > own.right:
        return drawing
    low, high = drawing.view.model.z_range
    frame = Rect(max(a, own.left - 6), drawing.view.sheet.y(high) - 26, min(b, own.right + 6),
                 drawing.view.sheet.y(low) + 8)  # fmt: skip
    return replace(drawing, marks=replace(drawing.marks, detail=frame))


def svg(width: float, height: float, title: str, paint: Callable[[QPainter], None], name: str) -> str:
    """A drawing as an SVG element; ``name`` keeps its clip paths apart from those of others on the same page."""
    painter = SvgPainter(width, height, PX_PER_MM, title)
    with on_paper():
        paint(cast(QPainter, painter))
    text = painter.text()
    text = text[text.index("<svg") :]
    return text.replace('id="c', f'id="{name}-c').replace("url(#c", f"url(#{name}-c")
