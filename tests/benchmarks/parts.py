"""Two generated parts of any size, each with a bar over a ledge beside it for a row of sixty teeth.

*Machined*: a flat plate with a field of round holes, so that few facets are huge and most are slivers, and every rim is
a feature edge. *Organic*: a bumpy ring without a single feature, all facets alike, with plenty that hangs.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from manifold3d import CrossSection

from core.geometry.mesh import Mesh, joined
from tests import meshes

#: Length and gap of the bar that the row goes under, mm.
BAR, GAP = 280.0, 1.2
HOLES = 24


def machined(triangles: int) -> Mesh:
    """A plate of 240 × 240 × 8 mm with 24 × 24 holes, mm, and the bar."""
    corners = max(triangles // (4 * HOLES**2), 6)
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = 3.0 * np.column_stack([np.cos(turn), -np.sin(turn)])
    places = [(10.0 * i + 5, 10.0 * j + 5) for i in range(HOLES) for j in range(HOLES)]
    outline = np.float64([[0, 0], [240, 0], [240, 240], [0, 240]])
    plate = CrossSection([outline, *(ring + p for p in places)]).extrude(8.0).to_mesh64()
    mesh = Mesh(np.array(plate.vert_properties)[:, :3] + [0, 40, 0], np.array(plate.tri_verts).astype(np.int32))
    return _with_bar(mesh)


def organic(triangles: int) -> Mesh:
    """A bumpy ring about 100 mm high, mm, and the bar."""
    count = int(np.sqrt(triangles))
    ring = meshes.torus(60.0, 50.0, count, triangles // (2 * count))
    bumps = 1 + 0.004 * np.sin(ring.vertices * 0.35).sum(axis=1)
    return _with_bar(Mesh(ring.vertices * bumps[:, None] + [0, 160, 0], ring.triangles))


PARTS: dict[str, Callable[[int], Mesh]] = {"machined": machined, "organic": organic}


def _with_bar(mesh: Mesh) -> Mesh:
    low = mesh.bounds[0, 2]
    return joined([Mesh(mesh.vertices - [0, 0, low], mesh.triangles), meshes.bar_over_ledge(BAR, GAP).mesh])
