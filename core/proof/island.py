"""An island that a row alone carries: it tips over while it prints when its weight lies beside the tips."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
import shapely

from core.design.plan import RowPlan
from core.geometry.mesh import F64
from core.proof.case import MEMORY, Case
from core.proof.findings import Finding
from core.proof.near import Near, Window, sections_in

#: An island that reaches farther than this from the row is too large to be seen whole, mm; from memory.
FARTHEST: Final = 25.0
#: A first layer that shares less than this with the layer below, grown by the advance, starts in mid-air, mm².
_LEAST_REST: Final = 0.05


class _Start(NamedTuple):
    """A window around a span, and the islands (in its frame) that start at the edge."""

    window: Window
    regions: tuple[shapely.Polygon, ...]


class Island(NamedTuple):
    """An island: its size (2,) along and across the row, how far its middle lies beside the tips (mm), and where."""

    size: tuple[float, float]
    beside: float
    tooth: int


def island_over(near: Near, plan: RowPlan) -> Island | None:
    """The island above an upright row whose middle lies farthest beside the tips; None when all lie over them."""
    start = _islands(near)
    if not start.regions:
        return None
    tips = _tips(near, plan, start.window)
    worst = None
    for part in start.regions:
        mine = np.flatnonzero(shapely.intersects(tips, part))
        if not len(mine):
            continue
        beside = float(shapely.convex_hull(shapely.union_all(tips[mine])).distance(part.centroid))
        if beside > 0 and (worst is None or beside > worst.beside):
            x0, y0, x1, y1 = part.bounds
            worst = Island((y1 - y0, x1 - x0), beside, int(mine[len(mine) // 2]))
    return worst


@lru_cache(maxsize=6)
def _islands(near: Near) -> _Start:
    """The islands at the edge of a span: whole within reach, and resting on nothing of the layer below.

    The plan has no say in it, so they are found once. A sloping edge starts in many layers and is not judged.
    """
    window = Window.around(np.concatenate([near.sides("edge"), near.sides("ledge")])[:, :2], FARTHEST)
    edge, reach = near.sides("edge")[:, 2], float(near.span.stations.reach.max())
    if near.span.direction == "side" or float(np.ptp(edge)) > near.setup.layer_height:
        return _Start(window, ())
    heights = np.array(_either_side(near, float(edge.min()), float(edge.max()) + reach))
    below, above = (s.shape for s in sections_in(near.mesh, window, heights))
    rest = shapely.buffer(below, near.setup.advance)
    out = []
    for part in shapely.get_parts(above):
        reaches = np.abs(np.array(part.bounds)).reshape(2, 2).max(axis=0)
        if (reaches < window.half - 1e-3).all() and part.intersection(rest).area <= _LEAST_REST:
            out.append(part)
    return _Start(window, tuple(out))


def _either_side(near: Near, low: float, high: float) -> tuple[float, float]:
    """Middles of the last layer below and of the first one above an edge between two heights, bed mm."""
    heights = near.layers[1]
    under = heights[heights < low]
    over = heights[heights > high]
    return float(under[-1] if len(under) else heights[0]), float(over[0] if len(over) else heights[-1])


def _tips(near: Near, plan: RowPlan, window: Window) -> F64:
    """The tips in plan, (n,) rectangles in the frame of ``window``."""
    at, half = near.span.at(plan.centres), plan.tip / 2
    along = np.column_stack([-at.across[:, 1], at.across[:, 0]])
    corners = []
    for u, v in ((-half, 0), (half, 0), (half, 1), (-half, 1)):
        points = at.axis + u * along + at.across * plan.across_range[:, [v]]
        corners.append(window.into(near.span.bed_points(np.column_stack([points, at.edge.min(axis=1)])))[:, :2])
    return np.asarray(shapely.polygons(np.stack(corners, axis=1)))


def on_an_island(case: Case) -> list[Finding]:
    """A finding when what the row carries tips over on it."""
    island = island_over(case.near, case.plan)
    if island is None:
        return []
    text = (
        f"What this row carries starts in mid-air, {island.size[0]:.1f} by {island.size[1]:.1f} mm, and its middle "
        f"lies {island.beside:.1f} mm beside the tips: it tips over while it prints. "
        "Add a row on its other side, or centre this one below it."
    )
    return [Finding("tips_over", "warn", text, island.beside, 0.0, MEMORY, case.place(island.tooth))]
