"""A wall together with the row of teeth on it: the wall's top is the ledge, and the gap is measured like any other.

Bed frame, mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from core.design.learned import UNTAUGHT, Learned
from core.design.measure_span import measure_span
from core.design.plan import INSET_ACROSS, KERF, RowPlan, RowWishes, across_range, plan_row
from core.design.plan_wall import plan_wall, served_edge
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.tooth import Teeth, row_solids
from core.design.wall import NARROW_STRIP, WallPlan, WallWishes
from core.design.wall_body import wall_solid
from core.design.wall_look import ABOVE, lower_part
from core.design.wall_span import span_of_plan
from core.errors import SpanProblem
from core.geometry.mesh import Mesh, joined
from core.geometry.polyline import Polyline

#: Share of the strip's width that may lie outside the chord from tooth to tooth; from memory.
BEND_SHARE: Final = 0.025
#: A span that was measured along less than this share of its wall was not understood.
LEAST_SHARE: Final = 0.7


@dataclass(frozen=True, eq=False)
class WallWithRow:
    """A wall, its solid, the span above it, the row and its teeth; bed mm."""

    wall: WallPlan
    solid: Mesh
    span: Span
    row: RowPlan
    teeth: Teeth


def wall_with_row(
    mesh: Mesh,
    edge: Polyline,
    setup: PrintSetup,
    wall_wishes: WallWishes | None = None,
    row_wishes: RowWishes | None = None,
) -> WallWithRow:
    """Wall and row for ``edge`` on ``mesh`` (bed mm). Raises SpanProblem, PlanRefused and MeshProblem."""
    wall = plan_wall(mesh, edge, setup, wall_wishes)
    solid = wall_solid(mesh, wall)
    span = span_on_wall(mesh, wall, solid, setup)
    row = plan_row_on_wall(span, row_wishes or RowWishes(), setup)
    return WallWithRow(wall, solid, span, row, row_solids(span, row))


def plan_row_on_wall(span: Span, wishes: RowWishes, setup: PrintSetup, *, learned: Learned = UNTAUGHT) -> RowPlan:
    """The row on a wall. Below a narrow strip the teeth are as thick as strip and wall are at their place, by rule, and
    in the middle: lines of the strip beside them would hang all along the edge. Raises PlanRefused.
    """
    plan = _closed_up(plan_row(span, _closer_in_bends(span, wishes, setup), setup, learned=learned), span, setup)
    at = span.at(plan.centres)
    usual = float(np.median(at.width)) - 2 * INSET_ACROSS
    if wishes.thickness is not None or span.kind != "strip" or not plan.thickness < usual <= NARROW_STRIP:
        return plan
    half = np.minimum(usual, np.maximum(at.width - 2 * INSET_ACROSS, np.minimum(plan.thickness, at.width))) / 2
    middle = (at.lo + at.hi) / 2
    return replace(
        plan, thickness=usual, across="centred", across_range=np.column_stack([middle - half, middle + half])
    )


def _closed_up(plan: RowPlan, span: Span, setup: PrintSetup) -> RowPlan:
    """Blades below a slope that would fuse anyway, for there is less than a line between them, made one: a break in
    them would leave layers of the slope without anything to lie on."""
    air = plan.pitch - plan.tip
    level = float(np.ptp(span.stations.ledge)) < NARROW_STRIP / 4
    if level or plan.teeth < 2 or plan.left_out or not KERF < air < setup.line_width:
        return plan
    first, last = plan.centres[0] - plan.tip / 2, plan.centres[-1] + plan.tip / 2
    tip = float(last - first - (plan.teeth - 1) * KERF) / plan.teeth
    centres = first + tip / 2 + np.arange(plan.teeth) * (tip + KERF)
    at = span.at(centres)
    sides = across_range(at.lo, at.hi, plan.thickness, plan.across)
    return replace(
        plan, centres=centres, tip=tip, foot=max(plan.foot, tip), pitch=tip + KERF, clear_bridge=KERF,
        heights=at.gap, across_range=sides,
    )  # fmt: skip


def _closer_in_bends(span: Span, wishes: RowWishes, setup: PrintSetup) -> RowWishes:
    """A shorter clear bridge below a narrow strip that bends: strands run straight from tooth to tooth and leave the
    strip on the outside of the bend. Sagitta of a chord: length² / 8 radius."""
    if span.kind != "strip" or any(x is not None for x in (wishes.clear_bridge, wishes.teeth, wishes.pitch)):
        return wishes
    straight = math.sqrt(8 * _least_radius(span) * BEND_SHARE * span.width) + 2 * setup.advance
    return replace(wishes, clear_bridge=straight) if straight < setup.clear_bridge else wishes


def _least_radius(span: Span) -> float:
    """Radius of the tightest bend of a span over a usual pitch, mm; corners of the mesh are smoothed out."""
    s = np.arange(0.0, span.length, 1.0)
    way = np.unwrap(np.arctan2(*span.at(s).across.T[::-1]))
    apart = min(5, len(way) - 1)
    turn = float(np.abs(way[apart:] - way[:-apart]).max()) if apart > 0 else 0.0
    return apart / turn if turn > 1e-3 else math.inf


def span_on_wall(mesh: Mesh, wall: WallPlan, solid: Mesh, setup: PrintSetup) -> Span:
    """The span between a wall and the edge that it was built for, measured on part and wall together (bed mm)."""
    edge = served_edge(wall)
    low = lower_part(mesh, float(edge.array[:, 2].max()) + ABOVE)
    try:
        span = measure_span(joined([low, solid]), edge, setup)
    except SpanProblem:
        return span_of_plan(mesh, wall, setup)
    short = span.length < LEAST_SHARE * (wall.covered[1] - wall.covered[0])
    narrow = span.width < 1.1 * setup.line_width
    if not (span.occupied or short or narrow or wall.steep):
        return span
    try:
        return span_of_plan(mesh, wall, setup)
    except SpanProblem:
        return span


def span_below(span: Span, deeper: float) -> Span:
    """A span with its ledge ``deeper`` mm farther below the edge, as when only the gap of its wall was changed."""
    at = span.stations
    return span if deeper == 0 else replace(span, stations=replace(at, ledge=at.ledge - deeper))
