"""Walls side by side below a wide underside: in the direction that needs the fewest, and a ring about every hole.

Bed frame, mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from core.design.plan import automatic_tip
from core.design.setup import PrintSetup
from core.design.wall import LEAST_BRACED, WallWishes, wall_lines
from core.design.wall_axis import INSET, LEAST_RUN
from core.design.wall_line import MARGIN, Spot, WallLine, area_row, on_underside, rim_points, ring_room, wished
from core.design.wall_steep import bladed, climb_way
from core.geometry.mesh import F64, Bool, Mesh
from core.geometry.parallel import cut
from core.geometry.polyline import Polyline
from core.geometry.regions import Region

# Lengths in mm; from memory unless a source is named.
#: A rim of the underside is held where the part below lies this near to it.
HELD_WITHIN: Final = 0.5
#: A line at a rim is laid this far inside it, so that it meets the underside for sure.
NUDGE: Final = 0.03
#: Air left between the feet of neighbouring walls, half on either side, and between the teeth around a hole and others.
SHARED, HOLE_AIR = 0.1, 0.45
#: A stretch of rim belongs to a side when its outward normal is within about 78° of it: round corners belong to it.
RIM_COSINE: Final = 0.2
#: Directions tried besides those of the outline, over a half turn.
DIRECTIONS: Final = 12

#: Whether plan points (n, 2) lie where the part below holds the underside.
Held = Callable[[F64], Bool]


@dataclass(frozen=True, eq=False)
class _Fan:
    """Walls along one direction: ``way`` (2,) along them, ``rims`` whether the underside hangs free at its low and high
    side across, ``inner`` places across of the walls between."""

    way: F64
    rims: tuple[bool, bool]
    inner: tuple[float, ...]
    apart: float

    @property
    def count(self) -> int:
        """How many walls stand side by side."""
        return sum(self.rims) + len(self.inner)


def side_by_side(
    mesh: Mesh, spot: Spot, region: Region, under: Region, setup: PrintSetup, wishes: WallWishes
) -> list[WallLine]:
    """Walls side by side, in the direction that needs the fewest, with a ring around every hole."""

    def held(points: F64) -> Bool:
        return np.asarray(under.distance(points) <= HELD_WITHIN)

    rim = rim_points(region)
    is_held = held(rim)
    climb = climb_way(spot)
    if climb is None:
        straight, slanting = _directions(spot, region)
        best = _best([_fan(way, rim, is_held, setup) for way in straight], rim, is_held)
        other = _best([_fan(way, rim, is_held, setup) for way in slanting], rim, is_held)
        best = other if other.count < best.count else best
    else:
        best = _fan(climb, rim, is_held, setup)
    thickness = wall_lines(wishes, setup, math.inf, braced=False) * setup.line_width
    room = max((best.apart - thickness) / 2 - SHARED, 0.0) if best.count > 1 else None
    rims = [sign for sign, free in zip((-1.0, 1.0), best.rims, strict=True) if free]
    edges = [line for sign in rims for line in _rim_lines(mesh, spot, region, best.way, held, sign)]
    room_left = _between(region, edges, setup)
    lines = [line for v in best.inner for line in _lines_at(mesh, spot, room_left, best.way, v)]
    kept = [
        *(wished(line, True, setup, wishes, room) for line in edges),
        *(wished(line, False, setup, wishes, room) for line in lines),
    ]
    return [
        *(kept if climb is None else [bladed(line, setup) for line in kept]),
        *_around_holes(mesh, spot, region, held, setup, wishes),
    ]


def _best(fans: list[_Fan], rim: F64, held: Bool) -> _Fan:
    return min(fans, key=lambda f: (f.count, -_free_first(f, rim, held)))


def _directions(spot: Spot, region: Region) -> tuple[F64, F64]:
    """Unit directions (d, 2): those of the spot's path and of the tightest box, then a fan of others.

    Walls across the lie of an underside would meet it at ever other heights, so they must save something.
    """
    chord = spot.path.array[-1, :2] - spot.path.array[0, :2]
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(region.shape))
    sides = [box[1] - box[0], box[2] - box[1]] if len(box) > 2 else []
    base = [w for w in (chord, *sides) if np.linalg.norm(w) > 1e-6] or [np.array([1.0, 0.0])]
    first = math.atan2(base[0][1], base[0][0])
    angle = [math.atan2(w[1], w[0]) for w in base] + [first + math.pi / 2]
    fan = [first + math.pi * i / DIRECTIONS for i in range(1, DIRECTIONS)]
    return np.column_stack([np.cos(angle), np.sin(angle)]), np.column_stack([np.cos(fan), np.sin(fan)])


def _fan(way: F64, rim: F64, held: Bool, setup: PrintSetup) -> _Fan:
    """Where walls along ``way`` must stand: at the rims that hang free, and between them as the clear bridge asks."""
    tooth = automatic_tip(setup)
    v = rim @ np.array([-way[1], way[0]])
    low, high = float(v.min()), float(v.max())
    free = [not bool(held[np.abs(v - end) < 0.5].mean() > 0.5) for end in (low, high)]
    edge = INSET + tooth
    a, b = (low + edge if free[0] else low), (high - edge if free[1] else high)
    between = max(0, math.ceil((b - a - setup.clear_bridge) / (setup.clear_bridge + tooth) - 1e-9))
    clear = (b - a - between * tooth) / (between + 1)
    inner = tuple(a + (k + 1) * clear + (k + 0.5) * tooth for k in range(between))
    return _Fan(way, (free[0], free[1]), inner, clear + tooth)


def _free_first(fan: _Fan, rim: F64, held: Bool) -> float:
    """How much of the free rim lies along the walls of a fan: of two with as many walls the better follows the edge."""
    step = np.roll(rim, -1, axis=0) - rim
    size = np.linalg.norm(step, axis=1)
    good = ~held & (size < 1.0) & (size > 1e-9)
    return float((np.abs(step @ fan.way)[good] ** 2 / size[good]).sum()) if good.any() else 0.0


def _rim_lines(mesh: Mesh, spot: Spot, region: Region, way: F64, held: Held, sign: float) -> list[Polyline]:
    """The stretches of the free outline that look to one side and run rather along ``way`` than across it."""
    square = np.array([-way[1], way[0]]) * sign
    out = []
    for ring in region.grown(-NUDGE).outlines:
        if not shapely.LinearRing(ring).is_ccw:
            continue
        line = Polyline.of(np.column_stack([ring, np.full(len(ring), spot.z)]), True)
        s = np.arange(0.0, line.length, 0.25)
        step = line.directions(s)[:, :2]
        outward = np.column_stack([step[:, 1], -step[:, 0]])
        good = (outward @ square > RIM_COSINE) & ~held(line.at(s)[:, :2])
        out += [found for a, b in _round_runs(good) if (found := _stretch(mesh, line, 0.25 * a, 0.25 * b))]
    return out


def _round_runs(good: Bool) -> list[tuple[int, int]]:
    """Runs (first, last) of True around a ring, last beyond its length where one goes over the start."""
    if good.all() or not good.any():
        return []
    shift = int(np.argmin(good))
    ends = np.flatnonzero(np.diff(np.r_[0, np.roll(good, -shift).astype(np.int8), 0])).reshape(-1, 2)
    return [(int(a) + shift, int(b) - 1 + shift) for a, b in ends]


def _stretch(mesh: Mesh, ring: Polyline, start: float, stop: float) -> Polyline | None:
    """A stretch of an outline laid onto the underside; None for one that carries no tooth."""
    return on_underside(mesh, cut(ring, start, stop).array) if stop - start >= LEAST_RUN else None


def _lines_at(mesh: Mesh, spot: Spot, region: Region, way: F64, v: float) -> list[Polyline]:
    """The line at ``v`` across, clipped to what hangs and laid onto the underside."""
    square = np.array([-way[1], way[0]])
    if region.empty:
        return []
    u = np.concatenate(region.outlines) @ way
    ray = shapely.LineString([square * v + way * (u.min() - 1.0), square * v + way * (u.max() + 1.0)])
    out = []
    for part in shapely.get_parts(shapely.intersection(ray, region.shape)):
        if part.length >= LEAST_RUN:
            ends = shapely.get_coordinates(part)
            line = on_underside(mesh, np.column_stack([ends, np.full(len(ends), spot.z)]))
            out += [line] if line is not None else []
    return out


def _between(region: Region, edges: list[Polyline], setup: PrintSetup) -> Region:
    """What hangs, without the surroundings of rims and holes that get teeth of their own."""
    out = region.grown(-MARGIN)
    away = INSET + 1.5 * automatic_tip(setup) + HOLE_AIR
    for line in edges:
        out = out - Region.of(shapely.buffer(shapely.LineString(line.array[:, :2]), away, cap_style="flat"))
    for ring in region.outlines:
        hole = Region.filled([ring[::-1]])
        if not shapely.LinearRing(ring).is_ccw and not hole.grown(-setup.free_overhang).empty:
            out = out - hole.grown(away)
    return out


def _around_holes(
    mesh: Mesh, spot: Spot, region: Region, held: Held, setup: PrintSetup, wishes: WallWishes
) -> list[WallLine]:
    """Rings of wall around the holes of an underside: strands that end at the rim of a hole end in the air."""
    out = []
    for ring in region.grown(-NUDGE).outlines:
        hole = shapely.LinearRing(ring)
        small = Region.filled([ring[::-1]]).grown(-setup.free_overhang).empty if not hole.is_ccw else True
        if hole.is_ccw or small or held(ring).any():
            continue
        line = on_underside(mesh, np.column_stack([ring, np.full(len(ring), spot.z)]), closed=True)
        if line is not None:
            braced = max(2, math.ceil(LEAST_BRACED / setup.line_width - 1e-6))
            wall = replace(wishes, lines=wishes.lines or braced, room=ring_room(setup))
            out.append(WallLine(line, wall, area_row(line, "flush", setup)))
    return out
