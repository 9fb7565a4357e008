"""Which triangles meet along which edge, how sharply, and which belong together.

The turn of an edge is the angle between the outward normals of its two triangles, signed:
positive where the surface is convex, negative where it is concave, zero where it is flat.
The dihedral angle of a handbook is the one inside the solid: π − turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from core.geometry.mesh import CHUNK, F64, I32, I64, Bool, Mesh, cross, dot, frozen

#: An edge counts as a feature of the part when it turns by more than this. From memory.
FEATURE_TURN_DEG = 30.0


@dataclass(frozen=True, eq=False)
class Topology:
    """Edges of a mesh and what meets there. All arrays read-only.

    ``edges`` (e, 2) int32: vertex ids, in the direction in which the first triangle runs.
    ``edge_triangles`` (e, 2) int32: first and second triangle; the second is −1 where there is none.
    ``edge_corners`` (e, 2) int8: number 0..2 of the side within each triangle; −1 where there is none.
    ``irregular`` (e,) bool: more than two triangles meet here, or two that run the same way.
    """

    mesh: Mesh
    edges: I32
    edge_triangles: I32
    edge_corners: NDArray[np.int8]
    irregular: Bool

    @classmethod
    def of(cls, mesh: Mesh) -> Topology:
        """The topology of a mesh. A mesh without triangles gives empty arrays."""
        pairs = _pairs_closed(mesh.triangles, len(mesh.vertices))
        if pairs is None:
            pairs = _pairs_general(mesh)
        first, second, irregular = pairs
        edges, triangles, corners = _describe(mesh.triangles, first, second)
        for array in (edges, triangles, corners, irregular):
            frozen(array)
        return cls(mesh, edges, triangles, corners, irregular)

    def carried_to(self, mesh: Mesh) -> Topology:
        """The same topology for the same mesh in another rigid placement; turns, features and shells are kept."""
        out = Topology(mesh, self.edges, self.edge_triangles, self.edge_corners, self.irregular)
        for name in ("turns", "features", "shell_of_triangle", "watertight"):
            out.__dict__[name] = getattr(self, name)
        return out

    @cached_property
    def turns(self) -> F64:
        """Signed turn of every edge, (e,) float64, radians; zero where there is one triangle only."""
        out = signed_turns(self.mesh, self.edges, self.edge_triangles)
        frozen(out)
        return out

    @property
    def borders(self) -> Bool:
        """Edges with one triangle only, (e,) bool."""
        out: Bool = self.edge_triangles[:, 1] < 0
        return out

    @cached_property
    def watertight(self) -> bool:
        """Whether every edge is shared by exactly two triangles that run in opposite directions."""
        return bool(len(self.edges)) and not self.borders.any() and not self.irregular.any()

    @cached_property
    def features(self) -> Bool:
        """Edges that a person sees as edges, (e,) bool: sharp turns, borders and irregular ones."""
        out: Bool = (np.abs(self.turns) > np.deg2rad(FEATURE_TURN_DEG)) | self.borders | self.irregular
        frozen(out)
        return out

    @cached_property
    def triangle_edges(self) -> I32:
        """The three edges of every triangle, (m, 3) int32, column k being the side from corner k to k + 1."""
        out = np.full((len(self.mesh.triangles), 3), -1, np.int32)
        ids = np.arange(len(self.edges), dtype=np.int32)
        for side in (0, 1):
            there = self.edge_triangles[:, side] >= 0
            out[self.edge_triangles[there, side], self.edge_corners[there, side]] = ids[there]
        frozen(out)
        return out

    @cached_property
    def shell_of_triangle(self) -> I32:
        """The shell (connected piece) of every triangle, (m,) int32, numbered by first appearance."""
        out = shells(self.mesh)
        frozen(out)
        return out

    @cached_property
    def shell_count(self) -> int:
        """How many connected pieces the mesh has."""
        return int(self.shell_of_triangle.max()) + 1 if len(self.mesh.triangles) else 0

    def shell_volumes(self) -> F64:
        """Signed volume of every shell, (k,) float64, mm³; negative where a shell is inside out."""
        mesh = self.mesh
        centre = mesh.bounds.mean(axis=0)
        parts = np.einsum("ij,ij->i", mesh.vertices[mesh.triangles[:, 0]] - centre, mesh.area_vectors) / 3.0
        out: F64 = np.bincount(self.shell_of_triangle, weights=parts, minlength=self.shell_count).astype(np.float64)
        return out

    def shell_boxes(self) -> tuple[F64, F64]:
        """Smallest and largest coordinates of every shell, two (k, 3) float64, mm, the mesh's frame."""
        shell = np.full(len(self.mesh.vertices), -1, np.int32)
        shell[self.mesh.triangles] = self.shell_of_triangle[:, None]
        order = np.argsort(shell, kind="stable")[np.count_nonzero(shell < 0) :]
        starts = np.searchsorted(shell[order], np.arange(self.shell_count))
        points = self.mesh.vertices[order]
        # Column by column: reducing narrow rows at once is ten times slower.
        low, high = (
            np.column_stack([f.reduceat(points[:, i], starts) for i in range(3)]) for f in (np.minimum, np.maximum)
        )
        return low, high


