"""A line that needs a wall, and the row that its wall carries, below a wide underside. Bed frame, mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
import shapely

from core.design.plan import Across, RowWishes, automatic_tip
from core.design.setup import PrintSetup
from core.design.surface_lines import line_on_surface
from core.design.wall import LEAST_CLEARANCE, LEAST_FREE, WallWishes
from core.errors import SpanProblem
from core.geometry.mesh import F64, Mesh
from core.geometry.polyline import Polyline
from core.geometry.regions import Region

# Lengths in mm; from memory unless a source is named.
#: Teeth below a wide underside stand in a line like a perforation, so that every strand that bridges from wall to wall
#: ends on one: length of a tooth along the wall and air to the next, more than a line so that it stays open.
PERFORATION, PERFORATION_AIR, PERFORATION_END = 6.0, 0.5, 0.1
#: A straight tooth on a round wall departs from its middle line by no more than this: length = √(8 radius × this).
SAGITTA: Final = 0.1
#: Walls keep this much of their line free of the ends of what hangs.
MARGIN: Final = 0.05


class Hanging(Protocol):
    """What hangs in one layer."""

    @property
    def layer(self) -> int:
        """Number of the layer."""

    @property
    def region(self) -> Region:
        """In plan, mm."""

    @property
    def kind(self) -> str:
        """island, cantilever, bridge or slope."""


class Spot(Protocol):
    """What is needed of a weak spot."""

    @property
    def kind(self) -> str:
        """island, cantilever, bridge or slope."""

    @property
    def z(self) -> float:
        """Height of its underside above the bed, mm."""

    @property
    def path(self) -> Polyline:
        """The line that carries it, bed mm."""

    @property
    def region(self) -> tuple[F64, ...]:
        """Outlines of what hangs in its first layer, (k, 2) mm each."""

    @property
    def layers(self) -> tuple[int, int]:
        """Its first and last layer."""

    @property
    def pieces(self) -> Sequence[Hanging]:
        """What hangs in each of its layers."""


@dataclass(frozen=True)
class WallLine:
    """A line for a wall to stand under, bed mm, with the wishes for the wall and for its row.

    ``spare`` is there for a fin below a slope: how much of its upper end (mm in plan) carries no blade. ``climbs``
    tells that it runs up a curved underside.
    """

    edge: Polyline
    wall: WallWishes
    row: RowWishes
    spare: float | None = None
    climbs: bool = False


def area_row(line: Polyline, across: Across, setup: PrintSetup) -> RowWishes:
    """Teeth below a wide underside along ``line``: a perforated line, one line thick, which rocks off easily."""
    length = line.length if line.closed else line.length - 2 * PERFORATION_END
    airs = 0 if line.closed else 1
    longest = min(PERFORATION, max(math.sqrt(8 * least_radius(line) * SAGITTA), 2 * automatic_tip(setup)))
    count = max(1, math.ceil((length + airs * PERFORATION_AIR) / (longest + PERFORATION_AIR) - 1e-6))
    tip = max((length - (count - airs) * PERFORATION_AIR) / count - 0.02, automatic_tip(setup))
    return RowWishes(
        teeth=count, tip=round(tip, 3), thickness=automatic_tip(setup), end_clearance=PERFORATION_END, across=across
    )


def least_radius(line: Polyline) -> float:
    """Radius of the tightest bend of a line in plan, felt over chords of about a millimetre, mm; infinite for none."""
    s = np.linspace(0.0, line.length, max(int(line.length), 3) + 1)
    points = line.at(s if line.closed else np.clip(s, 0, line.length))[:, :2]
    step = np.diff(points, axis=0)
    way = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    turn = float(np.abs(np.diff(way)).max()) if len(way) > 1 else 0.0
    return float(s[1]) / turn if turn > 0.02 else math.inf


def wished(line: Polyline, rim: bool, setup: PrintSetup, wishes: WallWishes, room: float | None) -> WallLine:
    """A line (bed mm) with the wishes for its wall and row; ``room`` mm is what the wall has beside it."""
    wall = replace(wishes, room=room if wishes.room is None else wishes.room)
    wall = wall if rim or wishes.shift is not None else replace(wall, shift=0.0)
    return WallLine(line, wall, area_row(line, "flush" if rim else "centred", setup))


def ring_room(setup: PrintSetup) -> float:
    """The half width that a closed wall leaves free within itself, mm: a bridge less the air beside it, halved."""
    return max((setup.clear_bridge - LEAST_FREE - LEAST_CLEARANCE) / 2, 0.0)


def on_underside(mesh: Mesh, points: F64, closed: bool = False) -> Polyline | None:
    """A line through points (n, 3), bed mm, laid on the underside of a mesh; None where there is none."""
    try:
        return line_on_surface(mesh, points, closed)
    except SpanProblem:
        return None


def rim_points(region: Region) -> F64:
    """Points (n, 2) along the outlines, half a millimetre apart."""
    lines = region.border
    count = max(int(lines.length / 0.5), 8)
    points = shapely.line_interpolate_point(shapely.line_merge(lines), np.linspace(0, lines.length, count))
    every = [shapely.get_coordinates(points)]
    for line in shapely.get_parts(lines):
        s = np.linspace(0, line.length, max(int(line.length / 0.5), 8))
        every.append(shapely.get_coordinates(shapely.line_interpolate_point(line, s)))
    return np.concatenate(every)
