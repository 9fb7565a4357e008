"""Teeth that stand in the way of a hole: below its mouth in the underside of the part, where something is to pass.

Only upright rows are looked at, and only holes that run along the gap: they show as holes of the part's own layers.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from core.design.plan import RowPlan
from core.geometry.mesh import F64
from core.proof.case import PRACTICE, Case
from core.proof.findings import Finding
from core.proof.near import Near
from core.proof.tooth_sections import Polygons

#: Openings as wide as a screw, a pin, a cable or a drain, mm across a circle of the same area; from memory.
NARROWEST, WIDEST = 0.8, 12.0
#: Layers above the edge in which a hole is looked for: where the edge is sharp, the lowest one is all edge.
_LAYERS: Final = 2
#: A tooth that covers less than this share of a mouth only grazes it; from memory.
LEAST_COVER: Final = 0.02


def holes_covered(near: Near, plan: RowPlan) -> tuple[F64, F64]:
    """Share (n,) of the mouth of the hole that each tooth covers most, and how wide (n,) that hole is, mm."""
    share, wide = np.zeros(plan.teeth), np.zeros(plan.teeth)
    if near.span.direction == "side":
        return share, wide
    heights = near.layers[1]
    first = np.searchsorted(heights, near.span.bed_points(_tops(near, plan))[:, 2], side="right")
    feet = _outlines(near, plan)
    for k in np.unique(first):
        mine = np.flatnonzero(first == k)
        for layer in range(k, min(k + _LAYERS, len(heights))):
            for mouth, width in _mouths(near, layer):
                cover = shapely.area(shapely.intersection(feet[mine], mouth)) / mouth.area
                more = cover > share[mine]
                share[mine[more]], wide[mine[more]] = cover[more], width
    return share, wide


def _tops(near: Near, plan: RowPlan) -> F64:
    """Where the teeth meet the edge plane, (n, 3) gap frame."""
    at = near.span.at(plan.centres)
    return at.points(plan.across_range.mean(axis=1), at.edge.min(axis=1))


def _outlines(near: Near, plan: RowPlan) -> Polygons:
    """The teeth seen along the gap, (n,) rectangles in the window frame."""
    at, half = near.span.at(plan.centres), max(plan.foot, plan.tip) / 2
    along = np.column_stack([-at.across[:, 1], at.across[:, 0]])
    corners = []
    for u, v in ((-half, 0), (half, 0), (half, 1), (-half, 1)):
        plan_points = at.axis + u * along + at.across * plan.across_range[:, [v]]
        bed = near.span.bed_points(np.column_stack([plan_points, at.edge.min(axis=1)]))
        corners.append(near.window.into(bed)[:, :2])
    return np.asarray(shapely.polygons(np.stack(corners, axis=1)))


def _mouths(near: Near, layer: int) -> list[tuple[shapely.Polygon, float]]:
    """The holes of the part in a layer, each with its width, mm."""
    out = []
    for part in shapely.get_parts(near.sections[layer].shape):
        for ring in part.interiors:
            mouth = shapely.Polygon(ring)
            width = float(np.sqrt(4 * mouth.area / np.pi))
            if NARROWEST <= width <= WIDEST:
                out.append((mouth, width))
    return out


def in_the_way(case: Case) -> list[Finding]:
    """A finding when teeth stand below a hole."""
    share, wide = holes_covered(case.near, case.plan)
    over = share > LEAST_COVER
    if not over.any():
        return []
    worst = int(np.argmax(share))
    text = (
        f"Above {case.of_all(over)} the part has a hole, {wide[worst]:.1f} mm wide, of whose mouth up to "
        f"{100 * share[worst]:.0f} % are covered: what is meant to pass there cannot, and stubs are hard to clean out."
    )
    place, remedy = case.place(worst), case.without(over)
    return [Finding("blocks_hole", "warn", text, float(share[worst]), LEAST_COVER, PRACTICE, place, remedy)]
