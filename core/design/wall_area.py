"""Walls for a whole weak spot: one along its edge, or several side by side below a wide underside.

Bed frame, mm. A wide underside is bridged from wall to wall, so the walls stand no farther apart than the longest clear
bridge, and run in the direction in which the fewest of them do.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from core.design.plan import RowWishes, automatic_tip
from core.design.plan_wall import plan_all_on_look, served_edge, strip_width
from core.design.setup import PrintSetup
from core.design.wall import LEAST_FREE, WallPlan, WallWishes
from core.design.wall_axis import INSET
from core.design.wall_fan import side_by_side
from core.design.wall_line import MARGIN, Spot, WallLine, area_row
from core.design.wall_look import look_for_wall
from core.design.wall_steep import blade_row, climbing_row, fins_below
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
    region = united([p.region for p in spot.pieces]).grown(setup.advance + MARGIN) & underside
    if spot.kind == "slope" and _steep(mesh, spot, setup):
        found = fins_below(mesh, spot, region, under, setup, wanted)
    elif spot.kind == "slope" or _within(region, LEAST_FREE + setup.free_overhang):
        found = [WallLine(spot.path, wanted, RowWishes())]
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
    return [replace(line, edge=e, row=_row_again(line, e, setup)) for e in edges]


def _row_again(line: WallLine, edge: Polyline, setup: PrintSetup) -> RowWishes:
    """The row of a line that was cut to a shorter edge."""
    if line.climbs:
        return climbing_row(edge, line.row, setup)
    if line.spare is not None:
        beyond = float(np.linalg.norm(line.edge.array[-1, :2] - edge.array[-1, :2]))
        return replace(blade_row(edge, max(line.spare - beyond, 0.0), setup), across=line.row.across)
    return area_row(edge, line.row.across or "flush", setup) if line.row.teeth else line.row


def around_underside(mesh: Mesh, spot: Spot, setup: PrintSetup) -> tuple[Region, Region]:
    """The part in plan just below a spot's underside, which may hold its rim, and just above all of it."""
    z, half = spot.z, setup.layer_height / 2
    rise = (spot.layers[1] - spot.layers[0]) * setup.layer_height
    low, high = slice_layers(mesh, [max(z - half, half / 2), z + half + rise]).regions
    return (low if z > half else EMPTY), high


def _steep(mesh: Mesh, spot: Spot, setup: PrintSetup) -> bool:
    """Whether an underside climbs so steeply from its edge that a tooth along the edge would hardly meet it."""
    try:
        return strip_width(look_for_wall(mesh, spot.path), setup) < setup.line_width
    except SpanProblem:
        return True


def _within(region: Region, width: float) -> bool:
    """Whether a region is nowhere wider than ``width`` (mm)."""
    return region.empty or region.grown(-width / 2).empty


@lru_cache(maxsize=256)
def block_volume(spot: Spot, setup: PrintSetup) -> float:
    """Volume of a solid block from the bed to what hangs, mm³: every place of it counts up to its lowest layer."""
    volume, below = 0.0, EMPTY
    for piece in sorted(spot.pieces, key=lambda p: p.layer):
        here = piece.region.grown(MARGIN)
        volume += (here - below).area * (spot.z + (piece.layer - spot.layers[0]) * setup.layer_height)
        below = united([below, here])
    return volume
