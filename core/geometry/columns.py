"""Vertical lines through a mesh: where they enter and leave the material.

Everything about gaps is measured on the mesh itself by such lines, never on layers.
Material is where the winding number is positive, so overlapping shells count as united
(the positive fill rule of the 3MF core specification 1.4.0, §4.1).

A line that meets an edge or a corner exactly is treated as if moved by (ε, ε²), the same for all triangles
(simulation of simplicity: Edelsbrunner and Mücke 1990), so nothing is counted twice or missed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_array, csr_array

from core.geometry.mesh import F64, I32, I64, Bool, Mesh

#: Air thinner than this between two pieces of material is a rounding of the file, not a gap. mm; from memory.
LEAST_AIR = 1e-3
#: Grid cells at most, and entries in them for each triangle (and besides); more cost memory without saving work.
MAX_CELLS, MOST_ENTRIES, SPARE_ENTRIES = 1 << 18, 6.0, 1e5


@dataclass(frozen=True, eq=False)
class Columns:
    """Triangles near a region of the plane, sorted into a grid. Frame: the mesh's; lines run along +Z."""

    mesh: Mesh
    low: F64
    cell: float
    shape: tuple[int, int]
    start: I64
    members: I32
    boxes: tuple[F64, F64]
    turn: F64

    @classmethod
    def over(cls, mesh: Mesh, low: ArrayLike, high: ArrayLike) -> Columns:
        """Prepare for lines within the box ``low``..``high`` (2,) of the xy plane, mm."""
        lo, hi = np.asarray(low, np.float64) - 1e-6, np.asarray(high, np.float64) + 1e-6
        tri_lo, tri_hi = _plan_boxes(mesh)
        turn = _turns(mesh)
        near = np.flatnonzero(_meet(tri_lo, tri_hi, lo, hi) & (turn != 0)).astype(np.int32)  # upright: never crossed
        size = np.maximum(hi - lo, 1e-9)
        from_lo, from_hi = np.clip(tri_lo[near] - lo, 0, size), np.clip(tri_hi[near] - lo, 0, size)
        cell = _cell(size, from_hi - from_lo)
        shape = tuple(int(n) for n in np.maximum(np.ceil(size / cell), 1).astype(int))
        first = np.clip((from_lo / cell).astype(np.int64), 0, np.array(shape) - 1)
        last = np.clip((from_hi / cell).astype(np.int64), 0, np.array(shape) - 1)
        which, cells = _cells_covered(first, last, shape[1])
        # A sparse matrix of cells × triangles is put in order by counting, ten times faster than by sorting.
        grid = coo_array((np.ones(len(cells), np.int8), (cells, which)), shape=(shape[0] * shape[1], max(len(near), 1)))
        rows = csr_array(grid)
        members = near[rows.indices]
        return cls(
            mesh, lo, cell, (shape[0], shape[1]), rows.indptr.astype(np.int64), members, (tri_lo, tri_hi), turn
        )

    def crossings(self, points: ArrayLike) -> tuple[I64, F64, F64]:
        """Where vertical lines at ``points`` (q, 2) cross the mesh.

        Returns the line of each crossing (h,), its height (h,) mm and +1 where it enters the material going up,
        −1 where it leaves, sorted by line and height, entries before exits at one height.
        """
        line, height, sign, _ = self.hits(points)
        return line, height, sign

    def hits(self, points: ArrayLike) -> tuple[I64, F64, F64, I32]:
        """As ``crossings``, and with them the triangle that is crossed (h,)."""
        p = np.asarray(points, np.float64).reshape(-1, 2)
        at = np.floor((p - self.low) / self.cell).astype(np.int64)
        inside = ((at >= 0) & (at < self.shape)).all(axis=1)
        flat = np.where(inside, at[:, 0] * self.shape[1] + at[:, 1], 0)
        count = np.where(inside, self.start[flat + 1] - self.start[flat], 0)
        line = np.repeat(np.arange(len(p)), count)
        offset = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
        triangle = self.members[self.start[flat[line]] + offset]
        near = self._box_holds(triangle, p[line])
        line, triangle = line[near], triangle[near]
        hit, height = _cross(self.mesh, self.turn, triangle, p[line])
        line, triangle = line[hit], triangle[hit]
        sign = -self.turn[triangle]
        order = np.lexsort((-sign, height, line))
        return line[order], height[order], sign[order], triangle[order]

    def _box_holds(self, triangle: I32, p: F64) -> I64:
        """Which of the pairs (triangle, line at p) are near enough in plan to be worth a closer look."""
        low, high = self.boxes
        x, y = p[:, 0], p[:, 1]
        held = (low[triangle, 0] <= x) & (x <= high[triangle, 0])
        held &= (low[triangle, 1] <= y) & (y <= high[triangle, 1])
        return np.flatnonzero(held)

    def air(self, points: ArrayLike) -> tuple[I64, F64, F64]:
        """Every stretch of air on vertical lines at ``points`` (q, 2): line (a,), floor (a,) and ceiling (a,), mm.

        A stretch without material below has floor −inf, one without material above ceiling +inf.
        Sorted by line and height; each line has one at least.
        """
        p = np.asarray(points, np.float64).reshape(-1, 2)
        line, height, sign = self.crossings(p)
        first = np.r_[True, line[1:] != line[:-1]] if len(line) else np.zeros(0, np.bool_)
        total = np.cumsum(sign)
        base = (
            np.repeat(total[first] - sign[first], np.diff(np.r_[np.flatnonzero(first), len(line)]))
            if len(line)
            else total
        )
        depth = total - base
        enters = (depth > 0) & (depth - sign <= 0)
        leaves = (depth <= 0) & (depth - sign > 0)
        all_lines = np.arange(len(p))
        ceil_line = np.r_[line[enters], all_lines]
        ceil_z = np.r_[height[enters], np.full(len(p), np.inf)]
        floor_line = np.r_[all_lines, line[leaves]]
        floor_z = np.r_[np.full(len(p), -np.inf), height[leaves]]
        ceil_z = ceil_z[np.lexsort((ceil_z, ceil_line))]
        order = np.lexsort((floor_z, floor_line))
        # A line that ends inside (an open mesh) has an entry without an exit: drop the unmatched ceiling.
        return _matched(np.sort(ceil_line, kind="stable"), ceil_z, floor_line[order], floor_z[order])

    def air_around(self, points: ArrayLike, height: ArrayLike) -> tuple[F64, F64]:
        """Floor and ceiling (q,) of the air at ``height`` (q,) on lines at ``points`` (q, 2); NaN inside material."""
        p = np.asarray(points, np.float64).reshape(-1, 2)
        z = np.broadcast_to(np.asarray(height, np.float64), (len(p),))
        line, floor, ceiling = self.air(p)
        here = (floor < z[line]) & (z[line] < ceiling)
        out_floor, out_ceiling = np.full(len(p), np.nan), np.full(len(p), np.nan)
        out_floor[line[here]], out_ceiling[line[here]] = floor[here], ceiling[here]
        return out_floor, out_ceiling


