"""A row against everything else: the ends of the edge, the ledge below, the part above, walls and teeth beside it.

Measured on the mesh by lines along the gap, in the gap frame, never on layers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from core.design.plan import KERF, RowPlan
from core.design.tooth import Teeth, profile
from core.geometry.mesh import F64, I64, Bool
from core.proof.near import Near
from core.proof.tooth_sections import Polygons, tooth_sections

#: Points looked at along and across a foot or a tip.
_FOOT_GRID, _TIP_GRID = (9, 3), (5, 3)
#: Heights in the gap at which a tooth is held against its surroundings, as shares. The ends belong to ledge and edge.
_LEVELS: Final = (0.2, 0.5, 0.8)
#: Points on each side of a tooth from which its surroundings are felt, and steps out to one line. What is thinner than
#: half a line can slip between two steps, but does not print either.
_SIDE_POINTS, _STEPS = 4, 2
#: A sink smaller than this still reaches a ledge that is this much lower at a corner of the foot, mm.
_LEAST_SINK: Final = 0.02


@dataclass(frozen=True, eq=False)
class Clearance:
    """What a row of n teeth keeps from everything else. Arrays float64.

    ``from_end`` (n,) mm from tip to the nearer end of the edge, negative past it, infinite on a closed one.
    ``off_ledge`` and ``outside`` (n,) share (0..1) of the foot without ledge below, of the tip without part above;
    ``off_ledge_along`` tells that it is the ends of the feet that hang over. ``to_part`` (n,) mm to material that is
    neither ledge nor edge, zero inside it, infinite beyond a line. ``to_teeth`` (n,) mm to teeth of this or other rows.
    """

    from_end: F64
    off_ledge: F64
    off_ledge_along: bool
    outside: F64
    to_part: F64
    to_teeth: F64


def clearance(near: Near, plan: RowPlan, teeth: Teeth, others: Sequence[Teeth] = ()) -> Clearance:
    """Measure a planned row against the part and against the ``others``, teeth of other rows (bed mm)."""
    off = _off_ledge(near, plan)
    return Clearance(
        from_end=_from_end(near, plan),
        off_ledge=off.mean(axis=(1, 2)),
        off_ledge_along=bool(off[:, [0, -1]].mean() > off[:, 1:-1].mean()),
        outside=_outside(near, plan).mean(axis=(1, 2)),
        to_part=_to_part(near, plan),
        to_teeth=np.minimum(_to_own(near, plan), _to_others(near, plan, teeth, others)),
    )


def _from_end(near: Near, plan: RowPlan) -> F64:
    span = near.span
    out = np.full(plan.teeth, np.inf)
    if span.closed:
        return out
    if span.edge_end[0]:
        out = np.minimum(out, plan.centres - plan.tip / 2)
    if span.edge_end[1]:
        out = np.minimum(out, span.length - plan.centres - plan.tip / 2)
    return out


@dataclass(frozen=True, eq=False)
class _Feet:
    """Where the teeth of a row stand, gap frame: plan point, run of the edge and way across, (n, 2) each."""

    axis: F64
    along: F64
    across: F64

    @classmethod
    def of(cls, near: Near, plan: RowPlan) -> _Feet:
        at, st = near.span.at(plan.centres), near.span.stations
        step = st.axis[1] - st.axis[0]
        sign = 1.0 if step[0] * st.across[0, 1] - step[1] * st.across[0, 0] > 0 else -1.0
        return cls(at.axis, np.column_stack([at.across[:, 1], -at.across[:, 0]]) * sign, at.across)

    def plan(self, u: F64, v: F64) -> F64:
        """Plan points (n m, 2) of tooth coordinates u and v, (n, m) mm along and across."""
        out = self.axis[:, None] + u[..., None] * self.along[:, None] + v[..., None] * self.across[:, None]
        return out.reshape(-1, 2)


def _grid(plan: RowPlan, width: float, shape: tuple[int, int]) -> tuple[F64, F64]:
    """Points spread evenly under every tooth: u and v (n, a b), mm along and across, across running fastest."""
    u = ((np.arange(shape[0]) + 0.5) / shape[0] - 0.5) * width
    t = (np.arange(shape[1]) + 0.5) / shape[1]
    v = plan.across_range[:, :1] + np.ptp(plan.across_range, axis=1)[:, None] * t
    n = plan.teeth
    return np.tile(np.repeat(u, shape[1]), (n, 1)), np.tile(v, (1, shape[0]))


def _off_ledge(near: Near, plan: RowPlan) -> Bool:
    """Points of every foot (n, a, b) that have no ledge within the sink below them."""
    u, v = _grid(plan, plan.foot, _FOOT_GRID)
    at = near.span.at((plan.centres[:, None] + u).ravel())
    low = at.ledge.min(axis=1)
    floor, _ = near.columns.air_around(_Feet.of(near, plan).plan(u, v), low + 0.6 * at.gap)
    with np.errstate(invalid="ignore"):
        out: Bool = floor < low - max(plan.sink_ledge, _LEAST_SINK) - 1e-6
    return out.reshape(plan.teeth, *_FOOT_GRID)


def _outside(near: Near, plan: RowPlan) -> Bool:
    """Points of every tip (n, a, b) that have no part close above them."""
    u, v = _grid(plan, plan.tip, _TIP_GRID)
    at = near.span.at((plan.centres[:, None] + u).ravel())
    high = at.edge.max(axis=1) + 2 * at.reach + max(plan.sink_part, near.setup.layer_height)
    middle = at.edge.min(axis=1) - 0.4 * at.gap
    _, ceiling = near.columns.air_around(_Feet.of(near, plan).plan(u, v), middle)
    with np.errstate(invalid="ignore"):
        out: Bool = ceiling > high + 1e-6
    return out.reshape(plan.teeth, *_TIP_GRID)


def _to_part(near: Near, plan: RowPlan) -> F64:
    """Distance (n,) from every tooth to material beside it, mm: felt outward from its sides at several heights."""
    line = near.setup.line_width
    u, v, out_u, out_v, share = _outline(plan)
    feet = _Feet.of(near, plan)

    def solid(rows: I64, distance: F64) -> Bool:
        i, k = rows.T
        uu, vv = u[i, k] + out_u[i, k] * distance, v[i, k] + out_v[i, k] * distance
        points = feet.axis[i] + uu[:, None] * feet.along[i] + vv[:, None] * feet.across[i]
        at = near.span.at(plan.centres[i] + uu)
        t = (vv - at.lo) / np.maximum(at.hi - at.lo, 1e-9)
        low, high = (e[:, 0] + t * (e[:, 1] - e[:, 0]) for e in (at.ledge, at.edge))
        floor, _ = near.columns.air_around(points, low + share[i, k] * (high - low))
        return np.isnan(floor)

    nearest = np.full(u.shape, np.inf)
    rows = np.argwhere(np.isinf(nearest))
    for step in range(_STEPS + 1):
        hit = solid(rows, np.full(len(rows), max(step / _STEPS * line, 1e-3)))
        nearest[tuple(rows[hit].T)] = (step - 1) / _STEPS * line  # negative: inside
        rows = rows[~hit]
    return _refined(solid, nearest, line)


def _refined(solid: Callable[[I64, F64], Bool], nearest: F64, line: float) -> F64:
    """The least distance of every tooth, the steps between which it lies halved down."""
    rows = np.argwhere(np.isfinite(nearest) & (nearest >= 0) & (nearest <= nearest.min(axis=1, keepdims=True)))
    low = nearest[tuple(rows.T)]
    high = low + line / _STEPS
    for _ in range(6):
        half = (low + high) / 2
        hit = solid(rows, half)
        low, high = np.where(hit, low, half), np.where(hit, half, high)
    nearest[tuple(rows.T)] = low
    least: F64 = np.maximum(nearest.min(axis=1), 0.0)
    return least


def _outline(plan: RowPlan) -> tuple[F64, F64, F64, F64, F64]:
    """Points on the sides of every tooth at several heights, with the outward way: u, v, du, dv and share of the gap.

    (n, m) each. The middle of the tooth is among them, without an outward way, so that a tooth inside a wall is found.
    """
    side = np.linspace(0, 1, _SIDE_POINTS)
    one, zero = np.ones(_SIDE_POINTS), np.zeros(_SIDE_POINTS)
    corner = np.sqrt(0.5)
    a = np.r_[side, side, zero, one, 0, 1, 1, 0, 0.5]
    b = np.r_[zero, one, side, side, 0, 0, 1, 1, 0.5]
    da = np.r_[zero, zero, -one, one, corner * np.array([-1, 1, 1, -1]), 0]
    db = np.r_[-one, one, zero, zero, corner * np.array([-1, -1, 1, 1]), 0]
    out = []
    for i in range(plan.teeth):
        shape = profile(plan.shape, plan.foot, plan.tip, float(plan.heights[i]), plan.sink_ledge, plan.sink_part)
        v0, v1 = plan.across_range[i]
        rows = []
        for share in _LEVELS:
            y = share * float(plan.heights[i])
            left, right = float(np.interp(y, shape.y, shape.left)), float(np.interp(y, shape.y, shape.right))
            rows.append([left + a * (right - left), v0 + b * (v1 - v0), da, db, np.full(len(a), share)])
        out.append(np.concatenate(rows, axis=1))
    u, v, du, dv, share_of = np.moveaxis(np.array(out).reshape(plan.teeth, 5, -1), 1, 0)
    return u, v, du, dv, share_of


def _to_own(near: Near, plan: RowPlan) -> F64:
    """Clear distance (n,) from tip to tip within the row, mm; teeth that make one blade have none between them."""
    order = np.argsort(plan.centres)
    step = np.diff(plan.centres[order])
    last = near.span.length - float(step.sum()) if near.span.closed and plan.teeth > 1 else np.inf
    before, after = np.r_[last, step], np.r_[step, last]
    out = np.full(plan.teeth, np.inf)
    before, after = (np.where(x - plan.tip <= KERF + 1e-6, np.inf, x) for x in (before, after))
    out[order] = np.minimum(before, after) - plan.tip
    clear: F64 = np.maximum(out, 0.0)
    return clear


def _to_others(near: Near, plan: RowPlan, teeth: Teeth, others: Sequence[Teeth]) -> F64:
    """Distance (n,) within the layers to teeth of other rows, mm; infinite beyond a line."""
    out = np.full(plan.teeth, np.inf)
    heights = near.layers[1]
    if not any(o.vertices for o in others):
        return out
    line, far = near.setup.line_width, 4 * float(near.window.half.sum()) + 100.0
    both = []
    for group in (teeth, Teeth(sum((o.vertices for o in others), ()), sum((o.triangles for o in others), ()))):
        polygons = tooth_sections(group, near.window, np.tile(heights, (len(group.vertices), 1)))
        tooth, layer = np.nonzero(~shapely.is_empty(polygons))
        both.append((tooth, _moved(polygons[tooth, layer], np.asarray(layer * far, np.float64))))
    (mine, here), (_, there) = both
    pairs, distance = shapely.STRtree(there).query_nearest(here, max_distance=line, return_distance=True)
    np.minimum.at(out, mine[pairs[0]], distance)
    return out


def _moved(polygons: Polygons, shift: F64) -> Polygons:
    """Polygons (p,) moved by ``shift`` (p,) along x, so that layers lie beside each other in one plane."""
    xy, index = shapely.get_coordinates(polygons, return_index=True)
    xy[:, 0] += shift[index]
    out: Polygons = shapely.set_coordinates(polygons.copy(), xy)
    return out
