"""The facets that look down near a hanging region: how high the underside is, and which facet it is. Bed mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from core.geometry.mesh import F64, I64
from core.geometry.regions import Region
from core.geometry.topology import Topology

#: Faces whose normal points down by more than this count as underside (sine of the slope); rounding apart.
_DOWN = 1e-3


@dataclass(frozen=True, eq=False)
class Underside:
    """The facets near the layers of a spot, found by place. ``triangles`` and ``edges`` are ids of the topology's
    mesh."""

    topology: Topology
    triangles: I64
    edges: I64

    @classmethod
    def near(cls, topology: Topology, region: Region, low: float, high: float) -> Underside:
        """Facets that look down, and edges, between the heights ``low`` and ``high`` over or beside a region."""
        mesh = topology.mesh
        x0, y0, x1, y1 = region.bounds
        box_low, box_high = np.array([x0 - 1, y0 - 1, low]), np.array([x1 + 1, y1 + 1, high])
        down = np.flatnonzero(mesh.normals[:, 2] < -_DOWN)
        corner = mesh.vertices[mesh.triangles[down]]
        meets = ((corner.min(axis=1) <= box_high) & (corner.max(axis=1) >= box_low)).all(axis=1)
        under = down[meets]
        mine = np.unique(topology.triangle_edges[under])
        return cls(topology, under, mine[mine >= 0].astype(np.int64))

    def at(self, points: F64, low: float, high: float) -> tuple[F64, I64]:
        """Height of the underside, mm, and its facet at plan points (q, 2), the lowest between ``low`` and ``high``.

        NaN and −1 where there is none.
        """
        mesh = self.topology.mesh
        height, facet = np.full(len(points), np.nan), np.full(len(points), -1, np.int64)
        corner = mesh.vertices[mesh.triangles[self.triangles]]
        tree = shapely.STRtree(shapely.polygons(corner[:, :, :2]))
        q, t = tree.query(shapely.points(points), predicate="intersects")
        if not len(q):
            return height, facet
        normal = mesh.normals[self.triangles[t]]
        first = corner[t, 0]
        z = first[:, 2] - np.einsum("ij,ij->i", normal[:, :2], points[q] - first[:, :2]) / normal[:, 2]
        good = np.flatnonzero((z >= low) & (z <= high))
        order = good[np.argsort(-z[good], kind="stable")]
        height[q[order]], facet[q[order]] = z[order], self.triangles[t[order]]
        return height, facet
