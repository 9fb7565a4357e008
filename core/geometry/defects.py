"""What is wrong with a mesh, counted and at its place: wrong way round, twice, without area, cracked, overlapping.

Nothing is mended here. Every defect names the fix that would mend it (``core.geometry.repair``); the person chooses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from core.geometry.columns import Columns
from core.geometry.cracks import crack
from core.geometry.mesh import CHUNK, F64, I32, I64, Bool, Mesh, dot
from core.geometry.topology import Topology
from core.geometry.winding import disagreeing, inside_out, turned

Fix = Literal["turn", "double", "sliver", "join", "unite"]

FIXES: Final[tuple[Fix, ...]] = ("turn", "double", "sliver", "join", "unite")
"""All fixes, in the order in which they are best done."""

NO_AREA: Final = 1e-9
"""A facet lower than this share of its longest side has no area. What rounding to float32 makes of thin facets (2^-24 =
6e-8 of their place) is above it: such facets do no harm and nearly every file has some."""

LEAST_OVERLAP: Final = 1e-3
"""Shells that overlap over less than this, mm, touch: it is a rounding of the file."""

_LINES: Final = 48
"""Vertical lines through each shell on which overlaps are looked for."""

_LINES_A_PAIR: Final = 12
"""Vertical lines through what the boxes of two shells share: a thin overlap beside a wall is hardly met otherwise."""

_MOST_SHELLS: Final = 2_000
_MOST_PAIRS: Final = 5_000
"""Shells, and pairs of them, that are looked at for overlaps; the largest shells first."""


@dataclass(frozen=True, eq=False)
class Defect:
    """One kind of defect: how often it is there, the facets (k,) and edges (e, 2), vertex ids, that show its place.

    ``within`` is the distance, mm, within which "join" would join. ``text`` is a sentence for the person.
    """

    fix: Fix
    count: int
    text: str
    facets: I32
    edges: I32
    within: float = 0.0

    def places(self, mesh: Mesh) -> F64:
        """The box (2, 3) round everything that it is about, mm, the mesh's frame."""
        ids = np.concatenate([mesh.triangles[self.facets].ravel(), self.edges.ravel()])
        points = mesh.vertices[ids]
        return np.array([points.min(axis=0), points.max(axis=0)])


def find_defects(topology: Topology) -> tuple[Defect, ...]:
    """The defects of a mesh (mm, any frame), in the order in which they are best mended; none for a sound mesh."""
    found = (_turned(topology), _doubles(topology), _slivers(topology), _cracks(topology), _overlaps(topology))
    return tuple(defect for defect in found if defect is not None)


def wrong_way_round(topology: Topology) -> tuple[Bool, int, int]:
    """Facets (m,) that run the wrong way round, and how many shells and single facets they are.

    Only closed shells are turned as a whole: of an open one nobody knows where its inside is.
    """
    single = disagreeing(topology)
    topo = Topology.of(turned(topology.mesh, single)) if single.any() else topology
    closed = np.ones(topo.shell_count, np.bool_)
    shell = topo.shell_of_triangle
    closed[shell[topo.edge_triangles[topo.borders, 0]]] = False
    whole = inside_out(topo) & closed if topo.shell_count else np.zeros(0, np.bool_)
    of_whole: Bool = whole[shell] if len(shell) else np.zeros(0, np.bool_)
    return single ^ of_whole, int(whole.sum()), int((single & ~of_whole).sum())


def doubled(topology: Topology) -> I64:
    """Facets (k,) that are there before, with the same corners the same way round; the first of each is not listed."""
    near = topology.edge_triangles[topology.irregular]  # two alike run along their edges the same way
    facets = np.unique(near[near >= 0]).astype(np.int64)
    corners = topology.mesh.triangles[facets]
    first = np.argmin(corners, axis=1)
    turned_to = (first[:, None] + np.arange(3)) % 3
    _, index, inverse = np.unique(
        np.take_along_axis(corners, turned_to, axis=1), axis=0, return_index=True, return_inverse=True
    )
    out: I64 = facets[index[inverse.reshape(-1)] != np.arange(len(facets))]
    return out


