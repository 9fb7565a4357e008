"""The part's own section along a span, taken apart: what hangs above, what lies below, what stands between.

Everything is in (s, z): s along the span from its start, z the height in the gap frame, mm. The section depends on the
mesh and the span only, not on the row, so it is made once and kept through all dragging.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike

from core.design.span import Span, local_mesh, thinned
from core.errors import BadValue
from core.geometry.mesh import F64, Mesh
from core.geometry.sheet import sheet_section

# Lengths in mm, all from memory: they decide only what is shown.
#: How far past the ends of the edge the section is drawn, and the share of a short edge that it is at most.
BEYOND, BEYOND_SHARE = 1.5, 0.1
#: How far above the edge and below the ledge the section is kept; the drawing breaks it off much earlier.
DEPTH: Final = 60.0
#: A piece between ledge and edge that is at least this share of the gap high is a tooth, less is unevenness.
TOOTH_SHARE = 0.6
#: Skin between a tooth and the faces it joins, so that the cut does not depend on rounding.
SKIN = 0.01
#: The sheet follows the line of the teeth this closely, mm.
PLAN_TOLERANCE = 1e-3
#: Narrower than this is a sliver of rounding.
SLIVER = 0.05


@dataclass(frozen=True, eq=False)
class StandingTooth:
    """A tooth that is there already: outline (k, 2), and its stretches (s from, s to) at ledge and edge, mm."""

    outline: F64
    foot: tuple[float, float]
    tip: tuple[float, float]


@dataclass(frozen=True, eq=False)
class SpanSection:
    """The cut along a span. ``above`` and ``below`` hold outlines (k, 2), a hole lying inside an outer one (even-odd);
    ``lines`` (k, 2) are the visible outlines, without the seams to standing teeth. ``extent`` is what is covered, s mm.
    """

    above: tuple[F64, ...] = ()
    below: tuple[F64, ...] = ()
    lines: tuple[F64, ...] = ()
    standing: tuple[StandingTooth, ...] = ()
    extent: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, eq=False)
class Profile:
    """Edge and ledge of a span as lines (k, 2) of (s, z); the edge reaches over its whole length, mm."""

    edge: F64
    ledge: F64
    length: float
    extent: tuple[float, float] = field(default=(0.0, 0.0))

    @classmethod
    def of(cls, span: Span) -> Profile:
        """Read off a measured span."""
        st = span.stations
        edge = np.column_stack([st.s, st.edge.min(axis=1)])
        ledge = np.column_stack([st.s, st.ledge.max(axis=1)])
        before, after = edge_overrun(span)
        first = edge[0] - [before, before * _slope(edge[0], edge[1])]
        last = edge[-1] + [after, after * _slope(edge[-2], edge[-1])]
        whole = np.vstack([first, edge, last]) if not span.closed else edge
        margin = 0.0 if span.closed else min(BEYOND, BEYOND_SHARE * span.length)
        return cls(whole, ledge, span.length, (-before - margin, span.length + after + margin))

    def edge_at(self, s: ArrayLike) -> F64:
        """Height of the edge at s, mm."""
        return np.interp(s, self.edge[:, 0], self.edge[:, 1])

    def ledge_at(self, s: ArrayLike) -> F64:
        """Height of the ledge at s, mm."""
        return np.interp(s, self.ledge[:, 0], self.ledge[:, 1])


def _slope(a: F64, b: F64) -> float:
    return float((b[1] - a[1]) / (b[0] - a[0])) if b[0] > a[0] else 0.0


def edge_overrun(span: Span) -> tuple[float, float]:
    """How far the edge goes on before and after the span, mm."""
    if span.closed:
        return 0.0, 0.0
    return max(span.edge_offset, 0.0), max(span.edge_length - span.edge_offset - span.length, 0.0)


def span_section(
    mesh: Mesh, span: Span, across: float | None = None, *, also: Sequence[Mesh] = ()
) -> SpanSection:
    """Cut ``mesh`` (bed mm) along the span, ``across`` mm inward of the edge (None: by rule), and sort the cut.

    ``also`` are solids that will stand there too, such as a wall below or teeth of another row.
    """
    profile = Profile.of(span)
    plan, s = _plan_line(span, profile.extent, across)
    low, high = plan.min(axis=0) - 1.0, plan.max(axis=0) + 1.0
    outlines: list[F64] = []
    for solid in (mesh, *also):
        near = local_mesh(solid, span.frame, low, high)
        if not len(near.triangles):
            continue
        try:
            outlines += sheet_section(near, plan, s).outlines()
        except BadValue:
            if solid is mesh:
                return plain_section(span)
    return sorted_section(outlines, profile) if outlines else plain_section(span)


def _plan_line(span: Span, extent: tuple[float, float], across: float | None) -> tuple[F64, F64]:
    """Where the cut runs in plan (k, 2), and s at every point: where teeth stand, carried on straight at the ends."""
    st = span.stations
    if across is None:
        middle = (st.lo + st.hi) / 2
        v = np.clip(0.0, st.lo, st.hi) if span.kind == "ridge" else np.minimum(st.lo + 0.4, middle)
    else:
        v = np.full(len(st.s), across)
    line, s = st.axis + st.across * v[:, None], st.s
    if span.closed:
        return line, s
    first = line[0] + (line[0] - line[1]) / max(s[1] - s[0], 1e-9) * (s[0] - extent[0])
    last = line[-1] + (line[-1] - line[-2]) / max(s[-1] - s[-2], 1e-9) * (extent[1] - s[-1])
    # The ends of the span are left out: faces of the part stand exactly there, and the sheet should not bend in them.
    run = np.vstack([np.r_[first, extent[0]], np.column_stack([line, s])[1:-1], np.r_[last, extent[1]]])
    run = thinned(run, PLAN_TOLERANCE)
    return run[:, :2], run[:, 2]


def sorted_section(outlines: Sequence[F64], profile: Profile) -> SpanSection:
    """Sort outlines (k, 2) of material in (s, z) into what is above, below and between."""
    window = _window(profile)
    material = shapely.intersection(_material(outlines), window)
    teeth = _standing(material, profile)
    joined = shapely.union_all([t.buffer(SKIN, join_style="mitre") for t in teeth]) if teeth else shapely.Polygon()
    rest = shapely.difference(material, joined)
    upper, lower = _halves(profile, window)
    seams = shapely.union_all([joined.buffer(SKIN), window.exterior.buffer(SKIN)])
    return SpanSection(
        _rings(shapely.intersection(rest, upper)),
        _rings(shapely.intersection(rest, lower)),
        _lines(shapely.difference(rest.boundary, seams)),
        tuple(_standing_tooth(t, profile) for t in teeth),
        profile.extent,
    )


def _window(profile: Profile) -> shapely.Polygon:
    return shapely.box(
        profile.extent[0] if profile.extent[0] < 0 else 0.0, float(profile.ledge[:, 1].min()) - DEPTH,
        max(profile.extent[1], profile.length), float(profile.edge[:, 1].max()) + DEPTH,
    )  # fmt: skip


def _material(outlines: Sequence[F64]) -> shapely.Geometry:
    """The area that outlines enclose: counter-clockwise ones add, clockwise ones take away, larger ones first."""
    rings = [(shapely.Polygon(o), _turn(o)) for o in outlines if len(o) > 2]
    area: shapely.Geometry = shapely.Polygon()
    for ring, turn in sorted(rings, key=lambda r: -abs(r[1])):
        whole = shapely.make_valid(ring)
        area = shapely.union(area, whole) if turn > 0 else shapely.difference(area, whole)
    return area


def _turn(ring: F64) -> float:
    """Signed area, mm² (shoelace formula)."""
    x, y = ring[:, 0], ring[:, 1]
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _standing(material: shapely.Geometry, profile: Profile) -> list[shapely.Polygon]:
    """Pieces of material that reach through the gap."""
    s = profile.ledge[:, 0]
    band = shapely.Polygon(
        np.vstack([
            np.column_stack([s, profile.ledge_at(s) + 2 * SKIN]),
            np.column_stack([s, profile.edge_at(s) - 2 * SKIN])[::-1],
        ])
    )  # fmt: skip
    found = []
    for piece in _polygons(shapely.intersection(material, shapely.make_valid(band))):
        left, low, right, high = piece.bounds
        middle = (left + right) / 2
        gap = float(profile.edge_at(middle) - profile.ledge_at(middle))
        if right - left > SLIVER and high - low > TOOTH_SHARE * gap:
            found.append(piece)
    return sorted(found, key=lambda p: p.bounds[0])


def _standing_tooth(piece: shapely.Polygon, profile: Profile) -> StandingTooth:
    points = np.asarray(piece.exterior.coords)[:-1]
    s, z = points[:, 0], points[:, 1]
    share = (z - profile.ledge_at(s)) / np.maximum(profile.edge_at(s) - profile.ledge_at(s), 1e-9)
    foot, tip = s[share <= share.min() + 0.05], s[share >= share.max() - 0.05]
    return StandingTooth(points, (float(foot.min()), float(foot.max())), (float(tip.min()), float(tip.max())))


def _halves(profile: Profile, window: shapely.Polygon) -> tuple[shapely.Geometry, shapely.Geometry]:
    """The window above and below the middle of the gap."""
    left, low, right, high = window.bounds
    s = profile.ledge[:, 0]
    middle = np.column_stack([s, (profile.ledge_at(s) + profile.edge_at(s)) / 2])
    line = np.vstack([[left - 1, middle[0, 1]], middle, [right + 1, middle[-1, 1]]])
    upper = shapely.Polygon(np.vstack([line, [[right + 1, high + 1], [left - 1, high + 1]]]))
    lower = shapely.Polygon(np.vstack([line, [[right + 1, low - 1], [left - 1, low - 1]]]))
    return shapely.make_valid(upper), shapely.make_valid(lower)


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [p for p in shapely.get_parts(shapely.get_parts(shape)) if p.geom_type == "Polygon" and p.area > 1e-6]


def _rings(shape: shapely.Geometry) -> tuple[F64, ...]:
    rings = [r for p in _polygons(shape) for r in (p.exterior, *p.interiors)]
    return tuple(np.asarray(r.coords)[:-1] for r in rings)


def _lines(shape: shapely.Geometry) -> tuple[F64, ...]:
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    return tuple(
        np.asarray(p.coords) for p in shapely.get_parts(merged) if p.geom_type == "LineString" and p.length > SLIVER
    )


def plain_section(span: Span, standing: Sequence[tuple[float, float]] = ()) -> SpanSection:
    """A stand-in when there is no mesh to cut: solid above the edge and below the ledge, as far as the span knows.

    ``standing`` are tip stretches of teeth that are there; their feet are the occupied stretches of the span.
    """
    profile = Profile.of(span)
    before, after = edge_overrun(span)
    edge, ledge = profile.edge, profile.ledge
    roof, floor = float(edge[:, 1].max()) + DEPTH, float(ledge[:, 1].min()) - DEPTH
    above = np.vstack([edge, [[span.length + after, roof], [-before, roof]]])
    below = np.vstack([ledge, [[span.length, floor], [0.0, floor]]])
    ends = [np.array([edge[0], [edge[0, 0], roof]]), np.array([edge[-1], [edge[-1, 0], roof]])]
    ends += [np.array([ledge[0], [0.0, floor]]), np.array([ledge[-1], [span.length, floor]])]
    teeth = tuple(_assumed_tooth(tip, span, profile) for tip in standing)
    return SpanSection((above,), (below,), () if span.closed else tuple(ends), teeth, profile.extent)


def _assumed_tooth(tip: tuple[float, float], span: Span, profile: Profile) -> StandingTooth:
    middle = (tip[0] + tip[1]) / 2
    foot = next(((a, b) for a, b in span.occupied if a <= middle <= b), tip)
    corners = np.array([foot[0], foot[1], tip[1], tip[0]])
    heights = np.r_[profile.ledge_at(corners[:2]), profile.edge_at(corners[2:])]
    return StandingTooth(np.column_stack([corners, heights]), foot, tip)
