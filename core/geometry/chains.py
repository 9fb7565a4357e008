"""Edge chains: one picked mesh edge grown along its feature until a corner stops it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from core.errors import MeshProblem
from core.geometry.mesh import F64, I32, I64, Bool
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology

#: A chain goes on through a vertex that turns it by less than this; more is a corner. From memory;
#: a ring of ten segments turns by 36° and is still followed.
CORNER_DEG = 40.0
#: A vertex where more feature edges meet than this is the tip of something: every chain stops there. From memory.
MANY = 12


@dataclass(frozen=True)
class Chain:
    """Vertex ids along a run of mesh edges. A closed chain does not repeat its first vertex."""

    vertices: tuple[int, ...]
    closed: bool = False

    def polyline(self, points: F64) -> Polyline:
        """The chain as a line through ``points`` (n, 3), mm, in whatever frame they are."""
        return Polyline.of(points[list(self.vertices)], self.closed)


@dataclass(frozen=True, eq=False)
class FeatureGraph:
    """The feature edges of a topology and how they run on into each other.

    ``ids`` (f,) int64 are the edge ids. ``follow`` (f, 2) int64 tells for the start and the end of each which other
    (as an index into ``ids``) carries it on, −1 at a corner or an end; the choice is mutual.
    """

    topology: Topology
    ids: I64
    follow: I64

    @classmethod
    def of(cls, topology: Topology, keep: Bool | None = None, corner_deg: float = CORNER_DEG) -> FeatureGraph:
        """``keep`` (e,) bool chooses the edges; by default those that ``topology.features`` marks."""
        ids = np.flatnonzero(topology.features if keep is None else keep)
        return cls(topology, ids, _follow(topology, ids, corner_deg))

    @cached_property
    def chain_of(self) -> I64:
        """Number of the chain that each feature edge belongs to, (f,) int."""
        n = len(self.ids)
        rows, ends = np.nonzero(self.follow >= 0)
        links = coo_array((np.ones(len(rows), np.int8), (rows, self.follow[rows, ends])), shape=(n, n))
        return np.asarray(connected_components(links.tocsr(), directed=False)[1], np.int64)

    @cached_property
    def _at_vertex(self) -> tuple[I64, I64]:
        """Feature edges (indices) sorted by vertex, and where each vertex's run starts."""
        ends = self.topology.edges[self.ids]
        vertex = ends.T.ravel()
        order = np.argsort(vertex, kind="stable")
        count = np.bincount(vertex, minlength=len(self.topology.mesh.vertices))
        return order % max(len(self.ids), 1), np.r_[0, np.cumsum(count)]

    def edges_at(self, vertex: int) -> I64:
        """Feature edge ids at a vertex, (k,) int."""
        order, start = self._at_vertex
        return self.ids[order[start[vertex] : start[vertex + 1]]]

    def index_of(self, edge: int) -> int:
        """Index into ``ids`` of an edge id. Raises MeshProblem when it is not a feature edge."""
        i = int(np.searchsorted(self.ids, edge))
        if i >= len(self.ids) or self.ids[i] != edge:
            raise MeshProblem("There is no such edge.", "Pick an edge of the part.")
        return i

    def grow(self, edge: int) -> Chain:
        """The chain through a picked edge, by edge id. Raises MeshProblem when the number names no feature edge."""
        return _grown(self.topology.edges[self.ids], self.follow, self.index_of(edge))

    def grown(self, edges: I64) -> list[Chain]:
        """The chains through many edges, by their ids (k,). Raises MeshProblem as ``grow`` does.

        Plain lists are walked many times faster than arrays; making them is worth it only for many chains.
        """
        ends, follow = self.topology.edges[self.ids].tolist(), self.follow.tolist()
        return [_grown(ends, follow, self.index_of(int(edge))) for edge in edges]

    def _walk(self, start: int, vertex: int) -> tuple[list[int], bool]:
        return _walked(self.topology.edges[self.ids], self.follow, start, vertex)

    def extend(self, chain: Chain, at_end: bool) -> Chain:
        """The chain carried on past the corner at its end (or start), to the next corner. Unchanged if it cannot."""
        if chain.closed:
            return chain
        ids = chain.vertices if at_end else chain.vertices[::-1]
        following = self._past_corner(ids)
        if following is None:
            return chain
        a, b = (int(v) for v in self.topology.edges[following])
        vertex = b if a == ids[-1] else a
        more, _ = self._walk(self.index_of(following), vertex)
        fresh = [v for v in (vertex, *more) if v not in ids]
        ids = (*ids, *fresh)
        return Chain(ids if at_end else ids[::-1])

    def _past_corner(self, ids: tuple[int, ...]) -> int | None:
        """The edge with the smallest turn by which a chain that ends at a corner could go on."""
        points = self.topology.mesh.vertices
        arriving = points[ids[-1]] - points[ids[-2]]
        best: tuple[float, int] | None = None
        for edge in self.edges_at(ids[-1]):
            a, b = (int(v) for v in self.topology.edges[edge])
            other = b if a == ids[-1] else a
            if other in ids:
                continue
            leaving = points[other] - points[ids[-1]]
            cosine = float(arriving @ leaving / max(float(np.linalg.norm(arriving) * np.linalg.norm(leaving)), 1e-300))
            best = max(best or (cosine, int(edge)), (cosine, int(edge)))
        return None if best is None else best[1]


