"""Heights at which a mesh has the very same section as at the height before: prisms, plates, upright walls.

Most machined parts are made of these. A section that repeats needs to be cut, filled and judged only once.
"""

from __future__ import annotations

import numpy as np

from core.geometry.mesh import F64, I64, dot
from core.geometry.topology import Topology

#: A facet is upright when its plan is no wider than this share of the tolerance of the cut: what a file in single
#: precision makes of an upright wall, and a tenth of what thinning may move.
UPRIGHT_SHARE = 0.1


def repeated_sections(topology: Topology, heights: F64, tolerance: float) -> I64:
    """For each of the ``heights`` (k,), ascending mm, the number of the height whose section it shares, (k,) int64.

    Its own number where the section is new. Sections count as the same, within ``tolerance`` mm, when no vertex lies
    between the two heights and every facet that reaches from one to the other is upright: then the same facets are
    cut, and their plan does not change. Only closed meshes are looked at; in others the ends to join may differ.
    """
    every = np.arange(len(heights))
    if len(heights) < 2 or tolerance <= 0 or not topology.watertight:
        return every
    mesh = topology.mesh
    level = np.searchsorted(heights, mesh.vertices[:, 2], side="right")
    same = np.bincount(level, minlength=len(heights) + 1)[: len(heights)] == 0
    same[0] = False
    if not same.any():
        return every
    corner = [level[mesh.triangles[:, i]] for i in range(3)]
    low, high = np.minimum(np.minimum(*corner[:2]), corner[2]), np.maximum(np.maximum(*corner[:2]), corner[2])
    ids = np.flatnonzero(high - low > 1)
    leaning = ids[_plan_width(topology, ids) > UPRIGHT_SHARE * tolerance]
    crossed = np.zeros(len(heights) + 1, np.int64)
    np.add.at(crossed, low[leaning] + 1, 1)
    np.add.at(crossed, high[leaning], -1)
    same &= np.cumsum(crossed)[: len(heights)] == 0
    return np.asarray(np.maximum.accumulate(np.where(same, 0, every)))


def _plan_width(topology: Topology, ids: I64) -> F64:
    """How wide the plans of some triangles are, mm, square to their widest run: rise times slope from upright."""
    normal = topology.mesh.normals[ids]
    z = topology.mesh.vertices[topology.mesh.triangles[ids], 2]
    flat = np.sqrt(dot(normal * [1, 1, 0], normal))
    lean = np.divide(np.abs(normal[:, 2]), flat, out=np.full(len(ids), np.inf), where=flat > 0)
    return np.asarray(np.ptp(z, axis=1) * lean)
