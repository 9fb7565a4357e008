"""Which way is up: the poses in which a part stands by itself, ranked by how much of it would sag.

A part can rest on a facet of its convex hull when the plumb line through its centre of mass meets that facet
(elementary statics). Steep underside, which is quick to count, chooses the poses worth a closer look; those are cut
coarsely and ranked by what hangs. The spots themselves are the inspection's to find.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, QhullError

from core.design.setup import PrintSetup
from core.diagnose.sagging import sagging_area
from core.geometry.mesh import F64, I64, Mesh, cross, dot
from core.geometry.pose import Pose, as_filed, rotation_between, seated
from core.geometry.topology import Topology

#: Hull triangles whose normals differ by less than this are one facet, radians: 0.06°, less than on any round body.
COPLANAR: Final = 1e-3
#: Only so many of the largest facets are tried for standing, and so many that stand for overhang; a round body has
#: hundreds of thousands of tiny ones.
TRIED, MOST_FACETS = 400, 24
#: This many times as many poses as are asked for are cut and compared.
CLOSER: Final = 2
#: What lies this near to the bed rests on it, mm: a tenth of a thin layer.
ON_BED: Final = 0.02
#: A pose in which the part falls at less lean than this does not stand well, degrees; from memory.
STANDS_DEG: Final = 5.0
_DOWN: Final = np.array([0.0, 0.0, -1.0])


@dataclass(frozen=True)
class Resting:
    """A pose with its figures: steep underside and facet it stands on, both mm², and the lean at which it falls, °.

    ``sag_area`` is the plan area, mm², that would hang too far out, by a coarse cut; see ``sagging.sagging_area``.
    """

    pose: Pose
    overhang_area: float
    contact_area: float
    tip_deg: float
    filed: bool = False
    sag_area: float = 0.0


def resting_poses(
    mesh: Mesh, setup: PrintSetup, most: int = 6, topology: Topology | None = None
) -> tuple[Resting, ...]:
    """Poses of a part (file mm) in which it stands, least sag first; the filed one on top when it stands well.

    ``topology`` of the same mesh saves working it out again. A mesh without volume, or one that only balances, gives
    the pose as filed alone.
    """
    filed = as_filed(mesh)
    up = filed.inverse.turn(-_DOWN)
    topo = Topology.of(mesh) if topology is None else topology
    found = sorted((_resting(mesh, setup, -down, area, tip) for down, area, tip in _standing(mesh)), key=_quick)
    same = next((r for r in found if float(r.pose.inverse.turn(-_DOWN) @ up) > 1 - COPLANAR), None)
    others = sorted((_weighed(r, topo, setup) for r in found[: CLOSER * most] if r is not same), key=_order)
    if same is None:
        first = _weighed(Resting(filed, _overhang(mesh, up, setup), 0.0, 0.0, True), topo, setup)
        return (*others[: most - 1], first) if others else (first,)
    kept = _weighed(Resting(filed, same.overhang_area, same.contact_area, same.tip_deg, True), topo, setup)
    if kept.tip_deg >= STANDS_DEG:
        return (kept, *others[: most - 1])
    return tuple(sorted((*others[: most - 1], kept), key=_order))


def _quick(resting: Resting) -> tuple[float, float]:
    return (resting.overhang_area, -resting.contact_area)


def _order(resting: Resting) -> tuple[float, float, float]:
    """Least sag first, to the tenth of a square millimetre; of equal ones the less steep, then the broader."""
    return (round(resting.sag_area, 1), *_quick(resting))


def _weighed(resting: Resting, topology: Topology, setup: PrintSetup) -> Resting:
    """A pose with the area that would sag in it."""
    if not len(topology.mesh.triangles):
        return resting
    placed = topology.carried_to(topology.mesh.moved(resting.pose.matrix))
    return replace(resting, sag_area=sagging_area(placed, setup))


def _resting(mesh: Mesh, setup: PrintSetup, up: F64, area: float, tip: float) -> Resting:
    pose = seated(mesh, rotation_between(up, -_DOWN))
    return Resting(pose, _overhang(mesh, up, setup), area, tip)


def _overhang(mesh: Mesh, up: F64, setup: PrintSetup) -> float:
    """Area (mm²) of faces steeper than the overhang limit, n·up < −sin(limit), that do not lie on the bed."""
    if not len(mesh.triangles):
        return 0.0
    vectors = mesh.area_vectors
    area = np.sqrt(dot(vectors, vectors))
    steep = np.flatnonzero(vectors @ up < -math.sin(math.radians(setup.overhang)) * area - 1e-12)
    height = mesh.vertices @ up
    corners = height[mesh.triangles[steep]]
    on_bed = np.maximum(np.maximum(corners[:, 0], corners[:, 1]), corners[:, 2]) < height.min() + ON_BED
    return float(area[steep[~on_bed]].sum())


def _standing(mesh: Mesh) -> list[tuple[F64, float, float]]:
    """Facets on which the part stands: outward normal (3,), area mm², lean in degrees at which it falls."""
    try:
        hull = ConvexHull(mesh.vertices)
    except (QhullError, ValueError):
        return []
    centre = _centre_of_mass(mesh)
    out = []
    for members in _facets(hull, mesh.vertices):
        found = _stands(mesh.vertices[np.unique(hull.simplices[members])], hull.equations[members[0]], centre)
        if found is not None:
            out.append(found)
    return sorted(out, key=lambda f: -f[1])[:MOST_FACETS]


def _facets(hull: ConvexHull, points: F64) -> list[I64]:
    """Numbers of the hull's triangles that lie in one plane and touch, one array a facet; the largest facets only."""
    normals = hull.equations[:, :3]
    a = np.repeat(np.arange(len(normals)), 3)
    b = hull.neighbors.reshape(-1)
    flat = np.linalg.norm(normals[a] - normals[b], axis=1) < COPLANAR
    graph = coo_array((np.ones(int(flat.sum()), np.int8), (a[flat], b[flat])), shape=(len(normals),) * 2)
    count, label = connected_components(graph.tocsr(), directed=False)
    corners = points[hull.simplices]
    area = np.linalg.norm(cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    large = np.argsort(-np.bincount(label, area, count), kind="stable")[:TRIED]
    order = np.argsort(label, kind="stable")
    start = np.r_[0, np.cumsum(np.bincount(label, minlength=count))]
    return [order[start[i] : start[i + 1]] for i in large]


def _stands(points: F64, plane: F64, centre: F64) -> tuple[F64, float, float] | None:
    """Whether the plumb line through ``centre`` meets the facet inside; lean = atan(margin / height of the centre)."""
    normal = plane[:3]
    flat = points @ rotation_between(normal, _DOWN).T
    below = rotation_between(normal, _DOWN) @ centre
    outline = shapely.MultiPoint(flat[:, :2]).convex_hull
    spot = shapely.Point(below[:2])
    if outline.geom_type != "Polygon" or not outline.contains(spot):
        return None
    height = -float(normal @ centre + plane[3])
    lean = math.degrees(math.atan2(outline.exterior.distance(spot), max(height, 1e-9)))
    return normal, float(outline.area), lean


def _centre_of_mass(mesh: Mesh) -> F64:
    """Centre of mass (3,) mm of the solid by tetrahedra from the middle; of the surface where nothing is enclosed."""
    middle = mesh.bounds.mean(axis=0)
    corners = mesh.corners - middle
    volume = np.einsum("ij,ij->i", corners[:, 0], mesh.area_vectors) / 3
    total = float(volume.sum())
    box = float(np.prod(mesh.bounds[1] - mesh.bounds[0]))
    if total > 1e-6 * box:
        return np.asarray(middle + (volume[:, None] * corners.sum(axis=1)).sum(axis=0) / (4 * total))
    area = np.linalg.norm(mesh.area_vectors, axis=1)
    return np.asarray(middle + (area[:, None] * corners.mean(axis=1)).sum(axis=0) / max(float(area.sum()), 1e-300))