def _matched(ceil_line: I64, ceil_z: F64, floor_line: I64, floor_z: F64) -> tuple[I64, F64, F64]:
    """Pair floors and ceilings line by line, in order, and drop air thinner than LEAST_AIR."""
    lines = int(max(ceil_line.max(initial=-1), floor_line.max(initial=-1))) + 1
    ceilings = np.bincount(ceil_line, minlength=lines)
    floors = np.bincount(floor_line, minlength=lines)
    fit = np.minimum(ceilings, floors)
    rank_c = np.arange(len(ceil_line)) - np.repeat(np.cumsum(ceilings) - ceilings, ceilings)
    rank_f = np.arange(len(floor_line)) - np.repeat(np.cumsum(floors) - floors, floors)
    keep_c, keep_f = rank_c < fit[ceil_line], rank_f < fit[floor_line]
    line, floor, ceiling = floor_line[keep_f], floor_z[keep_f], ceil_z[keep_c]
    real = ceiling - floor > LEAST_AIR
    return line[real], floor[real], ceiling[real]


def _cell(size: F64, extent: F64) -> float:
    """Side of the square cells for a box of ``size`` (2,) that holds triangles of ``extent`` (m, 2) in plan, mm."""
    most = float(np.clip(2.25 * len(extent), 1, MAX_CELLS))
    cell = max(float(np.sqrt(size.prod() / most)), float(size.max()) / most)
    while cell < size.max() and float((extent / cell + 1).prod(axis=1).sum()) > (
        MOST_ENTRIES * len(extent) + SPARE_ENTRIES
    ):
        cell *= 1.5
    return cell


