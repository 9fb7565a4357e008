"""The span above a wall taken from the wall's own plan, where it cannot be measured like any other.

Under a slope or a curved belly the surface beside the edge soon lies elsewhere, and what stands in the gap cannot be
told from the ledge. There the plan knows better: nothing stands on a wall that was built just now, its top is level
across, and the underside is felt straight above it. Bed frame, mm.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from core.design.setup import PrintSetup
from core.design.span import Span, Stations
from core.design.wall import WallPlan
from core.design.wall_look import ABOVE, lower_part
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Mesh

# Lengths in mm; from memory.
#: Spacing of the stations, and of what is felt across the top.
STEP, ACROSS = 0.25, 0.05
#: Stations nearer to each other than this are one.
LEAST_STEP: Final = 1e-4
#: Lines are dropped from just above the wall's top.
ABOVE_TOP: Final = 0.03
#: From one line across to the next the underside of one tooth rises by no more than this: about 70° from level.
RISE_PER_LINE: Final = 0.14
#: A tooth may be this much longer than the gap at the axis of its wall.
DEEPER: Final = 2.0


def span_of_plan(mesh: Mesh, wall: WallPlan, setup: PrintSetup) -> Span:
    """The span between the top of a planned wall and the underside of ``mesh`` (bed mm) above it.

    Raises SpanProblem where the underside is not there, or too narrow above the wall.
    """
    axis = wall.axis
    count = int(np.clip(axis.length / STEP, 8, 2000))
    s = np.unique(np.r_[np.linspace(0, axis.length, count + 1), np.clip(wall.s, 0, axis.length)])
    s = s[np.r_[True, np.diff(s) > LEAST_STEP]]
    at = s if axis.closed else np.clip(s, 1e-6, axis.length - 1e-6)
    points, way = axis.at(at)[:, :2], axis.directions(at)[:, :2]
    across = np.column_stack([-way[:, 1], way[:, 0]]) * _inward(wall, points, way)
    top = np.interp(s, wall.s, wall.top)
    lo, hi, edge = _underside(mesh, wall, points, across, top)
    good = hi - lo >= 0.5 * setup.line_width
    if good.mean() < 0.5:
        raise SpanProblem("The underside above the wall is narrower than a line.", "Pick another edge.")
    first, last = (0, len(s) - 1) if axis.closed else np.flatnonzero(good)[[0, -1]]
    keep = np.arange(first, last + 1)
    lo, hi, *sides = (np.interp(s[keep], s[good], x[good]) for x in (lo, hi, edge[:, 0], edge[:, 1]))
    stations = Stations(
        s[keep] - s[first], points[keep], across[keep], lo, hi, np.column_stack(sides),
        np.column_stack([top[keep], top[keep]]), np.zeros(len(keep)),
    )  # fmt: skip
    length = float(stations.s[-1])
    return Span("up", "outer", np.eye(4), axis.closed, stations, (), (True, True), length, 0.0)


def _inward(wall: WallPlan, points: F64, way: F64) -> float:
    """+1 when the wall stands on the left of the edge that it was built for, seen along its axis, else −1."""
    edge = wall.edge.at(np.linspace(0.0, wall.edge.length, 400))[:, :2]
    few = slice(None, None, max(len(points) // 40, 1))
    away = points[few, None] - edge[None]
    nearest = np.argmin((away**2).sum(axis=2), axis=1)
    off = away[np.arange(len(nearest)), nearest]
    return 1.0 if float((way[few, 0] * off[:, 1] - way[few, 1] * off[:, 0]).sum()) >= 0 else -1.0


def _underside(mesh: Mesh, wall: WallPlan, points: F64, across: F64, top: F64) -> tuple[F64, F64, F64]:
    """Usable interval across (k,) and the underside's heights at both its ends (k, 2), mm."""
    n = max(round(wall.thickness / 2 / ACROSS), 2)
    v = np.linspace(-wall.thickness / 2, wall.thickness / 2, 2 * n + 1)
    where = (points[:, None] + across[:, None] * v[None, :, None]).reshape(-1, 2)
    low, high = where.min(axis=0) - 0.5, where.max(axis=0) + 0.5
    columns = Columns.over(lower_part(mesh, float(top.max()) + ABOVE), low, high)
    _, ceiling = columns.air_around(where, np.repeat(top + ABOVE_TOP, len(v)))
    rise = np.nan_to_num(ceiling, nan=np.inf).reshape(-1, len(v)) - top[:, None]
    good = (rise <= wall.gap + DEEPER) & (rise > 0.1)
    steady = np.abs(np.diff(np.where(np.isfinite(rise), rise, 1e6), axis=1)) <= RISE_PER_LINE
    first, last = np.full(len(points), n), np.full(len(points), n)
    for i in range(n):
        first = np.where((first == n - i) & good[:, n - i - 1] & steady[:, n - i - 1], n - i - 1, first)
        last = np.where((last == n + i) & good[:, n + i + 1] & steady[:, n + i], n + i + 1, last)
    rows = np.arange(len(points))
    usable = good[:, n]
    lo, hi = np.where(usable, v[first], 0.0), np.where(usable, v[last], 0.0)
    return lo, hi, np.column_stack([rise[rows, first] + top, rise[rows, last] + top])
