"""The span: where an overhang edge and a ledge face each other, measured station by station.

Everything here happens in the *gap frame*: the bed frame turned so that the gap runs along +Z, from the ledge up to
the edge, and the edge lies roughly along X. An upward gap only turns about the vertical; a sideways gap is laid down,
so that one piece of code measures both.

Across the span, v = 0 is the picked edge and +v points inward, to where the part has more underside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from core.geometry.mesh import F64, Bool, Mesh, among
from core.geometry.polyline import Polyline

Direction = Literal["up", "side"]
EdgeKind = Literal["outer", "strip", "ridge"]


#: A corner turns by more than SHARP within CORNER_NEAR mm to both sides, and by less than CALM from there on to
#: CORNER_FAR: so a small round hole has none. Steps of the look, mm. From memory.
SHARP, CALM = math.radians(40.0), math.radians(20.0)
CORNER_STEP, CORNER_NEAR, CORNER_FAR = 0.1, 0.9, 3.0


@dataclass(frozen=True, eq=False)
class Stations:
    """The span at k arc lengths. Arrays float64, mm, gap frame.

    ``s`` (k,) arc length; ``axis`` (k, 2) plan point of the picked edge; ``across`` (k, 2) unit, inward;
    ``lo``, ``hi`` (k,) usable interval across; ``edge`` and ``ledge`` (k, 2) heights at ``lo`` and ``hi``;
    ``reach`` (k,) height above the edge at which the part is wide enough to print.
    """

    s: F64
    axis: F64
    across: F64
    lo: F64
    hi: F64
    edge: F64
    ledge: F64
    reach: F64

    @property
    def gap(self) -> F64:
        """Smallest distance from ledge to edge across the strip, (k,) mm."""
        out: F64 = np.min(self.edge, axis=1) - np.max(self.ledge, axis=1)
        return out

    @property
    def width(self) -> F64:
        """How much the ledge and the strip share across, (k,) mm."""
        return self.hi - self.lo

    def points(self, v: F64, z: F64) -> F64:
        """Points (k, 3) in the gap frame at distances ``v`` (k,) across and heights ``z`` (k,)."""
        return np.column_stack([self.axis + self.across * v[:, None], z])


@dataclass(frozen=True, eq=False)
class Span:
    """A gap between an overhang edge and a ledge, along which a row can stand.

    ``frame`` is the (4, 4) rotation bed mm → gap frame. ``occupied`` holds (a, b) arc-length stretches (mm) in which
    something, a tooth as a rule, already fills the gap. ``edge_end`` tells for start and end whether the edge itself
    ends there (True) or only the ledge below it. ``edge_length`` is the length of the whole picked edge.
    """

    direction: Direction
    kind: EdgeKind
    frame: F64
    closed: bool
    stations: Stations
    occupied: tuple[tuple[float, float], ...]
    edge_end: tuple[bool, bool]
    edge_length: float
    edge_offset: float

    @property
    def length(self) -> float:
        """Length of the span along the edge, mm."""
        return float(self.stations.s[-1])

    @property
    def gap_range(self) -> tuple[float, float]:
        """Smallest and largest gap over the stations, mm."""
        gap = self.stations.gap
        return float(gap.min()), float(gap.max())

    @property
    def width(self) -> float:
        """What ledge and strip share across, at the narrowest place that matters (lowest tenth left out), mm."""
        return float(np.quantile(self.stations.width, 0.1))

    @cached_property
    def to_bed(self) -> F64:
        """Rotation (3, 3) from the gap frame to the bed frame."""
        return np.asarray(self.frame[:3, :3].T)

    def at(self, s: ArrayLike) -> Stations:
        """The span at arc lengths ``s`` (n,), mm, interpolated; a closed span wraps, an open one ends at its ends."""
        x = np.atleast_1d(np.asarray(s, np.float64))
        x = np.mod(x, self.length) if self.closed else np.clip(x, 0.0, self.length)
        st = self.stations

        def follow(values: F64) -> F64:
            if values.ndim == 1:
                return np.interp(x, st.s, values)
            return np.column_stack([np.interp(x, st.s, values[:, i]) for i in range(values.shape[1])])

        across = follow(st.across)
        across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-12)
        return Stations(
            x,
            follow(st.axis),
            across,
            follow(st.lo),
            follow(st.hi),
            follow(st.edge),
            follow(st.ledge),
            follow(st.reach),
        )

    def bed_points(self, gap_points: F64) -> F64:
        """Points (n, 3) of the gap frame in the bed frame, mm."""
        return gap_points @ self.frame[:3, :3]

    @cached_property
    def edge_line(self) -> Polyline:
        """The overhang edge along the span, bed mm."""
        st = self.stations
        return self._line(st.points(np.clip(0.0, st.lo, st.hi), st.edge.min(axis=1)))

    @cached_property
    def ledge_line(self) -> Polyline:
        """The middle of the ledge's usable strip along the span, bed mm."""
        st = self.stations
        return self._line(st.points((st.lo + st.hi) / 2, st.ledge.max(axis=1)))

    def _line(self, points: F64) -> Polyline:
        rows = thinned(self.bed_points(points), 1e-4)
        if self.closed and len(rows) > 3:
            rows = rows[:-1]
        return Polyline.of(rows, self.closed)

    @cached_property
    def corners(self) -> tuple[float, ...]:
        """Arc lengths at which the edge turns sharply in plan between two rather straight stretches, mm."""
        return corners_of(self.stations.s, self.stations.axis, self.closed)

    def free_runs(self) -> list[tuple[float, float]]:
        """Stretches (a, b) of arc length, mm, in which nothing stands yet."""
        out, start = [], 0.0
        for a, b in self.occupied:
            if a > start:
                out.append((start, a))
            start = max(start, b)
        if start < self.length:
            out.append((start, self.length))
        return out