def _plan_boxes(mesh: Mesh) -> tuple[F64, F64]:
    """Smallest and largest x and y of every triangle, two (m, 2)."""
    xy = mesh.vertices[:, :2]
    a, b, c = (xy[mesh.triangles[:, i]] for i in range(3))
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _meet(tri_lo: F64, tri_hi: F64, lo: F64, hi: F64) -> Bool:
    """Which boxes (m, 2) reach into the box ``lo``..``hi`` (2,). Column by column: narrow rows are slow to reduce."""
    out: Bool = (tri_hi[:, 0] >= lo[0]) & (tri_lo[:, 0] <= hi[0]) & (tri_hi[:, 1] >= lo[1]) & (tri_lo[:, 1] <= hi[1])
    return out


def _turns(mesh: Mesh) -> F64:
    """+1 for every triangle (m,) that runs counter-clockwise in plan, −1 for clockwise, 0 for an upright one."""
    x, y = (np.ascontiguousarray(mesh.vertices[:, i]) for i in (0, 1))
    a, b, c = (mesh.triangles[:, i] for i in range(3))
    ax, ay = x[a], y[a]
    out: F64 = np.sign((x[b] - ax) * (y[c] - ay) - (y[b] - ay) * (x[c] - ax))
    return out


def _cells_covered(first: I64, last: I64, columns: int) -> tuple[I64, I64]:
    """For each box of grid cells (n, 2)..(n, 2): the box number and the flat number of every cell in it."""
    span = last - first + 1
    count = span[:, 0] * span[:, 1]
    which = np.repeat(np.arange(len(first)), count)
    k = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    wide = span[which, 1]
    return which, (first[which, 0] + k // wide) * columns + first[which, 1] + k % wide


def _cross(mesh: Mesh, turns: F64, triangle: I32, p: F64) -> tuple[I64, F64]:
    """Which of the pairs (triangle, line at p) cross, and at what height. Each side drops the pairs that miss it."""
    x, y = (np.ascontiguousarray(mesh.vertices[:, i]) for i in (0, 1))
    turn = turns[triangle]
    hit = np.flatnonzero(turn != 0)
    weights: list[F64] = []
    for k in range(3):
        ids = mesh.triangles[triangle[hit]]
        value, sign = _side(x, y, ids[:, (k + 1) % 3], ids[:, (k + 2) % 3], p[hit])
        inside = np.flatnonzero(sign == turn[hit])
        hit = hit[inside]
        weights = [w[inside] for w in (*weights, value)]
    w = np.column_stack(weights)
    z = mesh.vertices[mesh.triangles[triangle[hit]], 2]
    return hit, np.einsum("ij,ij->i", w, z) / w.sum(axis=1)


def _side(x: F64, y: F64, a: I32, b: I32, p: F64) -> tuple[F64, F64]:
    """On which side of the plan line a→b the points lie: twice the signed area, and a sign that is never zero.

    Worked out from the lower vertex number to the higher, so the two triangles at an edge get exactly opposite answers.
    """
    flip = a > b
    lo, hi = np.where(flip, b, a), np.where(flip, a, b)
    start_x, start_y = x[lo], y[lo]
    step_x, step_y = x[hi] - start_x, y[hi] - start_y
    value = step_x * (p[:, 1] - start_y) - step_y * (p[:, 0] - start_x)
    sign = np.sign(value)
    zero = np.flatnonzero(sign == 0)
    sign[zero] = np.where(step_y[zero] != 0, -np.sign(step_y[zero]), np.sign(step_x[zero]))
    back = np.where(flip, -1.0, 1.0)
    return value * back, sign * back
