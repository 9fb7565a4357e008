"""Where gaps may be: edges with something close below or beside them, found in a few sweeps over the whole part.

Measuring a span is exact and takes time, so this comes first: every lower edge is looked down from, every upright edge
is paired with upright edges close by, and along each the air between is probed for teeth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.design.ledge import WIDEST_TOOTH
from core.design.setup import PrintSetup
from core.design.span import Direction
from core.diagnose.lower_edges import EdgeLine, edge_lines, lower_edges, upright_edges
from core.diagnose.plumb import PlumbLines
from core.geometry.mesh import F64, I64, Bool, Mesh, dot
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology

#: How far beside an edge the looks downward go, mm: its rim, then where a fin would stand in a strip. From memory.
BESIDE: Final = (0.05, 0.35, 0.8, 1.3)
#: Thinner air than this below an edge is no gap, mm.
LEAST_GAP: Final = 0.05
#: A fin stands no farther beside an upright edge than this to be held by teeth, mm; from memory.
WIDEST_SIDE_GAP: Final = 4.0
#: Shorter edges carry no row, mm: three teeth of a line each need more.
LEAST_LENGTH: Final = 2.0
#: Distance between the first, coarse looks down, mm.
LOOK_STEP: Final = 1.0
#: Distance between probes along an edge, mm, so that the narrowest tip is met.
STEP: Final = 0.3
#: Most probes in one sweep; then the longest edges are served first.
MOST_PROBES: Final = 30_000
#: Most pairs of upright edges that are probed.
MOST_PAIRS: Final = 80
#: Things alike differ by less than this share in width; from memory.
LIKE: Final = 0.3
#: Offsets of probes: to both sides of an edge, and sideways of the edge of a fin, mm.
_OFFSETS: Final = np.array([sign * b for b in BESIDE for sign in (-1, 1)])
_LATERAL: Final = np.array([-1.3, -0.6, -0.2, 0.2, 0.6, 1.3])
#: Normals told apart beside one edge; two, but for round ones.
_MOST_SIDES: Final = 8
#: So many things with air between them look like a row.
LIKE_A_ROW: Final = 3


@dataclass(frozen=True, eq=False)
class Candidate:
    """An edge that may have a gap, bed mm. ``ledge`` and ``gap_direction`` are given for sideways gaps.

    ``distance`` is about how far away the ledge is, ``things`` how many things seem to stand between, ``edge_faces``
    and ``ledge_faces`` triangles on either side.
    """

    direction: Direction
    edge: Polyline
    ledge: Polyline | None
    gap_direction: tuple[float, float, float] | None
    distance: float
    things: int
    edge_faces: I64
    ledge_faces: I64

    @property
    def toothed(self) -> bool:
        """Whether enough seems to stand in it for a row."""
        return self.things >= LIKE_A_ROW


def find_candidates(
    mesh: Mesh, topology: Topology, lines: PlumbLines, setup: PrintSetup, check: Callable[[], None] = lambda: None
) -> list[Candidate]:
    """Edges of ``mesh`` (bed mm, triangles as in ``topology``) that may have a gap below or beside them.

    ``lines`` are vertical lines through the same mesh. ``check`` is called between sweeps and may raise to give up.
    """
    upward = _upward(lines, edge_lines(mesh, topology, lower_edges(mesh, topology), LEAST_LENGTH), setup)
    check()
    uprights = edge_lines(mesh, topology, upright_edges(mesh, topology), LEAST_LENGTH)
    return upward + _sideways(mesh, lines, uprights)


def _probes(lines: list[EdgeLine], step: float, most: int) -> tuple[F64, F64, I64]:
    """Points (k, 3) along the lines, ways along (k, 3), and the number of the line (k,), ``step`` apart."""
    points, ways, which = [np.zeros((0, 3))], [np.zeros((0, 3))], [np.zeros(0, np.int64)]
    total = 0
    for i, edge in enumerate(lines):
        count = max(4, int(edge.line.length / step))
        total += count
        if total > most:
            break
        s = (np.arange(count) + 0.5) * edge.line.length / count
        points.append(edge.line.at(s))
        ways.append(edge.line.directions(s))
        which.append(np.full(count, i))
    return np.concatenate(points), np.concatenate(ways), np.concatenate(which)


def _beside(points: F64, ways: F64) -> F64:
    """Plan points (k, 2·len(BESIDE), 2) to both sides of points on edges."""
    flat = ways[:, :2] / np.maximum(np.linalg.norm(ways[:, :2], axis=1, keepdims=True), 1e-12)
    across = np.column_stack([-flat[:, 1], flat[:, 0]])
    return np.asarray(points[:, None, :2] + across[:, None] * _OFFSETS[None, :, None])


def _upward(columns: PlumbLines, lines: list[EdgeLine], setup: PrintSetup) -> list[Candidate]:
    """Candidates below lower edges: looked down from coarsely first, then those with a ledge probed for teeth."""
    points, ways, which = _probes(lines, LOOK_STEP, MOST_PROBES // len(_OFFSETS))
    if not len(points):
        return []
    plan = _beside(points, ways)
    flat_z = np.repeat(points[:, 2], len(_OFFSETS))
    distance, face = (a.reshape(plan.shape[:2]) for a in _look(columns, plan.reshape(-1, 2), flat_z, setup))
    nearest = distance.min(axis=1)
    found: list[tuple[EdgeLine, F64, float, I64]] = []
    for i in np.unique(which[np.isfinite(nearest)]):
        rows = np.flatnonzero(which == i)
        seen = rows[np.isfinite(nearest[rows])]
        line = lines[int(i)].line
        step = line.length / len(rows)
        if len(seen) * step < LEAST_LENGTH / 2:
            continue
        typical = float(np.median(nearest[seen]))
        on = seen[nearest[seen] <= 2 * typical + 1]
        s = (on - rows[0] + 0.5) * step
        trend = np.polyfit(s, nearest[on], 1) if len(on) > 8 else np.array([0.0, typical])
        faces = face[rows][distance[rows] <= nearest[rows, None] + 0.5]
        found.append((lines[int(i)], trend, typical, np.unique(faces[faces >= 0])))
    return _probed(columns, found)


def _probed(columns: PlumbLines, found: list[tuple[EdgeLine, F64, float, I64]]) -> list[Candidate]:
    """The candidates of edges with a ledge: (edge, trend of the distance along it, typical distance, ledge faces)."""
    points, ways, which = _probes([f[0] for f in found], STEP, MOST_PROBES // len(_OFFSETS))
    plan = _beside(points, ways)
    half = np.empty(len(points))
    for i in np.unique(which):
        rows = np.flatnonzero(which == i)
        s = (np.arange(len(rows)) + 0.5) * found[int(i)][0].line.length / len(rows)
        half[rows] = points[rows, 2] - np.clip(np.polyval(found[int(i)][1], s), LEAST_GAP, None) / 2
    inside = columns.filled(plan.reshape(-1, 2), np.repeat(half, len(_OFFSETS))).reshape(plan.shape[:2])
    return [
        Candidate("up", e.line, None, None, typical, _things(inside[which == i], STEP), e.triangles, faces)
        for i, (e, _, typical, faces) in enumerate(found)
    ]


def _look(columns: PlumbLines, plan: F64, z: F64, setup: PrintSetup) -> tuple[F64, I64]:
    """Distance (n,) from an edge at heights ``z`` down to the first surface below points beside it, and its triangle.

    Infinite where the part does not hang above the point, or nothing lies within reach below.
    """
    line, height, sign, triangle = columns.hits(plan)
    depth = _depth(line, sign)
    slot = np.full(len(plan), -1)
    below = height < z[line] - LEAST_GAP
    slot[line[below]] = np.flatnonzero(below)  # rising order: the highest one stays
    above = np.flatnonzero(~below)[::-1]
    ceiling = np.full(len(plan), np.inf)
    ceiling[line[above]] = height[above] - z[line[above]]  # falling order: the lowest one stays
    distance, face = np.full(len(plan), np.inf), np.full(len(plan), -1, np.int64)
    rows = np.flatnonzero((slot >= 0) & (ceiling <= np.tile(0.1 + 1.2 * np.abs(_OFFSETS), len(plan) // len(_OFFSETS))))
    at = slot[rows]
    free = (depth[at] <= 0) & (z[rows] - height[at] <= setup.longest_tooth)
    distance[rows[free]], face[rows[free]] = (z[rows] - height[at])[free], triangle[at[free]]
    return distance, face


def _depth(line: I64, sign: F64) -> F64:
    """Winding number just above every crossing, counted along its own line from below."""
    if not len(line):
        return np.zeros(0)
    total = np.cumsum(sign)
    first = np.flatnonzero(np.r_[True, line[1:] != line[:-1]])
    return np.asarray(total - np.repeat((total - sign)[first], np.diff(np.r_[first, len(line)])))


def _things(inside: Bool, step: float) -> int:
    """The most things alike, no wider than a tooth, at a common pitch, that any column of (probes, offsets) meets."""
    padded = np.pad(inside, ((1, 1), (0, 0)))
    best = 0
    for column in padded.T:
        change = np.flatnonzero(np.diff(column.astype(np.int8)))
        width = np.asarray((change[1::2] - change[::2]) * step, np.float64)
        middle = np.asarray((change[1::2] + change[::2]) * step / 2, np.float64)
        fit = width <= WIDEST_TOOTH
        if fit.sum() > best:
            best = max(best, _alike(width[fit], middle[fit], step))
    return best


def _alike(width: F64, middle: F64, step: float) -> int:
    """How many of the things are of like width and stand at whole numbers of the commonest step between them."""
    near = np.abs(width[:, None] - width) <= np.maximum(LIKE * width[:, None], step)
    like = near[int(np.argmax(near.sum(axis=1)))]
    count = int(like.sum())
    if count < LIKE_A_ROW:
        return count
    steps = np.diff(middle[like])
    same = np.abs(steps[:, None] - steps) <= step
    pitch = float(np.mean(steps[same[int(np.argmax(same.sum(axis=1)))]]))
    regular = np.abs(steps - np.maximum(np.round(steps / pitch), 1) * pitch) <= 1.5 * step
    return count if regular.mean() >= 0.5 else 1


def _sideways(mesh: Mesh, columns: PlumbLines, lines: list[EdgeLine]) -> list[Candidate]:
    """Candidates beside upright edges: faces that look at each other across a sane gap."""
    points, ways, which = _probes(lines, STEP, MOST_PROBES)
    pairs = _facing_pairs(mesh, lines, points, ways, which)[:MOST_PAIRS]
    between = [_between(points, which, *pair) for pair in pairs]
    flat = np.concatenate([b.reshape(-1, 3) for b in between]) if between else np.zeros((0, 3))
    inside = columns.filled(flat[:, :2], flat[:, 2])
    out, start = [], 0
    for (i, j, way, rows), spots in zip(pairs, between, strict=True):
        count = spots.shape[0] * spots.shape[1]
        things = _things(inside[start : start + count].reshape(spots.shape[:2]), STEP)
        start += count
        there = points[which == j]
        ahead = float(np.median((there[cKDTree(there).query(points[rows])[1]] - points[rows]) @ way))
        x, y, _ = (float(c) for c in -way)
        faces = lines[i].triangles, lines[j].triangles
        out.append(Candidate("side", lines[i].line, lines[j].line, (x, y, 0.0), ahead, things, *faces))
    return out


def _between(points: F64, which: I64, i: int, j: int, way: F64, rows: I64) -> F64:
    """Points (k, len(_LATERAL), 3) half way between two upright lines, beside the second."""
    there = points[which == j]
    here = points[rows]
    offset = there[cKDTree(there).query(here)[1]] - here
    aside = np.array([-way[1], way[0], 0.0])
    middle = here + way * (offset @ way / 2)[:, None] + aside * (offset @ aside)[:, None]
    return np.asarray(middle[:, None] + aside * _LATERAL[None, :, None])


def _facing_pairs(
    mesh: Mesh, lines: list[EdgeLine], points: F64, ways: F64, which: I64
) -> list[tuple[int, int, F64, I64]]:
    """Pairs of lines that face each other: both numbers, the way from first to second, the probes of the first."""
    if len(points) < 2:
        return []
    reach = np.hypot(WIDEST_SIDE_GAP, WIDEST_SIDE_GAP)
    close = cKDTree(points).query_pairs(float(reach), output_type="ndarray")
    close = close[which[close[:, 0]] != which[close[:, 1]]]
    a, b = close[:, 0], close[:, 1]
    level = np.abs(points[a, 2] - points[b, 2]) <= STEP
    level &= np.abs(dot(ways[a], ways[b])) > 0.97
    a, b = a[level], b[level]
    normals = {i: _side_normals(mesh, lines[i]) for i in np.union1d(which[a], which[b]).tolist()}
    key = which[a] * len(lines) + which[b]
    out = []
    for k in np.unique(key):
        rows = np.flatnonzero(key == k)
        i, j = int(k // len(lines)), int(k % len(lines))
        offset = points[b[rows]] - points[a[rows]]
        way = _way_across(normals[i], normals[j], offset)
        if way is not None and len(np.unique(a[rows])) * STEP >= LEAST_LENGTH:
            out.append((i, j, way, np.unique(a[rows])))
    return sorted(out, key=lambda p: -len(p[3]))


def _side_normals(mesh: Mesh, edge: EdgeLine) -> F64:
    """Distinct outward normals of upright faces beside an edge, (n ≤ _MOST_SIDES, 3), levelled."""
    flat = mesh.area_vectors[edge.triangles] * [1, 1, 0]
    size = np.linalg.norm(flat, axis=1)
    flat = flat[size > 1e-9] / size[size > 1e-9, None]
    _, first = np.unique(np.round(flat * 8), axis=0, return_index=True)
    return np.asarray(flat[np.sort(first)[:_MOST_SIDES]])


def _way_across(normals: F64, others: F64, offset: F64) -> F64 | None:
    """The outward normal of the first edge that another face looks against across a sane gap, or None."""
    for n in normals:
        if len(others) and (others @ n).min() < -0.95:
            gap = np.abs(offset @ n)
            ahead = float(np.median(offset @ n))
            beside = float(np.median(np.linalg.norm(offset * [1, 1, 0] - (offset @ n)[:, None] * n, axis=1)))
            if LEAST_GAP < ahead <= WIDEST_SIDE_GAP and beside <= WIDEST_SIDE_GAP and np.ptp(gap) < 1.0:
                return np.asarray(n)
    return None