def without_area(mesh: Mesh) -> I64:
    """Facets (k,) lower than NO_AREA of their longest side."""
    out = np.zeros(len(mesh.triangles), np.bool_)
    for i in range(0, len(out), CHUNK):
        a, b, c = (mesh.vertices[mesh.triangles[i : i + CHUNK, k]] for k in range(3))
        longest = np.maximum.reduce([dot(q - p, q - p) for p, q in ((a, b), (b, c), (c, a))])
        area = mesh.area_vectors[i : i + CHUNK]
        out[i : i + CHUNK] = 2.0 * np.sqrt(dot(area, area)) <= NO_AREA * longest  # height × longest side, squared side
    return np.flatnonzero(out)


def overlapping(topology: Topology) -> Bool:
    """Shells (k,) that lie partly or wholly in others, the smaller of each two marked; mesh in mm.

    Found on vertical lines through every shell, where two of them are entered before one is left. Shells must be
    closed and right side out.
    """
    out = np.zeros(topology.shell_count, np.bool_)
    boxes = _shared_boxes(topology)
    if not len(boxes.low):
        return out
    spread = [_plan_points(topology, shell) for shell in np.unique(boxes.shells)]
    points = np.concatenate([*spread, _points_in(boxes.low, boxes.high)])
    lines = Columns.over(topology.mesh, points.min(axis=0), points.max(axis=0))
    line, height, sign, triangle = lines.hits(points)
    shell = topology.shell_of_triangle[triangle]
    size = np.bincount(topology.shell_of_triangle, minlength=topology.shell_count)
    depth = np.cumsum(sign) - np.repeat(*_before(line, sign)) if len(line) else sign
    same = (line[1:] == line[:-1]) & (depth[:-1] > 1) & (np.diff(height) > LEAST_OVERLAP)
    for i in np.flatnonzero(same):
        inside = _entered(line, sign, shell, int(i))
        if len(inside) > 1:
            out[sorted(inside, key=lambda s: (size[s], s))[:-1]] = True
    return out


def _before(line: I64, sign: F64) -> tuple[F64, I64]:
    """The sum of signs before each line's first crossing, and how often it counts."""
    first = np.flatnonzero(np.r_[True, line[1:] != line[:-1]])
    return (np.cumsum(sign) - sign)[first], np.diff(np.r_[first, len(line)])


def _entered(line: I64, sign: F64, shell: I32, at: int) -> list[int]:
    """The shells that are entered and not left on a line after its crossing ``at``."""
    begin = int(np.searchsorted(line, line[at]))
    depth: dict[int, float] = {}
    for s, way in zip(shell[begin : at + 1].tolist(), sign[begin : at + 1].tolist(), strict=True):
        depth[s] = depth.get(s, 0.0) + way
    return [s for s, d in depth.items() if d > 0]


@dataclass(frozen=True, eq=False)
class _Shared:
    """What the boxes of two shells share: ``shells`` (p, 2), and corners ``low`` and ``high`` (p, 3), mm."""

    shells: I64
    low: F64
    high: F64


def _shared_boxes(topology: Topology) -> _Shared:
    """All pairs of shells whose boxes overlap, those of the largest shells first."""
    low, high = topology.shell_boxes()
    size = np.bincount(topology.shell_of_triangle, minlength=topology.shell_count)
    order = np.argsort(-size, kind="stable")[:_MOST_SHELLS]
    low, high = low[order], high[order]
    pairs: list[tuple[int, int]] = []
    for i in range(len(order)):
        near = ((low[i] < high[i + 1 :]) & (low[i + 1 :] < high[i])).all(axis=1)
        pairs += [(i, i + 1 + int(k)) for k in np.flatnonzero(near)]
        if len(pairs) >= _MOST_PAIRS:
            break
    a, b = np.array(pairs[:_MOST_PAIRS], np.int64).reshape(-1, 2).T
    shells = np.column_stack([order[a], order[b]])
    return _Shared(shells, np.maximum(low[a], low[b]), np.minimum(high[a], high[b]))