def signed_turns(mesh: Mesh, edges: I32, edge_triangles: I32) -> F64:
    """Signed turn of edges (radians, see the module), given (e, 2) vertex and (e, 2) triangle ids."""
    out = np.empty(len(edges))
    normals, vertices = mesh.normals, mesh.vertices
    for i in range(0, len(edges), CHUNK):
        part = slice(i, i + CHUNK)
        along = vertices[edges[part, 1]] - vertices[edges[part, 0]]
        left, right = normals[edge_triangles[part, 0]], normals[edge_triangles[part, 1]]
        length = np.sqrt(dot(along, along))
        sine = np.divide(dot(cross(left, right), along), length, out=np.zeros_like(length), where=length > 0)
        np.arctan2(sine, dot(left, right), out=out[part])
    out[edge_triangles[:, 1] < 0] = 0.0
    return out


def shells(mesh: Mesh) -> I32:
    """Connected piece of every triangle, (m,) int32, by shared vertices, numbered by first appearance."""
    tri = mesh.triangles
    if not len(tri):
        return np.zeros(0, np.int32)
    n = len(mesh.vertices)
    ones = np.ones(2 * len(tri), np.int8)
    graph = coo_array((ones, (np.r_[tri[:, 0], tri[:, 1]], np.r_[tri[:, 1], tri[:, 2]])), shape=(n, n))
    _, label = connected_components(graph.tocsr(), directed=False)
    of_triangle = label[tri[:, 0]]
    _, first, inverse = np.unique(of_triangle, return_index=True, return_inverse=True)
    rank = np.empty(len(first), np.int32)
    rank[np.argsort(first)] = np.arange(len(first), dtype=np.int32)
    return rank[inverse]


def _half_edges(triangles: I32) -> tuple[I32, I32]:
    """Start and end vertex of the 3m half-edges; number 3t + k is the side k of triangle t."""
    return triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()


def _pairs_closed(triangles: I32, n: int) -> tuple[I64, I64, Bool] | None:
    """Twin half-edges of a closed, consistently oriented mesh, or None when it is not one.

    The half-edges make a sparse matrix; in a closed mesh its pattern equals its transpose's,
    so the twin of every entry stands at the same place in the transpose. No sorting by comparison.
    """
    count = triangles.size
    if not count:
        return None
    start, end = _half_edges(triangles)
    ids = np.arange(1, count + 1, dtype=np.int32)
    forward = csr_array(coo_array((ids, (start, end)), shape=(n, n)))
    if forward.nnz != count:
        return None  # two half-edges run the same way
    backward = forward.T.tocsr()
    forward = backward.T.tocsr()
    if not np.array_equal(forward.indptr, backward.indptr) or not np.array_equal(forward.indices, backward.indices):
        return None
    mine, twin = forward.data - 1, backward.data - 1
    once = mine < twin
    first, second = mine[once].astype(np.int64), twin[once].astype(np.int64)
    return first, second, np.zeros(len(first), np.bool_)


