"""Polygons with more than three corners become triangles by clipping ears, not by fanning.

A fan is right for a convex polygon only; there it is what ear clipping would give, and is made for all at once.
Source: Meisters, Polygons Have Ears, American Mathematical Monthly 82 (1975); the normal is Newell's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from core.errors import RefusedFile
from core.files.content import counted
from core.files.guard import Limits
from core.geometry.mesh import F64, I64, Bool

_LOOKS: Final = 12
"""Corners looked at, per corner of the polygon, before it is taken for a tangle. Combs, spirals and stars of
thousands of corners need two to four; a tangle would take the cube of its corners in time."""


@dataclass(frozen=True, eq=False)
class Cut:
    """Triangles (m, 3) int64 in the order of the polygons; how many polygons had more than three corners,
    and how many of them cross themselves, so that their triangles are a guess."""

    triangles: I64
    polygons: int
    crossing: int

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for the person."""
        cut = f"{counted(self.polygons, 'polygon')} with more than three corners cut into triangles."
        guess = f"{counted(self.crossing, 'polygon')} cross themselves; how they are cut is a guess."
        return tuple(text for text, number in ((cut, self.polygons), (guess, self.crossing)) if number)


def triangulated(vertices: F64, loops: I64, sizes: I64, limits: Limits) -> Cut:
    """Cut polygons into triangles.

    ``vertices`` (n, 3) in any unit and frame; ``loops`` (k,) the corner indices of one polygon after the other;
    ``sizes`` (p,) how many corners each has, at least three. Raises RefusedFile beyond the limit of corners.
    """
    if len(sizes) and sizes.max() > limits.polygon_corners:
        raise RefusedFile(
            f"A polygon has {sizes.max():,} corners; the limit is {limits.polygon_corners:,}.",
            "Export the mesh as triangles.",
        )
    starts = np.cumsum(sizes) - sizes
    owners: list[I64] = []
    triangles: list[I64] = []
    crossing = 0
    for size in np.unique(sizes):
        which = np.flatnonzero(sizes == size)
        rows = loops[starts[which, None] + np.arange(size)]
        owner, cut, crossed = _of_one_size(vertices, rows)
        owners.append(which[owner])
        triangles.append(cut)
        crossing += crossed
    if not triangles:
        return Cut(np.zeros((0, 3), np.int64), 0, 0)
    order = np.argsort(np.concatenate(owners), kind="stable")
    return Cut(np.concatenate(triangles)[order], int((sizes > 3).sum()), crossing)


def _of_one_size(vertices: F64, rows: I64) -> tuple[I64, I64, int]:
    """Triangles of polygons (p, s) with their owners; how many cross themselves."""
    count, size = rows.shape
    if size == 3:
        return np.arange(count), rows, 0
    convex = _is_convex(vertices[rows])
    fans = np.stack([rows[convex][:, [0, i, i + 1]] for i in range(1, size - 1)], axis=1).reshape(-1, 3)
    owners, triangles = [np.repeat(np.flatnonzero(convex), size - 2)], [fans]
    crossing = 0
    for which in np.flatnonzero(~convex):
        ears, crossed = clip_ears(vertices[rows[which]])
        owners.append(np.full(len(ears), which))
        triangles.append(rows[which][ears])
        crossing += crossed
    return np.concatenate(owners), np.concatenate(triangles), crossing


def _is_convex(points: F64) -> Bool:
    """Which polygons (p, s, 3) turn left at every corner, and whose fan about the first corner has no fold."""
    away = points - points[:, :1]
    fan = np.cross(away[:, 1:-1], away[:, 2:])
    normal = fan.sum(axis=1)
    edges = np.roll(points, -1, axis=1) - points
    turns = np.cross(edges, np.roll(edges, -1, axis=1))
    left = (np.einsum("psk,pk->ps", turns, normal) > 0).all(axis=1)
    unfolded: Bool = left & (np.einsum("psk,pk->ps", fan, normal) > 0).all(axis=1)
    return unfolded