def _points_in(low: F64, high: F64) -> F64:
    """Points (n, 2) in plan spread over every box (p, 3)."""
    share = np.random.default_rng(0).random((len(low), _LINES_A_PAIR, 2))
    return np.asarray((low[:, None, :2] + share * (high - low)[:, None, :2]).reshape(-1, 2))


def _plan_points(topology: Topology, shell: int) -> F64:
    """Points (n, 2) in plan spread over the facets of a shell; the same ones at every call."""
    mesh = topology.mesh
    facets = np.flatnonzero(topology.shell_of_triangle == shell)
    flat = np.abs(mesh.area_vectors[facets, 2])
    if not flat.sum():
        return np.zeros((0, 2))
    rng = np.random.default_rng(0)
    chosen = facets[rng.choice(len(facets), _LINES, p=flat / flat.sum())]
    u = np.sort(rng.random((_LINES, 2)), axis=1)
    weights = np.column_stack([u[:, 0], u[:, 1] - u[:, 0], 1 - u[:, 1]])
    return np.asarray(np.einsum("ij,ijk->ik", weights, mesh.vertices[mesh.triangles[chosen], :2]))


def _turned(topology: Topology) -> Defect | None:
    flip, shells, facets = wrong_way_round(topology)
    if not flip.any():
        return None
    words = ["The whole mesh is inside out."] * bool(flip.all())
    if shells and not words:
        words.append("1 shell is inside out." if shells == 1 else f"{shells:,} shells are inside out.")
    if facets == 1:
        words.append("1 facet runs the other way round than its neighbours.")
    elif facets:
        words.append(f"{facets:,} facets run the other way round than their neighbours.")
    return Defect("turn", max(shells, facets), " ".join(words), _ids(np.flatnonzero(flip)), _rim(topology, flip))


def _doubles(topology: Topology) -> Defect | None:
    again = doubled(topology)
    if not len(again):
        return None
    n = len(again)
    return _of_facets(
        "double", topology, again, "1 facet is there twice." if n == 1 else f"{n:,} facets are there twice."
    )


def _slivers(topology: Topology) -> Defect | None:
    flat = without_area(topology.mesh)
    if not len(flat):
        return None
    n = len(flat)
    return _of_facets("sliver", topology, flat, "1 facet has no area." if n == 1 else f"{n:,} facets have no area.")


def _cracks(topology: Topology) -> Defect | None:
    found = crack(topology)
    if found is None:
        return None
    text = f"The mesh has cracks: {found.closed:,} open edges lie within {found.within:g} mm of others."
    return Defect("join", found.closed, text, np.zeros(0, np.int32), found.edges, found.within)


def _overlaps(topology: Topology) -> Defect | None:
    if topology.shell_count < 2 or not topology.watertight or inside_out(topology).any():
        return None
    shells = overlapping(topology)
    n = int(shells.sum())
    if not n:
        return None
    facets = shells[topology.shell_of_triangle]
    sharp = topology.features & facets[topology.edge_triangles[:, 0]]
    text = "1 shell overlaps another." if n == 1 else f"{n:,} shells overlap others."
    return Defect("unite", n, text, _ids(np.flatnonzero(facets)), topology.edges[sharp])


def _of_facets(fix: Fix, topology: Topology, facets: I64, text: str) -> Defect:
    corners = topology.mesh.triangles[facets]
    sides = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    return Defect(fix, len(facets), text, _ids(facets), sides.astype(np.int32))


def _rim(topology: Topology, marked: Bool) -> I32:
    """Edges round the marked facets, and the sharp ones among them."""
    pairs = topology.edge_triangles
    first, second = marked[pairs[:, 0]], np.where(pairs[:, 1] >= 0, marked[pairs[:, 1]], False)
    out: I32 = topology.edges[(first != second) | (first & topology.features)]
    return out


def _ids(numbers: I64) -> I32:
    return numbers.astype(np.int32)
