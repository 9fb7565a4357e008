"""The part near a span, cut at the printer's own layers: made once for a span and a setup, whatever row is planned.

Sections lie in the *window frame*: plan coordinates of the bed, moved to the middle of the span and turned so that y
runs along it. Heights are bed mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np

from core.design.learned import UNTAUGHT, Learned
from core.design.setup import PrintSetup
from core.design.span import Span, local_mesh
from core.geometry.columns import Columns
from core.geometry.mesh import F64, I32, I64, Mesh, among
from core.geometry.regions import Region

#: How far beyond the span its surroundings are looked at, mm: farther than any foot or line reaches.
MARGIN: Final = 3.0
#: How far from the edge lines along the gap are dropped, mm: as far as the wall below is felt, and a line more.
BESIDE: Final = 5.0
#: Layers looked at below the ledge and above the edge.
EXTRA_LAYERS: Final = 4
#: A width that misses the least printable one by no more than this (mm) prints: rounding, not a measure.
ROUNDING: Final = 1e-4
#: Corners that depart from their neighbours' chord by less are leavings of the filling, mm.
_NOISE: Final = 2e-6
#: Triangle and layer pairs cut in one go; more would leave the processor's cache.
_BLOCK: Final = 1 << 18


@dataclass(frozen=True, eq=False)
class Window:
    """A rectangle of the bed around a span.

    ``turn`` (2, 2) rotates bed plan into the window frame, after moving by −``origin``; ``half`` (2,) are half its
    sides, mm.
    """

    turn: F64
    origin: F64
    half: F64

    @classmethod
    def around(cls, plan: F64, margin: float = MARGIN) -> Window:
        """The window around plan points (k, 2), bed mm, its y along their longest extent."""
        centre = plan.mean(axis=0)
        _, _, axes = np.linalg.svd(plan - centre, full_matrices=False) if len(plan) > 1 else (0, 0, np.eye(2))
        y = axes[0] if abs(np.linalg.norm(axes[0]) - 1) < 1e-6 else np.array([0.0, 1.0])
        turn = np.array([[y[1], -y[0]], y])
        local = (plan - centre) @ turn.T
        low, high = local.min(axis=0), local.max(axis=0)
        return cls(turn, centre + (low + high) / 2 @ turn, (high - low) / 2 + margin)

    def into(self, points: F64) -> F64:
        """Points (n, 2 or 3) of the bed frame in the window frame; heights are kept."""
        plan = (points[:, :2] - self.origin) @ self.turn.T
        return np.column_stack([plan, points[:, 2:]])

    def directions(self, vectors: F64) -> F64:
        """Plan directions (n, 2) of the bed in the window frame."""
        return vectors[:, :2] @ self.turn.T


@dataclass(frozen=True, eq=False)
class Near:
    """A mesh (bed mm) around a span, under a setup and what was learned of the printer."""

    mesh: Mesh
    span: Span
    setup: PrintSetup
    learned: Learned = UNTAUGHT

    @property
    def least(self) -> float:
        """The narrowest width that prints, mm: as a coupon taught, or as the setup's rule has it."""
        return self.learned.least_printable or self.setup.least_printable

    @cached_property
    def window(self) -> Window:
        """The rectangle of the bed that holds every tooth that may stand in the span."""
        return Window.around(np.concatenate([self.sides("edge"), self.sides("ledge")])[:, :2])

    def sides(self, name: str) -> F64:
        """Both sides of the usable strip at edge or ledge height, bed mm."""
        st = self.span.stations
        z = getattr(st, name)
        return self.span.bed_points(np.concatenate([st.points(st.lo, z[:, 0]), st.points(st.hi, z[:, 1])]))

    @cached_property
    def layers(self) -> tuple[I64, F64]:
        """Numbers (from 0 at the bed) and middle heights (bed mm) of the layers that a row in the span meets, (k,)."""
        low = float(min(self.sides("edge")[:, 2].min(), self.sides("ledge")[:, 2].min()))
        high = float(max(self.sides("edge")[:, 2].max(), self.sides("ledge")[:, 2].max()))
        high += float(self.span.stations.reach.max())
        h = self.setup.layer_height
        spare = EXTRA_LAYERS * h if self.span.direction == "up" else 2 * h + MARGIN
        middles = np.array(self.setup.mid_heights(high + spare))
        numbers = np.flatnonzero((middles > low - spare) & (middles < high + spare))
        return numbers, middles[numbers]

    @cached_property
    def sections(self) -> tuple[Region, ...]:
        """The part at each of the layers, window frame."""
        return sections_in(self.mesh, self.window, self.layers[1])

    @cached_property
    def printed(self) -> tuple[Region, ...]:
        """What prints of the sections: opened by half the least printable width."""
        radius = self.least / 2 - ROUNDING
        return tuple(s.opened(radius).simplified(_NOISE) for s in self.sections)

    @cached_property
    def columns(self) -> Columns:
        """Lines along the gap through the part near the span, gap frame."""
        axis = self.span.stations.axis
        low, high = axis.min(axis=0) - BESIDE, axis.max(axis=0) + BESIDE
        return Columns.over(local_mesh(self.mesh, self.span.frame, low, high), low, high)




