"""The solid of a planned wall: sheet, foot flange and ribs in one body, cut back from the part where it comes too near.

Bed frame, mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.ops import substring

from core.design.wall import Rib, WallPlan
from core.design.wall_sheet import Sheet, Stretch, faces, sheet_mesh
from core.errors import MeshProblem
from core.geometry.mesh import F64, I64, Bool, Mesh, joined
from core.geometry.prisms import body_of, less_slabs, prism, together
from core.geometry.regions import EMPTY, Region, united
from core.geometry.slicing import slice_layers

#: Height of the slabs in which a wall is cut back from the part, mm: a usual layer.
SLAB: Final = 0.2
#: Added to the clearance so that rounding and thinned outlines don't eat into it, mm.
MARGIN: Final = 0.03
#: How far a layer may reach beyond the one below where something was cut away, mm: one slab at 44° from vertical.
ADVANCE: Final = SLAB * math.tan(math.radians(44.0))
#: A smaller area of a slab is not cut away, mm²; and cutters reach this far beyond their slab, so that no film is left.
LEAST_LOSS, FILM = 1e-4, 1e-3
#: Points at which the top of a wall is looked at along a triangle above it.
_ALONG: Final = 9
#: How far a rib reaches into the wall, so that the two are one body, mm.
INTO: Final = 0.2


def wall_solid(mesh: Mesh, plan: WallPlan) -> Mesh:
    """The wall as one closed, outward body, bed mm. ``mesh`` is the part (bed mm) that it must keep clear of.

    Raises MeshProblem when nothing of the wall is left beside the part.
    """
    flange = foot_region(plan)
    bodies = _bodies(plan, flange)
    whole = together(bodies) if len(bodies) > 1 else bodies[0]
    near = _near(mesh, plan, flange)
    return whole if not len(near) else _cut_back(mesh, plan, whole, near)


def wall_sketch(plan: WallPlan) -> Mesh:
    """The wall for a quick look, bed mm: its bodies beside each other, neither united nor cut back from the part."""
    return joined(_bodies(plan, foot_region(plan)))


def _bodies(plan: WallPlan, flange: Region) -> list[Mesh]:
    """Sheet, ribs and foot flange, each a closed body."""
    foot = [] if flange.empty else [prism(flange, 0.0, plan.foot_height)]
    return [sheet_mesh(unrolled(plan)), *(_rib(plan, rib) for rib in plan.ribs), *foot]


def unrolled(plan: WallPlan) -> Sheet:
    """The wall's face without foot and ribs."""
    points = plan.axis.array[:, :2]
    left, right = faces(points, plan.thickness, plan.closed)
    return Sheet(left, right, [_column(plan, i) for i in range(len(plan.s) - 1)], plan.closed)


def _column(plan: WallPlan, i: int) -> list[Stretch]:
    """The material between two stations, from the lowest up."""
    a, b = float(plan.s[i]), float(plan.s[i + 1])
    middle = (a + b) / 2
    out, low = [], (float(plan.bottom[i]), float(plan.bottom[i + 1]))
    for w in sorted((*plan.windows, *plan.breaks), key=lambda w: w.low):
        if not w.start < middle < w.stop:
            continue
        gable = [w.start, (w.start + w.stop) / 2, w.stop]
        high = [float(np.interp(s, gable, [w.side, w.apex, w.side])) for s in (a, b)]
        out.append((*low, w.low, w.low))
        low = (high[0], high[1])
    out.append((*low, float(plan.top[i]), float(plan.top[i + 1])))
    return [(a0, b0, a1, b1) for a0, b0, a1, b1 in ((s[0], s[2], s[1], s[3]) for s in out)]


def foot_region(plan: WallPlan) -> Region:
    """The flange in plan: where the wall stands on the bed, without the break lines."""
    if plan.foot_width <= 0 or plan.foot_height <= 0:
        return EMPTY
    ring = plan.axis.ring[:, :2]
    on_bed = (plan.bottom[:-1] <= 0) & (plan.bottom[1:] <= 0)
    if not on_bed.any():
        return EMPTY
    ends = np.flatnonzero(np.diff(np.r_[0, on_bed.astype(np.int8), 0])).reshape(-1, 2)
    lines = shapely.MultiLineString([ring[a : b + 1] for a, b in ends])
    wide = Region.of(shapely.buffer(lines, plan.thickness / 2 + plan.foot_width, cap_style="square"))
    for slit in plan.breaks:
        point, way = plan.axis.at((slit.start + slit.stop) / 2)[0, :2], plan.axis.directions([slit.start])[0, :2]
        for side in (1, -1):
            wide = wide - _slot(plan, point, way, side, (slit.stop - slit.start) / 2)
    return wide


