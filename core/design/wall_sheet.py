"""The skin of a wall: an upright sheet of one thickness along a line in plan, with openings, as a closed mesh.

The sheet is drawn unrolled, arc length s against height z, in columns between stations; in each column it consists of
stretches of material whose lower and upper ends are straight in s. Neighbouring columns share their corners, so the
skin is closed by construction, also where a column has an opening and the next has none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from core.errors import MeshProblem
from core.geometry.mesh import F64, Mesh

#: A stretch of material in a column: lower and upper end at the column's start, then at its end, mm.
Stretch = tuple[float, float, float, float]
#: Heights that differ by less are one, mm.
_SAME = 1e-6
#: The least cosine by which a mitre is stretched: sharper turns are cut off instead of running to a spike.
_LEAST_MITRE = 0.25


@dataclass(frozen=True)
class Sheet:
    """An unrolled wall: ``left`` and ``right`` (n, 2) plan points of its two faces at every station, mm.

    ``columns`` holds the material between station i and the next, from the lowest up; n of them when closed, else
    n − 1. ``left`` is on the left hand of the run.
    """

    left: F64
    right: F64
    columns: Sequence[Sequence[Stretch]]
    closed: bool


def faces(axis: F64, thickness: float, closed: bool) -> tuple[F64, F64]:
    """Plan points (n, 2) of the left and right face of a wall about ``axis`` (n, 2), mitred at the corners, mm."""
    step = np.roll(axis, -1, axis=0) - axis
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12)
    before = np.roll(step, 1, axis=0)
    if not closed:
        before[0], step[-1] = step[0], before[-1]
    normal = np.column_stack([-step[:, 1], step[:, 0]]) + np.column_stack([-before[:, 1], before[:, 0]])
    cosine = np.maximum((1 + np.einsum("ij,ij->i", step, before)) / 2, _LEAST_MITRE)
    out = normal * (thickness / 4 / cosine)[:, None]
    return axis + out, axis - out


def sheet_mesh(sheet: Sheet) -> Mesh:
    """The closed, outward skin of a sheet, mm. Raises MeshProblem when it holds no material."""
    return _Skin(sheet).mesh()


class _Skin:
    """Collects the corners and triangles of a sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.count = len(sheet.left)
        self._index: dict[tuple[int, int, int], int] = {}
        self._points: list[tuple[float, float, float]] = []
        self._triangles: list[tuple[int, int, int]] = []
        self._nodes = [self._heights(i) for i in range(self.count)]

    def mesh(self) -> Mesh:
        for i, column in enumerate(self.sheet.columns):
            for stretch in column:
                self._stretch(i, stretch)
        for i in range(self.count):
            self._upright(i)
        if not self._triangles:
            raise MeshProblem("Nothing is left of the wall.", "Choose another edge, or less clearance.")
        return Mesh(np.array(self._points), np.array(self._triangles, np.int32))

    def _beside(self, station: int) -> tuple[Sequence[Stretch], Sequence[Stretch]]:
        """The columns before and after a station; nothing beyond an open end."""
        columns, closed = self.sheet.columns, self.sheet.closed
        before = columns[station - 1] if station > 0 or closed else ()
        after = columns[station] if station < len(columns) else ()
        return before, after

    def _heights(self, station: int) -> F64:
        """All heights at which something begins or ends at a station, ascending."""
        before, after = self._beside(station)
        z = sorted({round(x / _SAME) for s in before for x in s[2:]} | {round(x / _SAME) for s in after for x in s[:2]})
        return np.array(z, np.float64) * _SAME

    def _corner(self, station: int, side: int, z: float) -> int:
        key = (station, side, round(z / _SAME))
        if key not in self._index:
            x, y = (self.sheet.left if side else self.sheet.right)[station]
            self._index[key] = len(self._points)
            self._points.append((float(x), float(y), key[2] * _SAME))
        return self._index[key]

    def _between(self, station: int, low: float, high: float) -> list[float]:
        nodes = self._nodes[station]
        return [float(z) for z in nodes[(nodes > low - _SAME / 2) & (nodes < high + _SAME / 2)]]

    def _stretch(self, column: int, stretch: Stretch) -> None:
        """Both faces, the top and the bottom of one stretch of material."""
        a, b = column, (column + 1) % self.count
        start, stop = self._between(a, *stretch[:2]), self._between(b, *stretch[2:])
        for side in (0, 1):
            near = [self._corner(a, side, z) for z in start]
            far = [self._corner(b, side, z) for z in stop]
            self._face(near, far, start, stop, outward=side == 0)
        for i, up in ((0, False), (-1, True)):
            right = self._corner(a, 0, start[i]), self._corner(b, 0, stop[i])
            left = self._corner(a, 1, start[i]), self._corner(b, 1, stop[i])
            self._quad(*((*right, *left[::-1]) if up else (*left, *right[::-1])))

    def _face(self, near: list[int], far: list[int], z0: list[float], z1: list[float], *, outward: bool) -> None:
        """Triangles between two upright chains of corners, the lower end of each first."""
        i = j = 0
        while i < len(near) - 1 or j < len(far) - 1:
            left_next = i < len(near) - 1 and (j == len(far) - 1 or _share(z0, i + 1) <= _share(z1, j + 1))
            triangle = (near[i], far[j], near[i + 1]) if left_next else (near[i], far[j], far[j + 1])
            self._triangles.append(triangle if outward else triangle[::-1])
            i, j = (i + 1, j) if left_next else (i, j + 1)

    def _upright(self, station: int) -> None:
        """Where one of two neighbouring columns has material and the other has none."""
        before, after = self._beside(station)
        nodes = self._nodes[station]
        for low, high in pairwise(nodes.tolist()):
            middle = (low + high) / 2
            here = any(s[2] < middle < s[3] for s in before)
            there = any(s[0] < middle < s[1] for s in after)
            if here == there:
                continue
            quad = (
                self._corner(station, 0, low), self._corner(station, 1, low),
                self._corner(station, 1, high), self._corner(station, 0, high),
            )  # fmt: skip
            self._quad(*(quad if here else quad[::-1]))

    def _quad(self, a: int, b: int, c: int, d: int) -> None:
        self._triangles += [(a, b, c), (a, c, d)]


def _share(z: list[float], i: int) -> float:
    """How far up a chain its corner i lies, 0 to 1."""
    size = z[-1] - z[0]
    return (z[i] - z[0]) / size if size > 0 else 1.0
