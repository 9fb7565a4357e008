"""The indexed triangle mesh that everything works on.

Arrays are read-only: a mesh is shared by the undo stack, the view and the worker,
and nobody may change it under the others.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import cast

import numpy as np
from numpy.typing import NDArray

from core.errors import MeshProblem

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
Bool = NDArray[np.bool_]


#: Rows worked on at a time where a whole array would leave the processor's cache.
CHUNK = 1 << 15


def dot(a: F64, b: F64) -> F64:
    """Row-wise scalar product of two (n, 3) arrays, (n,) float64."""
    out: F64 = a[:, 0] * b[:, 0]
    out += a[:, 1] * b[:, 1]
    out += a[:, 2] * b[:, 2]
    return out


def cross(a: F64, b: F64) -> F64:
    """Row-wise vector product of two (n, 3) arrays, (n, 3) float64. Several times faster than numpy's general one."""
    out = np.empty((len(a), 3))
    out[:, 0] = a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1]
    out[:, 1] = a[:, 2] * b[:, 0] - a[:, 0] * b[:, 2]
    out[:, 2] = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


def frozen(array: NDArray[np.generic]) -> None:
    """Make an array read-only, in place."""
    array.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Mesh:
    """Vertices (n, 3) float64 in mm, and triangles (m, 3) int32 that index them, counter-clockwise from outside.

    The frame is whatever the owner says: file coordinates in a Part, bed coordinates after a pose.
    The constructor takes C-contiguous arrays over without copying and makes them read-only.
    Raises MeshProblem on a wrong shape, an index out of range or a number that is not finite.
    """

    vertices: F64
    triangles: I32

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices, dtype=np.float64)
        triangles = np.ascontiguousarray(self.triangles, dtype=np.int32)
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise MeshProblem(f"Vertices have the shape {vertices.shape}, not (n, 3).")
        if triangles.ndim != 2 or triangles.shape[1] != 3:
            raise MeshProblem(f"Triangles have the shape {triangles.shape}, not (m, 3).")
        if not np.isfinite(vertices).all():
            raise MeshProblem("The mesh has coordinates that are not finite numbers.")
        if triangles.size and (triangles.min() < 0 or triangles.max() >= len(vertices)):
            raise MeshProblem("A triangle names a vertex that does not exist.")
        frozen(vertices)
        frozen(triangles)
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "triangles", triangles)

    @classmethod
    def trusted(cls, vertices: F64, triangles: I32) -> Mesh:
        """A mesh of arrays that follow from meshes: nothing is looked at again, which takes half of a copy's time."""
        frozen(vertices)
        frozen(triangles)
        out = object.__new__(cls)
        out.__dict__.update(vertices=vertices, triangles=triangles)
        return out

    @cached_property
    def corners(self) -> F64:
        """Corner points of every triangle, (m, 3, 3) float64, mm, the mesh's frame."""
        out = self.vertices[self.triangles]
        frozen(out)
        return out

    @cached_property
    def bounds(self) -> F64:
        """Smallest and largest coordinates of the vertices in use, (2, 3) float64, mm. Zeros for an empty mesh."""
        if not len(self.triangles):
            return np.zeros((2, 3))
        used = self.vertices if len(self.vertices) <= 3 * len(self.triangles) else self.corners.reshape(-1, 3)
        # Column by column: reducing narrow rows at once is ten times slower.
        out = np.array([[f(used[:, i]) for i in range(3)] for f in (np.min, np.max)])
        frozen(out)
        return out

    @cached_property
    def area_vectors(self) -> F64:
        """Outward normal times area of every triangle, (m, 3) float64, mm²."""
        for _ in self.normals_by_steps():
            pass
        return cast(F64, self.__dict__["area_vectors"])

    @cached_property
    def normals(self) -> F64:
        """Unit outward normals, (m, 3) float64; zero for a triangle without area."""
        for _ in self.normals_by_steps():
            pass
        return cast(F64, self.__dict__["normals"])

    def normals_by_steps(self) -> Iterator[None]:
        """Work out ``area_vectors`` and ``normals`` in steps of a few milliseconds, for a thread that has to answer."""
        if "normals" in self.__dict__:
            return
        areas, units = np.empty((len(self.triangles), 3)), np.zeros((len(self.triangles), 3))
        for i in range(0, len(areas), CHUNK):
            corner = self.vertices[self.triangles[i : i + CHUNK]]
            a = corner[:, 0]
            area = cross(corner[:, 1] - a, corner[:, 2] - a)
            area *= 0.5
            areas[i : i + CHUNK] = area
            length = np.sqrt(dot(area, area))[:, None]
            np.divide(area, length, out=units[i : i + CHUNK], where=length > 0)
            yield
        frozen(areas)
        frozen(units)
        self.__dict__.update(area_vectors=areas, normals=units)

    @cached_property
    def volume(self) -> float:
        """Enclosed volume in mm³ by the divergence theorem; meaningful for a closed mesh."""
        if not len(self.triangles):
            return 0.0
        centre = self.bounds.mean(axis=0)
        first = self.vertices[self.triangles[:, 0]] - centre
        return float(np.einsum("ij,ij->", first, self.area_vectors) / 3.0)

    @cached_property
    def content_hash(self) -> str:
        """SHA-256 of the arrays, hexadecimal: names the mesh in caches and across processes."""
        digest = hashlib.sha256(np.array([len(self.vertices), len(self.triangles)], np.int64).tobytes())
        digest.update(self.vertices.data)
        digest.update(self.triangles.data)
        return digest.hexdigest()

    def moved(self, pose: F64) -> Mesh:
        """The same mesh in another frame; ``pose`` is a (4, 4) rigid transform, mm → mm. Itself where nothing moves."""
        turn, shift = pose[:3, :3], pose[:3, 3]
        if not np.array_equal(turn, np.eye(3)):
            return Mesh(self.vertices @ turn.T + shift, self.triangles)
        return self if not shift.any() else Mesh(self.vertices + shift, self.triangles)


def joined(meshes: list[Mesh]) -> Mesh:
    """Several meshes (one frame, mm) in one, each with its own vertices. An empty list gives an empty mesh."""
    if not meshes:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    starts = np.cumsum([0, *(len(m.vertices) for m in meshes)])
    triangles = np.empty((sum(len(m.triangles) for m in meshes), 3), np.int32)
    at = 0
    for mesh, start in zip(meshes, starts[:-1], strict=True):
        np.add(mesh.triangles, np.int32(start), out=triangles[at : at + len(mesh.triangles)])
        at += len(mesh.triangles)
    return Mesh.trusted(np.concatenate([m.vertices for m in meshes]), triangles)


def among(count: int, triangles: I32) -> tuple[I64, I32]:
    """Which of ``count`` vertices the triangles (m, 3) use, (k,) in order, and the triangles numbered among them.

    By marking: ten times faster than sorting the corners.
    """
    used = np.zeros(count, np.bool_)
    used[triangles] = True
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return np.flatnonzero(used), number[triangles]
