"""Where one part lies on another: the rigid motion that carries most of its landmarks onto those of the other.

Every run of feature edge with the faces on both sides fixes a frame, so one pair of like runs gives a motion (two,
because a run may be read from either end). Motions are tried by how many landmarks they bring onto others, the best
are refined by least squares (Kabsch 1976), and what remains is stated. Nothing is decided here: when two different
motions do equally well, both come back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.landmarks import Landmarks, Samples
from core.geometry.mesh import F64, I64, Bool, dot
from core.geometry.pose import placed

# Lengths mm; from memory unless a reason is given.
#: A landmark is met when it lies this near to another one; a quarter of a usual line, and more than a file is off.
MET: Final = 0.12
#: Points of the old part that are tried: first a few on every motion, then all on the best.
_FEW, _MANY = 70, 600
#: Distance of the points on the new part, and how many there are at most.
_STEP, _MOST = 0.5, 120_000
#: Cosine of the turn up to which two runs count as parallel.
_PARALLEL: Final = 0.96
#: Runs are alike when lengths differ by less than this (mm, and as a share) and their corners by less (degrees).
_LENGTH, _SHARE, _CORNER = 0.06, 0.002, 4.0
#: Runs of the old part that are tried, runs of the new one that they are compared with, and motions tried in all.
_RUNS, _AGAINST, _MOTIONS = 90, 500, 3000
#: Motions that are refined, and rounds of refining.
_REFINED, _ROUNDS = 16, 6
#: The part did not move when at least this share of its landmarks is where it was.
STAYED: Final = 0.5
#: Less than this share found again is no revision of the same part.
LEAST: Final = 0.3
#: A second motion that does this well, as a share of the best, is as good.
AS_GOOD: Final = 0.95


@dataclass(frozen=True, eq=False)
class Motion:
    """A rigid motion (4, 4) from the old part to the new one, mm. ``share`` of the landmarks that it brings onto
    others (0..1), and ``residual``, the root mean square of how far those are off, mm."""

    matrix: F64
    share: float
    residual: float

    @property
    def still(self) -> bool:
        """Whether nothing moves."""
        return bool(np.abs(self.matrix - np.eye(4)).max() < 1e-9)


@dataclass(frozen=True, eq=False)
class Target:
    """The landmarks of the new part, ready to be looked up."""

    samples: Samples
    tree: cKDTree

    @classmethod
    def of(cls, landmarks: Landmarks) -> Target:
        """Points along all landmarks with a search tree."""
        samples = landmarks.samples(_STEP, _MOST)
        return cls(samples, cKDTree(samples.points if len(samples.points) else np.full((1, 3), 1e12)))

    def met(self, points: F64, along: F64, within: float = MET) -> tuple[Bool, F64, I64]:
        """Which of the points (m, 3) lie on a landmark that runs the same way; how far off (m, 3); which sample."""
        reach = float(np.hypot(within, _STEP))
        _, near = self.tree.query(points, distance_upper_bound=reach)
        there = near < len(self.samples.points)
        near = np.where(there, near, 0)
        if not len(self.samples.points):
            return np.zeros(len(points), np.bool_), np.zeros_like(points), near
        ahead = self.samples.along[near]
        off = self.samples.points[near] - points
        off = off - dot(off, ahead)[:, None] * ahead
        good = there & (dot(off, off) <= within**2) & (np.abs(dot(ahead, along)) >= _PARALLEL)
        return good, off, near


def registered(old: Landmarks, new: Landmarks, target: Target | None = None) -> list[Motion]:
    """Motions old → new, the best first; several only when they do equally well and differ. Empty when none will do.

    A part that stayed where it was has the one motion that moves nothing, whatever else would fit as well.
    """
    target = target or Target.of(new)
    if not len(old.ends) or not len(new.ends):
        return []
    probe = old.samples(max(float(old.lengths.sum()) / _MANY, 0.2))
    still = _judged(np.eye(4), probe, target)
    if still.share >= STAYED:
        return [still]
    tried = [still, *_tried(old, new, probe, target)]
    best = max(tried, key=lambda m: m.share)
    if best.share < LEAST:
        return []
    out: list[Motion] = []
    for motion in sorted(tried, key=lambda m: (-m.share, m.residual)):
        if motion.share >= AS_GOOD * best.share and all(_apart(motion, o, old) > 4 * MET for o in out):
            out.append(motion)
    return out


def _apart(a: Motion, b: Motion, old: Landmarks) -> float:
    """How far two motions bring the old part apart at most, mm."""
    corners = old.ends.reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    box = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    return float(np.linalg.norm(_carried(a.matrix, box) - _carried(b.matrix, box), axis=1).max())


def _carried(matrix: F64, points: F64) -> F64:
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def _judged(matrix: F64, probe: Samples, target: Target, within: float = MET) -> Motion:
    good, off, _ = target.met(_carried(matrix, probe.points), probe.along @ matrix[:3, :3].T, within)
    rms = float(np.sqrt(dot(off[good], off[good]).mean())) if good.any() else float("inf")
    return Motion(matrix, float(good.mean()), rms)


def _tried(old: Landmarks, new: Landmarks, probe: Samples, target: Target) -> list[Motion]:
    """Motions from like runs, the most promising ones refined."""
    matrices = _motions(old, new)
    if not len(matrices):
        return []
    few = np.linspace(0, len(probe.points) - 1, min(_FEW, len(probe.points))).astype(np.int64)
    points = np.einsum("hij,pj->hpi", matrices[:, :3, :3], probe.points[few]) + matrices[:, None, :3, 3]
    along = np.einsum("hij,pj->hpi", matrices[:, :3, :3], probe.along[few])
    good, _, _ = target.met(points.reshape(-1, 3), along.reshape(-1, 3), 3 * MET)
    share = good.reshape(len(matrices), -1).mean(axis=1)
    order = np.argsort(-share, kind="stable")
    chosen: list[F64] = []
    middle = probe.points.mean(axis=0)
    for i in order[: 40 * _REFINED]:
        m = matrices[i]
        fresh = all(np.abs(m[:3, :3] - c[:3, :3]).max() > 0.02
                    or np.linalg.norm(_carried(m - c, middle[None])) > 4 * MET for c in chosen)  # fmt: skip
        if fresh:
            chosen.append(m)
        if len(chosen) == _REFINED:
            break
    return [_refined(m, probe, target) for m in chosen]


def _refined(matrix: F64, probe: Samples, target: Target) -> Motion:
    """The motion moved by least squares onto what it meets, within less and less."""
    for within in np.geomspace(5 * MET, MET, _ROUNDS):
        points = _carried(matrix, probe.points)
        good, off, _ = target.met(points, probe.along @ matrix[:3, :3].T, float(within))
        if good.sum() < 6:
            break
        matrix = _kabsch(points[good], points[good] + off[good]) @ matrix
    return _judged(matrix, probe, target)


def _kabsch(a: F64, b: F64) -> F64:
    """The rigid motion (4, 4) that carries points a (k, 3) nearest to b (k, 3): Kabsch, Acta Cryst. A32 (1976) 922."""
    ca, cb = a.mean(axis=0), b.mean(axis=0)
    u, _, vt = np.linalg.svd((a - ca).T @ (b - cb))
    flip = np.diag([1.0, 1.0, np.sign(np.linalg.det(vt.T @ u.T))])
    turn = vt.T @ flip @ u.T
    return placed(turn, cb - turn @ ca)


def _motions(old: Landmarks, new: Landmarks) -> F64:
    """Motions (h, 4, 4) that carry a run of the old part onto a like one of the new, rare runs first."""
    mine = np.argsort(-old.lengths, kind="stable")[:_RUNS]
    there = np.argsort(-new.lengths, kind="stable")[:_AGAINST]
    corner = [np.degrees(np.arccos(np.clip(dot(m.normals[:, 0], m.normals[:, 1]), -1, 1))) for m in (old, new)]
    alike = np.abs(old.lengths[mine, None] - new.lengths[there]) <= _LENGTH + _SHARE * old.lengths[mine, None]
    alike &= np.abs(corner[0][mine, None] - corner[1][there]) <= _CORNER
    sharp = corner[0][mine] > 2 * _CORNER
    alike &= sharp[:, None]
    out: list[F64] = []
    for i in np.argsort(np.where(alike.any(axis=1), alike.sum(axis=1), 10**9), kind="stable"):
        for j in np.flatnonzero(alike[i]):
            out += _between(old, int(mine[i]), new, int(there[j]))
        if len(out) > _MOTIONS:
            break
    return np.array(out[:_MOTIONS]).reshape(-1, 4, 4)


def _between(old: Landmarks, i: int, new: Landmarks, j: int) -> list[F64]:
    """The two motions that carry run i onto run j, middle on middle, where their corners turn the same way."""
    a = _frame(old.directions[i], old.normals[i])
    out = []
    for sign, sides in ((1.0, new.normals[j]), (-1.0, new.normals[j][::-1])):
        b = _frame(sign * new.directions[j], sides)
        if a is None or b is None or a[1] != b[1]:
            continue
        turn = b[0] @ a[0].T
        out.append(placed(turn, new.ends[j].mean(axis=0) - turn @ old.ends[i].mean(axis=0)))
    return out


def _frame(along: F64, sides: F64) -> tuple[F64, bool] | None:
    """Columns along, outward, across of a run, and whether its corner is convex; None where its faces cancel out."""
    out = sides[0] + sides[1]
    out = out - along * (out @ along)
    size = float(np.linalg.norm(out))
    if size < 1e-3:
        return None
    out = out / size
    convex = float(np.cross(sides[0], sides[1]) @ along) > 0
    return np.column_stack([along, out, np.cross(along, out)]), bool(convex)