def _slot(plan: WallPlan, point: F64, way: F64, side: int, half: float) -> Region:
    """A cut across the flange beside the wall."""
    left = np.array([-way[1], way[0]]) * side
    near, far = plan.thickness / 2, plan.thickness / 2 + plan.foot_width + 1.0
    corners = [point + u * half * way + v * left for u, v in ((-1, near), (1, near), (1, far), (-1, far))]
    return Region.filled([np.array(corners)[::side]])


def _rib(plan: WallPlan, rib: Rib) -> Mesh:
    """A three-sided brace square to the wall."""
    point, way = plan.axis.at(rib.at)[0, :2], plan.axis.directions([rib.at])[0, :2]
    out = np.array([-way[1], way[0]]) * rib.way
    inner, face = plan.thickness / 2 - INTO, plan.thickness / 2
    high = rib.height * (1 + INTO / rib.depth)
    profile = [(inner, 0.0), (face + rib.depth, 0.0), (inner, min(high, rib.height + 1.0))]
    corners = np.array([[*(point + v * out + u * rib.thickness / 2 * way), z] for u in (-1, 1) for v, z in profile])
    return _wedge(corners, rib.way)


def _wedge(corners: F64, way: int) -> Mesh:
    """Six corners, two triangles one behind the other, as a closed outward mesh."""
    sides = [(0, 1, 2), (3, 5, 4), (0, 3, 4), (0, 4, 1), (1, 4, 5), (1, 5, 2), (2, 5, 3), (2, 3, 0)]
    mesh = Mesh(corners, np.array(sides, np.int32))
    return mesh if mesh.volume > 0 else Mesh(corners, np.array(sides, np.int32)[:, ::-1])


def _near(mesh: Mesh, plan: WallPlan, flange: Region) -> I64:
    """Triangles of the part that may come nearer to the wall than its clearance."""
    reach = plan.clearance + MARGIN
    top = float(plan.top.max()) + reach
    line = shapely.LineString(plan.axis.ring[:, :2])
    out = max([plan.thickness / 2, *(plan.thickness / 2 + r.depth for r in plan.ribs)])
    low, high = _box(line, max(out, plan.thickness / 2 + plan.foot_width) + reach)
    inside = _over_box(mesh, low, high, top)
    if not len(inside):
        return inside
    corners = mesh.vertices[mesh.triangles[inside]]
    shapes = shapely.convex_hull(shapely.multipoints(corners[:, :, :2]))
    near = shapely.distance(line, shapes) <= out + reach
    if not flange.empty:
        low_ones = corners[:, :, 2].min(axis=1) <= plan.foot_height + reach
        near |= low_ones & (shapely.distance(flange.shape, shapes) <= reach)
    return np.asarray(inside[near & ~_above_wall(plan, line, corners, reach)])


def _box(line: shapely.LineString, by: float) -> tuple[F64, F64]:
    x0, y0, x1, y1 = line.bounds
    return np.array([x0 - by, y0 - by]), np.array([x1 + by, y1 + by])


def _over_box(mesh: Mesh, low: F64, high: F64, top: float) -> I64:
    """Triangles whose plan box meets ``low``..``high`` and that reach down below ``top``."""
    points = mesh.vertices
    code = (points[:, 0] < low[0]).astype(np.uint8) | ((points[:, 0] > high[0]) << 1)
    code |= ((points[:, 1] < low[1]) << 2) | ((points[:, 1] > high[1]) << 3) | ((points[:, 2] > top) << 4)
    tri = mesh.triangles
    return np.asarray(np.flatnonzero((code[tri[:, 0]] & code[tri[:, 1]] & code[tri[:, 2]]) == 0))


def _above_wall(plan: WallPlan, line: shapely.LineString, corners: F64, reach: float) -> Bool:
    """Triangles that lie wholly higher than the wall's top beside them, by the clearance at least."""
    lowest = corners[:, :, 2].min(axis=1)
    highest = float(plan.top.max())
    if np.ptp(plan.top) < 0.01:
        return np.asarray(lowest >= highest + reach)
    s = shapely.line_locate_point(line, shapely.points(corners[:, :, :2]))
    low, high = s.min(axis=1) - reach, s.max(axis=1) + reach
    along = np.interp(low[:, None] + (high - low)[:, None] * np.linspace(0, 1, _ALONG), plan.s, plan.top).max(axis=1)
    return np.asarray(lowest >= np.where(high - low < plan.length / 4, along, highest) + reach)


