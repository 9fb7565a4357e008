"""One skin around a part and what is added to it.

Only the neighbourhood of the additions goes through the boolean library. All other facets of the part are kept as they
are, in their order, and the time hardly depends on how large the part is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from core.errors import MeshProblem
from core.geometry.mesh import I64, Mesh, joined
from core.geometry.solids import SETTLE_STEPS, mesh_of, rounded, solid_as_it_is, solid_of, union_of
from core.geometry.topology import Topology
from core.geometry.vicinity import Vicinity, open_edges, vicinity
from core.geometry.weld import first_equal

#: Room left around the additions, mm: more than any rounding, so that nothing beyond it can be touched.
MARGIN: Final = 0.05
#: Share of the part's facets above which additions are joined in two groups instead of at once.
LARGE_SHARE: Final = 0.25
#: Halvings of the additions at most: each group costs a walk over the whole part.
HALVINGS: Final = 3


def united(part: Mesh, additions: Sequence[Mesh], mm_per_unit: float = 1.0, topology: Topology | None = None) -> Mesh:
    """One skin around the part and the additions (mm, one frame), closed also after rounding to a file's float32.

    ``mm_per_unit`` is what one number of the file to be written means; ``topology`` is the part's, where it is known.
    Facets that no addition can reach come first and unchanged, unless shells of the part overlap each other. Raises
    NotASolid when the part does not enclose a volume, MeshProblem when the skin would not survive the rounding.
    """
    surface = one_surface(part, topology)
    return added_to(surface, additions, mm_per_unit)


def one_surface(part: Mesh, topology: Topology | None = None) -> Mesh:
    """The part itself where none of its shells overlap, their union otherwise: worth keeping. Raises NotASolid."""
    topology = topology or Topology.of(part)
    if topology.watertight and _apart(topology):
        return part
    origin = part.bounds.mean(axis=0)
    solid = solid_of(part, origin, topology)
    untouched = solid.num_tri() == len(part.triangles) and topology.watertight and part.volume > 0
    return part if untouched else mesh_of(solid, origin)


def added_to(surface: Mesh, additions: Sequence[Mesh], mm_per_unit: float = 1.0) -> Mesh:
    """One skin around a surface that ``one_surface`` gave and the additions. Raises as ``united``."""
    out = _added_near(surface, additions, mm_per_unit, HALVINGS)
    return out if out is not None else added_as_a_whole(surface, additions, mm_per_unit)


def added_as_a_whole(part: Mesh, additions: Sequence[Mesh], mm_per_unit: float = 1.0) -> Mesh:
    """The plain way: the whole part and the additions, united with each other first, through the boolean library."""
    origin = part.bounds.mean(axis=0)
    skin = solid_of(part, origin) + union_of(additions, origin)
    for tolerance in SETTLE_STEPS:
        mesh = mesh_of(skin.simplify(tolerance) if tolerance else skin, origin)
        settled = rounded(mesh, mm_per_unit)
        if Topology.of(settled).watertight:
            return settled
    raise MeshProblem(
        "The united skin would not be closed after rounding to the numbers of the file.",
        "Bond as lapped shells, or move the part nearer to the origin of its file.",
    )


def _apart(topology: Topology) -> bool:
    """Whether every shell is right side out and no two bounding boxes of shells overlap."""
    if (topology.shell_volumes() <= 0).any():
        return False
    if topology.shell_count == 1:
        return True
    low, high = topology.shell_boxes()
    after = [slice(i + 1, None) for i in range(len(low))]
    return not any(((low[i] <= high[k]) & (low[k] <= high[i])).all(axis=1).any() for i, k in enumerate(after))


def _added_near(surface: Mesh, additions: Sequence[Mesh], mm_per_unit: float, halvings: int) -> Mesh | None:
    """The skin by way of the neighbourhood; None where the plain way has to do it."""
    low, high = joined(list(additions)).bounds + np.array([[-MARGIN], [MARGIN]])
    around = vicinity(surface, low, high)
    if halvings and len(additions) > 1 and np.count_nonzero(around.near) > LARGE_SHARE * len(around.near):
        first, second = _halves(additions, int(np.argmax(high - low)))
        half = _added_near(surface, first, mm_per_unit, halvings - 1)
        return None if half is None else _added_near(half, second, mm_per_unit, halvings - 1)
    skin = union_of(additions, around.centre)
    if len(around.closed.triangles):
        skin = solid_as_it_is(around.closed, around.centre) + skin
    for tolerance in SETTLE_STEPS:
        done = _put_back(surface, around, mesh_of(skin.simplify(tolerance) if tolerance else skin))
        settled = None if done is None else rounded(done, mm_per_unit)
        if settled is not None and Topology.of(settled).watertight:
            return settled
    return None


def _halves(additions: Sequence[Mesh], axis: int) -> tuple[list[Mesh], list[Mesh]]:
    """The additions in two groups, by their place along an axis."""
    order = sorted(additions, key=lambda a: float(a.bounds[:, axis].sum()))
    return order[: len(order) // 2], order[len(order) // 2 :]


def _put_back(surface: Mesh, around: Vicinity, patch: Mesh) -> Mesh | None:
    """The surface with its near triangles replaced by the patch (recentred as ``around.closed``), without the cap.

    None when the patch does not fit into the hole, vertex by vertex.
    """
    before = len(around.vertex_ids)
    known = first_equal(np.concatenate([around.closed.vertices, patch.vertices]))[before:]
    fresh = known >= before
    ids = np.empty(len(known), np.int64)
    ids[~fresh] = around.vertex_ids[known[~fresh]]
    ids[fresh] = len(surface.vertices) + np.arange(np.count_nonzero(fresh))
    triangles = ids[patch.triangles]
    triangles = triangles[(triangles >= 0).all(axis=1)]
    if not _same_edges(open_edges(triangles), open_edges(surface.triangles[around.near])):
        return None
    return Mesh(
        np.concatenate([surface.vertices, patch.vertices[fresh] + around.centre]),
        np.concatenate([surface.triangles[~around.near], triangles.astype(np.int32)]),
    )


def _same_edges(a: I64, b: I64) -> bool:
    """Whether two lists of directed edges (k, 2) hold the same ones."""
    return len(a) == len(b) and bool((a[np.lexsort(a.T)] == b[np.lexsort(b.T)]).all())
