"""Which layers can have unsupported material at all, told from the mesh alone.

From a point of a layer that has air right below, slide down the underside by the steepest way. While the faces are no
flatter than the limit allows, a slide from one layer to the next ends within the allowed advance, so the point is
supported.
It fails only on a face beyond the limit, in an edge into which both undersides lead and which itself is beyond
the limit, or at a vertex lower than all around it. Layers between which none of these lies need no closer look.
"""

from __future__ import annotations

import numpy as np

from core.geometry.mesh import CHUNK, F64, I32, Bool
from core.geometry.topology import Topology

#: The mesh is judged this much more strictly than the limit, so that rounding never hides a layer. Degrees.
MARGIN_DEG = 0.3


def steep_layers(topology: Topology, heights: F64, limit_deg: float) -> Bool:
    """Layers, (k,) bool, at ``heights`` (k,) mm above which to look for material that hangs. Mesh in bed mm.

    ``limit_deg`` is the overhang limit from vertical. Layer i is marked when something that cannot carry the slide
    described above lies between the heights i − 1 and i. Right for closed meshes that run outward.
    """
    limit = np.deg2rad(max(limit_deg - MARGIN_DEG, 0.0))
    vertex_layer = np.searchsorted(heights, topology.mesh.vertices[:, 2], side="left").astype(np.int32)
    marks = _Marks(len(heights))
    _mark_faces(topology, vertex_layer, float(np.sin(limit)), marks)
    _mark_lowest_vertices(topology, vertex_layer, marks)
    _mark_edges(topology, vertex_layer, float(np.cos(limit)), marks)
    return marks.result()


class _Marks:
    """Ranges of layers collected by their ends."""

    def __init__(self, count: int) -> None:
        self.change = np.zeros(count + 2, np.int64)

    def add(self, low: I32, high: I32) -> None:
        """Mark the layers low..high, inclusive, (n,) each."""
        np.add.at(self.change, low, 1)
        np.add.at(self.change, high + 1, -1)

    def result(self) -> Bool:
        out: Bool = np.cumsum(self.change)[:-2] > 0
        return out


def _mark_faces(topology: Topology, layer: I32, sine: float, marks: _Marks) -> None:
    mesh = topology.mesh
    steep = np.flatnonzero(mesh.normals[:, 2] < -sine)
    corner = layer[mesh.triangles[steep]]
    marks.add(corner.min(axis=1), corner.max(axis=1))


def _mark_lowest_vertices(topology: Topology, layer: I32, marks: _Marks) -> None:
    z = topology.mesh.vertices[:, 2]
    a, b = topology.edges[:, 0], topology.edges[:, 1]
    za, zb = z.take(a), z.take(b)
    stuck = np.zeros(len(z), np.bool_)
    stuck[topology.mesh.triangles.ravel()] = True
    stuck[a[zb < za]] = False
    stuck[b[za < zb]] = False
    low = layer[stuck]
    marks.add(low, low)


def _mark_edges(topology: Topology, layer: I32, cosine: float, marks: _Marks) -> None:
    """Edges beyond the limit into which every underside beside them leads. Only where no mark is yet."""
    known = marks.result()
    bare = np.concatenate([[0], np.cumsum(~known), [0, 0]])
    bare[-2:] = bare[-3]
    down = topology.mesh.normals[:, 2] < 0
    for i in range(0, len(topology.edges), CHUNK):
        part = slice(i, i + CHUNK)
        ends, sides = topology.edges[part], topology.edge_triangles[part]
        under = down[sides] & (sides >= 0)
        first, last = np.minimum(layer[ends[:, 0]], layer[ends[:, 1]]), np.maximum(layer[ends[:, 0]], layer[ends[:, 1]])
        some = np.flatnonzero(under.any(axis=1) & (bare[last + 1] > bare[first]))
        if len(some):
            stuck = _leads_in(topology, ends[some], sides[some], under[some], cosine)
            marks.add(first[some[stuck]], last[some[stuck]])


def _leads_in(topology: Topology, ends: I32, sides: I32, under: Bool, cosine: float) -> Bool:
    """Whether an edge is beyond the limit and the way down every underside beside it leads into the edge, (n,)."""
    vertices, normals = topology.mesh.vertices, topology.mesh.normals
    along = vertices[ends[:, 1]] - vertices[ends[:, 0]]
    flat = np.abs(along[:, 2]) <= cosine * np.sqrt(np.einsum("ij,ij->i", along, along))
    out: Bool = flat
    for k, sign in ((0, -1.0), (1, 1.0)):
        n = normals[sides[:, k]]
        # Way down on a face: −z + n n_z; out of it across the side e: e × n. Their product is −(e × n)_z.
        leads = sign * (along[:, 0] * n[:, 1] - along[:, 1] * n[:, 0]) > 0
        out = out & (leads | ~under[:, k])
    return out
