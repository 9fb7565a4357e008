"""Parts that need a wall, with what is known about them, and what every wall must be."""

from __future__ import annotations

import manifold3d as m3
import numpy as np
import trimesh

from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import as_filed
from core.geometry.topology import Topology
from tests.meshes import box

SETUP = PrintSetup()


def mesh_of(solid: m3.Manifold) -> Mesh:
    """A test solid as a mesh, mm."""
    raw = solid.to_mesh()
    return Mesh(np.asarray(raw.vert_properties, np.float64)[:, :3], np.asarray(raw.tri_verts).astype(np.int32))


def shelf(width: float = 30.0, depth: float = 18.0, z: float = 25.0) -> Mesh:
    """A plate standing on the bed behind y = 0 with a shelf in front of it, nothing below."""
    half = width / 2
    return joined([box((-half - 5, 0, 0), (half + 5, 6, z + 15)), box((-half, -depth, z), (half, 0.5, z + 4))])


def front_edge(width: float = 30.0, depth: float = 18.0, z: float = 25.0) -> Polyline:
    """The free edge of that shelf."""
    return Polyline.of([(-width / 2, -depth, z), (width / 2, -depth, z)])


def ellipse(a: float, b: float, z: float, count: int = 256) -> Polyline:
    """A closed ellipse in plan."""
    t = 2 * np.pi * np.arange(count) / count
    return Polyline.of(np.column_stack([a * np.cos(t), b * np.sin(t), np.full(count, z)]), True)


def rim(a: float, b: float, wall: float = 2.0, z: float = 15.0, count: int = 256) -> Mesh:
    """An upright tube over an ellipse with semi-axes ``a`` and ``b`` outside, hanging at height ``z``."""
    outer, inner = ellipse(a, b, z, count).array[:, :2], ellipse(a - wall, b - wall, z, count).array[:, :2]
    section = m3.CrossSection([outer, inner[::-1]])
    return mesh_of(m3.Manifold.extrude(section, 10.0).translate((0, 0, z)))


def closed_one_body(mesh: Mesh) -> bool:
    """Closed, outward, in one piece."""
    topology = Topology.of(mesh)
    return topology.watertight and topology.shell_count == 1 and mesh.volume > 0


def least_distance(part: Mesh, wall: Mesh, count: int = 3000) -> float:
    """Least distance from points all over the wall to the part, by trimesh, mm."""
    w = trimesh.Trimesh(wall.vertices, wall.triangles, process=False)
    points, _ = trimesh.sample.sample_surface(w, count, seed=1)
    points = np.vstack([points, wall.vertices])
    p = trimesh.Trimesh(part.vertices, part.triangles, process=False)
    return float(trimesh.proximity.closest_point(p, points)[1].min())


def weak_spots(mesh: Mesh) -> list[tuple[str, float, float]]:
    """What the inspection calls weak: kind, height, reach."""
    found = inspect_part(Part("test", mesh), as_filed(mesh), SETUP)
    return [(s.kind, round(s.z, 2), round(s.reach, 2)) for s in found.weak_spots]
