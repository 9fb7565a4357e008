"""A mesh cut into layers: at each height the region that the material covers.

The cut needs no valid solid. Every vertex gets a whole number, the count of heights at or below it; everything
after that is decided by these numbers, so both triangles at an edge always agree and a vertex that lies exactly at a
height counts as just above it (simulation of simplicity: Edelsbrunner and Mücke 1990). Within a triangle the
segment of layer k follows from the segment number of the neighbour by adding k: segments are linked by mesh edge
without any search. It is as fast as slicing a solid that manifold3d has at hand, and needs none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.errors import BadValue
from core.geometry.closing import Repairs, counted
from core.geometry.contours import Contours, Index, ordered, thinned
from core.geometry.mesh import F64, I32, I64, Mesh, frozen
from core.geometry.regions import EMPTY, Region
from core.geometry.repeats import repeated_sections
from core.geometry.topology import Topology
from core.geometry.winding import disagreeing, inside_out, turned

#: Points that depart from a straight line by less are left out of the regions: this share of the least distance
#: between layers, and never more than the second figure (mm). A layer's usual advance is as long as the layer is high;
#: the departure must be far smaller than what one degree more of overhang adds to it (3.5 %).
THIN_SHARE, THIN_MOST = 0.005, 0.002
#: Segments handled at a time; small enough for the processor's cache.
_GROUP = 1 << 16
#: Filled area and the sum of signed areas differ by more than this share where shells overlap or are inside out.
_AREA_SHARE = 1e-4
#: Number of a neighbour that is not there: adding any layer number keeps it negative.
_NOBODY = np.int32(-(1 << 30))


@dataclass(frozen=True, eq=False)
class Layers:
    """Filled regions of a mesh at ``heights`` (k,) mm, ascending; frame: the mesh's, mostly the bed frame.

    ``open_layers`` (k,) bool marks layers in which a line could not be closed and is missing.
    ``contours`` are the closed lines before filling, thinned to ``tolerance`` mm; layers whose section is the same as
    another's have none of their own: ``same_as`` (k,) names the layer that has them, mostly itself. ``notes`` are
    plain sentences.
    """

    heights: F64
    regions: tuple[Region, ...]
    contours: Contours
    tolerance: float
    open_layers: NDArray[np.bool_]
    same_as: I64
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.heights)

    @property
    def areas(self) -> F64:
        """Filled area of every layer, (k,) mm²."""
        return np.array([r.area for r in self.regions])


@dataclass(frozen=True, eq=False)
class _Cut:
    """The triangles that are cut, and their segments in the order of the layers.

    ``corners`` (3a,) are vertex ids, three per triangle, the lowest first; ``levels`` those of the second and third.
    ``across`` (2a,) holds, for the sides 1–2 and 0–1, the number to which the layer is added to name the segment of
    the neighbour. Segment i belongs to triangle ``triangle[i]`` (a number among those cut) and layer ``layer[i]``;
    ``place`` turns segment names into positions. ``columns`` are x, y and z of the vertices, mm.
    """

    columns: tuple[F64, F64, F64]
    heights: F64
    ids: Index
    corners: Index
    levels: tuple[I32, I32]
    across: I32
    triangle: I32
    layer: I32
    place: I32
    layer_start: Index


def slice_layers(
    mesh: Mesh,
    heights: ArrayLike,
    *,
    topology: Topology | None = None,
    tolerance: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Layers:
    """Cut ``mesh`` (mm) at ``heights`` (k,) mm and fill each cut by the positive rule.

    ``topology`` of the same mesh saves working it out again. ``tolerance`` (mm) is how far thinned outlines may
    depart from the mesh; zero keeps every point, None takes THIN_SHARE of the layer distance.
    ``progress`` is told the share done (0..1); what it raises ends the work.

    Shells that are inside out, and facets that disagree with their neighbours, are turned, and it is said. Where the
    mesh is open, ends are joined as ``closing.joins`` states; what stays open is left out, marked and said.
    Raises BadValue when the heights are not finite numbers in ascending order.
    """
    z = np.array(heights, np.float64).reshape(-1)
    if not np.isfinite(z).all() or (np.diff(z) <= 0).any():
        raise BadValue("Layer heights must be finite numbers in ascending order.")
    if tolerance is None:
        tolerance = min(THIN_MOST, THIN_SHARE * float(np.diff(z).min())) if len(z) > 1 else THIN_MOST
    topo = Topology.of(mesh) if topology is None else topology
    flip = disagreeing(topo)
    notes = [_turned_facets(int(flip.sum()))] if flip.any() else []
    if flip.any():
        topo = Topology.of(turned(topo.mesh, flip))
    layers, suspect = _sliced(topo, z, tolerance, progress)
    if suspect:
        shell_flip = inside_out(topo)
        if shell_flip.any():
            notes.append(_turned_shells(int(shell_flip.sum()), len(shell_flip)))
            topo = Topology.of(turned(topo.mesh, shell_flip[topo.shell_of_triangle]))
            layers, _ = _sliced(topo, z, tolerance, progress)
    return replace(layers, notes=(*notes, *layers.notes))


def _sliced(
    topology: Topology, z: F64, tolerance: float, progress: Callable[[float], None] | None
) -> tuple[Layers, bool]:
    """Layers of a mesh taken as it is, and whether shells overlap or are inside out somewhere."""
    same_as = repeated_sections(topology, z, tolerance)
    own = np.flatnonzero(same_as == np.arange(len(z)))
    cuts = z[own]
    frozen(cuts)
    cut = _prepare(topology, cuts)
    regions, parts, repairs = [EMPTY] * len(cuts), [], Repairs(cuts)
    suspect = False
    for first, last in _groups(cut.layer_start):
        contours = thinned(_linked(cut, first, last, repairs), tolerance)
        parts.append(contours)
        suspect |= _fill(contours, regions)
        if progress is not None:
            progress(last / len(cuts))
    contours, place = _together(parts), np.searchsorted(own, same_as)
    every = tuple(regions[i] for i in place)
    contours = replace(contours, owner=own[contours.owner].astype(np.intp))
    return Layers(z, every, contours, tolerance, (repairs.loose > 0)[place], same_as, repairs.notes()), suspect


def _fill(contours: Contours, regions: list[Region]) -> bool:
    """Fill the layers of some contours, in place; True when the areas tell of overlaps or shells inside out."""
    if not len(contours.owner):
        return False
    lines, signed = contours.lines(), contours.signed_areas()
    begin = np.flatnonzero(np.r_[True, np.diff(contours.owner) > 0])
    suspect = False
    for a, b in zip(begin, [*begin[1:], len(lines)], strict=True):
        region = regions[contours.owner[a]] = Region.filled(lines[a:b])
        suspect |= abs(region.area - signed[a:b].sum()) > _AREA_SHARE * np.abs(signed[a:b]).sum()
    return suspect


def _prepare(topology: Topology, z: F64) -> _Cut:
    """Everything about the cut that is decided per triangle, and the list of its segments layer by layer."""
    mesh = topology.mesh
    level = np.searchsorted(z, mesh.vertices[:, 2], side="right").astype(np.int32)
    by_corner = [level[mesh.triangles[:, i]] for i in range(3)]
    low = np.minimum(np.minimum(*by_corner[:2]), by_corner[2])
    count = np.maximum(np.maximum(*by_corner[:2]), by_corner[2])
    count -= low
    ids = np.flatnonzero(count)
    count, low = count[ids], low[ids]
    lowest = np.where(by_corner[0][ids] == low, 0, np.where(by_corner[1][ids] == low, 1, 2))
    side = 3 * ids[:, None] + (lowest[:, None] + np.arange(3)) % 3
    corners = mesh.triangles.ravel().take(side)
    name = np.cumsum(count, dtype=np.int32) - count - low
    base = np.full(len(mesh.triangles) + 1, _NOBODY, np.int32)
    base[ids] = name
    across = base.take(_neighbours(topology).take(side[:, 1::-1]))
    triangle = np.repeat(np.arange(len(ids), dtype=np.int32), count)
    layer = np.arange(len(triangle), dtype=np.int32) - np.repeat(name, count)
    small = layer.astype(np.int16) if len(z) < np.iinfo(np.int16).max else layer
    order = np.argsort(small, kind="stable")
    place = np.empty(len(order), np.int32)
    place[order] = np.arange(len(order), dtype=np.int32)
    x, y, h = (np.ascontiguousarray(mesh.vertices[:, i]) for i in range(3))
    return _Cut(
        (x, y, h), z, ids, corners.ravel().astype(np.intp),
        (level[corners[:, 1]], level[corners[:, 2]]), across.ravel(),
        triangle.take(order), layer.take(order), place,
        np.concatenate([[0], np.cumsum(np.bincount(layer, minlength=len(z)))]).astype(np.intp),
    )  # fmt: skip


def _neighbours(topology: Topology) -> I32:
    """The triangle across every side, (3m,) int32; −1 where there is none."""
    out = np.full(topology.mesh.triangles.size, -1, np.int32)
    here, corner = topology.edge_triangles, topology.edge_corners
    paired = slice(None) if topology.watertight else ~topology.borders
    for side in (0, 1):
        out[3 * here[paired, side] + corner[paired, side]] = here[paired, 1 - side]
    return out


def _groups(layer_start: Index) -> Iterator[tuple[int, int]]:
    """Runs of layers (first, last + 1) that hold about _GROUP segments together."""
    first = 0
    while first < len(layer_start) - 1:
        goal = layer_start[first] + _GROUP
        last = max(int(np.searchsorted(layer_start, goal, side="right")) - 1, first + 1)
        yield first, last
        first = last


def _linked(cut: _Cut, first: int, last: int, repairs: Repairs) -> Contours:
    """Closed lines of the layers first..last − 1."""
    here = slice(int(cut.layer_start[first]), int(cut.layer_start[last]))
    t, k = cut.triangle[here].astype(np.intp), cut.layer[here].astype(np.intp)
    following = cut.across.take(2 * t + (k < cut.levels[0].take(t)))
    following += cut.layer[here]
    inner = following >= 0
    begin = _on_edge(cut, t, k, rising=False)
    owner, seed = k, cut.ids[t]
    if inner.all():
        following = cut.place.take(following)
        following -= np.int32(here.start)
    else:
        following = np.where(inner, cut.place[np.maximum(following, 0)] - here.start, -1).astype(np.int32)
        following, begin, owner, back = repairs.close(following, begin, _on_edge(cut, t, k, rising=True), owner)
        seed = seed[back]
    order, starts = ordered(following)
    heads = order[starts[:-1]]
    points = np.take(begin, order, axis=0)
    return _without_loose(Contours(points, starts, owner.take(heads), seed.take(heads)))


def _on_edge(cut: _Cut, t: Index, k: Index, *, rising: bool) -> F64:
    """Where segments of triangles ``t`` at layers ``k`` end (rising side) or begin (falling side), (n, 2) mm."""
    near = (k < cut.levels[0 if rising else 1].take(t)).astype(np.intp)
    first = 3 * t
    # Rising: side 0–1 where the second corner is above, else 1–2. Falling: side 2–0 where the third is above, else 1–2.
    a = cut.corners.take(first + 1 - near if rising else first + 1 + near)
    b = cut.corners.take(first + 2 - near if rising else first + 2 - 2 * near)
    x, y, z = cut.columns
    low = z.take(a)
    share = cut.heights.take(k)
    share -= low
    share /= z.take(b) - low
    out = np.empty((len(t), 2))
    for i, column in enumerate((x, y)):
        start = column.take(a)
        out[:, i] = start + share * (column.take(b) - start)
    return out


def _without_loose(contours: Contours) -> Contours:
    """Drop lines of one or two points: they enclose nothing (loose ends that follow themselves)."""
    size = np.diff(contours.starts)
    if len(size) == 0 or size.min() > 2:
        return contours
    good = size > 2
    keep = np.repeat(good, size)
    starts = np.concatenate([[0], np.cumsum(size[good])]).astype(np.intp)
    return Contours(contours.points[keep], starts, contours.owner[good], contours.seed[good])


def _together(parts: list[Contours]) -> Contours:
    """Contours of consecutive groups in one."""
    lengths = np.cumsum([0, *(len(p.points) for p in parts)])
    return Contours(
        np.concatenate([np.zeros((0, 2)), *(p.points for p in parts)]),
        np.concatenate([*(p.starts[:-1] + n for p, n in zip(parts, lengths[:-1], strict=True)), lengths[-1:]]),
        np.concatenate([np.zeros(0, np.intp), *(p.owner for p in parts)]),
        np.concatenate([np.zeros(0, np.intp), *(p.seed for p in parts)]),
    )


def _turned_facets(count: int) -> str:
    verb = "was" if count == 1 else "were"
    return f"{counted(count, 'facet')} ran the other way round than the neighbours and {verb} turned."


def _turned_shells(count: int, total: int) -> str:
    which = "The whole mesh" if count == total else counted(count, "shell")
    return f"{which} {'were' if count > 1 and count != total else 'was'} inside out and taken as solid."
