"""A line of points, open or closed: how edges, ledges and axes are named, compared and saved."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from core.errors import BadValue
from core.geometry.mesh import F64, frozen


@dataclass(frozen=True)
class Polyline:
    """Points (k ≥ 2) in mm; the frame is the owner's. A closed line does not repeat its first point."""

    points: tuple[tuple[float, float, float], ...]
    closed: bool = False

    def __post_init__(self) -> None:
        if len(self.points) < (3 if self.closed else 2):
            raise BadValue("A line needs two points at least, a closed one three.")

    @classmethod
    def of(cls, points: ArrayLike, closed: bool = False) -> Polyline:
        """A polyline from a (k, 3) array, mm."""
        rows = np.asarray(points, np.float64)
        return cls(tuple((float(x), float(y), float(z)) for x, y, z in rows), closed)

    @cached_property
    def array(self) -> F64:
        """The points, (k, 3) float64, read-only."""
        out = np.array(self.points, np.float64)
        frozen(out)
        return out

    @cached_property
    def ring(self) -> F64:
        """The points with the first one repeated at the end when closed, (k or k + 1, 3)."""
        out = np.vstack([self.array, self.array[:1]]) if self.closed else self.array.copy()
        frozen(out)
        return out

    @cached_property
    def stations(self) -> F64:
        """Arc length at every point of ``ring``, float64, mm, from 0."""
        out: F64 = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(self.ring, axis=0), axis=1))]
        frozen(out)
        return out

    @property
    def length(self) -> float:
        """Arc length in mm."""
        return float(self.stations[-1])

    def at(self, s: ArrayLike) -> F64:
        """Points at arc lengths ``s`` (n,), (n, 3) mm; closed lines wrap, open ones end at their ends."""
        x = np.atleast_1d(np.asarray(s, np.float64))
        x = np.mod(x, self.length) if self.closed else np.clip(x, 0.0, self.length)
        return np.column_stack([np.interp(x, self.stations, self.ring[:, i]) for i in range(3)])

    def directions(self, s: ArrayLike) -> F64:
        """Unit tangents at arc lengths ``s`` (n,), (n, 3); at a vertex the one that follows."""
        x = np.atleast_1d(np.asarray(s, np.float64))
        x = np.mod(x, self.length) if self.closed else np.clip(x, 0.0, self.length)
        seg = np.clip(np.searchsorted(self.stations, x, side="right") - 1, 0, len(self.stations) - 2)
        step = np.diff(self.ring, axis=0)[seg]
        length = np.linalg.norm(step, axis=1, keepdims=True)
        out: F64 = np.divide(step, length, out=np.zeros_like(step), where=length > 0)
        return out

    def moved(self, matrix: F64) -> Polyline:
        """The line carried over by a (4, 4) rigid transform."""
        return Polyline.of(self.array @ matrix[:3, :3].T + matrix[:3, 3], self.closed)

    def reversed(self) -> Polyline:
        """The same line run the other way."""
        return Polyline(self.points[::-1], self.closed)


def end_to_end(first: Polyline, second: Polyline, within: float) -> Polyline | None:
    """Two open lines that meet at an end, within ``within`` mm, as one; closed when they meet at both.

    None when they do not meet, or when the second runs along the first.
    """
    a, b = first.array, second.array
    if first.closed or second.closed:
        return None
    apart = np.linalg.norm(b[:, None] - a[None], axis=2).min(axis=1)
    middle = second.at(second.length / 2)[0]
    along = np.linalg.norm(first.at(np.linspace(0.0, first.length, 200)) - middle, axis=1).min()
    if (apart <= within).all() and along <= max(within, first.length / 200):
        return None
    for line, onto in ((a, b), (a, b[::-1]), (a[::-1], b), (a[::-1], b[::-1])):
        if np.linalg.norm(line[-1] - onto[0]) <= within:
            whole = np.vstack([line, onto[1:]])
            closes = len(whole) > 3 and float(np.linalg.norm(whole[-1] - whole[0])) <= within
            return Polyline.of(whole[:-1] if closes else whole, closes)
    return None
