"""Fins below a slope: upright walls that run the way the slope climbs, each meeting it along one thin blade.

Every layer of a slope reaches out a little farther than it may. Where a blade stands below, the layer above has
something to lie on, and its rim only has to bridge from blade to blade. Bed frame, mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from core.design.plan import SINK_PART_LAYERS, RowWishes, automatic_tip
from core.design.setup import PrintSetup
from core.design.wall import LEAST_FREE, WallWishes
from core.design.wall_line import Spot, WallLine, on_underside
from core.geometry.mesh import F64, Bool, Mesh
from core.geometry.polyline import Polyline
from core.geometry.regions import Region

# Lengths in mm; from memory unless a source is named.
#: Steps in which the upper border of a slope is followed, and how far beyond it nothing of it may lie.
STEP, BEYOND = 0.25, 0.15
#: Bridges along a rim are kept this much shorter than the longest: rims bend.
SPARE: Final = 0.3
#: An underside that rises over so many layers is curved; it climbs one way when its strips agree by this share.
CURVED_LAYERS, ONE_WAY = 4, 0.7
#: A fin is at least so long, for standing; what is more than the slope carries no blade.
LEAST_FIN: Final = 7.0
#: The longest blade, how far a blade may depart from a curved slope, and the least air between two of one fin.
BLADE, BENT, BLADE_AIR = 10.0, 0.45, 0.1
#: Air left at both ends of a blade's place.
END: Final = 0.1
#: The span above a fin may be this much shorter than its line.
SLACK: Final = 0.3
#: A blade begins so far before a slope and ends so far after it; below a curved underside it ends so far inside, for
#: what follows there has walls of its own, from which it must come off.
OVER, INWARD = 0.3, 0.7
#: Fins end this far inside an end of the slope.
INSIDE: Final = 0.05


def climb_way(spot: Spot) -> F64 | None:
    """The way in plan, unit (2,), in which a curved underside climbs; None for one that is flat or goes no one way.

    What hangs in each layer of it is a strip along a contour line: the climb is square to the strips.
    """
    if spot.layers[1] - spot.layers[0] < CURVED_LAYERS:
        return None
    total, weight = np.zeros(2), 0.0
    for piece in spot.pieces:
        box = shapely.minimum_rotated_rectangle(piece.region.shape)
        corners = shapely.get_coordinates(box)
        if len(corners) < 4:
            continue
        a, b = corners[1] - corners[0], corners[2] - corners[1]
        long, short = (a, b) if np.linalg.norm(a) >= np.linalg.norm(b) else (b, a)
        size = float(np.linalg.norm(long) - np.linalg.norm(short))
        twice = 2 * math.atan2(long[1], long[0])
        total += size * np.array([math.cos(twice), math.sin(twice)])
        weight += size
    if weight <= 0 or np.linalg.norm(total) < ONE_WAY * weight:
        return None
    along = math.atan2(total[1], total[0]) / 2
    return np.array([-math.sin(along), math.cos(along)])


def bladed(line: WallLine, setup: PrintSetup) -> WallLine:
    """A line below a curved underside with blades on its wall that follow it."""
    return replace(line, row=climbing_row(line.edge, line.row, setup), spare=0.0, climbs=True)


def climbing_row(edge: Polyline, like: RowWishes, setup: PrintSetup) -> RowWishes:
    """Blades along a wall that climbs with a curved underside, from INWARD to INWARD of its ends."""
    inward = min(INWARD, plan_length(edge) / 6)
    row = blade_row(edge, 2 * inward, setup)
    return replace(row, across=like.across, start=round(inward, 3), stop=round(inward, 3))


@dataclass(frozen=True, eq=False)
class _Climb:
    """Where the slope ends above, (2,), and the way it came up, unit (2,), over ``run`` mm."""

    top: F64
    way: F64
    run: float


def fins_below(
    mesh: Mesh, spot: Spot, region: Region, under: Region, setup: PrintSetup, wishes: WallWishes
) -> list[WallLine]:
    """Lines for the fins that a slope needs, none where none can be laid.

    ``region`` is all that hangs, with what holds it; ``under`` the section of the part just below the lowest layer.
    """
    if under.empty:
        return []
    out = []
    for climb in _climbs(region, under, setup):
        line = _fin(mesh, spot, climb, setup, wishes)
        out += [line] if line is not None else []
    return out


def _climbs(region: Region, under: Region, setup: PrintSetup) -> list[_Climb]:
    """The places along the upper border at which a fin ends, as far apart as a rim may bridge."""
    apart = setup.clear_bridge - SPARE + automatic_tip(setup)
    out = []
    for ring in region.outlines:
        line = shapely.LinearRing(ring)
        count = max(int(line.length / STEP), 8)
        points = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(count) * line.length / count))
        foot = _nearest(under, points)
        away = points - foot
        run = np.linalg.norm(away, axis=1)
        way = away / np.maximum(run, 1e-9)[:, None]
        upper: Bool = (run > setup.advance) & ~region.contains(points + BEYOND * way) & region.contains(
            points - BEYOND * way
        )
        for chosen in _spread(upper, line.length / count, apart):
            out.append(_Climb(points[chosen], way[chosen], float(run[chosen])))
    return out


def _nearest(under: Region, points: F64) -> F64:
    """The nearest points (n, 2) of a region's border."""
    lines = shapely.shortest_line(under.border, shapely.points(points))
    return np.asarray(shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 0])


