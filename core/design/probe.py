"""Vertical lines beside an edge, in the gap frame: what the measuring of a span looks with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.design.setup import PrintSetup
from core.design.span import Direction, local_mesh
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, Mesh
from core.geometry.polyline import Polyline
from core.geometry.pose import placed, rotation_between

# Lengths in mm; all from memory unless a source is named.
#: How far to either side of the edge the strip and the ledge are looked for.
REACH = 4.0
#: Step of the first look across; ends found by it are then refined by halving.
STEP = 0.1
#: Air thinner than this under the edge is a closed gap.
CLOSED_GAP = 0.03
#: A corner of the mesh this near to the edge lies on it.
ON_EDGE = 1e-3
#: A face looks towards the ledge when its normal is within 60° of the way there.
LEAST_FACING = 0.5
#: A station this little inside the end of an edge stands for the end.
INSET = 1e-4


def gap_way(mesh: Mesh, edge: Polyline, ledge: Polyline | None) -> F64:
    """Up, unless the picked ledge lies beside the edge: then the horizontal way from the ledge to the edge.

    That way is square to the face at the edge which looks towards the ledge, so it makes no difference which edge of a
    fin was picked.
    """
    up = np.array([0.0, 0.0, 1.0])
    if ledge is None:
        return up
    if edge.points == ledge.points or edge.points == ledge.points[::-1]:
        raise SpanProblem("Edge and ledge are the same edge.", "Pick another edge as the ledge.")
    along = edge.array[-1] - edge.array[0]
    middle = edge.at(edge.length / 2)[0]
    samples = ledge.at(np.linspace(0, ledge.length, 200))
    offset = middle - samples[int(np.argmin(np.linalg.norm(samples - middle, axis=1)))]
    flat = np.array([offset[0], offset[1], 0.0])
    steep = abs(along[2]) > np.hypot(along[0], along[1])
    if steep and np.linalg.norm(flat) > 1e-6 and not edge.closed:
        square = flat - along * (flat @ along) / max(float(along @ along), 1e-12)
        square = square if np.linalg.norm(square) > 1e-6 else flat
        return _square_to_face(mesh, edge, square / np.linalg.norm(square))
    if offset[2] < -CLOSED_GAP:
        raise SpanProblem(
            "The ledge lies above the edge: the two seem to be exchanged.",
            "Pick the overhang edge first, then the ledge.",
        )
    return up


def _square_to_face(mesh: Mesh, edge: Polyline, way: F64) -> F64:
    """Against the outward normal of the face at the edge that opposes ``way`` most; ``way`` itself when none does."""
    longest = int(np.argmax(np.diff(edge.stations)))
    a, b = edge.ring[longest], edge.ring[longest + 1]
    t = np.clip((mesh.vertices - a) @ (b - a) / float((b - a) @ (b - a)), 0, 1)
    on_edge = ((mesh.vertices - a - t[:, None] * (b - a)) ** 2).sum(axis=1) < ON_EDGE**2
    beside = np.flatnonzero(on_edge[mesh.triangles].sum(axis=1) >= 2)
    normals = mesh.normals[beside]
    facing = -(normals @ way)
    if not len(facing) or facing.max() < LEAST_FACING:
        return way
    best = -normals[int(np.argmax(facing))]
    flat = np.array([best[0], best[1], 0.0])
    return np.asarray(flat / np.linalg.norm(flat))


@dataclass(frozen=True, eq=False)
class Look:
    """What vertical lines found at k stations × n offsets across: floor and ceiling (k, n), NaN inside material."""

    v: F64
    floor: F64
    ceiling: F64


@dataclass(frozen=True, eq=False)
class Probe:
    """The edge in the gap frame, with lines ready to be dropped beside it."""

    frame: F64
    direction: Direction
    edge: Polyline
    s: F64
    axis: F64
    across: F64
    z: F64
    columns: Columns
    hint: F64 | None

    @classmethod
    def of(cls, mesh: Mesh, edge: Polyline, up: F64, ledge: Polyline | None) -> Probe:
        """The probe of an edge (bed mm) on a mesh (bed mm), ``up`` (3,) the way of the gap. Raises SpanProblem."""
        frame = _gap_frame(edge, up)
        line = edge.moved(frame)
        plan = Polyline.of(line.array * [1, 1, 0], line.closed)
        if plan.length < 10 * INSET:
            raise SpanProblem("The edge is a point in plan.", "Pick an edge that runs along the gap.")
        count = int(np.clip(plan.length / 0.25, 16, 900))
        s = np.linspace(0, plan.length, count + 1)
        at = s if line.closed else np.clip(s, INSET, plan.length - INSET)
        axis = plan.at(at)[:, :2]
        across = _across(plan, at)
        z = np.interp(at, plan.stations, line.ring[:, 2])
        margin = REACH + 0.5
        low, high = axis.min(axis=0) - margin, axis.max(axis=0) + margin
        columns = Columns.over(local_mesh(mesh, frame, low, high), low, high)
        hint = None if ledge is None else _hint_heights(ledge.moved(frame), axis)
        probe = cls(frame, "up" if up[2] > 0.99 else "side", line, s, axis, across, z, columns, hint)
        return probe.facing_inward()

    def facing_inward(self) -> Probe:
        """The same probe with +v on the side where the part has more underside."""
        few = slice(None, None, max(1, len(self.s) // 40))
        weight = 0.0
        for v in (0.15, 0.4, 0.8):
            for sign in (1, -1):
                _, ceiling = self.air(few, np.full(len(self.s[few]), sign * v))
                weight += sign * float(np.sum(np.isfinite(ceiling) & (ceiling - self.z[few] < v + 0.05)))
        return self if weight >= 0 else Probe(**{**self.__dict__, "across": -self.across})

    def air(self, which: slice | F64, v: F64) -> tuple[F64, F64]:
        """Floor and ceiling of the air just below the edge at stations ``which``, ``v`` across."""
        points = self.axis[which] + self.across[which] * v[:, None]
        return self.columns.air_around(points, self.z[which] - CLOSED_GAP)

    def look(self, setup: PrintSetup) -> Look:
        """The first look: every station, every step across."""
        n = round(REACH / STEP)
        v = np.asarray(np.arange(-n, n + 1) * STEP, np.float64)
        v[n] = 0.0
        v = np.sort(np.r_[v, -2 * INSET, 2 * INSET])
        k = len(self.s)
        points = (self.axis[:, None] + self.across[:, None] * v[None, :, None]).reshape(-1, 2)
        floor, ceiling = self.columns.air_around(points, np.repeat(self.z - CLOSED_GAP, len(v)))
        return Look(v, floor.reshape(k, -1), ceiling.reshape(k, -1))


def _gap_frame(edge: Polyline, up: F64) -> F64:
    """(4, 4) rotation that carries ``up`` to +Z and lays the chord of the edge along X, so the search box is narrow."""
    rotation = np.eye(3) if up[2] > 1 - 1e-12 else rotation_between(up, [0, 0, 1])
    chord = rotation @ (edge.array[-1] - edge.array[0])
    if not edge.closed and np.hypot(chord[0], chord[1]) > 1e-9:
        c, s = chord[:2] / np.hypot(chord[0], chord[1])
        rotation = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) @ rotation
    return placed(rotation, np.zeros(3))


def _across(plan: Polyline, s: F64) -> F64:
    """Unit vectors (k, 2) square to the edge in plan, smoothed over half a millimetre so that facets do not kink it."""
    half = min(0.5, plan.length / 8)
    step = (plan.at(s + half) - plan.at(s - half))[:, :2]
    if not plan.closed:
        step = (plan.at(np.minimum(s + half, plan.length)) - plan.at(np.maximum(s - half, 0)))[:, :2]
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12)
    return np.column_stack([-step[:, 1], step[:, 0]])


def _hint_heights(ledge: Polyline, axis: F64) -> F64:
    """Height of the picked ledge beside every station, (k,)."""
    count = int(np.clip(ledge.length / 0.2, 8, 2000))
    samples = ledge.at(np.linspace(0, ledge.length, count))
    distance = np.linalg.norm(samples[None, :, :2] - axis[:, None], axis=2)
    return np.asarray(samples[np.argmin(distance, axis=1), 2])
