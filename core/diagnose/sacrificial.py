"""Which body or limb of a part is meant to be thrown away.

A piece is what hangs together when every breakaway tooth is cut through the middle of its gap: shells that overlap are
one piece, and one united skin falls into limbs. What ends under an edge, stands on the bed, is thin, and is joined to
the rest by teeth only is believed to be sacrificial. It is a guess; the person may correct it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from core.diagnose.lower_edges import ON_BED
from core.diagnose.plumb import PlumbLines
from core.geometry.mesh import F64, I32, I64, Bool, Mesh, dot
from core.geometry.topology import Topology

#: Mean wall (twice the volume by the surface) above which nobody means to throw a piece away, mm; from memory.
THICKEST: Final = 3.5
#: A body of its own with this share of the largest one's volume is kept without a question; from memory.
SECOND_PART: Final = 0.1
#: Lines dropped through every piece to find what it overlaps, and how many pieces are looked at.
_LINES, _MOST = 64, 300
#: Lines this near to an upright tooth pass it, mm: there fin, tooth and part are one above the other.
_CLEAR: Final = 0.3


@dataclass(frozen=True, eq=False)
class Joint:
    """Where a row holds two pieces together, or only a gap lies between them.

    ``cuts`` (c,) triangles through the middle of the gap, none where no teeth stand; ``ledge`` and ``edge`` triangles
    of either side; ``levels`` (c,) the height, mm above the bed, at which each is cut, NaN where the gap runs sideways;
    ``gap`` the distance across it, mm; ``teeth`` how many.
    """

    cuts: I64
    levels: F64
    ledge: I64
    edge: I64
    gap: float
    teeth: int


@dataclass(frozen=True)
class Piece:
    """A body or limb; ``shells`` are those wholly or partly in it.

    ``sacrificial`` is True, False, or None when nothing tells; ``key`` names the piece when the person corrects that.
    """

    key: str
    shells: tuple[int, ...]
    sacrificial: bool | None
    why: str


@dataclass(frozen=True, eq=False)
class Split:
    """The pieces of a part: ``label`` (m,) int64 is the number of the piece of every triangle."""

    pieces: tuple[Piece, ...]
    label: I64

    @property
    def thrown_away(self) -> Bool:
        """Triangles of pieces that are believed sacrificial, (m,) bool."""
        flags = np.array([p.sacrificial is True for p in self.pieces], np.bool_)
        return np.asarray(flags[self.label]) if len(flags) else np.zeros(len(self.label), np.bool_)

    def triangles_of(self, piece: Piece) -> Bool:
        """The triangles of a piece, (m,) bool."""
        return np.asarray(self.label == self.pieces.index(piece))

    def piece_of(self, triangles: I64) -> int:
        """The piece that most of the triangles belong to; −1 for none."""
        if not len(triangles):
            return -1
        return int(np.bincount(self.label[triangles]).argmax())


def split(
    mesh: Mesh,
    topology: Topology,
    lines: PlumbLines,
    joints: Sequence[Joint],
    overrides: Mapping[str, bool] | None = None,
) -> Split:
    """The pieces of ``mesh`` (bed mm, triangles as in ``topology``), each with a guess whether it is thrown away.

    ``lines`` are vertical lines through the same mesh; ``overrides`` holds what the person said, by key of the piece.
    """
    label = _lapped(mesh, lines, _limbs(topology, joints), joints)
    for joint in joints:
        if len(joint.cuts) and len(joint.ledge):
            _give_to_ledge(label, topology.shell_of_triangle, joint)
    _, first, label = np.unique(label, return_index=True, return_inverse=True)
    pieces = _judged(mesh, topology, label.astype(np.int64), first, joints, dict(overrides or {}))
    return Split(pieces, label.astype(np.int64))


def _give_to_ledge(label: I64, shell: I32, joint: Joint) -> None:
    """Give the cut triangles, and shells that are nothing but teeth, to the piece of the ledge; in place."""
    ledge = int(np.bincount(label[joint.ledge]).argmax())
    label[joint.cuts] = ledge
    sides = np.unique(shell[np.concatenate([joint.ledge, joint.edge])])
    own = np.setdiff1d(np.unique(shell[joint.cuts]), sides)
    label[np.isin(shell, own)] = ledge


def _limbs(topology: Topology, joints: Sequence[Joint]) -> I64:
    """Connected pieces of the skin once the cut triangles are taken out, (m,); each cut triangle keeps a number too."""
    shell = topology.shell_of_triangle.astype(np.int64)
    cut = np.zeros(len(shell), np.bool_)
    for joint in joints:
        cut[joint.cuts] = True
    if not cut.any():
        return shell.copy()
    touched = np.isin(shell, np.unique(shell[cut]))
    pairs = topology.edge_triangles
    pairs = pairs[(pairs[:, 1] >= 0)]
    pairs = pairs[touched[pairs[:, 0]] & ~cut[pairs[:, 0]] & ~cut[pairs[:, 1]]]
    n = len(shell)
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    _, own = connected_components(graph.tocsr(), directed=False)
    return np.where(touched, own.astype(np.int64) + int(shell.max()) + 1, shell)


def _lapped(mesh: Mesh, lines: PlumbLines, label: I64, joints: Sequence[Joint]) -> I64:
    """Labels with pieces that overlap or touch one above the other made one, found on vertical lines through each."""
    _, label = np.unique(label, return_inverse=True)
    count = int(label.max()) + 1
    cut = np.zeros(len(label), np.bool_)
    for joint in joints:
        cut[joint.cuts] = True
    if count == 1:
        return np.asarray(label, np.int64)
    points = _lines_through(mesh, label, cut)
    line, height, sign, triangle = lines.hits(points)
    real = ~cut[triangle]
    joins = _in_one_stretch(line, sign) & ~_through_a_cut(mesh, joints, points, line, height)
    a, b = triangle[:-1][joins & real[:-1] & real[1:]], triangle[1:][joins & real[:-1] & real[1:]]
    graph = coo_array((np.ones(len(a), np.int8), (label[a], label[b])), shape=(count, count))
    _, merged = connected_components(graph.tocsr(), directed=False)
    return np.asarray(merged[label], np.int64)


def _lines_through(mesh: Mesh, label: I64, cut: Bool) -> F64:
    """Plan points (k, 2) spread over the level and sloping faces of every piece, the largest pieces first."""
    rng = np.random.default_rng(0)
    flat = np.abs(mesh.area_vectors[:, 2]) * ~cut
    area = np.bincount(label, flat)
    out = [np.zeros((0, 2))]
    order = np.argsort(label, kind="stable")
    start = np.r_[0, np.cumsum(np.bincount(label))]
    for piece in np.argsort(-area, kind="stable")[:_MOST]:
        members = order[start[piece] : start[piece + 1]]
        if area[piece] <= 0:
            continue
        chosen = members[rng.choice(len(members), _LINES, p=flat[members] / area[piece])]
        u = np.sort(rng.random((_LINES, 2)), axis=1)
        weights = np.column_stack([u[:, 0], u[:, 1] - u[:, 0], 1 - u[:, 1]])
        out.append(np.einsum("ij,ijk->ik", weights, mesh.vertices[mesh.triangles[chosen], :2]))
    return np.concatenate(out)


def _through_a_cut(mesh: Mesh, joints: Sequence[Joint], points: F64, line: I64, height: F64) -> Bool:
    """For every crossing but the last whether an upright tooth was cut between it and the next, (h − 1,)."""
    out = np.zeros(max(len(line) - 1, 0), np.bool_)
    for joint in joints:
        corners = mesh.vertices[mesh.triangles[joint.cuts], :2]
        low, high = corners.min(axis=1) - _CLEAR, corners.max(axis=1) + _CLEAR
        for a, b, level in zip(low, high, joint.levels, strict=True):
            if np.isfinite(level):
                over = ((points >= a) & (points <= b)).all(axis=1)[line]
                out |= over[:-1] & (height[:-1] < level) & (height[1:] > level)
    return out


def _in_one_stretch(line: I64, sign: F64) -> Bool:
    """For every crossing but the last whether it and the next bound one stretch of material on one line, (h − 1,)."""
    if len(line) < 2:
        return np.zeros(max(len(line) - 1, 0), np.bool_)
    total = np.cumsum(sign)
    first = np.flatnonzero(np.r_[True, line[1:] != line[:-1]])
    depth = total - np.repeat((total - sign)[first], np.diff(np.r_[first, len(line)]))
    out: Bool = (line[1:] == line[:-1]) & (depth[:-1] > 0)
    return out


def _judged(
    mesh: Mesh, topology: Topology, label: I64, first: I64, joints: Sequence[Joint], overrides: dict[str, bool]
) -> tuple[Piece, ...]:
    """The pieces with their guesses."""
    count = int(label.max()) + 1
    centre = mesh.bounds.mean(axis=0)
    area = np.bincount(label, np.sqrt(dot(mesh.area_vectors, mesh.area_vectors)), count)
    parts = dot(mesh.vertices[mesh.triangles[:, 0]] - centre, mesh.area_vectors) / 3
    volume = np.abs(np.bincount(label, parts, count))
    low = (mesh.vertices[:, 2] < ON_BED)[mesh.triangles].any(axis=1)
    on_bed = np.bincount(label, low, count) > 0
    holds, hangs = _roles(label, joints)
    pairs = np.unique(label * topology.shell_count + topology.shell_of_triangle)
    shells = np.split(pairs % topology.shell_count, np.flatnonzero(np.diff(pairs // topology.shell_count)) + 1)
    out = []
    for i in range(count):
        key = f"piece-{int(first[i])}"
        facts = _Facts(
            float(volume[i] / max(float(volume.max()), 1e-12)), float(2 * volume[i] / max(float(area[i]), 1e-12)),
            bool(on_bed[i]), holds.get(i, []), hangs.get(i, []),
        )  # fmt: skip
        guess, why = _guess(facts)
        if key in overrides:
            guess, why = overrides[key], "as you decided"
        out.append(Piece(key, tuple(int(s) for s in shells[i]), guess, why))
    return tuple(out)


@dataclass(frozen=True)
class _Facts:
    """What tells about a piece: volume as a share of the largest, mean wall (mm), where it stands, its two roles."""

    share: float
    wall: float
    on_bed: bool
    holds: list[Joint]
    hangs: list[Joint]


def _roles(label: I64, joints: Sequence[Joint]) -> tuple[dict[int, list[Joint]], dict[int, list[Joint]]]:
    """Joints at which a piece is the ledge, and at which it is the edge; a joint within one piece is neither."""
    holds: dict[int, list[Joint]] = {}
    hangs: dict[int, list[Joint]] = {}
    for joint in joints:
        if not len(joint.ledge) or not len(joint.edge):
            continue
        below = int(np.bincount(label[joint.ledge]).argmax())
        above = int(np.bincount(label[joint.edge]).argmax())
        if below != above:
            holds.setdefault(below, []).append(joint)
            hangs.setdefault(above, []).append(joint)
    return holds, hangs


def _guess(facts: _Facts) -> tuple[bool | None, str]:
    """Whether a piece is thrown away, and why so, in words."""
    if facts.holds and facts.hangs:
        return None, "it carries a ledge and hangs over another one"
    if facts.hangs:
        return False, "its edges are held by what stands below or beside it"
    if facts.holds:
        return _guess_of_carrier(facts)
    if facts.share < SECOND_PART:
        return None, "nothing tells what it is for"
    return False, "it is the largest piece" if facts.share >= 1 else "it is a body of its own"


def _guess_of_carrier(facts: _Facts) -> tuple[bool | None, str]:
    """The guess for a piece that carries ledges and hangs over none."""
    if not facts.on_bed:
        return None, "it carries a ledge but does not stand on the bed"
    if facts.wall > THICKEST:
        return None, f"it carries a ledge, but with walls of {facts.wall:.1f} mm it is no thin fin"
    return True, _why_thrown_away(facts)


def _why_thrown_away(facts: _Facts) -> str:
    teeth = sum(j.teeth for j in facts.holds)
    nearest = min(j.gap for j in facts.holds)
    joined = f"is joined to the rest by {teeth} teeth only" if teeth else "is joined to the rest by nothing"
    return f"it is thin, stands on the bed, ends {nearest:.1f} mm from an edge and {joined}"
