"""Walls for a whole weak spot: one along its edge, or several side by side below a wide underside.

Bed frame, mm. A wide underside is bridged from wall to wall, so the walls stand no farther apart than the longest clear
bridge, and run in the direction in which the fewest of them do.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from core.design.plan import RowWishes, automatic_tip
from core.design.plan_wall import plan_all_on_look, served_edge
from core.design.setup import PrintSetup
from core.design.surface_lines import line_on_surface
from core.design.wall import LEAST_FREE, WallPlan, WallWishes
from core.design.wall_axis import INSET, parallel
from core.design.wall_fan import side_by_side
from core.design.wall_line import MARGIN, Spot, WallLine, area_row, ring_room, wished
from core.design.wall_look import look_for_wall
from core.errors import SnapcombError, SpanProblem
from core.geometry.mesh import Mesh
from core.geometry.polyline import Polyline
from core.geometry.regions import EMPTY, Region, united
from core.geometry.slicing import slice_layers


def plan_walls_for_spot(mesh: Mesh, spot: Spot, setup: PrintSetup, wishes: WallWishes | None = None) -> list[WallPlan]:
    """The walls that a weak spot of ``mesh`` (bed mm) needs, first the one along its free edge.

    Raises SpanProblem when none can stand.
    """
    return [plan for line in lines_for_spot(mesh, spot, setup, wishes) for plan in walls_on_line(mesh, line, setup)]


def walls_on_line(mesh: Mesh, line: WallLine, setup: PrintSetup) -> list[WallPlan]:
    """The walls on one line: more than one where something stands in between."""
    return plan_all_on_look(look_for_wall(mesh, line.edge), setup, line.wall)


def lines_for_spot(mesh: Mesh, spot: Spot, setup: PrintSetup, wishes: WallWishes | None = None) -> list[WallLine]:
    """The lines that need a wall each; every one of them can have one. Raises SpanProblem when none can."""
    wanted = wishes or WallWishes()
    under, underside = around_underside(mesh, spot, setup)
    region = Region.filled(list(spot.region)).grown(setup.advance + MARGIN) & underside
    if spot.kind == "slope" or _within(region, LEAST_FREE + setup.free_overhang):
        found = [WallLine(spot.path, wanted, RowWishes())]
    elif spot.path.closed:
        found = _around(mesh, spot, region, setup, wanted)
    elif spot.kind == "cantilever" and _within(region, INSET + automatic_tip(setup) + setup.clear_bridge):
        found = [WallLine(spot.path, wanted, area_row(spot.path, "flush", setup))]
    else:
        found = side_by_side(mesh, spot, region, under, setup, wanted)
    good = [piece for line in found for piece in _standing(mesh, line, setup)]
    if not good:
        raise SpanProblem(
            "There is no room for a wall below this weak spot.", "Pick the edge yourself, or turn the part."
        )
    return good


def _standing(mesh: Mesh, line: WallLine, setup: PrintSetup) -> list[WallLine]:
    """The line cut to the stretches on which a wall can really stand."""
    try:
        plans = walls_on_line(mesh, line, setup)
    except SnapcombError:
        return []
    edges = [served_edge(plan) for plan in plans]
    rows = [area_row(e, line.row.across or "flush", setup) if line.row.teeth else line.row for e in edges]
    return [replace(line, edge=e, row=row) for e, row in zip(edges, rows, strict=True)]


def around_underside(mesh: Mesh, spot: Spot, setup: PrintSetup) -> tuple[Region, Region]:
    """The part in plan just below a spot's underside, which may hold its rim, and just above it."""
    z, half = spot.z, setup.layer_height / 2
    low, high = slice_layers(mesh, [max(z - half, half / 2), z + half]).regions
    return (low if z > half else EMPTY), high


def _within(region: Region, width: float) -> bool:
    """Whether a region is nowhere wider than ``width`` (mm)."""
    return region.empty or region.grown(-width / 2).empty


def _around(mesh: Mesh, spot: Spot, region: Region, setup: PrintSetup, wishes: WallWishes) -> list[WallLine]:
    """Walls one within the other below a ring or a disc: along its closed edge, then parallels of that."""
    tooth = automatic_tip(setup)
    plan = Polyline.of(spot.path.array * [1, 1, 0], True)
    ring = shapely.Polygon(plan.array[:, :2])
    inward = 1.0 if region.shape.intersects(ring.buffer(-0.5)) and region.shape.intersection(ring).area > (
        0.5 * region.area) else -1.0  # fmt: skip
    side = inward if shapely.LinearRing(plan.array[:, :2]).is_ccw else -inward
    out = [WallLine(spot.path, replace(wishes, room=ring_room(setup)), area_row(spot.path, "flush", setup))]
    at = INSET + tooth
    left = region
    while True:
        reached = united([_band(ring, at + setup.clear_bridge, inward)])
        left = region - reached
        if left.grown(-0.3).empty:
            return out
        at += setup.clear_bridge + tooth / 2
        try:
            line = parallel(plan, at * side)
            laid = line_on_surface(mesh, np.column_stack([line.array[:, :2], np.full(len(line.points), spot.z)]), True)
        except SnapcombError:
            return out
        out.append(wished(laid, False, setup, wishes, ring_room(setup)))
        at += tooth / 2


def _band(ring: shapely.Polygon, width: float, inward: float) -> Region:
    """What lies within ``width`` of a closed edge on its inner (or outer) side."""
    other = shapely.buffer(ring, -inward * width)
    return Region.of(shapely.difference(ring, other) if inward > 0 else shapely.difference(other, ring))


def block_volume(spot: Spot) -> float:
    """Volume of a solid block below what hangs, mm³: its area times its height above the bed."""
    return Region.filled(list(spot.region)).area * spot.z
