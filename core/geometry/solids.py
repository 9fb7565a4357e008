"""Solids: the only door to the boolean library. Its statuses become sentences here.

Works recentred in float64, so a part far from the origin loses nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import Error, Manifold, Mesh64, OpType

from core.errors import NotASolid
from core.geometry.mesh import F64, Mesh
from core.geometry.topology import Topology, shells
from core.geometry.weld import first_equal

#: How many trouble spots an error names at most.
SPOTS = 20
#: Distances, mm, within which a skin's corners are drawn together until it survives being rounded to float32.
SETTLE_STEPS = (0.0, 1e-4, 5e-4, 2e-3)


def solid_of(mesh: Mesh, origin: F64, topology: Topology | None = None) -> Manifold:
    """The solid that a mesh (mm, any frame) encloses, moved by −``origin``; overlapping shells are united.

    Shells that are inside out are cavities and are taken away, largest first (the winding-number reading).
    Raises NotASolid with the places where the mesh is open or crowded.
    """
    raw = solid_as_it_is(Mesh(mesh.vertices - origin, mesh.triangles), origin, topology)
    if not shells(mesh).any():
        return raw if raw.volume() > 0 else _reversed(raw)
    parts = sorted(raw.decompose(), key=lambda s: -abs(s.volume()))
    out = Manifold()
    run: list[Manifold] = []
    for part in parts:
        if part.volume() >= 0:
            run.append(part)
            continue
        out = Manifold.batch_boolean([out, *run], OpType.Add) - _reversed(part)
        run = []
    return Manifold.batch_boolean([out, *run], OpType.Add) if run else out


def solid_as_it_is(mesh: Mesh, origin: F64, topology: Topology | None = None) -> Manifold:
    """The mesh as a solid, its shells left as they are; ``origin`` only tells where the places of an error lie.

    Raises NotASolid like ``solid_of``.
    """
    if not len(mesh.triangles):
        raise NotASolid("The mesh has no facets.", "Open another file.")
    solid = Manifold(
        Mesh64(
            vert_properties=np.array(mesh.vertices, order="C"),
            tri_verts=np.array(mesh.triangles, np.uint64, order="C"),
        )
    )
    if solid.status() == Error.NoError and not solid.is_empty():
        return solid
    topo = topology or Topology.of(mesh)
    bad = topo.borders | topo.irregular
    spots = mesh.vertices[topo.edges[bad][:, 0]] + origin if bad.any() else np.zeros((0, 3))
    reason = (
        f"The mesh is not closed: {int(bad.sum())} of its edges do not join exactly two facets."
        if bad.any()
        else f"The mesh does not enclose a volume ({solid.status().name})."
    )
    raise NotASolid(
        reason,
        "Bond as lapped shells instead, which leaves the part as it is.",
        tuple((float(x), float(y), float(z)) for x, y, z in spots[:SPOTS]),
    )


def _reversed(solid: Manifold) -> Manifold:
    raw = solid.to_mesh64()
    triangles = np.array(np.asarray(raw.tri_verts)[:, ::-1], order="C")
    return Manifold(
        Mesh64(vert_properties=np.array(np.asarray(raw.vert_properties)[:, :3], order="C"), tri_verts=triangles)
    )


def union_of(meshes: Sequence[Mesh], origin: F64) -> Manifold:
    """The union of what the meshes (mm, one frame) enclose, moved by −``origin``. Raises NotASolid."""
    return Manifold.batch_boolean([solid_of(m, origin) for m in meshes], OpType.Add)


def mesh_of(solid: Manifold, origin: F64 | None = None) -> Mesh:
    """The surface of a solid, moved back by ``origin`` if given, mm."""
    raw = solid.to_mesh64()
    points = np.asarray(raw.vert_properties, np.float64)[:, :3]
    return Mesh(points if origin is None else points + origin, np.asarray(raw.tri_verts).astype(np.int32))


def rounded(mesh: Mesh, mm_per_unit: float = 1.0) -> Mesh:
    """The mesh (mm) as it reads back from a file of float32 numbers: rounded, equal points joined, slivers gone."""
    numbers = (mesh.vertices / mm_per_unit).astype(np.float32)
    first = first_equal(numbers)
    a, b, c = (first[mesh.triangles[:, k]] for k in range(3))
    real = (a != b) & (b != c) & (a != c)
    triangles = np.column_stack([a, b, c]) if real.all() else np.column_stack([a[real], b[real], c[real]])
    used = np.zeros(len(first), np.bool_)
    used[triangles] = True
    new = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return Mesh(numbers[used].astype(np.float64) * mm_per_unit, new[triangles])
