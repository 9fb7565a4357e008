"""Which way round the triangles run, and what to do where they run the wrong way.

Outward means: winding number one inside. A shell with negative volume is a cavity when it lies in the material
of others, and inside out when it does not.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from core.geometry.columns import Columns
from core.geometry.mesh import F64, I64, Bool, Mesh
from core.geometry.topology import Topology

#: Vertices of a doubtful shell that are tested against the others.
_PROBES = 15


def turned(mesh: Mesh, flip: Bool) -> Mesh:
    """The same mesh with the triangles marked in ``flip`` (m,) running the other way round."""
    if not flip.any():
        return mesh
    triangles = mesh.triangles.copy()
    triangles[flip] = triangles[flip][:, [0, 2, 1]]
    return Mesh(mesh.vertices, triangles)


def disagreeing(topology: Topology) -> Bool:
    """Triangles, (m,) bool, to turn so that neighbours agree; in each connected sheet the smaller party gives way.

    Two neighbours disagree when both run the same way along their common edge. A sheet with one side only
    (a Möbius strip) has no answer and is left alone.
    """
    m = len(topology.mesh.triangles)
    lone = np.flatnonzero(topology.borders & topology.irregular)
    a, b = _same_way_pairs(topology, lone)
    if not len(a):
        return np.zeros(m, np.bool_)
    agree = topology.edge_triangles[~topology.borders]
    # Two copies of every triangle: as it is, and turned. Neighbours that agree join equal copies, others unlike ones.
    rows = np.r_[agree[:, 0], agree[:, 0] + m, a, a + m]
    cols = np.r_[agree[:, 1], agree[:, 1] + m, b + m, b]
    graph = coo_array((np.ones(len(rows), np.int8), (rows, cols)), shape=(2 * m, 2 * m))
    count, label = connected_components(graph.tocsr(), directed=False)
    votes = np.bincount(label[:m], minlength=count)
    as_is, other = votes[label[:m]], votes[label[m:]]
    out: Bool = (as_is < other) | ((as_is == other) & (label[:m] > label[m:]))
    return out


def _same_way_pairs(topology: Topology, lone: I64) -> tuple[I64, I64]:
    """Triangles of the lone sides that share an edge and run along it the same way, two by two."""
    ends = np.sort(topology.edges[lone].astype(np.int64), axis=1)
    key = ends[:, 0] * len(topology.mesh.vertices) + ends[:, 1]
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(key[order][1:] == key[order][:-1])
    first = topology.edge_triangles[lone[order], 0].astype(np.int64)
    return first[same], first[same + 1]


def inside_out(topology: Topology) -> Bool:
    """Shells that are inside out, (k,) bool. Cavities, which must be, are not among them.

    Where the mesh as a whole has negative volume, every shell is turned in thought first.
    """
    volume = topology.shell_volumes()
    flip = np.full(len(volume), bool(volume.sum() < 0))
    signed = np.where(flip, -volume, volume)
    doubtful = np.flatnonzero(signed < 0)
    if len(doubtful):
        flip[doubtful] ^= ~_in_material(topology, doubtful, signed > 0, flip)
    return flip


def _in_material(topology: Topology, shells: I64, solid: Bool, flip: Bool) -> Bool:
    """Whether most probes of each of ``shells`` (s,) lie in the material of the shells marked ``solid``."""
    mesh, of = topology.mesh, topology.shell_of_triangle
    others = mesh.triangles[solid[of]]
    turn = flip[of[solid[of]]]
    others = np.where(turn[:, None], others[:, [0, 2, 1]], others)
    rest = Mesh(mesh.vertices, others)
    probes = [_probes(mesh, np.flatnonzero(of == s)) for s in shells]
    points = np.concatenate(probes)
    plan = points[:, :2]
    line, height, sign = Columns.over(rest, plan.min(axis=0), plan.max(axis=0)).crossings(plan)
    above = height > points[line, 2]
    winding = -np.bincount(line[above], weights=sign[above], minlength=len(points))
    inside = np.split(winding > 0, np.cumsum([len(p) for p in probes])[:-1])
    return np.array([bool(i.mean() > 0.5) for i in inside])


def _probes(mesh: Mesh, triangles: I64) -> F64:
    """Middles of some triangles spread over a shell, (p, 3) mm."""
    some = triangles[np.linspace(0, len(triangles) - 1, min(_PROBES, len(triangles))).astype(int)]
    middle: F64 = mesh.vertices[mesh.triangles[some]].mean(axis=1)
    return middle
