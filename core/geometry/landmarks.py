"""The feature edges of a part as straight runs with the faces on both sides: what one part is known by on another mesh.

A run does not tell how a mesh is cut into triangles: points within TRUE of the chord are left out, so a part that was
re-tessellated keeps its landmarks. Frame and unit are those of the mesh they were taken from, mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.chains import Chain, FeatureGraph
from core.geometry.mesh import F64, I64, dot, frozen
from core.geometry.topology import Topology

#: Points of a chain this near to the chord are left out, mm: finer than a printer resolves.
TRUE: Final = 0.02
#: Chains that are kept, the longest first; a noisy surface has hundreds of thousands of tiny ones.
MOST_CHAINS: Final = 1500
#: Chains shorter than this tell nothing, mm.
SHORTEST: Final = 1.0


@dataclass(frozen=True, eq=False)
class Samples:
    """Points along landmarks: ``points``, ``along`` (m, 3), ``normals`` (m, 2, 3), ``chain`` (m,), ``s`` (m,) mm."""

    points: F64
    along: F64
    normals: F64
    chain: I64
    s: F64


@dataclass(frozen=True, eq=False)
class Landmarks:
    """Runs (n), those of one chain one after the other in its order. Read-only.

    ``ends`` (n, 2, 3) mm; ``normals`` (n, 2, 3) outward unit normals of the faces left and right of the run, seen from
    outside with its end ahead; ``chain`` (n,) number of the chain; ``closed`` (c,) bool by chain.
    """

    ends: F64
    normals: F64
    chain: I64
    closed: np.ndarray

    def __post_init__(self) -> None:
        for array in (self.ends, self.normals, self.chain, self.closed):
            frozen(array)

    @classmethod
    def of(cls, topology: Topology) -> Landmarks:
        """The landmarks of a mesh; none where it has no feature edges."""
        graph = FeatureGraph.of(topology)
        picked, edges = _longest(graph), _Edges.of(graph)
        ends, normals, chain, closed = [], [], [], []
        for number, grown in enumerate(graph.grown(picked)):
            points, sides = _runs(edges, grown)
            ends.append(points)
            normals.append(sides)
            chain.append(np.full(len(points), number, np.int64))
            closed.append(grown.closed)
        if not ends:
            return cls(np.zeros((0, 2, 3)), np.zeros((0, 2, 3)), np.zeros(0, np.int64), np.zeros(0, np.bool_))
        return cls(np.concatenate(ends), np.concatenate(normals), np.concatenate(chain), np.array(closed, np.bool_))

    @cached_property
    def lengths(self) -> F64:
        """Length of every run, (n,) mm."""
        step = self.ends[:, 1] - self.ends[:, 0]
        return np.sqrt(dot(step, step))

    @cached_property
    def directions(self) -> F64:
        """Unit vector along every run, (n, 3)."""
        step = self.ends[:, 1] - self.ends[:, 0]
        return np.asarray(step / np.maximum(self.lengths, 1e-12)[:, None])

    @cached_property
    def size(self) -> float:
        """Diagonal of the box round all runs, mm."""
        if not len(self.ends):
            return 0.0
        corners = self.ends.reshape(-1, 3)
        return float(np.linalg.norm(corners.max(axis=0) - corners.min(axis=0)))

    def line(self, chain: int) -> F64:
        """The points of a chain in order, (k, 3) mm; a closed one repeats its first point."""
        ends = self.ends[self.chain == chain]
        return np.vstack([ends[:, 0], ends[-1:, 1]])

    def few(self, near: Sequence[F64], reach: tuple[float, float], most: int) -> Landmarks:
        """Whole chains with at most ``most`` runs: those within ``reach[0]`` mm of points (k, 3), then those within
        ``reach[1]`` mm as far as half of the runs go, then the longest."""
        count, length = np.bincount(self.chain), np.bincount(self.chain, self.lengths)
        points = self.samples(1.0)
        off = np.full(len(count), np.inf)
        for line in near:
            away, _ = cKDTree(line).query(points.points, distance_upper_bound=reach[1])
            np.minimum.at(off, points.chain, away)
        tier = np.digitize(off, reach)
        kept, room = np.zeros(0, np.int64), 0
        for k, share in enumerate((0.8, 0.5, 1.0)):
            mine = np.flatnonzero(tier == k)
            mine = mine[np.argsort(off[mine] if k == 0 else -length[mine], kind="stable")]
            mine = mine[np.cumsum(count[mine]) <= max(share * most - room, 0)]
            kept, room = np.r_[kept, mine], room + int(count[mine].sum())
        kept = np.sort(kept)
        names = np.full(len(count), -1, np.int64)
        names[kept] = np.arange(len(kept))
        keep = names[self.chain] >= 0
        return Landmarks(self.ends[keep], self.normals[keep], names[self.chain[keep]], self.closed[kept])

    def scaled(self, factor: float) -> Landmarks:
        """The same landmarks in another unit."""
        return Landmarks(self.ends * factor, self.normals, self.chain, self.closed)

    def moved(self, matrix: F64) -> Landmarks:
        """The landmarks carried over by a (4, 4) rigid transform."""
        turn = matrix[:3, :3].T
        return Landmarks(self.ends @ turn + matrix[:3, 3], self.normals @ turn, self.chain, self.closed)

    def samples(self, step: float, most: int | None = None) -> Samples:
        """Points every ``step`` mm at most along all runs, evenly; a longer step when there would be over ``most``."""
        total = float(self.lengths.sum())
        if most is not None and total / step > most:
            step = total / most
        count = np.maximum(np.ceil(self.lengths / step).astype(np.int64), 1)
        run = np.repeat(np.arange(len(count)), count)
        share = (np.arange(len(run)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[run]
        ends = self.ends[run]
        before = np.cumsum(self.lengths) - self.lengths
        first = np.r_[True, self.chain[1:] != self.chain[:-1]] if len(self.chain) else np.zeros(0, np.bool_)
        start = before - np.repeat(before[first], np.diff(np.r_[np.flatnonzero(first), len(first)]))
        return Samples(
            ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0]), self.directions[run], self.normals[run],
            self.chain[run], start[run] + share * self.lengths[run],
        )  # fmt: skip


def _longest(graph: FeatureGraph) -> I64:
    """One edge id of each of the longest chains, longest first."""
    if not len(graph.ids):
        return np.zeros(0, np.int64)
    points = graph.topology.mesh.vertices[graph.topology.edges[graph.ids]]
    step = points[:, 1] - points[:, 0]
    length = np.bincount(graph.chain_of, np.sqrt(dot(step, step)))
    _, first = np.unique(graph.chain_of, return_index=True)
    order = np.argsort(-length, kind="stable")
    return np.asarray(graph.ids[first[order[length[order] >= SHORTEST][:MOST_CHAINS]]])


@dataclass(frozen=True, eq=False)
class _Edges:
    """Feature edges to be found by their two vertices."""

    topology: Topology
    ids: I64
    keys: I64

    @classmethod
    def of(cls, graph: FeatureGraph) -> _Edges:
        edges = graph.topology.edges[graph.ids].astype(np.int64)
        keys = _key(edges[:, 0], edges[:, 1], len(graph.topology.mesh.vertices))
        order = np.argsort(keys)
        return cls(graph.topology, graph.ids[order], keys[order])

    def sides(self, path: I64) -> F64:
        """Normals (k − 1, 2, 3) left and right of every step of a path of vertices."""
        topology = self.topology
        wanted = _key(path[:-1], path[1:], len(topology.mesh.vertices))
        found = self.ids[np.searchsorted(self.keys, wanted)]
        triangles = topology.edge_triangles[found]
        normals = topology.mesh.normals[triangles]
        normals[triangles < 0] = 0.0
        against = topology.edges[found, 0] != path[:-1]
        normals[against] = normals[against][:, ::-1]
        return np.asarray(normals)


def _key(a: I64, b: I64, count: int) -> I64:
    return np.asarray(np.minimum(a, b) * count + np.maximum(a, b))


def _runs(edges: _Edges, chain: Chain) -> tuple[F64, F64]:
    """Ends (r, 2, 3) and normals (r, 2, 3) of the straight runs of a chain."""
    ids = np.array([*chain.vertices, chain.vertices[0]] if chain.closed else chain.vertices, np.int64)
    points = edges.topology.mesh.vertices[ids]
    kept = _corners(points)
    length = np.linalg.norm(np.diff(points, axis=0), axis=1)[:, None, None]
    total = np.add.reduceat(edges.sides(ids) * length, kept[:-1], axis=0)
    norm = np.linalg.norm(total, axis=2, keepdims=True)
    normals = np.divide(total, norm, out=np.zeros_like(total), where=norm > 0)
    return np.stack([points[kept[:-1]], points[kept[1:]]], axis=1), normals


def _corners(points: F64) -> I64:
    """Indices of the points (k, 3) that are kept so that none is farther than TRUE from the line (Douglas–Peucker)."""
    keep = np.zeros(len(points), np.bool_)
    keep[[0, -1]] = True
    a, b = np.array([0]), np.array([len(points) - 1])
    while True:  # all stretches that are not straight yet at once
        wide = b - a >= 2
        a, b = a[wide], b[wide]
        if not len(a):
            return np.flatnonzero(keep)
        off, inner, begin = _off_chords(points, a, b)
        worst = np.maximum.reduceat(off, begin)
        at = np.flatnonzero(off == np.repeat(worst, b - a - 1))
        stretch = np.searchsorted(begin, at, side="right") - 1
        _, first = np.unique(stretch, return_index=True)
        split = worst > TRUE
        middle = inner[at[first]][split]
        keep[middle] = True
        a, b = np.r_[a[split], middle], np.r_[middle, b[split]]


def _off_chords(points: F64, a: I64, b: I64) -> tuple[F64, I64, I64]:
    """How far the points between a (s,) and b (s,) lie from the chord a–b, one stretch after the other; which points
    those are; and where each stretch begins among them."""
    count = b - a - 1
    begin = np.cumsum(count) - count
    of = np.repeat(np.arange(len(a)), count)
    inner = np.arange(len(of)) - begin[of] + a[of] + 1
    chord = points[b] - points[a]
    square = dot(chord, chord)[of]
    rel = points[inner] - points[a[of]]
    t = np.clip(np.divide(dot(rel, chord[of]), square, out=np.zeros(len(of)), where=square > 0), 0, 1)
    rest = rel - t[:, None] * chord[of]
    return np.sqrt(dot(rest, rest)), inner, begin
