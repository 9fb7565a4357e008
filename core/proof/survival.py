"""Which layers of every tooth print, and whether what prints still runs from ledge to edge.

A tooth stands alone in the gap, so each of its layers is opened by half the least printable width on its own; ledge and
edge are the part's own sections, opened the same way. What is left is followed layer over layer, because opening alone
would also keep crumbs that hang in the air.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from core.design.plan import RowPlan, Shape
from core.design.tooth import Teeth, profile
from core.geometry.mesh import F64, I64, Bool
from core.proof.near import ROUNDING, Near
from core.proof.tooth_sections import Polygons, ends, extents, opened, prints, shared, tooth_sections

#: Sections that share less than this do not bear on each other, mm². A hundredth of a usual tip.
LEAST_BOND: Final = 0.004
#: A side tooth touches what is no farther from it than this, mm: the inset that keeps faces apart, and rounding.
TOUCH: Final = 0.03
#: Halvings in the search for the height at which a tooth becomes too thin: down to a thousandth of the gap.
_HALVINGS: Final = 12
#: Steps in which a width is proposed, mm.
STEP: Final = 0.05


class LayerState(IntEnum):
    """What becomes of one layer of one tooth."""

    NONE = 0  #: the tooth is not there
    PRINTED = 1  #: it prints and stands on what printed below
    LOST = 2  #: it is thinner than what prints
    LOOSE = 3  #: it would print, but nothing carries it
    AIR = 4  #: left empty on wish, or because what should reach here was lost
    JOINED = 5  #: inside the ledge or the part


@dataclass(frozen=True, eq=False)
class Survival:
    """What prints of a row of n teeth over k layers.

    ``layers`` (k,) int64 numbers from 0 at the bed, ``heights`` (k,) middles, bed mm. ``planned`` and ``left`` (n, k)
    float64 mm: width as drawn and as printed, along the edge for upright teeth, across the gap for side teeth.
    ``state`` (n, k) int8 of LayerState. ``lost`` (n,) layers missing below the first printed layer of the edge as
    sliced in this pose, beyond those left empty on wish; −1 where ledge or edge was not found. ``lost_worst`` (n,) the
    same in the worst layer phase. ``air`` (n,) empty layers under the first printed layer of the edge; −1 unknown.
    ``connected`` (n,) bool: a printed path joins ledge and edge. ``contact`` (n,) bonded area at the edge, mm².
    """

    layers: I64
    heights: F64
    planned: F64
    left: F64
    state: NDArray[np.int8]
    lost: I64
    lost_worst: I64
    air: I64
    connected: Bool
    contact: F64

    @property
    def worst(self) -> int:
        """Layers lost by the worst tooth in the worst layer phase."""
        return int(max(self.lost_worst.max(initial=0), self.lost.max(initial=0)))


def survive(near: Near, plan: RowPlan, teeth: Teeth) -> Survival:
    """Follow every tooth of a planned row through the printer's layers. ``teeth`` bed mm, as built from ``plan``."""
    numbers, heights = near.layers
    sections = tooth_sections(teeth, near.window, np.tile(heights, (plan.teeth, 1)))
    left = opened(sections, near.least)
    left = _with_the_part(near, sections, left) if near.span.direction == "up" else left
    follow = _upright if near.span.direction == "up" else _sideways
    state, lost, air, connected, contact = follow(near, plan, sections, left)
    along = _measured_along(near, plan)
    worst = _worst_upright(near, plan, teeth) if near.span.direction == "up" else _worst_sideways(near, plan)
    return Survival(
        numbers, heights, extents(sections, along), extents(left, along), state, lost, worst, air, connected, contact
    )


def holding_width(least: float) -> float:
    """The narrowest tip or thickness (mm, in steps of 0.05) that prints in every layer, for a ``least`` width, mm."""
    return round(math.ceil(least / STEP - 1e-9) * STEP, 6)


def lost_layers(
    shape: Shape, *, foot: float, tip: float, gap: float, least: float, layer: float, phase: float = 0.0
) -> int:
    """Layers of a straight prism that do not print, sampled at mid-layer. Lengths mm.

    ``phase`` is where the first layer begins, as a share of a layer below the ledge: 0 counts from the ledge itself.
    """
    shown = profile(shape, foot, tip, gap, 0.0, 0.0)
    middles = (np.arange(math.ceil(gap / layer) + 2) + 0.5 - phase) * layer
    inside = middles[(middles > 0) & (middles < gap)]
    width = np.interp(inside, shown.y, shown.right - shown.left)
    return int((width < least - ROUNDING).sum())


def _measured_along(near: Near, plan: RowPlan) -> F64:
    """The direction in which a tooth's width counts, (n, 2) window frame."""
    span = near.span
    if span.direction == "side":
        return np.tile(near.window.directions(span.frame[2:3, :3]), (plan.teeth, 1))
    across = span.at(plan.centres).across
    along = np.column_stack([across[:, 1], -across[:, 0], np.zeros(len(across))])
    return near.window.directions(span.bed_points(along))


