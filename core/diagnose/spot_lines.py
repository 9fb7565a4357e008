"""The lines that weak spots lie on, and which edges and spans run along them. Lengths mm, bed frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Protocol

import numpy as np
from scipy.spatial import cKDTree

from core.design.setup import PrintSetup
from core.design.span import Span
from core.geometry.mesh import F64, Bool
from core.geometry.polyline import Polyline

#: A spot lies on an edge within this distance in plan, and this many layers above it.
NEAR_SPOT: Final = 1.2
LAYERS_OFF: Final = 2.5
#: This share of an edge (or of a spot's line) must lie there.
SHARE: Final = 0.25
#: An edge runs along a spot's line when the cosine between them is more than this.
ALONG: Final = 0.5


class Spot(Protocol):
    """What is needed of a weak spot."""

    @property
    def id(self) -> str:
        """Its name in this inspection."""

    @property
    def z(self) -> float:
        """Height above the bed, mm."""

    @property
    def reach(self) -> float:
        """Farthest distance to support, mm."""

    @property
    def severity(self) -> float:
        """0…1."""

    @property
    def path(self) -> Polyline:
        """The line that carries it, bed mm."""


@dataclass(frozen=True, eq=False)
class Line:
    """Points (k, 3) spread over a line and the ways (k, 3) it runs there."""

    points: F64
    ways: F64

    @classmethod
    def of(cls, line: Polyline) -> Line:
        """About one point a millimetre, eight at least."""
        s = np.linspace(0, line.length, max(8, int(line.length)))
        return cls(line.at(s), line.directions(s))

    @cached_property
    def tree(self) -> cKDTree:
        """The points by their place in plan."""
        return cKDTree(self.points[:, :2])


@dataclass(frozen=True, eq=False)
class SpotLines:
    """Weak spots with their lines, so that each is looked at only by what lies near it."""

    spots: tuple[Spot, ...]
    setup: PrintSetup

    @classmethod
    def of(cls, spots: Iterable[Spot], setup: PrintSetup) -> SpotLines:
        """Prepare some spots (bed mm)."""
        return cls(tuple(spots), setup)

    @cached_property
    def _lines(self) -> list[Line]:
        return [Line.of(spot.path) for spot in self.spots]

    @cached_property
    def _heights(self) -> F64:
        return np.array([spot.z for spot in self.spots], np.float64)

    @cached_property
    def _boxes(self) -> F64:
        """Least and greatest x and y of every line, (n, 2, 2)."""
        plans = [line.points[:, :2] for line in self._lines]
        return np.array([[p.min(axis=0), p.max(axis=0)] for p in plans]).reshape(-1, 2, 2)

    @property
    def _reach(self) -> float:
        return NEAR_SPOT + self.setup.line_width

    def over(self, span: Span) -> list[Spot]:
        """The spots that lie over the strip of an upward span, in their order."""
        if span.direction != "up":
            return []
        line = Line.of(span.edge_line)
        return [self.spots[i] for i in self._near(line) if self._on(line, i)]

    def along(self, edge: Polyline) -> bool:
        """Whether a spot lies on an edge and runs along it rather than across its end."""
        line = Line.of(edge)
        return any(self._on(line, i) and _along(line, self._lines[i]) for i in self._near(line))

    def _near(self, line: Line) -> Sequence[int]:
        """Numbers of the spots whose boxes are near enough to a line."""
        low, high = line.points.min(axis=0), line.points.max(axis=0)
        level = (self._heights >= low[2] - self._off) & (self._heights <= high[2] + self._off)
        beside = (self._boxes[:, 0] <= high[:2] + self._reach) & (self._boxes[:, 1] >= low[:2] - self._reach)
        found: list[int] = np.flatnonzero(level & beside.all(axis=1)).tolist()
        return found

    @property
    def _off(self) -> float:
        return LAYERS_OFF * self.setup.layer_height + 0.05

    def _on(self, line: Line, i: int) -> bool:
        """Whether enough of a line, or of a spot's line, lies at the other."""
        spot = self._lines[i]
        level: Bool = np.abs(line.points[:, 2] - self._heights[i]) <= self._off
        if not level.any():
            return False
        away = np.asarray(spot.tree.query(line.points[level, :2])[0])
        if np.sum(away <= self._reach) >= SHARE * len(line.points):
            return True
        back = np.asarray(cKDTree(line.points[level, :2]).query(spot.points[:, :2])[0])
        return bool(np.mean(back <= self._reach) >= SHARE)


def _along(line: Line, spot: Line) -> bool:
    nearest = spot.tree.query(line.points[:, :2])[1]
    cosine = np.abs(np.einsum("ij,ij->i", line.ways, spot.ways[nearest]))
    return bool(np.median(cosine) > ALONG)