def corners_of(s: F64, axis: F64, closed: bool) -> tuple[float, ...]:
    """Where a plan line (k, 2) with arc lengths ``s`` (k,) turns sharply, mm; a bend of a round edge is no corner."""
    length = float(s[-1])

    def at(x: F64) -> F64:
        y = np.mod(x, length) if closed else np.clip(x, 0.0, length)
        return np.column_stack([np.interp(y, s, axis[:, i]) for i in range(2)])

    def turn(a: F64, b: F64, c: F64, d: F64) -> F64:
        first, second = at(b) - at(a), at(d) - at(c)
        cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        return np.asarray(np.abs(np.arctan2(cross, (first * second).sum(axis=1))))

    x = np.arange(0.0, length, CORNER_STEP)
    near, far = CORNER_NEAR, CORNER_FAR
    sharp = turn(x - near, x - near / 3, x + near / 3, x + near)
    calm = (turn(x - far, x - far * 0.7, x - far * 0.6, x - near) < CALM) & (
        turn(x + near, x + far * 0.6, x + far * 0.7, x + far) < CALM
    )
    inside: Bool = np.full(len(x), True) if closed else (x > near) & (x < length - near)
    good = (sharp > SHARP) & calm & inside
    out: list[float] = []
    for i in np.flatnonzero(good):
        if out and x[i] - out[-1] < far:
            before = round(out[-1] / CORNER_STEP)
            out[-1] = float(x[i]) if sharp[i] > sharp[before] + 1e-9 else out[-1]
        else:
            out.append(float(x[i]))
    if closed and len(out) > 1 and out[0] + length - out[-1] < far:
        out = out[1:] if sharp[round(out[-1] / CORNER_STEP)] > sharp[round(out[0] / CORNER_STEP)] else out[:-1]
    return tuple(_middle(x, sharp, c) for c in out)


def _middle(x: F64, sharp: F64, corner: float) -> float:
    """The middle of the stretch round a corner in which the line turns as much as at the corner itself."""
    near = np.abs(x - corner) < CORNER_NEAR
    most = sharp[near].max()
    return float(x[near & (sharp > most - 1e-6)].mean())


def thinned(points: F64, tolerance: float) -> F64:
    """The line (k, 3) without points that lie within ``tolerance`` mm of the chord of their neighbours kept."""
    keep: Bool = np.zeros(len(points), np.bool_)
    keep[[0, -1]] = True
    todo = [(0, len(points) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        chord = points[b] - points[a]
        rel = points[a + 1 : b] - points[a]
        t = np.clip(rel @ chord / max(float(chord @ chord), 1e-300), 0, 1)
        off = np.linalg.norm(rel - t[:, None] * chord, axis=1)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            keep[a + 1 + worst] = True
            todo += [(a, a + 1 + worst), (a + 1 + worst, b)]
    return points[keep]


def local_mesh(mesh: Mesh, frame: F64, low: ArrayLike, high: ArrayLike) -> Mesh:
    """The triangles whose plan outline, seen in ``frame``, reaches into the box ``low``..``high`` (2,), in that frame.

    Whole vertical columns are kept, so winding numbers on lines through the box stay right.
    """
    points = mesh.vertices if np.array_equal(frame[:3, :3], np.eye(3)) else mesh.vertices @ frame[:3, :3].T
    x, y = points[:, 0], points[:, 1]
    lo, hi = np.asarray(low, np.float64), np.asarray(high, np.float64)
    tri = mesh.triangles
    side = np.zeros(len(points), np.uint8)
    for bit, beyond in enumerate((x < lo[0], x > hi[0], y < lo[1], y > hi[1])):
        side |= beyond.astype(np.uint8) << np.uint8(bit)
    inside = (side[tri[:, 0]] & side[tri[:, 1]] & side[tri[:, 2]]) == 0
    kept = tri[inside]
    used, own = among(len(points), kept)
    return Mesh(points[used], own)