def _with_the_part(near: Near, sections: Polygons, left: Polygons) -> Polygons:
    """The printed sections, where a layer too thin by itself may print together with the part that it crosses.

    So at a sharp edge: its own lowest layer is lost but for the places where a tooth widens it.
    """
    out = left.copy()
    reach = 2 * near.least
    for k in np.flatnonzero((shapely.is_empty(left) & ~shapely.is_empty(sections)).any(axis=0)):
        shape = near.sections[k].shape
        lone = shapely.is_empty(left[:, k]) & shapely.intersects(shape, sections[:, k])
        rows = np.flatnonzero(lone & ~shapely.intersects(near.printed[k].shape, sections[:, k]))
        around = shapely.intersection(shapely.buffer(sections[rows, k], reach, quad_segs=2), shape)
        both = opened(shapely.union(sections[rows, k], around), near.least)
        out[rows, k] = shapely.intersection(both, sections[rows, k])
    return out


Followed = tuple[NDArray[np.int8], I64, I64, Bool, F64]


def _upright(near: Near, plan: RowPlan, sections: Polygons, left: Polygons) -> Followed:
    """Upright teeth: up from the ledge, layer by layer, to the first printed layer of the edge."""
    heights = near.layers[1]
    n, k = sections.shape
    in_part = shapely.area(shared(near.printed, _probes(sections))) > LEAST_BOND
    at = near.span.at(plan.centres)
    below = heights < (at.edge.min(axis=1) + at.ledge.max(axis=1))[:, None] / 2
    ledge = np.where((in_part & below).any(axis=1), k - 1 - np.argmax((in_part & below)[:, ::-1], axis=1), -1)
    edge = np.where((in_part & ~below).any(axis=1), np.argmax(in_part & ~below, axis=1), k)
    there, whole = ~shapely.is_empty(sections), ~shapely.is_empty(left)
    bears = np.zeros((n, k), np.bool_)
    bears[:, 1:] = shapely.area(shapely.intersection(left[:, 1:], left[:, :-1])) > LEAST_BOND
    top = _climb(ledge, edge, whole, bears)
    known = (ledge >= 0) & (edge < k)
    air = np.where(known, edge - 1 - top, -1)
    wished = round(plan.air / near.setup.layer_height)
    lost = np.where(known, np.maximum(air - wished, 0), -1)
    state = _states((ledge, edge, top), there, whole)
    return state, lost, air, known & (lost == 0), _contact(near, left, top, edge, known & (air == 0))


def _probes(sections: Polygons) -> Polygons:
    """The sections, and above the top of each tooth its last section again: where a shortened tooth aims at."""
    out = sections.copy()
    for k in range(1, out.shape[1]):
        gone = shapely.is_empty(out[:, k])
        out[gone, k] = out[gone, k - 1]
    return out


def _climb(ledge: I64, edge: I64, whole: Bool, bears: Bool) -> I64:
    """The highest layer of each tooth that stands, layer over layer, on the ledge; the ledge's own when none does."""
    top = ledge.copy()
    for k in range(whole.shape[1]):
        onward = (ledge >= 0) & (top == k - 1) & (k < edge) & whole[:, k]
        onward &= bears[:, k] | (k == ledge + 1)
        top[onward] = k
    return top


def _states(found: tuple[I64, I64, I64], there: Bool, whole: Bool) -> NDArray[np.int8]:
    """The state of every layer of every tooth from the layers of its ledge, its edge and its printed top."""
    ledge, edge, top = found
    k = np.arange(there.shape[1])
    out = np.full(there.shape, LayerState.NONE, np.int8)
    between = (k > ledge[:, None]) & (k < edge[:, None])
    out[there & ~whole] = LayerState.LOST
    out[there & whole] = LayerState.LOOSE
    out[~there & between & (k > top[:, None]) & (edge < len(k))[:, None]] = LayerState.AIR
    out[between & there & (k <= top[:, None])] = LayerState.PRINTED
    out[there & ~between] = LayerState.JOINED
    return out


def _contact(near: Near, left: Polygons, top: I64, edge: I64, which: Bool) -> F64:
    """Bonded area (n,) between the last layer of a tooth and the first printed layer of the edge, mm²."""
    out = np.zeros(len(top))
    for k in np.unique(edge[which]):
        rows = np.flatnonzero(which & (edge == k))
        pieces = shared((near.printed[k],), left[rows, top[rows]][:, None])
        out[rows] = shapely.area(pieces[:, 0])
    return out


