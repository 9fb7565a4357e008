"""Filled regions of the plane: what a layer covers, grown, shrunk, cut and measured.

A thin coat over ``manifold3d.CrossSection`` (Clipper 2). It was chosen over shapely for filling and offsets because it
knows the positive fill rule, never fails on self-crossing outlines, and is as fast; distances and point tests are
shapely's, which Clipper lacks. All numbers are mm and mm² in the frame of the owner, mostly the bed frame.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, JoinType
from numpy.typing import ArrayLike

from core.geometry.mesh import F64, Bool

#: Rounded corners of an offset stay within this of the true arc, mm. A hundredth of a usual layer's advance.
ARC_TOLERANCE = 0.002
#: With more sides than this, looking the nearest ones up by place pays.
_MANY_SIDES = 800
#: Fewest sides of a full circle in an offset, so that small offsets stay round.
_LEAST_SIDES = 16


@dataclass(frozen=True, eq=False)
class Region:
    """A set of points of the plane bounded by polygons; outlines run counter-clockwise, holes clockwise."""

    section: CrossSection

    @classmethod
    def filled(cls, lines: Sequence[ArrayLike]) -> Region:
        """What closed lines, each (k, 2) mm, enclose: the points with positive winding number.

        Overlapping outlines unite and holes stay holes (3MF core specification 1.4.0, §4.1). No lines: nothing.
        """
        return cls(CrossSection(list(lines), FillRule.Positive)) if len(lines) else EMPTY

    @classmethod
    def of(cls, geometry: shapely.Geometry) -> Region:
        """The region of a shapely polygon or multipolygon, mm."""
        parts = shapely.get_parts(shapely.orient_polygons(geometry))
        rings = [np.asarray(r.coords)[:-1] for p in parts if not p.is_empty for r in (p.exterior, *p.interiors)]
        return cls.filled(rings)

    def __reduce__(self) -> tuple[object, tuple[list[F64]]]:
        return Region.filled, (self.outlines,)

    @cached_property
    def outlines(self) -> list[F64]:
        """Outlines and holes, each (k, 2) float64 mm."""
        return list(self.section.to_polygons())

    def __len__(self) -> int:
        """Number of outlines and holes."""
        return int(self.section.num_contour())

    @property
    def empty(self) -> bool:
        """Whether nothing is covered."""
        return bool(self.section.is_empty())

    @cached_property
    def area(self) -> float:
        """Covered area, mm²."""
        return float(self.section.area())

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y, mm; zeros for an empty region."""
        x0, y0, x1, y1 = self.section.bounds() if not self.empty else (0.0, 0.0, 0.0, 0.0)
        return float(x0), float(y0), float(x1), float(y1)

    @property
    def perimeter(self) -> float:
        """Length of all outlines, mm."""
        return float(sum(np.linalg.norm(np.roll(o, -1, axis=0) - o, axis=1).sum() for o in self.outlines))

    @cached_property
    def shape(self) -> shapely.MultiPolygon:
        """The same region for shapely, prepared for many questions."""
        shapes = [shapely.Polygon(p.outlines[0], p.outlines[1:]) for p in _outer_first(self)]
        out = shapely.MultiPolygon(shapes)
        shapely.prepare(out)
        return out

    @cached_property
    def border(self) -> shapely.MultiLineString:
        """The outlines as lines for shapely, prepared."""
        out = shapely.MultiLineString([np.vstack([o, o[:1]]) for o in self.outlines])
        shapely.prepare(out)
        return out

    def __or__(self, other: Region) -> Region:
        return Region(self.section + other.section)

    def __sub__(self, other: Region) -> Region:
        return Region(self.section - other.section)

    def __and__(self, other: Region) -> Region:
        return Region(self.section ^ other.section)

    def grown(self, distance: float, tolerance: float = ARC_TOLERANCE) -> Region:
        """Every point within ``distance`` (mm), with round corners true to ``tolerance``; shrunk when negative."""
        if distance == 0 or self.empty:
            return self
        return Region(self.section.offset(distance, JoinType.Round, 2.0, arc_sides(distance, tolerance)))

    def opened(self, radius: float, tolerance: float = ARC_TOLERANCE) -> Region:
        """What a disc of ``radius`` (mm) can sweep without leaving the region: shrunk, then grown.

        What is narrower than two radii is gone, and sharp corners are rounded (opening by a disc, Serra 1982).
        """
        return self.grown(-radius, tolerance).grown(radius, tolerance)

    def simplified(self, tolerance: float) -> Region:
        """Fewer points; none farther than ``tolerance`` (mm) from the old outline."""
        return Region(self.section.simplify(tolerance))

    def components(self) -> list[Region]:
        """Connected pieces, each one outline with its holes."""
        return [Region(part) for part in self.section.decompose() if not part.is_empty()]

    def within(self, low: ArrayLike, high: ArrayLike) -> Region:
        """The part inside the box ``low``..``high`` (2,), mm."""
        a, b = np.asarray(low, np.float64), np.asarray(high, np.float64)
        box = CrossSection([np.array([a, [b[0], a[1]], b, [a[0], b[1]]])])
        return Region(self.section ^ box)

    def contains(self, points: ArrayLike) -> Bool:
        """Whether points (q, 2), mm, lie in the region or on its border, (q,) bool."""
        p = np.asarray(points, np.float64).reshape(-1, 2)
        out: Bool = shapely.intersects_xy(self.shape, p[:, 0], p[:, 1])
        return out

    def distance(self, points: ArrayLike) -> F64:
        """Distance from points (q, 2) to the region, (q,) mm: zero inside, infinite when the region is empty."""
        p = np.asarray(points, np.float64).reshape(-1, 2)
        if self.empty or not len(p):
            return np.full(len(p), np.inf)
        if self.section.num_vert() > _MANY_SIDES:
            _, away = self._sides.query_nearest(shapely.points(p), return_distance=True, all_matches=False)
        else:
            away = shapely.distance(self.border, shapely.points(p))
        out: F64 = np.where(self.contains(p), 0.0, away)
        return out

    @cached_property
    def _sides(self) -> shapely.STRtree:
        """Every side of every outline, found by place."""
        ends = np.concatenate([np.stack([o, np.roll(o, -1, axis=0)], axis=1) for o in self.outlines])
        return shapely.STRtree(shapely.linestrings(ends))


#: The region that covers nothing.
EMPTY = Region(CrossSection())


def arc_sides(radius: float, tolerance: float) -> int:
    """Sides of a full circle whose chords stay within ``tolerance`` of the arc: sagitta = r(1 − cos(π/n))."""
    ratio = min(max(tolerance / abs(radius), 1e-9), 1.0)
    return max(_LEAST_SIDES, 4 * math.ceil(math.pi / math.acos(1 - ratio) / 4))


def united(regions: Sequence[Region]) -> Region:
    """All points of all regions."""
    return Region(CrossSection.compose([r.section for r in regions])) if regions else EMPTY


def _outer_first(region: Region) -> list[Region]:
    """The components, the outline of each before its holes."""
    if len(region) == 1:
        return [region]
    out = []
    for part in region.components():
        lines = part.outlines
        if _signed_area(lines[0]) < 0:
            lines.sort(key=_signed_area, reverse=True)
        out.append(part)
    return out


def _signed_area(line: F64) -> float:
    x, y = (line - line[0]).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2
