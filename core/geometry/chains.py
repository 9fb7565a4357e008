"""Edge chains: one picked mesh edge grown along its feature until a corner stops it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_array, csr_array

from core.errors import MeshProblem
from core.geometry.mesh import F64, I64, Bool
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology

#: A chain goes on through a vertex that turns it by less than this; more is a corner. From memory;
#: a ring of ten segments turns by 36° and is still followed.
CORNER_DEG = 40.0


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
    """The feature edges of a topology as a graph: which of them meet at which vertex."""

    topology: Topology
    by_vertex: csr_array

    @classmethod
    def of(cls, topology: Topology, keep: Bool | None = None) -> FeatureGraph:
        """``keep`` (e,) bool chooses the edges; by default those that ``topology.features`` marks."""
        ids = np.flatnonzero(topology.features if keep is None else keep)
        ends = topology.edges[ids]
        n = len(topology.mesh.vertices)
        rows, cols = np.r_[ends[:, 0], ends[:, 1]], np.r_[ids, ids]
        ones = np.ones(len(rows), np.int8)
        return cls(topology, csr_array(coo_array((ones, (rows, cols)), shape=(n, max(len(topology.edges), 1)))))

    def edges_at(self, vertex: int) -> I64:
        """Feature edge ids at a vertex, (k,) int."""
        return self.by_vertex.indices[self.by_vertex.indptr[vertex] : self.by_vertex.indptr[vertex + 1]]

    def next_edge(self, vertex: int, edge: int, corner_deg: float = CORNER_DEG) -> int | None:
        """The edge by which a chain that arrives at ``vertex`` on ``edge`` goes on, or None at a corner or end."""
        topo, points = self.topology, self.topology.mesh.vertices
        others = [int(e) for e in self.edges_at(vertex) if e != edge]
        if not others:
            return None
        arriving = points[vertex] - points[_other_end(topo, edge, vertex)]
        cosines = []
        for e in others:
            leaving = points[_other_end(topo, e, vertex)] - points[vertex]
            same_kind = np.sign(topo.turns[e]) == np.sign(topo.turns[edge])
            length = np.linalg.norm(arriving) * np.linalg.norm(leaving)
            cosines.append(float(arriving @ leaving / length) - (0.0 if same_kind else 0.5) if length else -1.0)
        best = int(np.argmax(cosines))
        return others[best] if cosines[best] >= np.cos(np.deg2rad(corner_deg)) else None

    def grow(self, edge: int) -> Chain:
        """The chain through a picked edge. Raises MeshProblem when the number names no edge."""
        topo = self.topology
        if not 0 <= edge < len(topo.edges):
            raise MeshProblem("There is no such edge.", "Pick an edge of the part.")
        a, b = (int(v) for v in topo.edges[edge])
        ahead, closed = self._walk(b, edge, a)
        if closed:
            return Chain((a, b, *ahead[:-1]), closed=True)
        behind, _ = self._walk(a, edge, b)
        return Chain((*reversed(behind), a, b, *ahead))

    def _walk(self, vertex: int, edge: int, home: int, corner_deg: float = CORNER_DEG) -> tuple[list[int], bool]:
        """Vertices after ``vertex`` until a corner, an end, or home again (then True)."""
        path: list[int] = []
        seen = {edge}
        while True:
            following = self.next_edge(vertex, edge, corner_deg)
            if following is None or following in seen:
                return path, False
            seen.add(following)
            vertex, edge = _other_end(self.topology, following, vertex), following
            path.append(vertex)
            if vertex == home:
                return path, True

    def extend(self, chain: Chain, at_end: bool) -> Chain:
        """The chain carried on past the corner at its end (or start), as far as the next corner. Unchanged if it cannot."""
        if chain.closed:
            return chain
        ids = chain.vertices if at_end else chain.vertices[::-1]
        edge = edge_between(self.topology, ids[-2], ids[-1], self)
        following = None if edge is None else self.next_edge(ids[-1], edge, 179.0)
        if following is None:
            return chain
        vertex = _other_end(self.topology, following, ids[-1])
        if vertex in ids:
            return chain
        more, _ = self._walk(vertex, following, ids[0])
        ids = (*ids, vertex, *(v for v in more if v not in ids))
        return replace(chain, vertices=ids if at_end else ids[::-1])


def edge_between(topology: Topology, a: int, b: int, graph: FeatureGraph) -> int | None:
    """The feature edge that joins two vertices, or None."""
    for e in graph.edges_at(a):
        if b in topology.edges[e]:
            return int(e)
    return None


def cut_back(chain: Chain, keep_from: int, keep_to: int) -> Chain:
    """The open run of a chain between two of its positions (inclusive). Raises MeshProblem when nothing is left."""
    ids = chain.vertices[keep_from : keep_to + 1]
    if len(ids) < 2:
        raise MeshProblem("Nothing of the edge would be left.", "Keep at least one segment.")
    return Chain(ids)


def feature_chains(graph: FeatureGraph) -> list[tuple[Chain, I64]]:
    """Every chain of the feature edges, each with its edge ids (k,). Each edge belongs to one chain."""
    out: list[tuple[Chain, I64]] = []
    topo = graph.topology
    todo = np.zeros(len(topo.edges), np.bool_)
    todo[graph.by_vertex.indices] = True
    lookup = {}
    for e in np.flatnonzero(todo):
        a, b = topo.edges[e]
        lookup[min(a, b), max(a, b)] = int(e)
    for e in np.flatnonzero(todo):
        if not todo[e]:
            continue
        chain = graph.grow(int(e))
        ring = chain.vertices + (chain.vertices[:1] if chain.closed else ())
        ids = np.array([lookup[min(p, q), max(p, q)] for p, q in zip(ring, ring[1:], strict=False)], np.int64)
        todo[ids] = False
        out.append((chain, ids))
    return out


def _other_end(topology: Topology, edge: int, vertex: int) -> int:
    a, b = topology.edges[edge]
    return int(b if a == vertex else a)