def _pairs_general(mesh: Mesh) -> tuple[I64, I64, Bool]:
    """Pairs of half-edges of any mesh; −1 where a half-edge stays alone.

    Where more than two meet, opposite ones are paired by angle about the edge, nearest outside first.
    """
    start, end = _half_edges(mesh.triangles)
    low, high = np.minimum(start, end).astype(np.int64), np.maximum(start, end).astype(np.int64)
    order = np.argsort(low * len(mesh.vertices) + high, kind="stable")
    key = (low * len(mesh.vertices) + high)[order]
    group_start = np.flatnonzero(np.r_[True, key[1:] != key[:-1]]) if len(key) else np.zeros(0, np.int64)
    size = np.diff(np.r_[group_start, len(key)])
    forward = start < end
    a = order[group_start]
    b = order[np.minimum(group_start + 1, max(len(order) - 1, 0))] if len(order) else a
    plain = (size == 2) & (forward[a] != forward[b])
    single = size == 1
    first = [np.minimum(a[plain], b[plain]), a[single]]
    second = [np.maximum(a[plain], b[plain]), np.full(int(single.sum()), -1, np.int64)]
    odd: list[tuple[int, int]] = []
    for g in np.flatnonzero(~plain & ~single):
        odd += _pair_by_angle(mesh, order[group_start[g] : group_start[g] + size[g]], forward)
    first.append(np.array([p for p, _ in odd], np.int64))
    second.append(np.array([q for _, q in odd], np.int64))
    irregular = np.zeros(sum(map(len, first)), np.bool_)
    irregular[len(irregular) - len(odd) :] = True
    return np.concatenate(first), np.concatenate(second), irregular


def _pair_by_angle(mesh: Mesh, group: I64, forward: Bool) -> list[tuple[int, int]]:
    """Pair the half-edges of one crowded edge so that each pair bounds one wedge of solid."""
    tri, corner = group // 3, group % 3
    a = mesh.vertices[mesh.triangles[tri[0], corner[0]]]
    b = mesh.vertices[mesh.triangles[tri[0], (corner[0] + 1) % 3]]
    axis = (b - a if forward[group[0]] else a - b) / max(float(np.linalg.norm(b - a)), 1e-300)
    out = mesh.vertices[mesh.triangles[tri, (corner + 2) % 3]] - a
    x = out[0] - axis * (out[0] @ axis)
    y = np.cross(axis, x)
    angle = np.arctan2(out @ y, out @ x)
    pairs, free = [], [int(i) for i in np.flatnonzero(~forward[group])]
    for i in np.flatnonzero(forward[group]):
        if not free:
            pairs.append((int(group[i]), -1))
            continue
        # With the edge pointing at us, the solid of a triangle that runs along it lies clockwise of it.
        partner = min(free, key=lambda j: (float(angle[i] - angle[j])) % (2 * np.pi))
        free.remove(partner)
        pairs.append((int(group[i]), int(group[partner])))
    return pairs + [(int(group[j]), -1) for j in free]


def _describe(triangles: I32, first: I64, second: I64) -> tuple[I32, I32, NDArray[np.int8]]:
    """Vertex ids, triangles and side numbers of edges given by their half-edges."""
    start, end = _half_edges(triangles)
    edges = np.column_stack([start[first], end[first]]).astype(np.int32, copy=False)
    alone = second < 0
    two = np.column_stack([first // 3, np.where(alone, -1, second // 3)]).astype(np.int32)
    side = np.column_stack([first % 3, np.where(alone, -1, second % 3)]).astype(np.int8)
    return edges, two, side