def _spread(good: Bool, step: float, apart: float) -> list[int]:
    """Indices round a ring, evenly over every run of True and no farther apart than ``apart`` mm."""
    if not good.any():
        return []
    count = len(good)
    if good.all():
        teeth = max(3, math.ceil(count * step / apart - 1e-9))
        return [round(k * count / teeth) % count for k in range(teeth)]
    shift = int(np.argmin(good))
    ends = np.flatnonzero(np.diff(np.r_[0, np.roll(good, -shift).astype(np.int8), 0])).reshape(-1, 2)
    inset = (LEAST_FREE / 2 + INSIDE) / step
    out: list[int] = []
    for a, b in ends:
        first, last = a + inset, b - 1 - inset
        if last <= first:
            places = [(a + b - 1) / 2]
        else:
            fins = math.ceil((last - first) * step / apart - 1e-9) + 1
            places = list(np.linspace(first, last, fins))
        out += [(round(x) + shift) % count for x in places]
    return out


def _fin(mesh: Mesh, spot: Spot, climb: _Climb, setup: PrintSetup, wishes: WallWishes) -> WallLine | None:
    """The line of one fin, from the foot of the slope upward, with one blade along it."""
    rise = (spot.layers[1] - spot.layers[0] + 1) * setup.layer_height
    before = OVER
    after = max(OVER, LEAST_FIN - climb.run - before)
    while after >= OVER:
        ends = np.array([climb.top - climb.way * (climb.run + before), climb.top + climb.way * after])
        steep = rise / max(climb.run, 1e-6)
        z = [spot.z - before * steep, spot.z + rise + after * steep]
        line = on_underside(mesh, np.column_stack([ends, z]))
        size = 0.0 if line is None else plan_length(line)
        if line is not None and size > 0.8 * (climb.run + before + after):
            spare = max(size - climb.run - before - OVER, 0.0)
            return WallLine(line, _wall(wishes), blade_row(line, spare, setup), spare)
        after -= 1.0
    return None


def _wall(wishes: WallWishes) -> WallWishes:
    return wishes if wishes.shift is not None else replace(wishes, shift=0.0)


def plan_length(line: Polyline) -> float:
    """Length of a line in plan, mm."""
    return float(np.linalg.norm(np.diff(line.array[:, :2], axis=0), axis=1).sum())


def blade_row(line: Polyline, spare: float, setup: PrintSetup) -> RowWishes:
    """One blade, or several end to end, along a line but for ``spare`` mm at its upper end."""
    length = plan_length(line) - spare - 2 * END
    count = max(1, math.ceil(length / BLADE - 1e-9))
    while count < 20 and _bend(line, length, length / count) > BENT:
        count += 1 if count == 1 else 2  # an even number meets in the middle, where a crown or a valley is flattest
    sink = SINK_PART_LAYERS * setup.layer_height + round(_bend(line, length, length / count), 2)
    tip = max((length - SLACK - (count - 1) * BLADE_AIR) / count, automatic_tip(setup))
    return RowWishes(
        teeth=count, tip=round(tip, 3), thickness=automatic_tip(setup), sink_part=round(sink, 2), end_clearance=END,
        across="centred", stop=round(spare, 3),
    )  # fmt: skip


def _bend(line: Polyline, whole: float, length: float) -> float:
    """How far the first ``whole`` mm of a line (in plan) depart from a chord over ``length`` mm, at most, mm."""
    points = line.array
    s = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points[:, :2], axis=0), axis=1))]
    half = length / 2
    middle = np.linspace(half, max(whole - half, half), 40)

    def height(x: F64) -> F64:
        return np.interp(x, s, points[:, 2])

    return float(np.abs((height(middle - half) + height(middle + half)) / 2 - height(middle)).max())
