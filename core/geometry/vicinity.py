"""The neighbourhood of a box cut out of a large closed mesh and closed again, so that work in the box costs little.

Only triangles that may reach into the box matter to what happens in it. The hole that the others leave is closed by a
cap that stays outside of the box, and the cap is chosen so that every point of the box is enclosed as often as it was
by the whole mesh. What is done in the box with the small closed surface is then what would have been done with the
large one, and the triangles left aside stay as they are, bit for bit.

The cap. In coordinates in which the box is the cube |x|, |y|, |z| ≤ 1, every edge of the hole lies beyond one of the
six faces, because the triangle on its other side does. Six poles lie at ±REACH on the axes.
* Each edge makes a triangle with the pole of a face that it lies beyond: the triangle lies beyond that face too.
* Where two edges with poles P and Q meet in a vertex, it makes a triangle with P and Q. For all three points the sum
  of their two coordinates towards P and Q is more than 2, so that triangle misses the cube.
* What stays open is a cycle along the edges of the octahedron of the poles, which its eight faces fill. They miss the
  cube when REACH > 3. The filling is unique but for whole octahedra, and their number is settled by the winding number.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.geometry.mesh import CHUNK, F64, I64, Bool, Mesh, cross, dot

U8 = NDArray[np.uint8]

#: Distance of the poles from the centre in half sizes of the box; more than 3, see the module.
REACH: Final = 6.0

_AXES: Final = np.array([[s * (axis == i) for i in range(3)] for axis in range(3) for s in (1.0, -1.0)])
"""Directions of the poles: +x, −x, +y, −y, +z, −z. Pole k lies beyond the face of bit k."""

_FACES: Final = np.array(
    [[x, y, z] if (x + y + z) % 2 == 0 else [y, x, z] for x, y, z in product((0, 1), (2, 3), (4, 5))], np.int64
)
"""The octahedron of the poles, counter-clockwise from outside."""


@dataclass(frozen=True, eq=False)
class Vicinity:
    """A box's neighbourhood. ``near`` (m,) bool tells which triangles of the mesh belong to it.

    ``closed`` is a closed surface of the near triangles, first and in order, and the cap, moved by −``centre`` (3,).
    ``vertex_ids`` (n,) int64 are the vertices of the mesh behind those of ``closed``; the six poles at the end have −1.
    Every triangle of the cap has a pole.
    """

    near: Bool
    closed: Mesh
    centre: F64
    vertex_ids: I64


def vicinity(mesh: Mesh, low: F64, high: F64) -> Vicinity:
    """The neighbourhood of the box from ``low`` to ``high`` (each (3,), mm, the mesh's frame) in a closed mesh.

    The mesh is one whose every edge joins two triangles that run in opposite directions.
    """
    centre, half = (low + high) / 2.0, (high - low) / 2.0
    near, beyond = reaching(mesh, low, high)
    ids, local = np.unique(mesh.triangles[near], return_inverse=True)
    triangles = local.reshape(-1, 3)
    points = np.concatenate([mesh.vertices[ids] - centre, REACH * half * _AXES])
    cap = _cap(triangles, beyond[ids])
    enclosed = winding_number(mesh.vertices, mesh.triangles[~near], centre) - winding_number(points, cap, np.zeros(3))
    whole = _octahedra(round(enclosed)) + len(ids)
    faces = np.concatenate([triangles, cap, whole]).astype(np.int32)
    return Vicinity(near, Mesh(points, faces), centre, np.concatenate([ids, np.full(6, -1)]))


def reaching(mesh: Mesh, low: F64, high: F64) -> tuple[Bool, U8]:
    """Triangles that are not wholly beyond one face of the box, (m,) bool, and beyond which faces each vertex is.

    The latter is (n,) uint8 with bit 2 i for above ``high[i]`` and bit 2 i + 1 for below ``low[i]`` (the outcodes of
    Cohen and Sutherland's clipping, from memory).
    """
    code = np.zeros(len(mesh.vertices), np.uint8)
    for axis in range(3):
        along = mesh.vertices[:, axis]
        code |= (along > high[axis]).astype(np.uint8) << np.uint8(2 * axis)
        code |= (along < low[axis]).astype(np.uint8) << np.uint8(2 * axis + 1)
    near = np.empty(len(mesh.triangles), np.bool_)
    for i in range(0, len(near), CHUNK):
        corner = code[mesh.triangles[i : i + CHUNK]]
        near[i : i + CHUNK] = (corner[:, 0] & corner[:, 1] & corner[:, 2]) == 0
    return near, code


def open_edges(triangles: NDArray[np.integer]) -> I64:
    """Directed edges (k, 2) of the triangles (m, 3) that no other triangle runs along the other way."""
    start = np.asarray(triangles, np.int64)
    end = np.roll(start, -1, axis=1)
    count = int(start.max(initial=0)) + 1
    alone = ~np.isin(start * count + end, end * count + start)
    return np.column_stack([start[alone], end[alone]])


def _cap(triangles: I64, beyond: U8) -> I64:
    """Triangles (c, 3) that close an open surface outside of the box; poles are numbered from ``len(beyond)``."""
    edges = open_edges(triangles)
    a, b = edges[np.argsort(edges[:, 0], kind="stable")].T
    pole = _lowest_bit(beyond[a] & beyond[b])
    arriving = np.argsort(b, kind="stable")  # b[arriving] == a: as many edges end in a vertex as begin there
    before = pole[arriving]
    turning = before != pole
    first = len(beyond)
    sides = np.column_stack([b, a, pole + first])
    joints = np.column_stack([a, before + first, pole + first])[turning]
    cycle = np.column_stack([before, pole])[turning]
    return np.concatenate([sides, joints, _filled(cycle) + first])


def _lowest_bit(code: U8) -> I64:
    """The number of the lowest bit set, (k,) int64."""
    bits = np.unpackbits(code[:, None], axis=1, bitorder="little")
    out: I64 = bits.argmax(axis=1)
    return out


def _filled(open_cycle: I64) -> I64:
    """Faces of the octahedron, repeated and turned over as need be, that close a cycle of directed edges (k, 2).

    ``open_cycle`` runs as the surface does whose hole it is, so the faces run against it.
    """
    flow = np.zeros((6, 6))
    np.add.at(flow, (open_cycle[:, 0], open_cycle[:, 1]), 1.0)
    upper = np.triu_indices(6)
    boundary = np.zeros((6, 6, 8))
    for number, face in enumerate(_FACES):
        boundary[face, np.roll(face, -1), number] += 1.0
    around = boundary - boundary.transpose(1, 0, 2)
    times = np.linalg.lstsq(around[upper], -(flow - flow.T)[upper], rcond=None)[0]
    return _repeated(np.rint(times - times[0]).astype(np.int64))


def _octahedra(count: int) -> I64:
    """The whole octahedron so many times, inside out where ``count`` is negative."""
    return _repeated(np.full(8, count))


def _repeated(times: I64) -> I64:
    """The faces as often as told, those with a negative number turned over."""
    forward = np.repeat(_FACES, np.maximum(times, 0), axis=0)
    backward = np.repeat(_FACES[:, ::-1], np.maximum(-times, 0), axis=0)
    return np.concatenate([forward, backward])


def winding_number(vertices: F64, triangles: NDArray[np.integer], point: F64) -> float:
    """How often triangles (m, 3) of vertices (n, 3), mm, wind around a point (3,): their solid angles over 4 π.

    A whole number for a closed surface. Source: van Oosterom and Strackee, The Solid Angle of a Plane Triangle, IEEE
    Transactions on Biomedical Engineering 30 (1983), equation 8.
    """
    away = vertices - point
    distance = np.sqrt(dot(away, away))
    total = 0.0
    for i in range(0, len(triangles), CHUNK):
        a, b, c = (np.take(away, triangles[i : i + CHUNK, k], axis=0) for k in range(3))
        la, lb, lc = (np.take(distance, triangles[i : i + CHUNK, k]) for k in range(3))
        below = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
        total += float(np.arctan2(dot(a, cross(b, c)), below).sum())
    return total / (2.0 * np.pi)