Pairs = Sequence[Sequence[int]] | I64 | I32


def _grown(ends: Pairs, follow: Pairs, start: int) -> Chain:
    """The chain through feature edge ``start``, where ``ends`` (f, 2) are the vertices of every feature edge."""
    a, b = (int(v) for v in ends[start])
    ahead, closed = _walked(ends, follow, start, b)
    if closed:
        return Chain((a, b, *ahead[:-1]), closed=True)
    behind, _ = _walked(ends, follow, start, a)
    return Chain((*reversed(behind), a, b, *ahead))


def _walked(ends: Pairs, follow: Pairs, start: int, vertex: int) -> tuple[list[int], bool]:
    """Vertices after ``vertex``, leaving edge ``start`` there, until a corner, an end, or home (then True)."""
    path: list[int] = []
    at = start
    while True:
        following = int(follow[at][0 if ends[at][0] == vertex else 1])
        if following < 0:
            return path, False
        if following == start:
            return path, True
        a, b = ends[following]
        vertex, at = int(b if a == vertex else a), following
        path.append(vertex)


def _follow(topology: Topology, ids: I64, corner_deg: float) -> I64:
    """For both ends of every feature edge: the edge that carries it on with the smallest turn, if both agree.

    An edge that turns the surface the other way (convex against concave) is a last choice only.
    """
    f = len(ids)
    out = np.full((f, 2), -1, np.int64)
    ends = topology.edges[ids]
    vertex = ends.T.ravel().astype(np.int64)
    order = np.argsort(vertex, kind="stable")
    count = np.bincount(vertex, minlength=len(topology.mesh.vertices))
    first, second = _pairs_within(order, vertex, count)
    if not len(first):
        return out
    points = topology.mesh.vertices
    step = points[ends[:, 1]] - points[ends[:, 0]]
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-300)
    edge_a, edge_b, end_a, end_b = first % f, second % f, first // f, second // f
    # Both directions taken as leaving the vertex: straight on means they are opposite.
    leaving_a = step[edge_a] * np.where(end_a == 0, 1.0, -1.0)[:, None]
    leaving_b = step[edge_b] * np.where(end_b == 0, 1.0, -1.0)[:, None]
    straight = -np.einsum("ij,ij->i", leaving_a, leaving_b)
    kind = np.sign(topology.turns[ids])
    score = straight - np.where(kind[edge_a] == kind[edge_b], 0.0, 0.5)
    ranked = np.lexsort((-score, first))
    best = ranked[np.r_[True, first[ranked][1:] != first[ranked][:-1]]]
    choice = np.full(2 * f, -1, np.int64)
    choice[first[best]] = np.where(score[best] >= np.cos(np.deg2rad(corner_deg)), second[best], -1)
    there = np.flatnonzero(choice >= 0)
    mutual = there[choice[choice[there]] == there]
    out[mutual % f, mutual // f] = choice[mutual] % f
    return out


def _pairs_within(order: I64, vertex: I64, count: I64) -> tuple[I64, I64]:
    """All ordered pairs of different half-edges that meet at one vertex (half-edge = end × f + edge)."""
    size = count[vertex[order]]
    usable = (size > 1) & (size <= MANY)
    start = np.r_[0, np.cumsum(count)][vertex[order]]
    repeat = np.where(usable, size, 0)
    first = np.repeat(order, repeat)
    offset = np.arange(len(first)) - np.repeat(np.cumsum(repeat) - repeat, repeat)
    second = order[np.repeat(start, repeat) + offset]
    different = first != second
    return first[different], second[different]


def cut_back(chain: Chain, keep_from: int, keep_to: int) -> Chain:
    """The open run of a chain between two of its positions (inclusive). Raises MeshProblem when nothing is left."""
    ids = chain.vertices[keep_from : keep_to + 1]
    if len(ids) < 2:
        raise MeshProblem("Nothing of the edge would be left.", "Keep at least one segment.")
    return Chain(ids)


def feature_chains(graph: FeatureGraph) -> list[tuple[Chain, I64]]:
    """Every chain of the feature edges, each with its edge ids (k,). Each edge belongs to exactly one chain."""
    order = np.argsort(graph.chain_of, kind="stable")
    groups = np.split(graph.ids[order], np.flatnonzero(np.diff(graph.chain_of[order])) + 1) if len(order) else []
    return [(graph.grow(int(group[0])), group) for group in groups]
