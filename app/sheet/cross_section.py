"""The section square to the edge through one tooth: how ledge, tooth and part lie over each other, across the span."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPainterPath, QPolygonF

from app.look.current import colour
from app.look.dimension import dimension
from app.look.drawing import extension_line, hatch, kept, pen
from app.look.fonts import text_font
from app.look.tokens import Pen
from app.panels.elevation.strokes import wavy
from app.sheet.drawings import SCALES, scale_words
from app.sheet.paper import PX_PER_MM, SMALL
from core.design.span_section import NearSpan
from core.errors import BadValue
from core.geometry.mesh import F64, Mesh
from core.job.sheet_row import SheetRow
from core.units import UnitName, format_length

#: What is shown beside the strip, above the edge and below the ledge, mm of paper.
BESIDE, BEYOND = 9.0, 6.9
#: Room round the drawing for figures: left, top, right, bottom, px.
ROOM: Final = (52.0, 26.0, 12.0, 60.0)
#: How far the part is cut across, mm.
REACH: Final = 8.0


@dataclass(frozen=True, eq=False)
class CrossSection:
    """The cut at one tooth in (v, z) of the gap frame, mm; v grows inward. ``tooth`` is its box (v, z, v, z)."""

    above: tuple[F64, ...]
    below: tuple[F64, ...]
    tooth: tuple[float, float, float, float]
    gap: tuple[float, float]
    window: tuple[float, float, float, float]
    width: float
    height: float
    ratio: float
    unit: UnitName
    sideways: bool

    @property
    def scale(self) -> str:
        """The scale in words."""
        return scale_words(self.ratio)

    def paint(self, painter: QPainter) -> None:
        """Paint it with its upper left corner at the painter's origin."""
        _Brush(self, painter).all()


def cross_section(
    mesh: Mesh, row: SheetRow, width: float, height: float, *, number: int, unit: UnitName = "millimeter"
) -> CrossSection | None:
    """The section through tooth ``number`` (as planned); ``mesh`` in bed mm. None where nothing can be cut there."""
    plan, span = row.plan, row.span
    if number not in plan.numbers:
        return None
    i = plan.numbers.index(number)
    s = float(plan.centres[i])
    try:
        outlines = NearSpan.of(mesh, span, REACH).crosswise(s, REACH).outlines()
    except BadValue:
        return None
    at, across = span.at(s), plan.across_range[i]
    ledge, edge = float(at.ledge.max()), float(at.edge.min())
    top = edge + plan.sink_part if plan.air <= 0 else edge + float(at.reach[0]) - plan.air
    inner = (float(min(at.lo[0], across[0])), ledge, float(max(at.hi[0], across[1])), edge)
    wide, tall = width - ROOM[0] - ROOM[2], height - ROOM[1] - ROOM[3]
    free = (wide / PX_PER_MM - 2 * BESIDE, tall / PX_PER_MM - 2 * BEYOND)
    most = min(free[0] / (inner[2] - inner[0]), free[1] / (edge - ledge))
    ratio = next((r for r in SCALES if r <= min(most, 20.0)), SCALES[-1])
    half = ((wide / PX_PER_MM) / ratio - (inner[2] - inner[0])) / 2
    window = (inner[0] - half, ledge - BEYOND / ratio, inner[2] + half, edge + BEYOND / ratio)
    above, below = _halves(outlines, window, (ledge + edge) / 2)
    needed = ROOM[1] + (window[3] - window[1]) * ratio * PX_PER_MM + ROOM[3]
    tooth = (float(across[0]), ledge - plan.sink_ledge, float(across[1]), top)
    lying = span.direction == "side"
    return CrossSection(above, below, tooth, (ledge, edge), window, width, needed, ratio, unit, lying)


def _halves(
    outlines: Iterable[F64], window: tuple[float, float, float, float], level: float
) -> tuple[tuple[F64, ...], tuple[F64, ...]]:
    """Outlines within the window, those above a level and those below it; holes lie inside outer ones."""
    solid: shapely.Geometry = shapely.Polygon()
    for ring in sorted((o for o in outlines if len(o) > 2), key=lambda o: -abs(_area(o))):
        shape = shapely.make_valid(shapely.Polygon(ring))
        solid = shapely.union(solid, shape) if _area(ring) > 0 else shapely.difference(solid, shape)
    pad = 1.0
    a, b, c, d = window
    parts = (shapely.box(a - pad, level, c + pad, d + pad), shapely.box(a - pad, b - pad, c + pad, level))
    return tuple(_rings(shapely.intersection(solid, part)) for part in parts)  # type: ignore[return-value]


