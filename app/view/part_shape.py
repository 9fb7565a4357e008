"""Arrays that the part is drawn from: rounded shading, the outline seen from an eye, a lighter stand-in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from app.view.lens import Lens
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
Bool = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Shaded:
    """Vertices (mm), their normals and the triangles; ``origin`` (n,) names the mesh vertex of each."""

    vertices: F32
    normals: F32
    triangles: I32
    origin: I32


def rounded(mesh: Mesh, topology: Topology) -> Shaded:
    """The mesh with normals that are smooth across soft edges and broken at feature edges.

    A vertex is doubled for every smooth patch that meets there. Patches are weighed by area and by the angle at the
    corner, so that a large flat face beside a fillet stays evenly lit.
    """
    patch = _patches(topology)
    tri = mesh.triangles
    key = patch[:, None].astype(np.int64) * len(mesh.vertices) + tri
    names, corner = np.unique(key, return_inverse=True)
    corner = corner.reshape(-1, 3)
    origin = (names % len(mesh.vertices)).astype(np.int32)
    weight = _corner_angles(mesh)
    normals = np.zeros((len(names), 3))
    for k in range(3):
        for axis in range(3):
            share = mesh.area_vectors[:, axis] * weight[:, k]
            normals[:, axis] += np.bincount(corner[:, k], weights=share, minlength=len(names))
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.divide(normals, length, out=np.zeros_like(normals), where=length > 0)
    triangles = corner.astype(np.int32)
    return Shaded(mesh.vertices[origin].astype(np.float32), normals.astype(np.float32), triangles, origin)


def _patches(topology: Topology) -> I32:
    """Number of the smooth patch of every triangle: triangles joined across edges that are no feature."""
    n = len(topology.mesh.triangles)
    a, b = topology.edge_triangles[~topology.features].T
    graph = coo_array((np.ones(len(a), np.int8), (a, b)), shape=(n, n))
    _, label = connected_components(graph.tocsr(), directed=False)
    return label


def _corner_angles(mesh: Mesh) -> F64:
    """Angle at each corner of every triangle, (m, 3), radians."""
    p = mesh.vertices[mesh.triangles]
    side = np.roll(p, -1, axis=1) - p
    length = np.linalg.norm(side, axis=2)
    dots = -np.einsum("ijk,ijk->ij", side, np.roll(side, 1, axis=1))
    floor = np.maximum(length * np.roll(length, 1, axis=1), 1e-30)
    return np.arccos(np.clip(dots / floor, -1.0, 1.0))


class Outline:
    """Edges at which the surface turns away from the eye."""

    def __init__(self, mesh: Mesh, topology: Topology) -> None:
        edges, sides = topology.edges, topology.edge_triangles
        if topology.borders.any():
            edges, sides = edges[~topology.borders], sides[~topology.borders]
        self._edges = edges
        self._left, self._right = np.ascontiguousarray(sides.T)
        self._normals = mesh.normals.astype(np.float32)
        first = mesh.vertices[mesh.triangles[:, 0]]
        self._offset = np.einsum("ij,ij->i", mesh.normals, first).astype(np.float32)

    def seen(self, lens: Lens) -> I32:
        """Vertex pairs (k, 2) of the outline for a lens, without the border edges."""
        if lens.camera.parallel:
            front = self._normals @ lens.basis[2].astype(np.float32) > 0
        else:
            front = self._normals @ lens.eye.astype(np.float32) > self._offset
        return self._edges[front[self._left] != front[self._right]]


def cut_lines(mesh: Mesh, origin: F64, normal: F64) -> F64:
    """Where a plane cuts the surface: segments (k, 2, 3), mm, one for every triangle that it passes through."""
    side = (mesh.vertices - origin) @ normal
    high = (side > 0)[mesh.triangles]
    crossed = high.any(axis=1) & ~high.all(axis=1)
    tri, high = mesh.triangles[crossed], high[crossed]
    # The corner that is alone on its side; the plane cuts the two sides that end there.
    lone_is_high = high.sum(axis=1) == 1
    lone = np.argmax(high == lone_is_high[:, None], axis=1)
    rows = np.arange(len(tri))
    a = tri[rows, lone]
    ends = np.empty((len(tri), 2, 3))
    for k in (1, 2):
        b = tri[rows, (lone + k) % 3]
        share = side[a] / (side[a] - side[b])
        ends[:, k - 1] = mesh.vertices[a] + (mesh.vertices[b] - mesh.vertices[a]) * share[:, None]
    return ends


def stand_in(mesh: Mesh, goal: int) -> Iterator[Mesh | None]:
    """A mesh of roughly ``goal`` triangles in place of a big one, for turning it; None until it is done.

    Vertices that share a cell of a grid become one (vertex clustering: Rossignac and Borrel, 1993). It is worked out
    in steps, so that the window can answer in between.
    """
    area = float(np.linalg.norm(mesh.area_vectors, axis=1).sum())
    yield None
    cell = max(np.sqrt(2.0 * area / goal), 1e-9)
    low = mesh.bounds[0]
    spread = np.ceil((mesh.bounds[1] - low) / cell).astype(np.int64) + 2
    key = np.zeros(len(mesh.vertices), np.int64)
    for axis in range(3):
        key *= spread[axis]
        key += ((mesh.vertices[:, axis] - low[axis]) / cell).astype(np.int64)
    yield None
    order = np.argsort(key, kind="stable")
    yield None
    sorted_key = key[order]
    starts = np.flatnonzero(np.r_[True, sorted_key[1:] != sorted_key[:-1]])
    name = np.empty(len(key), np.int32)
    name[order] = np.repeat(np.arange(len(starts), dtype=np.int32), np.diff(np.r_[starts, len(key)]))
    yield None
    count = np.bincount(name)
    vertices = np.column_stack([np.bincount(name, weights=mesh.vertices[:, axis]) / count for axis in range(3)])
    yield None
    tri = name[mesh.triangles]
    whole = (tri[:, 0] != tri[:, 1]) & (tri[:, 1] != tri[:, 2]) & (tri[:, 2] != tri[:, 0])
    yield Mesh(vertices, np.ascontiguousarray(tri[whole]))
