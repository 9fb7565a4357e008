"""Looking for a place for a wall: what hangs over an edge's surroundings and what stands below them.

Vertical lines are dropped in a band along the edge, on the mesh itself. The look depends on part and edge only, so it
is kept while the figures of a wall are changed. Bed frame, mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.design.span import local_mesh
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Bool, Mesh, frozen
from core.geometry.polyline import Polyline

# Lengths in mm; from memory.
#: How far to either side of the edge a wall may move, and how far things beside it are looked for.
REACH: Final = 5.0
#: Steps of the look across and along, and most stations.
STEP, ALONG, MOST = 0.1, 0.4, 700
#: Just below the edge, where the look begins.
BELOW: Final = 0.03
#: The underside belongs to the edge as far as it rises above it by no more than this.
COVER_RISE: Final = 1.5
#: What begins higher than this above an edge does not matter to a wall and its teeth.
ABOVE: Final = 8.0
#: Lower than this is the bed.
ON_BED: Final = 0.05


@dataclass(frozen=True, eq=False)
class WallLook:
    """The band along an edge: ``s`` (k,) arc length in plan, ``axis`` (k, 2), ``across`` (k, 2) unit, inward, ``z``
    (k,) height of the edge; ``v`` (n,) distances across; ``floor`` and ``rise`` (k, n): height of what stands below,
    NaN in material, and how far above the edge the underside is, infinite where nothing hangs there.

    ``side`` is +1 where inward lies on the left of the edge's run.
    """

    edge: Polyline
    plan: Polyline
    side: int
    s: F64
    axis: F64
    across: F64
    z: F64
    v: F64
    floor: F64
    rise: F64
    columns: Columns

    def shared(self, most: float) -> tuple[F64, F64]:
        """Interval across (k,) at every station in which the underside lies within ``most`` of the edge, mm.

        The run nearest to the edge is taken; NaN where there is none.
        """
        return _shared(self, most)

    @cached_property
    def places(self) -> cKDTree:
        """The stations, to be found by place."""
        return cKDTree(self.axis)


def look_for_wall(mesh: Mesh, edge: Polyline) -> WallLook:
    """Look along ``edge`` on ``mesh`` (bed mm). Raises SpanProblem for a point, or when nothing hangs over the edge."""
    plan = Polyline.of(edge.array * [1, 1, 0], edge.closed)
    if plan.length < 0.2:
        raise SpanProblem("The edge is a point in plan: a wall needs a length.", "Set a post there instead.")
    count = int(np.clip(plan.length / ALONG, 8, MOST))
    s = np.linspace(0, plan.length, count + 1)
    at = s if plan.closed else np.clip(s, 1e-4, plan.length - 1e-4)
    axis = plan.at(at)[:, :2]
    across = _left(plan, at)
    z = np.interp(at, plan.stations, edge.ring[:, 2])
    low, high = axis.min(axis=0) - REACH - 0.5, axis.max(axis=0) + REACH + 0.5
    surroundings = local_mesh(lower_part(mesh, float(z.max()) + ABOVE), np.eye(4), low, high)
    columns = Columns.over(surroundings, low, high)
    n = round(REACH / STEP)
    v: F64 = np.arange(-n, n + 1, dtype=np.float64) * STEP
    points = axis[:, None] + across[:, None] * v[None, :, None]
    floor, ceiling = columns.air_around(points.reshape(-1, 2), np.repeat(z - BELOW, len(v)))
    shape = (len(s), len(v))
    floor, rise = floor.reshape(shape), np.nan_to_num(ceiling.reshape(shape), nan=np.inf) - z[:, None]
    if not (rise[:, np.abs(v) < 1.0] <= COVER_RISE).any():
        raise SpanProblem(
            "Nothing hangs over this line: a wall below it would carry nothing.",
            "Pick the lower edge of an overhang, or points on an underside.",
        )
    near = (np.abs(v) > 0) & (np.abs(v) < 1.0)
    weight = np.sign(v[near]) * (rise[:, near] <= np.abs(v[near]) + 0.05)
    if weight.sum() < 0:
        return WallLook(edge, plan, -1, s, axis, -across, z, v, floor[:, ::-1], rise[:, ::-1], columns)
    return WallLook(edge, plan, 1, s, axis, across, z, v, floor, rise, columns)


@lru_cache(maxsize=64)
def _shared(look: WallLook, most: float) -> tuple[F64, F64]:
    good = look.rise <= most
    lo, hi = np.full(len(look.s), np.nan), np.full(len(look.s), np.nan)
    middle = int(np.argmin(np.abs(look.v)))
    for i in np.flatnonzero(good.any(axis=1)):
        a, b = _nearest_run(good[i], middle)
        lo[i], hi[i] = look.v[a], look.v[b]
    frozen(lo)
    frozen(hi)
    return lo, hi


def lower_part(mesh: Mesh, height: float) -> Mesh:
    """The triangles of a mesh that reach below ``height`` (mm): enough for counting crossings up to there."""
    z = mesh.vertices[:, 2] < height
    a, b, c = mesh.triangles.T
    keep = z[a] | z[b] | z[c]
    return mesh if keep.all() else Mesh(mesh.vertices, mesh.triangles[keep])


def _left(plan: Polyline, s: F64) -> F64:
    """Unit vectors (k, 2) to the left of the line, smoothed over half a millimetre so that facets do not kink them."""
    half = min(0.5, plan.length / 8)
    before, after = s - half, s + half
    if not plan.closed:
        before, after = np.maximum(before, 0), np.minimum(after, plan.length)
    step = (plan.at(after) - plan.at(before))[:, :2]
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12)
    return np.column_stack([-step[:, 1], step[:, 0]])


def _nearest_run(good: Bool, middle: int) -> tuple[int, int]:
    """First and last index of the run of True nearest to ``middle``, the longest of equally near ones."""
    edges = np.flatnonzero(np.diff(np.r_[0, good.astype(np.int8), 0]))
    starts, stops = edges[::2], edges[1::2] - 1
    away = np.maximum(np.maximum(starts - middle, middle - stops), 0)
    best = int(np.lexsort((starts - stops, away))[0])
    return int(starts[best]), int(stops[best])
