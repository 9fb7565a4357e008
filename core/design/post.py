"""A single post under a single point: shaft, foot and a tip that breaks away. Bed frame, mm."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from core.design.plan import SINK_PART_LAYERS, automatic_tip
from core.design.setup import PrintSetup
from core.design.span import local_mesh
from core.design.tooth import KINK
from core.design.wall import (
    LEAST_HEIGHT,
    SLENDER_NOTE,
    Base,
    WallWishes,
    gable_slope,
    wall_clearance,
    wall_foot,
    wall_gap,
)
from core.design.wall_layout import FOOT_SINK
from core.design.wall_look import ON_BED
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Mesh

#: Least diameter of a shaft, on the bed and for a short one on the part, mm; from memory.
LEAST_SHAFT, LEAST_ON_PART = 3.0, 2.0
#: Corners of every ring of a post.
SIDES: Final = 24
#: How far above or below the picked point the underside is looked for, mm.
NEAR: Final = 2.0
#: How far around a point the part matters, mm: the widest foot, its clearance and a little.
AROUND: Final = 15.0
#: Steps in which the room around a post is felt, mm.
_STEP: Final = 0.25


@dataclass(frozen=True, eq=False)
class Post:
    """A planned post: the point ``at`` (3,) that it holds, mm; ``floor`` is what it stands on.

    ``rings`` (k, 2) are heights and radii from the bottom up, mm. ``solid`` is its closed, outward body.
    """

    at: F64
    floor: float
    base: Base
    shaft: float
    tip: float
    gap: float
    rings: F64
    solid: Mesh

    @property
    def height(self) -> float:
        """From what it stands on to the point, mm."""
        return float(self.at[2]) - self.floor


def post_at(mesh: Mesh, point: ArrayLike, setup: PrintSetup, wishes: WallWishes | None = None) -> Post:
    """A post on ``mesh`` (bed mm) under the underside at a picked ``point`` (3,), bed mm.

    Raises SpanProblem when nothing hangs there or something stands in the way, PlanRefused for a wish that cannot be
    kept.
    """
    wanted = wishes or WallWishes()
    picked = np.asarray(point, np.float64).reshape(3)
    gap, clearance = wall_gap(wanted, setup), wall_clearance(wanted)
    box = picked[:2] - AROUND, picked[:2] + AROUND
    columns = Columns.over(local_mesh(mesh, np.eye(4), *box), *box)
    under, floor = _above_and_below(columns, picked, gap)
    height = under - floor
    shaft = max(LEAST_SHAFT if floor <= ON_BED else LEAST_ON_PART, (height - gap) / SLENDER_NOTE)
    rise = 0.0 if floor <= ON_BED else gable_slope(setup)
    room = _room(columns, picked[:2], floor, under - gap, rise, clearance) - clearance
    if room < shaft / 2 or height - gap < LEAST_HEIGHT:
        raise SpanProblem("There is no room for a post here.", "Pick a point farther from what stands beside it.")
    tip = automatic_tip(setup)
    width, high = wall_foot(wanted, setup, height, shaft, straight=True)
    foot = min(shaft / 2 + width, room)
    rings = _rings(floor, under, gap, shaft / 2, tip / 2, (foot, high), setup)
    at = np.array([picked[0], picked[1], under])
    return Post(at, floor, "bed" if floor <= ON_BED else "part", shaft, tip, gap, rings, turned(rings, picked[:2]))


def _above_and_below(columns: Columns, point: F64, gap: float) -> tuple[float, float]:
    """The underside nearest to a point, and the floor of the air below it; the bed where there is none."""
    _, floor, ceiling = columns.air(point[None, :2])
    good = np.isfinite(ceiling) & (np.abs(ceiling - point[2]) <= NEAR) & (ceiling - np.maximum(floor, 0.0) > gap)
    if not good.any():
        raise SpanProblem("Nothing hangs over this point.", "Pick a point on an underside.")
    best = np.flatnonzero(good)[int(np.argmin(np.abs(ceiling[good] - point[2])))]
    low = float(floor[best])
    return float(ceiling[best]), low if low > ON_BED else 0.0


def _room(columns: Columns, centre: F64, floor: float, top: float, rise: float, clearance: float) -> float:
    """Radius (mm) within which nothing stands higher than the floor, or hangs lower than the top.

    A post on the part stands on a point and widens upward with ``rise``, so the part may rise beside it as long as it
    keeps its ``clearance`` from the cone.
    """
    angle = 2 * np.pi * np.arange(SIDES) / SIDES
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    radii = np.arange(_STEP, 12.0, _STEP)
    points = (centre + radii[:, None, None] * way).reshape(-1, 2)
    low, high = columns.air_around(points, (floor + top) / 2)
    cone = np.repeat(np.maximum(radii - 1.5 * clearance, 0.0) * rise, SIDES)
    free = np.nan_to_num(low, nan=np.inf) <= floor + cone + ON_BED
    free &= np.nan_to_num(high, nan=-np.inf) >= top - ON_BED
    ok = free.reshape(len(radii), -1).all(axis=1)
    count = len(radii) if ok.all() else int(np.argmin(ok))
    return float(radii[count - 1]) if count else 0.0


def _rings(
    floor: float, under: float, gap: float, shaft: float, tip: float, foot: tuple[float, float], setup: PrintSetup
) -> F64:
    """Heights and radii from the bottom up: a flange on the bed or a point on the part, the shaft, the tip."""
    top = under - gap
    if floor <= ON_BED:
        rows = [(0.0, foot[0]), (foot[1], foot[0]), (foot[1], shaft)]
    else:
        rise = (shaft - tip) * gable_slope(setup)
        rows = [(floor - FOOT_SINK, tip), (floor, tip), (floor + rise, shaft)]
    sink = SINK_PART_LAYERS * setup.layer_height
    if setup.air_layers:
        end = under - setup.air_layers * setup.layer_height
        return np.array([*rows, (top, shaft), (end, tip)])
    return np.array([*rows, (top, shaft), (under + KINK, tip), (under + sink, tip)])


def turned(rings: F64, centre: F64) -> Mesh:
    """The closed, outward body of revolution through ``rings`` (k, 2), heights and radii (mm) from the bottom up."""
    angle = 2 * math.pi * np.arange(SIDES) / SIDES
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    points = [np.column_stack([centre + r * circle, np.full(SIDES, z)]) for z, r in rings]
    ends = [[*centre, rings[0, 0]], [*centre, rings[-1, 0]]]
    i, j = np.arange(SIDES), (np.arange(SIDES) + 1) % SIDES
    quads = [(a + i, a + j, a + SIDES + j, a + SIDES + i) for a in SIDES * np.arange(len(rings) - 1)]
    sides = [np.column_stack(t) for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    low, high = SIDES * len(rings), SIDES * len(rings) + 1
    last = SIDES * (len(rings) - 1)
    caps = [np.column_stack([np.full(SIDES, low), j, i]), np.column_stack([np.full(SIDES, high), last + i, last + j])]
    return Mesh(np.vstack([*points, np.array(ends)]), np.concatenate([*sides, *caps]).astype(np.int32))
