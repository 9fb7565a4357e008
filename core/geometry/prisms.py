"""Bodies made of plane regions, and cut by them: prisms, unions, slabs taken away.

Works recentred, like ``solids``, through whose door every mesh becomes a solid. All in mm, one frame.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import Manifold, OpType

from core.geometry.mesh import Mesh
from core.geometry.regions import Region
from core.geometry.solids import mesh_of, solid_of

#: Corners nearer to each other than this are drawn together, mm: below what a file in single precision tells apart.
SETTLE = 5e-4


def prism(region: Region, low: float, high: float) -> Mesh:
    """The region (mm) from height ``low`` to ``high`` as a closed mesh."""
    return mesh_of(_prism(region, low, high), np.zeros(3))


def _prism(region: Region, low: float, high: float) -> Manifold:
    return Manifold.extrude(region.section, high - low).translate((0.0, 0.0, low))


def together(bodies: Sequence[Mesh]) -> Mesh:
    """The union of closed meshes. Raises NotASolid when one of them is not closed."""
    origin = bodies[0].bounds.mean(axis=0)
    whole = Manifold.batch_boolean([solid_of(b, origin) for b in bodies], OpType.Add)
    return mesh_of(whole.simplify(SETTLE), origin)


def less_slabs(body: Mesh, slabs: Sequence[tuple[Region, float, float]]) -> Mesh:
    """A closed mesh less regions, each from one height to another: (region, low, high)."""
    origin = np.zeros(3)
    cutters = [_prism(region, low, high) for region, low, high in slabs if not region.empty]
    if not cutters:
        return body
    away = Manifold.batch_boolean(cutters, OpType.Add)
    return mesh_of((solid_of(body, origin) - away).simplify(SETTLE), origin)


def body_of(mesh: Mesh) -> Mesh:
    """The largest body of a closed mesh that may have fallen apart; an empty mesh when nothing is left."""
    parts = solid_of(mesh, np.zeros(3)).decompose() if len(mesh.triangles) else []
    if not parts:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    return mesh_of(max(parts, key=lambda p: p.volume()), np.zeros(3))
