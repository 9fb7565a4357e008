"""Edges where there is none: lines and points laid onto the underside of a part, and the lowest line of a belly.

Bed frame, mm.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from core.design.span import local_mesh, thinned
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Bool, Mesh
from core.geometry.polyline import Polyline

# Lengths in mm; from memory.
#: Spacing of the points of a line that is laid down, and how true it is kept.
STEP, TRUE = 0.25, 0.002
#: The underside is looked for this far above and below the picked points.
NEAR: Final = 4.0
#: The longest stretch without an underside (a hole) over which a line is carried on.
HOLE: Final = 3.0
#: What lies this little above the lowest point belongs to the bottom of a belly: a layer of usual height.
BOTTOM: Final = 0.2
#: A bottom this many times longer than wide is a line, else a point.
LONG: Final = 2.5
#: Points across a belly at first, and rounds of looking closer.
_GRID, _ROUNDS = 61, 6


def undersides(columns: Columns, plan: F64, near: F64) -> F64:
    """The underside nearest in height to ``near`` (n,) over plan points (n, 2), (n,) mm; NaN where there is none."""
    line, _, ceiling = columns.air(plan)
    good = np.isfinite(ceiling) & (np.abs(ceiling - near[line]) <= NEAR)
    line, ceiling = line[good], ceiling[good]
    order = np.lexsort((-np.abs(ceiling - near[line]), line))
    out = np.full(len(plan), np.nan)
    out[line[order]] = ceiling[order]
    return out


def _columns(mesh: Mesh, plan: F64) -> Columns:
    low, high = plan.min(axis=0) - 0.5, plan.max(axis=0) + 0.5
    return Columns.over(local_mesh(mesh, np.eye(4), low, high), low, high)


def line_on_surface(mesh: Mesh, points: ArrayLike, closed: bool = False) -> Polyline:
    """A free line through two or more picked points (k, 3), laid vertically onto the underside of ``mesh``; bed mm.

    Raises SpanProblem where there is no underside for longer than a small hole.
    """
    picked = np.asarray(points, np.float64).reshape(-1, 3)
    if len(picked) < 2 or np.linalg.norm(np.diff(picked[:, :2], axis=0), axis=1).sum() < 0.2:
        raise SpanProblem("A line needs two points that lie apart in plan.", "Pick another point.")
    guide = Polyline.of(picked, closed)
    count = int(np.clip(guide.length / STEP, 8, 4000))
    s = np.unique(np.r_[np.linspace(0, guide.length, count + 1), guide.stations])
    at = guide.at(np.where(s >= guide.length, guide.length - 1e-9, s)) if closed else guide.at(s)
    z = undersides(_columns(mesh, at[:, :2]), at[:, :2], at[:, 2])
    known = np.isfinite(z)
    if not known.any() or _longest_gap(s, known) > HOLE:
        raise SpanProblem(
            "The line leaves the underside of the part.", "Pick points between which something hangs all the way."
        )
    first, last = np.flatnonzero(known)[[0, -1]]
    keep = slice(first, last + 1)
    rows = np.column_stack([at[keep, :2], np.interp(s[keep], s[known], z[known])])
    return Polyline.of(thinned(rows, TRUE)[:-1] if closed else thinned(rows, TRUE), closed)


def _longest_gap(s: F64, known: Bool) -> float:
    """The longest stretch between points with an underside, ends of the line included, mm."""
    on = np.r_[s[0], s[known], s[-1]]
    return float(np.diff(on).max())


def lowest_point(mesh: Mesh, region: ArrayLike) -> F64:
    """The lowest point (3,) of the underside over a plan outline ``region`` (k, 2), bed mm; the middle of a flat one.

    Raises SpanProblem when nothing hangs there.
    """
    box = _Box.around(mesh, np.asarray(region, np.float64).reshape(-1, 2))
    grid, z = box.grid(_GRID)
    low = np.nanmin(z)
    at = grid[np.nan_to_num(z, nan=np.inf) <= low + 1e-6].mean(axis=0)
    size = box.size / _GRID
    for _ in range(_ROUNDS):
        fine = at + _square(9) * size
        depth = box.heights(fine)
        at = fine[np.nan_to_num(depth, nan=np.inf) <= np.nanmin(depth) + 1e-7].mean(axis=0)
        size = size / 4
    return np.array([*at, float(box.heights(at[None])[0])])


def lowest_line(mesh: Mesh, region: ArrayLike) -> Polyline:
    """The lowest line of a smooth belly over a plan outline ``region`` (k, 2), bed mm.

    It runs along the long way of the belly's bottom; at every place the lowest point across is taken.
    Raises SpanProblem when nothing hangs there, or when the lowest place is a point.
    """
    box = _Box.around(mesh, np.asarray(region, np.float64).reshape(-1, 2))
    grid, z = box.grid(_GRID)
    bottom = grid[np.nan_to_num(z, nan=np.inf) <= np.nanmin(z) + BOTTOM]
    middle = bottom.mean(axis=0)
    spread, ways = np.linalg.eigh(np.cov((bottom - middle).T) + 1e-12 * np.eye(2))
    if len(bottom) < 4 or spread[1] < LONG**2 * max(spread[0], 1e-9):
        raise SpanProblem("The lowest place is a point, not a line.", "Set a post there instead of a wall.")
    along, across = ways[:, 1], ways[:, 0]
    u = (grid[np.isfinite(z)] - middle) @ along
    s = np.linspace(u.min(), u.max(), _GRID)
    wide = float(np.abs((grid[np.isfinite(z)] - middle) @ across).max())
    v = _lowest_across(box, middle + s[:, None] * along, across, wide)
    good = np.isfinite(v)
    points = middle + s[good, None] * along + v[good, None] * across
    return Polyline.of(thinned(np.column_stack([points, box.heights(points)]), 0.01))


def _lowest_across(box: _Box, points: F64, across: F64, wide: float) -> F64:
    """Where across every point (n, 2) the underside is lowest, (n,) mm; NaN where there is none, or only at its rim."""
    t = np.linspace(-1, 1, _GRID)
    centre, size = np.zeros(len(points)), np.full(len(points), wide)
    known: Bool = np.ones(len(points), np.bool_)
    for k in range(_ROUNDS):
        v = centre[:, None] + size[:, None] * t
        z = box.heights((points[:, None] + v[..., None] * across).reshape(-1, 2)).reshape(v.shape)
        z = np.nan_to_num(z, nan=np.inf)
        low = z.min(axis=1, keepdims=True)
        near = (z <= low + 1e-9) & np.isfinite(z)
        known &= near.any(axis=1) & ~_at_rim(z)
        centre = np.where(known, (v * near).sum(axis=1) / np.maximum(near.sum(axis=1), 1), centre)
        size = size / 8 if k else size / 6
    return np.where(known, centre, np.nan)


def _at_rim(z: F64) -> Bool:
    """Rows (n,) of heights (n, m) that are lowest where they end, so that the lowest place lies beyond."""
    known = np.isfinite(z)
    last = z.shape[1] - 1
    first, final = np.argmax(known, axis=1), last - np.argmax(known[:, ::-1], axis=1)
    at = np.argmin(z, axis=1)
    back = last - np.argmin(z[:, ::-1], axis=1)
    return np.asarray((at == first) & (first > 0) & (back == at) | (back == final) & (final < last) & (back == at))


def _square(n: int) -> F64:
    """Points (n², 2) of a grid from −1 to 1."""
    t = np.linspace(-1, 1, n)
    return np.stack(np.meshgrid(t, t), axis=-1).reshape(-1, 2)


class _Box:
    """The lowest underside over an outline."""

    def __init__(self, columns: Columns, outline: F64) -> None:
        self._columns, self._outline = columns, outline
        self.low, self.high = outline.min(axis=0), outline.max(axis=0)

    @classmethod
    def around(cls, mesh: Mesh, outline: F64) -> _Box:
        if len(outline) < 3:
            raise SpanProblem("An area needs an outline of three points at least.", "Pick another point.")
        box = cls(_columns(mesh, outline), outline)
        if not np.isfinite(box.grid(_GRID)[1]).any():
            raise SpanProblem("Nothing hangs over this area.", "Pick an underside of the part.")
        return box

    @property
    def size(self) -> F64:
        """Half the box, (2,) mm."""
        return np.asarray((self.high - self.low) / 2)

    def grid(self, n: int) -> tuple[F64, F64]:
        """Points (n², 2) over the box and the underside at each, NaN outside the outline."""
        points = (self.low + self.high) / 2 + _square(n) * self.size
        return points, self.heights(points)

    def heights(self, points: F64) -> F64:
        """Height (n,) of the lowest underside over points (n, 2); NaN where nothing hangs or outside the outline."""
        line, height, sign = self._columns.crossings(points)
        enters = sign > 0
        first_line, first = np.unique(line[enters], return_index=True)
        out = np.full(len(points), np.nan)
        out[first_line] = height[enters][first]
        out[~_inside(self._outline, points)] = np.nan
        return out


def _inside(outline: F64, points: F64) -> Bool:
    """Whether points (n, 2) lie within an outline (k, 2), by counting crossings."""
    a, b = outline, np.roll(outline, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    cross = (a[:, 1] > y) != (b[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return np.asarray((cross & (x < at)).sum(axis=1) % 2 == 1)
