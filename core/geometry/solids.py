"""Solids: the only door to the boolean library. Its statuses become sentences here.

Works recentred in float64, so a part far from the origin loses nothing.
"""

from __future__ import annotations

import numpy as np
from manifold3d import Error, Manifold, Mesh64, OpType

from core.errors import MeshProblem, NotASolid
from core.geometry.mesh import F64, Mesh
from core.geometry.topology import Topology
from core.geometry.weld import weld

#: How many trouble spots an error names at most.
SPOTS = 20
#: Distances, mm, within which a skin's corners are drawn together until it survives being rounded to float32.
SETTLE_STEPS = (0.0, 1e-4, 5e-4, 2e-3)


def solid_of(mesh: Mesh, origin: F64, topology: Topology | None = None) -> Manifold:
    """The solid that a mesh (mm, any frame) encloses, moved by −``origin``; overlapping shells are united.

    Shells that are inside out are cavities and are taken away, largest first (the winding-number reading).
    Raises NotASolid with the places where the mesh is open or crowded.
    """
    shells = _as_solid(Mesh(mesh.vertices - origin, mesh.triangles), origin, topology).decompose()
    if len(shells) == 1:
        return shells[0] if shells[0].volume() > 0 else _reversed(shells[0])
    shells.sort(key=lambda s: -abs(s.volume()))
    out = Manifold()
    run: list[Manifold] = []
    for shell in shells:
        if shell.volume() >= 0:
            run.append(shell)
            continue
        out = Manifold.batch_boolean([out, *run], OpType.Add) - _reversed(shell)
        run = []
    return Manifold.batch_boolean([out, *run], OpType.Add) if run else out


def _as_solid(mesh: Mesh, origin: F64, topology: Topology | None) -> Manifold:
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


def mesh_of(solid: Manifold, origin: F64) -> Mesh:
    """The surface of a solid, moved back by ``origin``, mm."""
    raw = solid.to_mesh64()
    points = np.asarray(raw.vert_properties, np.float64)[:, :3] + origin
    return Mesh(points, np.asarray(raw.tri_verts).astype(np.int32))


def united(part: Mesh, additions: list[Mesh], mm_per_unit: float = 1.0) -> Mesh:
    """One skin around the part and the additions (mm, one frame), closed also after rounding to a file's float32.

    ``mm_per_unit`` is what one number of the file to be written means. Additions are united with each other first,
    which is several times faster than one by one. Raises NotASolid when the part does not enclose a volume,
    MeshProblem when the skin would not survive the rounding.
    """
    origin = part.bounds.mean(axis=0)
    whole = solid_of(part, origin)
    teeth = Manifold.batch_boolean([solid_of(a, origin) for a in additions], OpType.Add)
    skin = whole + teeth
    for tolerance in SETTLE_STEPS:
        mesh = mesh_of(skin.simplify(tolerance) if tolerance else skin, origin)
        settled = rounded(mesh, mm_per_unit)
        if Topology.of(settled).watertight:
            return settled
    raise MeshProblem(
        "The united skin would not be closed after rounding to the numbers of the file.",
        "Bond as lapped shells, or move the part nearer to the origin of its file.",
    )


def rounded(mesh: Mesh, mm_per_unit: float = 1.0) -> Mesh:
    """The mesh (mm) as it reads back from a file of float32 numbers: rounded, equal points joined, slivers gone."""
    numbers = (mesh.vertices / mm_per_unit).astype(np.float32)
    points, triangles = weld(numbers[mesh.triangles])
    a, b, c = triangles.T
    kept = triangles[(a != b) & (b != c) & (a != c)]
    return Mesh(points.astype(np.float64) * mm_per_unit, kept)
