"""Posts for a whole weak spot: one under the lowest point of everything small that hangs by itself. Bed frame, mm."""

from __future__ import annotations

from typing import Final

import numpy as np

from core.design.post import Post, post_at
from core.design.setup import PrintSetup
from core.design.surface_lines import undersides
from core.design.wall import WallWishes
from core.design.wall_line import Spot
from core.errors import SnapcombError, SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Mesh
from core.geometry.regions import Region, united

#: What hangs is looked at so far beyond its outline, mm: a layer of it is drawn a little smaller than it is.
AROUND: Final = 0.3
#: Spacing of the points at which the underside is felt, how far below the spot's height it may still lie, and how much
#: higher than the lowest a point may be to belong to a flat bottom, mm.
FINE, BELOW, FLAT = 0.1, 0.6, 0.02


def is_small(spot: Spot, setup: PrintSetup) -> bool:
    """Whether everything that hangs in a spot is no longer than a bridge, so that a post below each will do."""
    return all(_size(part) <= setup.clear_bridge for part in _parts(spot))


def posts_for_spot(mesh: Mesh, spot: Spot, setup: PrintSetup, wishes: WallWishes | None = None) -> list[Post]:
    """A post under the lowest point of each part of a small spot of ``mesh`` (bed mm).

    Raises SpanProblem when none can stand, with the reason of the last.
    """
    out: list[Post] = []
    problem: SnapcombError = SpanProblem("Nothing hangs here.", "Pick a point on an underside.")
    for part in _parts(spot):
        try:
            out.append(post_at(mesh, _lowest(mesh, part, spot.z), setup, wishes))
        except SnapcombError as refused:
            problem = refused
    if not out:
        raise problem
    return out


def _lowest(mesh: Mesh, part: Region, z: float) -> F64:
    """The lowest point (3,) of the underside near the height ``z`` over a part. Raises SpanProblem for none."""
    x0, y0, x1, y1 = part.bounds
    x, y = (np.linspace(a, b, max(int((b - a) / FINE), 3)) for a, b in ((x0, x1), (y0, y1)))
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    points = points[part.contains(points)]
    columns = Columns.over(mesh, np.array([x0 - 0.5, y0 - 0.5]), np.array([x1 + 0.5, y1 + 0.5]))
    height = undersides(columns, points, np.full(len(points), z))
    height[height < z - BELOW] = np.nan
    if not np.isfinite(height).any():
        raise SpanProblem("Nothing hangs over this place.", "Pick a point on an underside.")
    low = np.nanmin(height)
    bottom = np.flatnonzero(np.nan_to_num(height, nan=np.inf) <= low + FLAT)
    best = bottom[np.argmin(((points[bottom] - points[bottom].mean(axis=0)) ** 2).sum(axis=1))]
    return np.array([*points[best], float(height[best])])


def _parts(spot: Spot) -> list[Region]:
    """Where posts are wanted: what begins in mid-air or, where nothing does, all that hangs; in connected parts."""
    begins = [p.region for p in spot.pieces if p.kind == "island"]
    regions = begins or [p.region for p in spot.pieces]
    return united([r.grown(AROUND) for r in regions]).components()


def _size(part: Region) -> float:
    x0, y0, x1, y1 = part.bounds
    return float(np.hypot(x1 - x0, y1 - y0)) - 2 * AROUND