def _worst_upright(near: Near, plan: RowPlan, teeth: Teeth) -> I64:
    """Layers lost in the worst phase, (n,): how many middles can fall into the stretch that is too thin to print.

    A stretch of length H holds at most ⌈H/h⌉ of them. Its lower end is found by halving, since teeth narrow upward.
    Where a tooth of width t crosses a ridge of width r, a disc of diameter √(t² + r²) fits (Pythagoras): the corners of
    the crossing lie on it.
    """
    at = near.span.at(plan.centres)
    low = at.ledge.max(axis=1) + 0.01
    top = at.edge.min(axis=1) + at.reach - plan.air - 0.005
    edge = at.edge.min(axis=1)
    rise = near.least / np.maximum(at.reach, 1e-9)

    def fits(height: F64) -> Bool:
        wide = np.where(at.reach > 0, rise * np.maximum(height - edge, 0), 0)
        least = np.sqrt(np.maximum(near.least**2 - wide**2, (2 * ROUNDING) ** 2))
        return prints(tooth_sections(teeth, near.window, height[:, None])[:, 0], least)

    thin = ~fits(top)
    inside, outside = np.where(fits(low), low, low - 0.01), top.copy()
    nowhere = ~fits(low)
    for _ in range(_HALVINGS if (thin & ~nowhere).any() else 0):
        half = (inside + outside) / 2
        good = fits(half)
        inside, outside = np.where(good, half, inside), np.where(good, outside, half)
    stretch = np.where(nowhere, top - low + 0.015, top + 0.005 - inside)
    count = np.ceil(stretch / near.setup.layer_height - 0.01)
    return np.where(thin, count, 0).astype(np.int64)


def _sideways(near: Near, plan: RowPlan, sections: Polygons, left: Polygons) -> Followed:
    """Side teeth: within each layer from the fin across the gap to the upright edge."""
    there, whole = ~shapely.is_empty(sections), ~shapely.is_empty(left)
    reach = TOUCH + plan.air
    on_ledge, on_edge = _both_sides(near, plan, shapely.buffer(left, reach, quad_segs=2))
    held = whole & on_ledge & on_edge
    in_tip = _reaches_edge(near, plan, sections)
    missing = (in_tip & ~held).sum(axis=1)
    lost = np.where(in_tip.any(axis=1), missing, 1)
    state = np.full(sections.shape, LayerState.NONE, np.int8)
    state[there & ~whole] = LayerState.LOST
    state[there & whole & ~on_ledge] = LayerState.LOOSE
    state[there & whole & on_ledge] = LayerState.PRINTED
    across = near.window.directions(near.span.bed_points(_flat(near.span.at(plan.centres).across)))
    bond = (extents(left, across) * held).sum(axis=1) * near.setup.layer_height
    air = np.full(len(lost), round(plan.air / near.setup.layer_height), np.int64)
    return state, lost, air, held.any(axis=1), np.where(plan.air > 0, 0.0, bond)


def _reaches_edge(near: Near, plan: RowPlan, sections: Polygons) -> Bool:
    """Layers (n, k) of side teeth that are drawn right up to the edge, less the air that was wished."""
    way = _measured_along(near, plan)
    middle = (near.window.into(near.span.bed_points(_middles(near, plan)))[:, :2] * way).sum(axis=1)
    out: Bool = ends(sections, way)[1] >= (middle + plan.heights / 2 - plan.air - TOUCH / 2)[:, None]
    return out


def _flat(plan: F64) -> F64:
    return np.column_stack([plan, np.zeros(len(plan))])


def _middles(near: Near, plan: RowPlan) -> F64:
    """Middle of every tooth, half way across the gap, (n, 3) gap frame."""
    at = near.span.at(plan.centres)
    return at.points(plan.across_range.mean(axis=1), (at.edge.min(axis=1) + at.ledge.max(axis=1)) / 2)


def _both_sides(near: Near, plan: RowPlan, grown: Polygons) -> tuple[Bool, Bool]:
    """Where layers (n, k) of side teeth reach the fin and the part, each (n, k)."""
    way = near.window.directions(near.span.frame[2:3, :3])[0]
    middle = near.window.into(near.span.bed_points(_middles(near, plan)))[:, :2] @ way
    pieces = shared(near.printed, grown)
    parts, index = shapely.get_parts(pieces.ravel(), return_index=True)
    centre = shapely.get_coordinates(shapely.centroid(parts))
    size = shapely.area(parts)
    good = (size > 0) & ~shapely.is_empty(parts)
    out = [np.zeros(grown.size, np.bool_), np.zeros(grown.size, np.bool_)]
    far = np.zeros(len(parts), np.bool_)
    filled = ~shapely.is_empty(parts)
    far[filled] = centre @ way > middle[index[filled] // grown.shape[1]]
    out[0][index[good & ~far]] = True
    out[1][index[good & far]] = True
    return out[0].reshape(grown.shape), out[1].reshape(grown.shape)


def worst_sideways(tip: float, thickness: float, least: float, layer: float) -> int:
    """Layers of a side tooth's tip lost in the worst phase: all when too thin across, one when none may meet it."""
    if thickness < least - ROUNDING:
        return max(1, math.ceil(tip / layer - 0.01))
    return 1 if tip < layer - 1e-9 else 0


def _worst_sideways(near: Near, plan: RowPlan) -> I64:
    thickness = np.ptp(plan.across_range, axis=1)
    layer = near.setup.layer_height
    return np.array([worst_sideways(plan.tip, float(t), near.least, layer) for t in thickness], np.int64)