def clip_ears(points: F64) -> tuple[I64, bool]:
    """Triangles (s − 2, 3) of local indices for one polygon (s, 3), and whether it crosses itself.

    The polygon is looked at along the axis nearest to its normal, so no coordinate is rounded. Corners in line are
    kept as corners; where nothing else is left they make triangles without area, which hold the mesh together.
    """
    flat = _flat(points)
    ring = _Ring(flat, list(range(len(points))))
    winds = not _turns_once(flat)
    triangles: list[tuple[int, int, int]] = []
    while len(ring.left) > 3:
        triangles.append(ring.clip())
    triangles.append((ring.left[0], ring.left[1], ring.left[2]))
    return np.array(triangles, dtype=np.int64), ring.crossed or winds


def _turns_once(flat: F64) -> bool:
    """Whether the polygon (s, 2) turns by 360° in all, as every one that does not cross itself does (Hopf 1935)."""
    edges = np.roll(flat, -1, axis=0) - flat
    edges = edges[(edges != 0).any(axis=1)]
    after = np.roll(edges, -1, axis=0)
    cross = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    turn = np.arctan2(cross, np.einsum("ij,ij->i", edges, after)).sum()
    return round(float(turn) / (2 * np.pi)) == 1


def _flat(points: F64) -> F64:
    """The polygon in the coordinate plane that it faces most, (s, 2), counter-clockwise."""
    away = points - points[0]
    normal = np.cross(away[1:-1], away[2:]).sum(axis=0)
    axis = int(np.abs(normal).argmax())
    keep = [(1, 2), (2, 0), (0, 1)][axis]
    flat = away[:, keep] if normal[axis] >= 0 else away[:, keep[::-1]]
    return np.ascontiguousarray(flat)


@dataclass(eq=False)
class _Ring:
    """What is left of a polygon (s, 2) while its ears are clipped."""

    flat: F64
    left: list[int]
    crossed: bool = False
    at: int = 0
    looks: int = 0

    def clip(self) -> tuple[int, int, int]:
        """Take one ear off: the next proper one; else one that others touch; else a corner without area."""
        turns = self._turns()
        for strict in (False, True):
            ear = self._ear(turns, strict)
            if ear is not None:
                return self._take(ear)
        flat = np.flatnonzero(turns == 0)
        self.crossed = self.crossed or not len(flat)
        return self._take(int(flat[0]) if len(flat) else int(turns.argmax()))

    def _ear(self, turns: F64, strict: bool) -> int | None:
        """The next corner that is an ear; none once the polygon is known to cross itself."""
        size = len(self.left)
        for i in (self.at + np.flatnonzero(np.roll(turns, -self.at) > 0)) % size:
            self.looks += 1
            self.crossed = self.crossed or self.looks > _LOOKS * len(self.flat)
            if self.crossed:
                return None
            if self._is_free(int(i), turns, strict):
                return int(i)
        return None

    def _turns(self) -> F64:
        """Twice the area of the triangle at every corner; positive where the corner is convex."""
        here = self.flat[self.left]
        before, after = np.roll(here, 1, axis=0), np.roll(here, -1, axis=0)
        return _area(before, here, after)

    def _is_free(self, i: int, turns: F64, strict: bool) -> bool:
        """Whether no corner that is not convex lies in the triangle at corner i (on its rim, unless ``strict``)."""
        here = self.flat[self.left]
        a, b, c = here[i - 1], here[i], here[(i + 1) % len(here)]
        others = here[turns <= 0]
        others = others[~((others == a).all(axis=1) | (others == b).all(axis=1) | (others == c).all(axis=1))]
        sides = np.stack([_area(a, b, others), _area(b, c, others), _area(c, a, others)])
        inside = (sides > 0).all(axis=0) if strict else (sides >= 0).all(axis=0)
        return not inside.any()

    def _take(self, i: int) -> tuple[int, int, int]:
        size = len(self.left)
        ear = (self.left[i - 1], self.left[i], self.left[(i + 1) % size])
        del self.left[i]
        self.at = i % (size - 1)  # go on behind the ear: the triangles come out less like needles
        return ear


def _area(a: F64, b: F64, c: F64) -> F64:
    """Twice the signed area of triangles in the plane."""
    return (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
