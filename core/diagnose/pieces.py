"""One hanging piece of a layer: how far it reaches, what it spans between, and what kind of trouble that is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from core.design.setup import PrintSetup
from core.diagnose.layers import CORNER_REACH, WIDTH_SLACK, Loose
from core.geometry.contours import Index
from core.geometry.mesh import F64, Bool
from core.geometry.regions import Region

Kind = Literal["island", "cantilever", "bridge", "slope"]

#: Share of the chords that must end on support at both ends for a bridge.
BRIDGE_SHARE = 0.9
#: Chords drawn in each direction, and directions tried besides those of the outline's own edges.
CHORDS, DIRECTIONS = 40, 24
#: Longest outline edges whose directions and normals are tried as well.
_EDGES_TRIED = 6
#: A chord this close to the longest is as good as it, so that the middle one of a strip can name it.
_NEARLY = 0.98
#: An end of a chord counts as supported when it is no farther from support than the advance and this, mm.
END_SLACK = 0.01
#: Points of a piece measured at first, inside and on the rim each, and rounds of looking closer around the best of
#: them.
_SAMPLES, _ROUNDS = 200, 4
#: Points for a rough reach: inside, and on the rim.
_INNER_SAMPLES, _RIM_SAMPLES = 40, 100
#: Cells of the grid over the box of a piece at most; a thin ring fills little of its box.
_MOST_CELLS = 10_000


@dataclass(frozen=True, eq=False)
class Piece:
    """A hanging piece with its figures, mm: ``reach`` is the farthest distance to support (infinite for an island).

    ``chord`` holds the ends (2, 2) of the middle chord of a bridge and ``span`` the longest chord's length.
    ``excess`` is the figure over its limit.
    """

    loose: Loose
    kind: Kind
    reach: float
    excess: float
    span: float = 0.0
    chord: F64 | None = None
    slack: float = 0.0

    @property
    def layer(self) -> int:
        """Number of the layer."""
        return self.loose.layer

    @property
    def region(self) -> Region:
        """What hangs free."""
        return self.loose.region


def severity(excess: float) -> float:
    """0 up to the limit, then 1 − limit / figure: 0.5 at twice the limit, towards 1."""
    return 0.0 if excess <= 1 else 1.0 - 1.0 / excess


def judged(loose: Loose, setup: PrintSetup) -> list[Piece]:
    """What a loose piece amounts to: one piece of one kind, or several where narrow necks join wide parts.

    Parts of the piece narrower than a line are held by the line beside them and do not make parts hang together.
    Nothing comes back of what is smaller than a line. Reaches are only roughly known yet (``refined`` does more).
    """
    line = setup.line_width
    if loose.advance < line and loose.region.grown((loose.advance - line) / 2).empty:
        return _slope(loose, line)
    wide = _wide_parts(loose, line)
    return [p for part in wide for p in _in_mid_air(part, setup)] if wide else _narrow(loose, setup)


def _wide_parts(loose: Loose, line: float) -> list[Loose]:
    """The parts of a piece that are as wide as a line somewhere; the whole piece when that is all but crumbs."""
    radius = 0.5 * line * (1 - WIDTH_SLACK)
    core = loose.region.grown(-radius)
    if core.empty:
        return []
    parts = [loose.region & c.grown(CORNER_REACH * radius) for c in core.components()]
    if len(parts) == 1 and parts[0].area > 0.95 * loose.region.area:
        return [loose]
    return [Loose(loose.layer, p, loose.carrier, loose.advance) for part in parts for p in part.components()]


def _slope(loose: Loose, line: float) -> list[Piece]:
    """A piece that rests on the layer below but for its rim; nothing when it is shorter than a line."""
    x0, y0, x1, y1 = loose.region.bounds
    if np.hypot(x1 - x0, y1 - y0) < line:
        return []
    reach = min(loose.advance + 2 * loose.region.area / loose.region.perimeter, line)
    return [Piece(loose, "slope", reach, reach / loose.advance, slack=line)]


def _narrow(loose: Loose, setup: PrintSetup) -> list[Piece]:
    """A piece narrower than a line: a slope, or a step where it ends farther than a line from support."""
    reach = rim_reach(loose.region, loose.below)
    if not setup.line_width < reach < np.inf:
        return _slope(loose, setup.line_width)
    return [Piece(loose, "cantilever", reach, reach / setup.free_overhang)]


def rim_reach(region: Region, support: Region) -> float:
    """The greatest distance (mm) from the rim of ``region`` to ``support``, at a hundred points at most."""
    return float(support.distance(_spread(_rim(region), _RIM_SAMPLES)).max())


def _in_mid_air(loose: Loose, setup: PrintSetup) -> list[Piece]:
    """A piece wider than a line; its reach and kind are only roughly known yet (``refined`` does more)."""
    if not shapely.dwithin(loose.region.shape, loose.below.border, loose.advance + END_SLACK):
        big = loose.region.area >= setup.line_width**2
        return [Piece(loose, "island", float("inf"), float("inf"))] if big else []
    inside = inner_points(loose.region, _INNER_SAMPLES)
    within = float(loose.below.distance(inside).max())
    reach = max(within, rim_reach(loose.region, loose.below))
    slack = float(np.sqrt(loose.region.area / _INNER_SAMPLES))
    if reach + slack <= setup.line_width and loose.advance < setup.line_width:
        return _slope(loose, setup.line_width)
    return [Piece(loose, "cantilever", reach, reach / setup.free_overhang, slack=slack)]


def refined(piece: Piece, setup: PrintSetup) -> Piece:
    """A piece with its reach measured and its kind settled, where its rough reach does not already say it is
    harmless."""
    loose = piece.loose
    if piece.slack == 0 or piece.kind == "island":
        return piece
    if piece.kind == "slope":
        reach = rim_reach(loose.region, loose.below)
        return replace(piece, reach=reach, excess=reach / loose.advance, slack=0.0)
    if piece.reach + piece.slack <= setup.free_overhang:
        return piece
    reach = farthest(loose.region, loose.below)
    bridge = best_chords(loose) if reach > setup.free_overhang else None
    if bridge is None:
        return Piece(loose, "cantilever", reach, reach / setup.free_overhang)
    span, chord = bridge
    return Piece(loose, "bridge", reach, span / setup.clear_bridge, span, chord)


def farthest(region: Region, support: Region) -> float:
    """The greatest distance (mm) from a point of ``region`` to ``support``, within about a hundredth of a millimetre.

    The distance to support changes no faster than one moves, so a grid finds the neighbourhood and ever finer grids
    around the best points the place.
    """
    pitch = max(float(np.sqrt(max(region.area, 1e-9) / _SAMPLES)), 1e-3)
    points = np.concatenate([inner_points(region, _SAMPLES), _spread(_rim(region), _SAMPLES)])
    value = support.distance(points)
    for _ in range(_ROUNDS):
        order = np.argsort(value)[-2:]
        near = np.concatenate([_grid(x, y, pitch, pitch, pitch / 3) for x, y in points[order]])
        near = near[region.contains(near)]
        points, value = np.concatenate([points[order], near]), np.concatenate([value[order], support.distance(near)])
        pitch /= 3
    return float(value.max())


def inner_points(region: Region, about: int) -> F64:
    """Some points (q, 2) spread over the inside of a region, one at least."""
    x0, y0, x1, y1 = region.bounds
    box = (x1 - x0) * (y1 - y0)
    pitch = max(float(np.sqrt(max(region.area / about, box / _MOST_CELLS, 1e-9))), 1e-3)
    grid = _grid((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2, pitch)
    inside = grid[region.contains(grid)]
    if len(inside) >= about / 3:
        return np.asarray(inside)
    return np.vstack([inside, shapely.get_coordinates(shapely.point_on_surface(region.shape))])


def _grid(x: float, y: float, half_x: float, half_y: float, pitch: float) -> F64:
    """Points (n, 2) of a grid around a middle, the middle among them."""
    i, j = (np.arange(-np.floor(h / pitch), np.floor(h / pitch) + 1) * pitch for h in (half_x, half_y))
    return np.stack(np.meshgrid(x + i, y + j), axis=-1).reshape(-1, 2)


def _rim(region: Region) -> F64:
    """All corners of the outlines and the middles between them, (n, 2)."""
    return np.concatenate([p for o in region.outlines for p in (o, (o + np.roll(o, -1, axis=0)) / 2)])


def _spread(points: F64, most: int) -> F64:
    """At most so many of the points, spread evenly over their order."""
    if len(points) <= most:
        return points
    out: F64 = points[np.linspace(0, len(points) - 1, most).astype(int)]
    return out


def best_chords(loose: Loose) -> tuple[float, F64] | None:
    """Length of the longest chord and the ends (2, 2) of the middlemost long one in the best direction, or None.

    Best is the direction whose longest chord is shortest.
    """
    outlines = loose.region.simplified(2e-3).outlines
    runs = [chords(outlines, direction) for direction in _directions(outlines)]
    lengths = [np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) for ends in runs]
    held_zone = loose.below.grown(loose.advance + END_SLACK)
    for i in np.argsort([length.max() for length in lengths], kind="stable"):
        ends, length = runs[i], lengths[i]
        held = held_zone.contains(ends.reshape(-1, 2)).reshape(-1, 2).all(axis=1)
        if held.mean() >= BRIDGE_SHARE:
            longest = float(length[held].max())
            long = np.flatnonzero(held & (length >= _NEARLY * longest))
            return longest, ends[long[len(long) // 2]]
    return None


def _directions(outlines: list[F64]) -> F64:
    """Unit directions (d, 2) worth trying: turned with the outline, so that a turned part is judged the same."""
    step = np.concatenate([np.roll(o, -1, axis=0) - o for o in outlines])
    size = np.hypot(step[:, 0], step[:, 1])
    longest = np.argsort(size)[::-1][:_EDGES_TRIED]
    angle = np.arctan2(step[longest, 1], step[longest, 0])
    fan = angle[0] + np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    every = np.concatenate([angle + np.pi / 2, angle, fan])
    return np.column_stack([np.cos(every), np.sin(every)])


def chords(outlines: list[F64], direction: F64, count: int = CHORDS) -> F64:
    """Where evenly spaced lines along ``direction`` (2,) run inside the outlines, (c, 2, 2) mm: both ends of each
    run."""
    along, across = direction, np.array([-direction[1], direction[0]])
    a = np.concatenate(outlines)
    b = np.concatenate([np.roll(o, -1, axis=0) for o in outlines])
    va, vb, ua, ub = a @ across, b @ across, a @ along, b @ along
    at = va.min() + (np.arange(count) + 0.5) / count * np.ptp(va)
    line, edge = np.nonzero((va[None] <= at[:, None]) != (vb[None] <= at[:, None]))
    u = ua[edge] + (at[line] - va[edge]) / (vb[edge] - va[edge]) * (ub[edge] - ua[edge])
    order: Index = np.lexsort((u, line))
    points = u[order, None] * along + at[line[order], None] * across
    runs = points.reshape(-1, 2, 2)
    long: Bool = np.linalg.norm(runs[:, 1] - runs[:, 0], axis=1) > 1e-6
    out: F64 = runs[long]
    return out