def _area(ring: F64) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _rings(shape: shapely.Geometry) -> tuple[F64, ...]:
    out = []
    for polygon in shapely.get_parts(shape):
        if polygon.geom_type == "Polygon":
            out += [np.asarray(r.coords) for r in (polygon.exterior, *polygon.interiors)]
    return tuple(out)


class _Brush:
    """Paints one section."""

    def __init__(self, section: CrossSection, painter: QPainter) -> None:
        self.of, self.painter, self.k = section, painter, section.ratio * PX_PER_MM

    def x(self, v: float) -> float:
        return ROOM[0] + (v - self.of.window[0]) * self.k

    def y(self, z: float) -> float:
        return ROOM[1] + (self.of.window[3] - z) * self.k

    def all(self) -> None:
        with kept(self.painter):
            self._material()
        self._figures()
        self._words()

    def _path(self, rings: Iterable[F64]) -> QPainterPath:
        path = QPainterPath()
        path.setFillRule(Qt.FillRule.OddEvenFill)
        for ring in rings:
            path.addPolygon(QPolygonF([QPointF(self.x(v), self.y(z)) for v, z in ring.tolist()]))
            path.closeSubpath()
        return path

    def _region(self) -> QPainterPath:
        a, b, c, d = self.of.window
        corners = [QPointF(self.x(v), self.y(z)) for v, z in ((a, d), (c, d), (c, b), (a, b))]
        points: list[QPointF] = []
        for p, q in zip(corners, [*corners[1:], corners[0]], strict=True):
            points += [p, *wavy(p, q)]
        path = QPainterPath()
        path.addPolygon(QPolygonF(points))
        path.closeSubpath()
        return path

    def _material(self) -> None:
        painter, region = self.painter, self._region()
        whole = self._path((*self.of.above, *self.of.below))
        with kept(painter):
            painter.setClipPath(region, Qt.ClipOperation.IntersectClip)
            for rings, rising in ((self.of.above, True), (self.of.below, False)):
                hatch(painter, self._path(rings).intersected(region), rising=rising)
                painter.strokePath(self._path(rings), pen(Pen.CUT, "ink"))
        with kept(painter):
            painter.setClipPath(whole.intersected(self._grown(region)), Qt.ClipOperation.IntersectClip)
            painter.strokePath(region, pen(Pen.BREAK, "ink2"))
        self._tooth()

    def _grown(self, region: QPainterPath) -> QPainterPath:
        path = QPainterPath()
        path.addRect(region.boundingRect().adjusted(-1, -1, 1, 1))
        return path

    def _tooth(self) -> None:
        """The tooth over the part: filled and outlined; where it sinks in, it is seen through."""
        v0, z0, v1, z1 = self.of.tooth
        path = QPainterPath()
        path.addRect(QRectF(QPointF(self.x(v0), self.y(z1)), QPointF(self.x(v1), self.y(z0))))
        fill = colour("tooth_fill")
        fill.setAlphaF(0.75)
        self.painter.fillPath(path, fill)
        hatch(self.painter, path, ink="tooth", step=5.0, rising=False, width=0.6)
        self.painter.strokePath(path, pen(Pen.TOOTH, "tooth"))

    def _text(self, mm: float) -> str:
        return format_length(mm, self.of.unit, with_unit=False)

    def _figures(self) -> None:
        """Gap on the left, thickness below, both sinks at the tooth's sides where they can be read."""
        v0, z0, v1, _ = self.of.tooth
        ledge, edge = self.of.gap
        x = self.x(self.of.window[0]) - 16
        for z in (ledge, edge):
            extension_line(self.painter, QPointF(self.x(self.of.window[0]) + 2, self.y(z)), QPointF(x, self.y(z)))
        dimension(self.painter, QPointF(x, self.y(ledge)), QPointF(x, self.y(edge)), self._text(edge - ledge))
        low = self.y(self.of.window[1]) + 22
        for v in (v0, v1):
            extension_line(self.painter, QPointF(self.x(v), self.y(z0)), QPointF(self.x(v), low))
        dimension(self.painter, QPointF(self.x(v0), low), QPointF(self.x(v1), low), self._text(v1 - v0))

    def _words(self) -> None:
        """Which side is which."""
        painter, font = self.painter, text_font(SMALL)
        y = self.y(self.of.window[1]) + 46
        left, right = ("one side", "other side") if self.of.sideways else ("outside", "under the part")
        painter.setFont(font)
        painter.setPen(colour("ink2"))
        painter.drawText(QPointF(self.x(self.of.window[0]), y), left)
        wide = QFontMetricsF(font).horizontalAdvance(right)
        painter.drawText(QPointF(self.x(self.of.window[2]) - wide, y), right)