def sections_in(mesh: Mesh, window: Window, heights: F64) -> tuple[Region, ...]:
    """The mesh (bed mm) cut at ``heights`` (k,), each within the window and in its frame, filled by the positive rule.

    No outline is linked, so a mesh that is open elsewhere does no harm. The winding number along the left side of the
    window follows from what crosses that line; from there every segment changes it for all that lies right of it.
    """
    points, triangles = _reaching(mesh, window, heights)
    ends, layer = _segments(points, triangles, heights)
    order = np.argsort(layer, kind="stable")
    start = np.searchsorted(layer[order], np.arange(len(heights) + 1))
    ends = ends[order]
    return tuple(_filled(ends[a:b], window.half) for a, b in pairwise(start))


def _filled(ends: F64, half: F64) -> Region:
    """The region within the window that segments (n, 2, 2), material on their left, bound."""
    left = -half[0]
    right_of = ends[:, :, 0] > left
    crossing = np.flatnonzero(right_of[:, 0] != right_of[:, 1])
    p, q = ends[crossing, 0], ends[crossing, 1]
    y = p[:, 1] + (left - p[:, 0]) / (q[:, 0] - p[:, 0]) * (q[:, 1] - p[:, 1])
    ends = ends.copy()
    ends[crossing, np.where(right_of[crossing, 0], 1, 0)] = np.column_stack([np.full(len(y), left), y])
    seen = right_of.any(axis=1) & (ends[:, :, 1].max(axis=1) > -half[1]) & (ends[:, :, 1].min(axis=1) < half[1])
    seen &= ends[:, 0, 1] != ends[:, 1, 1]
    quads = np.stack([ends[seen, 0], ends[seen, 1], ends[seen, 1], ends[seen, 0]], axis=1)
    quads[:, 2:, 0] = half[0] + 1.0
    lines = [*quads, *_along_the_left(y, np.where(q[:, 0] > p[:, 0], 1, -1), half)]
    return Region.filled(lines).within(-half, half).simplified(_NOISE)


def _along_the_left(y: F64, sign: I64, half: F64) -> list[F64]:
    """Rectangles across the window where its left side runs in material, once for every turn of the winding number.

    ``y`` (c,) where that line is crossed, as far as the top of the window, and ``sign`` (c,) +1 where it enters
    material going up.
    """
    order = np.argsort(y, kind="stable")
    stops = np.clip(np.r_[y[order], np.inf], -half[1] - 1, half[1] + 1)
    out = []
    for (a, b), turns in zip(pairwise(stops), np.cumsum(sign[order]), strict=True):
        if turns and b > a:
            box = np.array([[-half[0], a], [half[0] + 1, a], [half[0] + 1, b], [-half[0], b]])
            out += [box if turns > 0 else box[::-1]] * abs(int(turns))
    return out


def _reaching(mesh: Mesh, window: Window, heights: F64) -> tuple[F64, I32]:
    """The triangles that can matter within the window, in its frame: its strip, and all that lies before it."""
    v = mesh.vertices
    rel = v[:, :2] - window.origin
    x, y = rel @ window.turn[0], rel @ window.turn[1]
    z, half = v[:, 2], window.half
    code = (x < -half[0]).astype(np.uint8) | ((x > half[0]) << 1) | ((y > half[1]) << 2)
    if len(heights):
        code |= ((z < heights[0]) << 3).astype(np.uint8) | ((z >= heights[-1]) << 4).astype(np.uint8)
    tri = mesh.triangles
    kept = tri[(code[tri[:, 0]] & code[tri[:, 1]] & code[tri[:, 2]]) == 0]
    used, own = among(len(v), kept)
    return np.column_stack([x[used], y[used], z[used]]), own


def _segments(points: F64, triangles: I32, heights: F64) -> tuple[F64, I64]:
    """Cut segments (n, 2, 2), material on their left, and the layer of each (n,). At a height means above it."""
    level = np.searchsorted(heights, points[:, 2], side="right")
    corner = level[triangles]
    low, count = corner.min(axis=1), np.ptp(corner, axis=1)
    which = np.repeat(np.arange(len(triangles)), count)
    layer = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + low[which]
    ends = np.empty((len(which), 2, 2))
    for i in range(0, len(which), _BLOCK):
        part = slice(i, i + _BLOCK)
        below = corner[which[part]] <= layer[part, None]
        ids = triangles[which[part]]
        for k, sides in enumerate((~below & np.roll(below, -1, axis=1), below & ~np.roll(below, -1, axis=1))):
            ends[part, k] = _on_sides(points, ids, np.argmax(sides, axis=1), heights[layer[part]])
    return ends, layer


def _on_sides(points: F64, ids: I32, side: I64, height: F64) -> F64:
    """Where the side from corner ``side`` to the next one passes ``height``, (n, 2).

    Worked out from the lower vertex number to the higher, so the two triangles at an edge agree to the last bit.
    """
    rows = np.arange(len(ids))
    a, b = ids[rows, side], ids[rows, (side + 1) % 3]
    a, b = np.minimum(a, b), np.maximum(a, b)
    t = (height - points[a, 2]) / (points[b, 2] - points[a, 2])
    out: F64 = points[a, :2] + t[:, None] * (points[b, :2] - points[a, :2])
    return out

