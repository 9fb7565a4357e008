"""Closed lines in the plane: ordered from links, and thinned where they are straight.

Everything works on many contours at once, lying end to end in one array; ``starts`` says where each begins.
Numbers are mm in the frame of the owner.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components

from core.geometry.mesh import F64, I32, Bool

Index = NDArray[np.intp]

#: Rounds of thinning; each can halve the points.
_ROUNDS = 8
#: Thinning stops when a round removes less than this share.
_WORTH_A_ROUND = 0.04


@dataclass(frozen=True, eq=False)
class Contours:
    """Closed lines end to end: ``points`` (n, 2) mm, ``starts`` (c + 1,) and the ``owner`` (c,) of each, ascending.

    ``seed`` (c,) is the number of one link that each contour came from.
    """

    points: F64
    starts: Index
    owner: Index
    seed: Index

    def signed_areas(self) -> F64:
        """Area of every contour, (c,) mm², positive where it runs counter-clockwise (shoelace formula)."""
        if not len(self.owner):
            return np.zeros(0)
        x, y = self.points[:, 0], self.points[:, 1]
        after = np.arange(1, len(x) + 1)
        after[self.starts[1:] - 1] = self.starts[:-1]
        x0, y0 = (np.repeat(c[self.starts[:-1]], np.diff(self.starts)) for c in (x, y))
        twice = (x - x0) * (y[after] - y0) - (x[after] - x0) * (y - y0)
        out: F64 = 0.5 * np.add.reduceat(twice, self.starts[:-1])
        return out

    def lines(self) -> list[F64]:
        """The contours one by one, each (k, 2)."""
        return [self.points[a:b] for a, b in pairwise(self.starts.tolist())]


def ordered(following: I32) -> tuple[Index, Index]:
    """Put links in running order. ``following`` (n,) names for every link the next one; it is a permutation.

    Returns the order (n,) and the starts (c + 1,) of the closed runs in it. Runs are sorted by their lowest link,
    and each begins with it.
    """
    n = len(following)
    if not n:
        return np.zeros(0, np.intp), np.zeros(1, np.intp)
    label = runs(following)[1]
    count = np.bincount(label)
    first = np.empty(len(count), np.int32)
    first[label[::-1]] = np.arange(n - 1, -1, -1, dtype=np.int32)
    by_first = np.argsort(first)
    first, count = first[by_first], count[by_first]
    # One path through all runs: the last link of each leads to the first of the next. A walk in breadth along
    # a path is the path itself, and it runs in compiled code.
    before = np.empty(n, np.int32)
    before[following] = np.arange(n, dtype=np.int32)
    path = following.copy()
    path[before[first]] = np.roll(first, -1)
    order = breadth_first_order(_graph(path), int(first[0]), directed=True, return_predecessors=False)
    return order.astype(np.intp), np.concatenate([[0], np.cumsum(count)]).astype(np.intp)


def _graph(following: I32) -> csr_array:
    n = len(following)
    return csr_array((np.ones(n, np.int8), following, np.arange(n + 1, dtype=np.int32)), shape=(n, n))


def runs(following: I32) -> tuple[int, I32]:
    """Number of runs and the run of every link; −1 in ``following`` ends a run."""
    ends = following < 0
    if ends.any():
        following = np.where(ends, np.arange(len(following), dtype=np.int32), following)
    count, label = connected_components(_graph(following), directed=False)
    return int(count), label


def thinned(contours: Contours, tolerance: float) -> Contours:
    """The same contours with fewer points; no point removed lies farther than ``tolerance`` (mm) from what is left.

    Every second point is tried at once, again and again. An edge carries the largest departure of the points
    already removed along it, and the next removal adds to it, so the bound holds over all rounds.
    """
    x, y = contours.points[:, 0].copy(), contours.points[:, 1].copy()
    count = np.diff(contours.starts)
    head = np.zeros(len(x), np.bool_)
    head[contours.starts[:-1]] = True
    spent = np.zeros(len(x))
    for turn in range(_ROUNDS if tolerance > 0 else 0):
        gone = _spare((x, y), head, spent, tolerance, turn % 2)
        if np.count_nonzero(gone) < _WORTH_A_ROUND * len(x):
            break
        keep = ~gone
        x, y, head, spent = x[keep], y[keep], head[keep], spent[keep]
    starts = np.append(np.flatnonzero(head), len(x)).astype(np.intp)
    if len(count) and len(x) == len(contours.points):
        return contours
    return Contours(np.column_stack([x, y]), starts, contours.owner, contours.seed)


def _spare(point: tuple[F64, F64], head: Bool, spent: F64, tolerance: float, phase: int) -> Bool:
    """Which points can go in this round, (n,) bool; ``spent`` of the edges that stay is brought up to date."""
    x, y = point
    gone = np.zeros(len(x), np.bool_)
    n = (len(x) - phase - 1) // 2
    if n <= 0:
        return gone
    a, p, b = (slice(phase + i, phase + i + 2 * n - 1, 2) for i in range(3))
    dx, dy, px, py = x[b] - x[a], y[b] - y[a], x[p] - x[a], y[p] - y[a]
    square = dx * dx + dy * dy
    off = np.abs(dx * py - dy * px)
    along = dx * px + dy * py
    # The departure is off / √square; compared in squares, so that no root is taken of a point that stays.
    carried = np.maximum(spent[a], spent[p])
    room = tolerance - carried
    fits = (off * off <= room * room * square) & (room >= 0) & (along >= 0) & (along <= square) & (square > 0)
    fits &= ~head[p]
    fits &= ~head[b]
    go = np.flatnonzero(fits)
    at = 2 * go + phase
    gone[at + 1] = True
    spent[at] = carried[go] + off[go] / np.sqrt(square[go])
    return gone
