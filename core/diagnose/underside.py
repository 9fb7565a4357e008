"""The facets that look down near a hanging region: how high the underside is, and which facet it is. Bed mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from core.geometry.mesh import F64, I64
from core.geometry.topology import Topology

#: Faces whose normal points down by more than this count as underside (sine of the slope); rounding apart.
_DOWN = 1e-3


@dataclass(frozen=True, eq=False)
class Underside:
    """Facets that look down, found by place: ``triangles`` (t,) are ids in the topology's mesh, ``low`` and ``high``
    (t, 3) the corners of their boxes, mm."""

    topology: Topology
    triangles: I64
    low: F64
    high: F64

    @classmethod
    def of(cls, topology: Topology) -> Underside:
        """All facets of a mesh that look down."""
        mesh = topology.mesh
        down = np.flatnonzero(mesh.normals[:, 2] < -_DOWN)
        a, b, c = (mesh.vertices.take(mesh.triangles[down, i], axis=0) for i in range(3))
        return cls(topology, down, np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c))

    def near(self, box: F64, low: float, high: float) -> Underside:
        """Those between the heights ``low`` and ``high`` over or beside a ``box`` (2, 2) in plan, mm."""
        (x0, y0), (x1, y1) = box
        some = np.flatnonzero((self.low[:, 2] <= high) & (self.high[:, 2] >= low))
        for axis, start, end in ((0, x0 - 1, x1 + 1), (1, y0 - 1, y1 + 1)):
            some = some[(self.low[some, axis] <= end) & (self.high[some, axis] >= start)]
        return Underside(self.topology, self.triangles[some], self.low[some], self.high[some])

    def edges(self) -> I64:
        """Ids of the edges of these facets."""
        mine = self.topology.triangle_edges[self.triangles]
        marked = np.zeros(len(self.topology.edges), np.bool_)
        marked[mine[mine >= 0]] = True
        return np.flatnonzero(marked)

    def at(self, points: F64, low: float, high: float) -> tuple[F64, I64]:
        """Height of the underside, mm, and its facet at plan points (q, 2), the lowest between ``low`` and ``high``.

        NaN and −1 where there is none.
        """
        mesh = self.topology.mesh
        height, facet = np.full(len(points), np.nan), np.full(len(points), -1, np.int64)
        if not len(points):
            return height, facet
        over = ((self.low[:, :2] <= points.max(axis=0)) & (self.high[:, :2] >= points.min(axis=0))).all(axis=1)
        some = np.flatnonzero(over)
        q, t = _covering(points, self.low[some], self.high[some])
        t = some[t]
        corner = mesh.vertices[mesh.triangles[self.triangles[t]]]
        inside = shapely.intersects(shapely.polygons(corner[:, :, :2]), shapely.points(points[q]))
        q, t, corner = q[inside], t[inside], corner[inside]
        normal = mesh.normals[self.triangles[t]]
        z = corner[:, 0, 2] - np.einsum("ij,ij->i", normal[:, :2], points[q] - corner[:, 0, :2]) / normal[:, 2]
        good = np.flatnonzero((z >= low) & (z <= high))
        order = good[np.argsort(-z[good], kind="stable")]
        height[q[order]], facet[q[order]] = z[order], self.triangles[t[order]]
        return height, facet


def _covering(points: F64, low: F64, high: F64) -> tuple[I64, I64]:
    """Pairs (point, box) where the box covers the point in plan."""
    (x0, y0), (x1, y1) = (np.ascontiguousarray(side[:, :2].T) for side in (low, high))
    pairs = []
    for x, y in points:
        some = np.flatnonzero((x0 <= x) & (x1 >= x))
        pairs.append(some[(y0[some] <= y) & (y1[some] >= y)])
    return np.repeat(np.arange(len(points)), [len(p) for p in pairs]), np.concatenate(pairs)
