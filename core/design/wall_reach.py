"""Getting a wall out again: which way every piece of it can be pulled once its teeth are broken, and with what.

The wall is slid level, as it stands, past sections of the part at several heights. Bed frame, mm; bearings are degrees
counter-clockwise from +X, seen from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely

from core.design.span import thinned
from core.design.wall import WallPlan
from core.geometry.mesh import F64, Mesh
from core.geometry.regions import Region
from core.geometry.slicing import slice_layers

Tool = Literal["fingers", "pliers", "none"]

#: Bearings tried, besides those square to the piece.
BEARINGS: Final = 16
#: Heights at which the part is looked at, at most.
HEIGHTS: Final = 10
# Lengths in mm; from memory.
#: Air that sliding needs: the part may be rough.
SLIDE: Final = 0.1
#: Room behind a wall that a finger and that the jaw of pliers need, and how high a wall must be for fingers.
FINGER, JAW, FINGER_HEIGHT = 10.0, 2.0, 10.0
#: How true the plan of a wall is kept here.
_TRUE: Final = 0.1


@dataclass(frozen=True)
class WayOut:
    """How a piece, the stretch ``piece`` (mm of arc length) of a wall, comes out: free ``bearings``, the best first.

    ``tool`` is what has room to hold it there; "none" where no bearing is free.
    """

    piece: tuple[float, float]
    bearings: tuple[float, ...]
    tool: Tool

    @property
    def free(self) -> bool:
        """Whether it can be pulled out at all."""
        return bool(self.bearings)


def ways_out(mesh: Mesh, plan: WallPlan) -> tuple[WayOut, ...]:
    """For every piece of a wall how it comes out from below ``mesh`` (the part, bed mm)."""
    low, high = float(plan.bottom.min()), float(plan.top.max())
    count = int(np.clip(math.ceil((high - low) / 2), 2, HEIGHTS))
    heights = low + (np.arange(count) + 0.5) * (high - low) / count
    below = heights < float(mesh.bounds[1, 2])
    part = [r.simplified(0.02) for r in slice_layers(mesh, heights[below]).regions] if below.any() else []
    obstacles = [shapely.get_parts(r.shape) for r in part if not r.empty]
    tree = shapely.STRtree(np.concatenate(obstacles) if obstacles else [])
    box = _bounds(part)
    return tuple(_way_out(tree, box, plan, piece) for piece in plan.pieces)


def sentences(ways: tuple[WayOut, ...]) -> tuple[str, ...]:
    """What is worth telling about the ways out, in plain sentences."""
    stuck = [i for i, w in enumerate(ways, start=1) if not w.free]
    if not stuck:
        return ()
    if len(ways) == 1:
        return ("The wall cannot be pulled out sideways in one: break it up with pliers, or add break lines.",)
    named = ", ".join(str(i) for i in stuck)
    return (f"Piece {named} of the wall cannot be pulled out sideways: break it up, or add break lines.",)


def _bounds(part: list[Region]) -> F64:
    boxes = np.array([r.bounds for r in part if not r.empty]).reshape(-1, 4)
    if not len(boxes):
        return np.zeros((2, 2))
    return np.array([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])


def _way_out(tree: shapely.STRtree, box: F64, plan: WallPlan, piece: tuple[float, float]) -> WayOut:
    line = _stretch(plan, piece)
    keep = plan.thickness / 2 + SLIDE
    free = [b for b in _bearings(line) if not _meets(tree, line, b, _far(line, box, b), keep)]
    if not free:
        return WayOut(piece, (), "none")
    behind = {b: _room(tree, line, b + 180.0, keep) for b in free}
    best = sorted(free, key=lambda b: -behind[b])
    room = behind[best[0]]
    fingers = room >= FINGER and plan.height >= FINGER_HEIGHT
    return WayOut(piece, tuple(best), "fingers" if fingers else "pliers" if room >= JAW else "none")


def _stretch(plan: WallPlan, piece: tuple[float, float]) -> F64:
    """The plan of a piece, (k, 2)."""
    ring = plan.axis.stations
    turns = np.r_[ring, ring[1:] + plan.axis.length] if plan.closed else ring
    inner = turns[(turns > piece[0]) & (turns < piece[1])]
    ends = np.array(piece) if plan.closed else np.clip(piece, 0.0, plan.axis.length)
    return thinned(plan.axis.at(np.r_[ends[0], inner, ends[1] - 1e-9])[:, :2], _TRUE)


def _bearings(line: F64) -> list[float]:
    """Square to the piece first, then all round."""
    chord = line[-1] - line[0]
    first = math.degrees(math.atan2(chord[1], chord[0])) + 90.0 if np.linalg.norm(chord) > 1e-6 else 0.0
    return [(first + 360.0 * i / BEARINGS) % 360.0 for i in range(BEARINGS)]


def _way(bearing: float) -> F64:
    return np.array([math.cos(math.radians(bearing)), math.sin(math.radians(bearing))])


def _far(line: F64, box: F64, bearing: float) -> float:
    """How far a piece must go to be clear of the part's box, mm."""
    way = _way(bearing)
    corners = np.array([[x, y] for x in box[:, 0] for y in box[:, 1]])
    return max(float((corners @ way).max() - (line @ way).min()), 1.0)


def _meets(tree: shapely.STRtree, line: F64, bearing: float, far: float, keep: float) -> bool:
    """Whether a line that slides ``far`` mm comes nearer than ``keep`` to the part."""
    step = _way(bearing) * far
    a, b = line[:-1], line[1:]
    swept = shapely.convex_hull(shapely.multipoints(np.stack([a, b, b + step, a + step], axis=1)))
    return bool(len(tree.query(swept, predicate="dwithin", distance=keep)[0]))


def _room(tree: shapely.STRtree, line: F64, bearing: float, keep: float) -> float:
    """Free way of a piece in one direction, as far as it matters for holding it, mm."""
    for room in (FINGER, JAW):
        if not _meets(tree, line, bearing, room, keep):
            return room
    return 0.0
