"""How well a row carries its edge, and how well the wall that carries the row stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from core.design.plan import RowPlan
from core.geometry.mesh import F64, Bool, Mesh, cross
from core.proof.closed_forms import bending_ratio, tip_angle
from core.proof.near import Near

#: Sag that bridges show, mm, by the longest length (mm) for which it holds: common practice, no source.
SAG_BY_SPAN: Final = ((5.0, 0.0, 0.0), (20.0, 0.0, 0.2), (35.0, 0.1, 0.5), (60.0, 0.5, 2.0), (np.inf, 2.0, 10.0))
#: A bridge up to this length usually prints, mm: a note, not a warning. Common practice, no source.
BRIDGE_WARN: Final = 10.0
#: Height over thickness of a wall from which it is worth a note, and from which a long free one is worth a warning.
SLENDER_NOTE, SLENDER_WARN = 15.0, 25.0
#: A wall is long when it runs free for more than this share of its height; from memory.
LONG_SHARE: Final = 2.0
#: A body that falls at less than this lean, degrees, is easily knocked over; from memory.
TIP_WARN: Final = 10.0
#: How the ledge's wall is felt: step along and across, how far across, how deep beside it counts as free, mm.
_STEP, _ACROSS, _REACH, _BESIDE = 0.5, 0.1, 4.0, 0.4
#: Just below an edge, how far an underside is followed past the end of a picked stretch, and within what height, mm.
_BELOW, _RUNS_ON, _SAME_LEVEL = 0.05, 3.0, 0.3
#: What lies this near to the bed belongs to the footprint, mm.
_ON_BED: Final = 0.02
#: A fin beside an upright edge is followed this far away from the edge, mm.
FIN_REACH: Final = 60.0


@dataclass(frozen=True)
class Wall:
    """The wall under a ledge along its longest free stretch, mm; ``at`` is the arc length of its middle."""

    thickness: float
    height: float
    free_length: float
    at: float

    @property
    def slenderness(self) -> float:
        """Height over thickness."""
        return self.height / self.thickness

    @property
    def long_and_free(self) -> bool:
        """Whether it runs unbraced for longer than twice its height."""
        return self.free_length > LONG_SHARE * self.height


@dataclass(frozen=True)
class Hold:
    """What is left of the bridge. Lengths mm.

    ``clear`` is the longest stretch of edge between two tips, ``ends`` from the first and last tip to what holds
    the edge beyond them (None where nothing does), ``free_ends`` the stretches of edge beyond the row that hang free.
    ``bare`` is the length of the edge without teeth. ``wall`` is the wall below, None when there is no thin one.
    """

    clear: float
    ends: tuple[float | None, float | None]
    free_ends: tuple[float, float]
    bare: float
    wall: Wall | None

    @property
    def longest(self) -> float:
        """The longest bridge that is left, mm."""
        return max([self.clear, *(e for e in self.ends if e is not None)])

    @property
    def sag_bare(self) -> tuple[float, float]:
        """Sag that practice sees on the edge without teeth, mm."""
        return practice_sag(self.bare)

    @property
    def sag_left(self) -> tuple[float, float]:
        """Sag that practice sees on the longest bridge left, mm."""
        return practice_sag(self.longest)

    @property
    def stiffer(self) -> float:
        """How many times less an elastic beam bends over the bridge left than over the bare edge: a ratio only."""
        return bending_ratio(self.bare, self.longest)


def practice_sag(length: float) -> tuple[float, float]:
    """Range of sag that practice reports for a bridge of ``length`` mm, mm. Common practice, no source."""
    return next((low, high) for longest, low, high in SAG_BY_SPAN if length <= longest)


def hold(near: Near, plan: RowPlan) -> Hold:
    """What a planned row leaves of the bridge, and the wall it stands on."""
    span = near.span
    before = span.edge_offset + float(plan.centres.min()) - plan.tip / 2
    after = span.edge_length - span.edge_offset - float(plan.centres.max()) - plan.tip / 2
    if span.closed or span.direction == "side":
        return Hold(plan.clear_bridge, (None, None), (0.0, 0.0), span.edge_length, _wall(near))
    held = _held_beyond(near)
    return Hold(
        plan.clear_bridge,
        (before if held[0] else None, after if held[1] else None),
        (0.0 if held[0] else max(before, 0.0), 0.0 if held[1] else max(after, 0.0)),
        span.edge_length,
        _wall(near),
    )


def _held_beyond(near: Near) -> tuple[bool, bool]:
    """Whether something stands under the edge's line just beyond its two ends.

    An edge that goes on past the span counts as held: its own hold is another matter. A picked stretch that the
    underside goes on from counts as held when that meets something within a few millimetres.
    """
    st, span = near.span.stations, near.span
    out = []
    for end, inner, ends_here in ((0, 1, span.edge_end[0]), (-1, -2, span.edge_end[1])):
        way = st.axis[end] - st.axis[inner]
        way = way / np.linalg.norm(way)
        far = (span.edge_offset if end == 0 else span.edge_length - span.edge_offset - span.length) + 0.3
        middle = st.axis[end] + st.across[end] * (st.lo[end] + st.hi[end]) / 2
        points = middle + way * np.array([0.3, far, far + 0.3])[:, None]
        level = float(st.edge[end].min())
        floor, ceiling = near.columns.air_around(points, np.full(3, level - _BELOW))
        held = bool(np.isnan(floor).any()) or (not ends_here and bool(np.isfinite(ceiling).all()))
        out.append(held or _meets(near, middle + way * far, way, level))
    return out[0], out[1]


def _meets(near: Near, start: F64, way: F64, level: float) -> bool:
    """Whether an underside at ``level`` (gap frame, mm) runs on from a plan point until it meets material."""
    steps = np.arange(0.0, _RUNS_ON, _ACROSS)
    points = start + way * steps[:, None]
    floor, ceiling = near.columns.air_around(points, np.full(len(points), level - _BELOW))
    solid = np.flatnonzero(np.isnan(floor))
    return bool(len(solid)) and bool((np.abs(ceiling[: solid[0]] - level) < _SAME_LEVEL).all())


@lru_cache(maxsize=8)
def _wall(near: Near) -> Wall | None:
    """The wall that carries the row at its freest stretch; None where the ledge belongs to something thick.

    The plan has no say in it, so it is felt once.
    """
    if near.span.direction == "side":
        return _fin(near)
    s, thickness, depth = _profile(near)
    thin = np.isfinite(thickness) & (depth > 4 * thickness)
    if not thin.any():
        return None
    height = float(np.quantile(depth[thin], 0.9))
    free = thin & (depth > height / 2)
    edges = np.flatnonzero(np.diff(np.r_[0, free.astype(np.int8), 0]))
    first, last = max(zip(edges[::2], edges[1::2] - 1, strict=True), key=lambda r: s[r[1]] - s[r[0]])
    run = slice(first, last + 1)
    length = near.span.length if near.span.closed and free.all() else float(s[last] - s[first]) + _STEP
    return Wall(
        float(np.median(thickness[run])), float(np.median(depth[run])), length, float((s[first] + s[last]) / 2)
    )


def _fin(near: Near) -> Wall | None:
    """The fin beside an upright edge: as high as its ledge reaches, free for as far as it runs away from the edge."""
    s, thickness, depth = _profile(near)
    depth = np.minimum(depth, _body_behind(near, s))
    thin = np.isfinite(thickness) & (depth > 4 * thickness)
    if not thin.any():
        return None
    ledge = near.sides("ledge")[:, 2]
    top = int(np.argmax(ledge)) % len(near.span.stations.s)
    at = float(near.span.stations.s[top])
    return Wall(float(np.median(thickness[thin])), float(ledge.max()), float(np.median(depth[thin])), at)


def _body_behind(near: Near, s: F64) -> F64:
    """How far material runs on behind the ledge at stations ``s`` (k,), against the gap, mm."""
    at = near.span.at(s)
    ledge = at.ledge.mean(axis=1)
    line, _, ceiling = near.columns.air(at.axis + at.across * (at.lo + at.hi)[:, None] / 2)
    behind = np.where(ceiling < ledge[line] - _ACROSS, ceiling, -np.inf)
    nearest = np.full(len(s), -np.inf)
    np.maximum.at(nearest, line, behind)
    return np.asarray(ledge - nearest)


def _profile(near: Near) -> tuple[F64, F64, F64]:
    """Stations s (k,), thickness of the wall under the ledge and how far it stands free on its braced side, (k,) mm.

    Thickness is infinite where the wall does not end within reach, NaN where a tooth stands in the way.
    """
    span = near.span
    s = np.linspace(0, span.length, max(int(span.length / _STEP), 8) + 1)
    at = span.at(s)
    v = np.arange(-_REACH, _REACH + _ACROSS / 2, _ACROSS)
    middle = (at.lo + at.hi) / 2
    points = at.axis[:, None] + at.across[:, None] * (middle[:, None] + v)[..., None]
    level = np.repeat(at.ledge.max(axis=1) + 0.5 * at.gap, len(v))
    floor = near.columns.air_around(points.reshape(-1, 2), level)[0].reshape(len(s), -1)
    with np.errstate(invalid="ignore"):
        on = np.abs(floor - at.ledge.mean(axis=1)[:, None]) < 0.2
    end = span.frame[2, 3] if span.direction == "up" else at.ledge.min() - FIN_REACH
    return s, *_width_and_depth(on, np.maximum(np.nan_to_num(floor, nan=np.inf), end), at.ledge.max(axis=1))


def _width_and_depth(on: Bool, floor: F64, ledge: F64) -> tuple[F64, F64]:
    middle, beside = on.shape[1] // 2, round(_BESIDE / _ACROSS)
    thickness, depth = np.full(len(on), np.nan), np.zeros(len(on))
    for i in np.flatnonzero(on[:, middle]):
        left = np.flatnonzero(~on[i, :middle])
        right = np.flatnonzero(~on[i, middle:])
        if not len(left) or not len(right) or left[-1] < beside or middle + right[0] + beside >= on.shape[1]:
            thickness[i] = np.inf
            continue
        thickness[i] = (middle + right[0] - left[-1] - 1) * _ACROSS
        sides = floor[i, [left[-1] - beside, middle + right[0] + beside]]
        depth[i] = max(float((ledge[i] - sides).min()), 0.0)
    return thickness, depth


@lru_cache(maxsize=8)
def topple(piece: Mesh) -> float:
    """Lean (degrees) at which a closed piece, standing on the bed (bed mm), falls; negative when it does by itself.

    Centre of mass by the divergence theorem; the footprint is the convex hull of what lies on the bed.
    """
    corner = piece.corners - piece.bounds[0]
    volume = np.einsum("ij,ij->i", corner[:, 0], cross(corner[:, 1], corner[:, 2])) / 6
    centre = (corner.sum(axis=1) / 4 * volume[:, None]).sum(axis=0) / volume.sum()
    foot = corner.reshape(-1, 3)
    foot = foot[foot[:, 2] < _ON_BED, :2]
    try:
        sides = ConvexHull(foot).equations
    except (QhullError, ValueError):  # a point or a line: no footprint at all
        return tip_angle(0.0, float(centre[2]))
    margin = float((-(sides[:, :2] @ centre[:2]) - sides[:, 2]).min())
    return tip_angle(margin, float(centre[2]))