def _cut_back(mesh: Mesh, plan: WallPlan, whole: Mesh, near: I64) -> Mesh:
    """The wall less the part grown by the clearance, slab by slab, and less what would then hang in the air."""
    z = mesh.vertices[mesh.triangles[near], 2]
    reach = plan.clearance + MARGIN
    top = float(whole.bounds[1, 2])
    first = max(int((z.min() - reach) / SLAB) - 1, 0)
    last = min(math.ceil(min(float(z.max()) + reach, top) / SLAB) + 1, math.ceil(top / SLAB))
    feet = _feet_region(plan)
    part = [r - feet for r in _grown(mesh, plan, whole, first, last, reach)]
    solid = slice_layers(whole, (np.arange(first, math.ceil(top / SLAB)) + 0.5) * SLAB, tolerance=0.0).regions
    slabs = _cutters(solid, part, first)
    out = body_of(less_slabs(whole, slabs)) if slabs else whole
    if not len(out.triangles):
        raise MeshProblem("Nothing is left of the wall beside the part.", "Choose another edge, or less clearance.")
    return out


def _cutters(solid: Sequence[Region], part: list[Region], first: int) -> list[tuple[Region, float, float]]:
    """What to take away of each slab of a wall, (region, low, high): the grown ``part``, and what would hang in the air
    because of what was taken away below. ``solid`` are sections of the wall from slab ``first`` up."""
    slabs: list[tuple[Region, float, float]] = []
    below, gone = EMPTY, EMPTY
    for i, region in enumerate(solid):
        away = part[i] if i < len(part) else EMPTY
        if not gone.empty:
            away = away | (gone.grown(2 * ADVANCE, 0.01) - below.grown(ADVANCE, 0.01))
        lost = region & away
        gone = lost.simplified(0.005) if lost.area > LEAST_LOSS else EMPTY
        below = region - away
        if not away.empty and _comes_near(solid, i, away):
            _stack(slabs, away, (first + i) * SLAB - FILM, (first + i + 1) * SLAB + FILM)
    return slabs


def _comes_near(solid: Sequence[Region], i: int, away: Region) -> bool:
    """Whether a cutter meets the wall in its slab or in one beside it: between their sections the wall changes."""
    return any(not (r & away).empty for r in solid[max(i - 1, 0) : i + 2])


def _stack(slabs: list[tuple[Region, float, float]], region: Region, low: float, high: float) -> None:
    """Put a slab on the pile; one like the slab below it makes that one higher."""
    last, start, stop = slabs[-1] if slabs else (EMPTY, 0.0, -1.0)
    touching = abs(stop - low) < 3 * FILM and np.allclose(last.bounds, region.bounds, atol=1e-5)
    if touching and (last - region).area + (region - last).area < LEAST_LOSS:
        slabs[-1] = (last, start, high)
    else:
        slabs.append((region, low, high))


def _feet_region(plan: WallPlan) -> Region:
    """Where the wall may touch the part below: its feet in plan, with the arches beside them."""
    if not plan.feet:
        return EMPTY
    ring = shapely.LineString(plan.axis.ring[:, :2])
    lines = [substring(ring, f.start - 0.6, f.stop + 0.6) for f in plan.feet]
    return united([Region.of(shapely.buffer(line, plan.thickness / 2 + 0.01, cap_style="flat")) for line in lines])


def _grown(mesh: Mesh, plan: WallPlan, whole: Mesh, first: int, last: int, reach: float) -> list[Region]:
    """For every slab what is nearer to the part than ``reach``, a little too much rather than too little.

    A section ``d`` above or below a slab keeps a circle of √(reach² − d²) from it.
    """
    around = math.ceil(reach / SLAB) + 1
    ids = np.arange(first - around, last + around)
    heights = (ids + 0.5) * SLAB
    inside = heights < float(mesh.bounds[1, 2])
    low, high = whole.bounds[0, :2] - reach - 0.5, whole.bounds[1, :2] + reach + 0.5
    cuts = slice_layers(mesh, heights[inside]).regions
    near = [r.within(low, high) for r in cuts]
    out = []
    for k in range(first, last):
        some = []
        for i, region in zip(ids[inside], near, strict=True):
            d = max(abs(int(i) - k) - 1, 0) * SLAB
            if d < reach and not region.empty:
                some.append(region.grown(math.sqrt(reach**2 - d**2), 0.01))
        out.append(united(some) if some else EMPTY)
    return out
