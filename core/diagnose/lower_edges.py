"""Mesh edges under which a gap may lie, and mesh edges beside which one may: found on whole arrays, without loops.

A lower edge is convex, more level than upright, and the surface rises (or runs level) from it to both sides: the part
hangs above it. An upright edge is convex and steep. Where a tooth stands flush with an edge the mesh edge is cut in
two; such pieces are joined again when they run on into each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.chains import Chain, FeatureGraph
from core.geometry.mesh import F64, I64, Bool, Mesh, dot
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology

#: An edge is level enough to be a lower edge up to this rise per length, and upright from there on.
STEEP: Final = 0.75
#: What lies lower than this lies on the bed, mm.
ON_BED: Final = 0.05
#: How far a face may fall away from a lower edge, as a sine: rounding of files, not slopes.
FALLS: Final = 0.02
#: The longest stretch that a tooth takes out of a mesh edge, mm; as wide as a tooth can be.
LONGEST_BREAK: Final = 6.0
#: Pieces run on into each other when neither turns by more than this to reach the other. From memory.
SMOOTH_DEG: Final = 20.0
#: At most so many of the longest chains are followed; noise has thousands of tiny ones.
MOST_CHAINS: Final = 1500
#: Direction at the end of a line is taken over this length, mm.
_END: Final = 1.0


@dataclass(frozen=True, eq=False)
class EdgeLine:
    """A run of mesh edges, joined across what interrupts it. ``line`` in bed mm, ``triangles`` (t,) beside it."""

    line: Polyline
    triangles: I64


def lower_edges(mesh: Mesh, topology: Topology) -> I64:
    """Ids of the edges that the part hangs over, (k,); ``mesh`` in bed mm, with the triangles of ``topology``."""
    ids, along, beside = _convex(mesh, topology)
    level = np.abs(along[:, 2]) < STEEP
    level &= mesh.vertices[topology.edges[ids], 2].max(axis=1) > ON_BED
    rises = (beside[:, :, 2] >= -FALLS).all(axis=1)
    return ids[level & rises]


def upright_edges(mesh: Mesh, topology: Topology) -> I64:
    """Ids of the upright convex edges, (k,); ``mesh`` in bed mm."""
    ids, along, _ = _convex(mesh, topology)
    return ids[np.abs(along[:, 2]) >= STEEP]


def _convex(mesh: Mesh, topology: Topology) -> tuple[I64, F64, F64]:
    """Convex feature edges and borders: ids (k,), unit directions (k, 3), unit ways into their faces (k, 2, 3)."""
    ids = np.flatnonzero(topology.features & ((topology.turns > 0) | topology.borders))
    ends = topology.edges[ids]
    start = mesh.vertices[ends[:, 0]]
    along = mesh.vertices[ends[:, 1]] - start
    length = np.sqrt(dot(along, along))
    along = along / np.maximum(length, 1e-300)[:, None]
    beside = np.empty((len(ids), 2, 3))
    faces = topology.edge_triangles[ids]
    for k in (0, 1):
        face = np.where(faces[:, k] < 0, faces[:, 0], faces[:, k])
        third = mesh.triangles[face].astype(np.int64).sum(axis=1) - ends[:, 0] - ends[:, 1]
        out = mesh.vertices[third] - start
        out -= dot(out, along)[:, None] * along
        beside[:, k] = out / np.maximum(np.sqrt(dot(out, out)), 1e-300)[:, None]
    return ids, along, beside


def edge_lines(mesh: Mesh, topology: Topology, ids: I64, least: float) -> list[EdgeLine]:
    """The chosen edges as lines of ``least`` mm at least (once joined), the longest first."""
    keep: Bool = np.zeros(len(topology.edges), np.bool_)
    keep[ids] = True
    graph = FeatureGraph.of(topology, keep)
    if not len(graph.ids):
        return []
    ends = mesh.vertices[topology.edges[graph.ids]]
    length = np.bincount(graph.chain_of, np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))
    chosen = np.argsort(-length, kind="stable")[:MOST_CHAINS]
    first = np.zeros(len(length), np.int64)
    first[graph.chain_of[::-1]] = np.arange(len(graph.ids))[::-1]
    by_chain = np.argsort(graph.chain_of, kind="stable")
    start = np.r_[0, np.cumsum(np.bincount(graph.chain_of))]
    lines = []
    for chain in chosen:
        members = graph.ids[by_chain[start[chain] : start[chain + 1]]]
        faces = topology.edge_triangles[members].ravel()
        line = _line(graph.grow(int(graph.ids[first[chain]])), mesh.vertices)
        lines.append(EdgeLine(line, faces[faces >= 0].astype(np.int64)))
    out = [line for line in joined_lines(lines) if line.line.length >= least]
    return sorted(out, key=lambda e: -e.line.length)


def _line(chain: Chain, points: F64) -> Polyline:
    """The chain as a line; one of two points cannot be closed."""
    return Polyline.of(points[list(chain.vertices)], chain.closed and len(chain.vertices) > 2)


def joined_lines(lines: list[EdgeLine]) -> list[EdgeLine]:
    """Lines that run on into each other made one, nearest first; a line that runs on into itself becomes closed."""
    opened = [i for i, e in enumerate(lines) if not e.line.closed]
    if not opened:
        return lines
    ends, ways = _ends([lines[i].line for i in opened])
    group = {i: [i] for i in range(len(opened))}
    links: dict[int, int] = {}
    owner = list(range(len(opened)))
    for a, b in _that_meet(ends, ways):
        if a in links or b in links:
            continue
        links[a], links[b] = b, a
        keep, drop = owner[a // 2], owner[b // 2]
        if keep != drop:
            group[keep] += group.pop(drop)
            for i in group[keep]:
                owner[i] = keep
    made = [_strung([lines[opened[i]] for i in members], members, links) for members in group.values()]
    return made + [e for e in lines if e.line.closed]


def _ends(lines: list[Polyline]) -> tuple[F64, F64]:
    """Both end points of every line and the unit ways out of them, two (2n, 3), start and end in turn."""
    points, ways = [], []
    for line in lines:
        reach = min(_END, line.length)
        for at, inward in ((0.0, reach), (line.length, line.length - reach)):
            end, inner = line.at([at, inward])
            points.append(end)
            ways.append((end - inner) / max(float(np.linalg.norm(end - inner)), 1e-300))
    return np.array(points), np.array(ways)


def _that_meet(ends: F64, ways: F64) -> list[tuple[int, int]]:
    """Pairs of ends that run on into each other, the nearest first."""
    pairs = cKDTree(ends).query_pairs(LONGEST_BREAK, output_type="ndarray")
    if not len(pairs):
        return []
    a, b = pairs[:, 0], pairs[:, 1]
    between = ends[b] - ends[a]
    distance = np.sqrt(dot(between, between))
    between = np.where(distance[:, None] > 1e-6, between / np.maximum(distance, 1e-300)[:, None], ways[a])
    least = np.cos(np.deg2rad(SMOOTH_DEG))
    smooth = (dot(ways[a], between) >= least) & (dot(ways[b], between) <= -least)
    order = np.argsort(distance[smooth], kind="stable")
    return [(int(p), int(q)) for p, q in pairs[smooth][order]]


def _strung(parts: list[EdgeLine], members: list[int], links: dict[int, int]) -> EdgeLine:
    """Parts in the order in which their ends are linked. End 2i is the start of member i, 2i + 1 its end."""
    triangles = np.concatenate([p.triangles for p in parts])
    by_member = dict(zip(members, parts, strict=True))
    loose = [2 * i + k for i in members for k in (0, 1) if 2 * i + k not in links]
    entry = loose[0] if loose else 2 * members[0]
    points: list[F64] = []
    at: int | None = entry
    while at is not None:
        row = by_member[at // 2].line.array
        points.append(row if at % 2 == 0 else row[::-1])
        at = links.get(at ^ 1)
        if at == entry:
            break
    rows = np.concatenate(points)
    keep = np.r_[True, np.linalg.norm(np.diff(rows, axis=0), axis=1) > 1e-9]
    rows = rows[keep] if keep.sum() > 1 else rows[:2]
    return EdgeLine(Polyline.of(rows, not loose and len(rows) > 2), triangles)
