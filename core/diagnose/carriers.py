"""Where on the mesh a weak spot lies: the edge or strip that carries it, the height of its underside, its facets.

An edge can be weak where every face passes: a ridge between two steep faces still starts in mid-air. Therefore the
search is for edges under the hanging region, not for faces. All in bed mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from core.diagnose.layers import Loose
from core.diagnose.pieces import Piece, inner_points
from core.diagnose.underside import Underside
from core.geometry.chains import FeatureGraph, feature_chains
from core.geometry.mesh import F64, I64, Bool
from core.geometry.polyline import Polyline
from core.geometry.regions import Region, united
from core.geometry.topology import signed_turns

#: Convex edges that turn by more than this can be the edge of an underside. Degrees; from memory.
EDGE_TURN_DEG = 12.0
#: Spacing of the points at which an edge is compared with a region, mm.
_STEP = 0.5
#: An edge runs along another when the distance between them varies by less than this share of it.
_PARALLEL = 0.3
#: Share of a line beside which another must run for the two to be a strip.
_BESIDE = 0.6
#: A region this many times longer than wide is a strip; its length is measured along it.
STRIP = 8.0


@dataclass(frozen=True, eq=False)
class Carrier:
    """What carries a spot: a line on the mesh, the length to report, the height of the underside and some of its
    facets."""

    path: Polyline
    length: float
    z: float
    facets: I64


def carrier(pieces: list[Piece], underside: Underside, heights: F64) -> Carrier:
    """The carrier of the worst pieces of a spot, which lie in one layer or follow one another.

    A bridge is named by its middle chord, everything else by the edge of the mesh that hangs farthest from support,
    by the middle between two such edges (a strip), or by the free part of its outline.
    """
    worst = max(pieces, key=lambda p: (p.excess, p.region.area))
    alike = [p for p in pieces if p.kind == worst.kind]
    first, last = alike[0].layer, alike[-1].layer
    start = max((p for p in alike if p.layer == first), key=lambda p: p.region.area)
    step = float(heights[start.layer] - heights[start.layer - 1])
    under = underside.near(_box(alike), float(heights[first - 1]) - 3 * step, float(heights[last]) + 1e-6)
    z, facets = under.at(
        inner_points(start.region, 25), float(heights[first - 1]) - step, float(heights[first]) + 1e-6
    )
    facets, known = facets[facets >= 0], z[np.isfinite(z)]
    floor = float(np.median(known)) if len(known) else float(heights[first]) - step / 2
    lowest = float(known.min()) if len(known) else floor
    if worst.kind == "bridge" and worst.chord is not None:
        return Carrier(_chord_to_support(worst, floor), worst.span, lowest, facets)
    line = None if worst.kind == "slope" else _edge_line(worst, united([p.region for p in alike]), under)
    if line is not None:
        return Carrier(line, _length(worst, line), min(float(line.array[:, 2].min()), lowest), facets)
    plain = _first_long(alike)
    path = _free_outline(plain, floor + float(heights[plain.layer] - heights[first]))
    return Carrier(path, _length(plain, path), lowest, facets)


def _box(pieces: list[Piece]) -> F64:
    """Least and greatest x and y of all that some pieces cover, (2, 2) mm."""
    boxes = np.array([p.region.bounds for p in pieces])
    return np.array([boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)])


def _first_long(pieces: list[Piece]) -> Piece:
    """The lowest piece that is at least half as long around as the longest: where the spot shows its whole width."""
    around = [p.region.perimeter for p in pieces]
    return next(p for p, size in zip(pieces, around, strict=True) if size >= max(around) / 2)


def _chord_to_support(piece: Piece, z: float) -> Polyline:
    """The middle chord, carried on at both ends to the support itself."""
    assert piece.chord is not None
    a, b = piece.chord
    direction = (b - a) / max(float(np.linalg.norm(b - a)), 1e-12)
    ends = []
    for end, way in ((a, -direction), (b, direction)):
        ray = shapely.LineString([end, end + way * 4 * piece.loose.advance])
        hit = shapely.get_coordinates(ray.intersection(piece.loose.below.border))
        gap = float(np.linalg.norm(hit - end, axis=1).min()) if len(hit) else piece.loose.advance
        ends.append([*(end + way * gap), z])
    return Polyline.of(ends)


def _edge_line(piece: Piece, region: Region, under: Underside) -> Polyline | None:
    """The mesh edge under the region that hangs farthest from support, or the middle of a strip; None without edges."""
    lines = _free_edges(piece, region, under)
    if not lines:
        return None
    longest = max(line.length for line in lines)
    far = np.array([_hang(piece.loose, line) for line in lines])
    length = np.array([line.length for line in lines])
    score = np.where(np.isfinite(far), far, 0.0) + 1e-6 * length
    best = int(np.argmax(np.where(length >= longest / 2, score, -1.0)))
    beside = [line for i, line in enumerate(lines) if i != best and far[i] >= 0.7 * far[best]]
    middle = _middle(lines[best], beside)
    return lines[best] if middle is None else middle


def _free_edges(piece: Piece, region: Region, under: Underside) -> list[Polyline]:
    """Convex mesh edges of the underside, chained and cut to what hangs."""
    topo, ids = under.topology, under.edges()
    edges, sides = topo.edges[ids], topo.edge_triangles[ids]
    convex = signed_turns(topo.mesh, edges, sides) > np.deg2rad(EDGE_TURN_DEG)
    keep = np.zeros(len(topo.edges), np.bool_)
    keep[ids[convex | (sides[:, 1] < 0)]] = True
    if not keep.any():
        return []
    near = region.grown(piece.loose.advance + 0.01)
    lines = [c.polyline(topo.mesh.vertices) for c, _ in feature_chains(FeatureGraph.of(topo, keep))]
    return [part for line in lines for part in _within(line, near, piece.loose)]


def _within(line: Polyline, near: Region, loose: Loose) -> list[Polyline]:
    """The stretches of a line that lie over the region and hang, whole when all of it does."""
    count = max(int(np.ceil(line.length / _STEP)), 4)
    s = np.unique(np.concatenate([np.linspace(0, line.length, count + 1), line.stations]))
    middle = (s[1:] + s[:-1]) / 2
    plan = line.at(middle)[:, :2]
    hangs = near.contains(plan) & (loose.below.distance(plan) > min(1e-3, loose.advance))
    if hangs.all():
        return [line]
    out = []
    for a, b in _runs(hangs, line.closed):
        stations = np.arange(a, b + 1)
        cut = line.at(_refined(line, s, stations, near))
        if len(cut) > 1:
            out.append(Polyline.of(_without_flat(cut)))
    return out


def _refined(line: Polyline, s: F64, stations: I64, near: Region) -> F64:
    """Arc lengths of a stretch, its two ends moved to where the line really leaves the region."""
    total = line.length
    at = np.where(stations < len(s), s[np.minimum(stations, len(s) - 1)], s[stations % (len(s) - 1)] + total)
    ends = []
    for inner, outer in ((at[0], at[0] - _STEP), (at[-1], at[-1] + _STEP)):
        trial = np.linspace(inner, outer, 101)
        if not line.closed:
            trial = np.clip(trial, 0, total)
        inside = near.contains(line.at(trial)[:, :2])
        stop = len(trial) - 1 if inside.all() else max(int(np.argmin(inside)) - 1, 0)
        ends.append(trial[stop])
    at[0], at[-1] = ends
    return at


def _runs(good: Bool, closed: bool) -> list[tuple[int, int]]:
    """Stretches (first, last + 1) of True; around the end when closed."""
    n = len(good)
    shift = int(np.argmin(good)) if closed and not good.all() else 0
    turned = np.roll(good, -shift)
    edge = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]])))
    return [(int(a) + shift, int(b) + shift) for a, b in edge.reshape(-1, 2)] if n else []


def _without_flat(points: F64) -> F64:
    """The points without those that lie on the straight line between their neighbours."""
    line = shapely.LineString(points)
    keep = shapely.get_coordinates(shapely.simplify(line, 1e-6), include_z=True)
    return keep if len(keep) > 1 else points


def _hang(loose: Loose, line: Polyline) -> float:
    """Mean distance of a line from support, mm."""
    s = np.linspace(0, line.length, 42)[1:-1]
    return float(loose.below.distance(line.at(s)[:, :2]).mean())


def _middle(line: Polyline, others: list[Polyline]) -> Polyline | None:
    """The line halfway from one to others that run along beside it; None when nothing does.

    Where the others leave off (a leg stands there), the middle is carried on at the usual distance.
    """
    plan = shapely.LineString(line.ring[:, :2])
    others = [o for o in others if shapely.LineString(o.ring[:, :2]).distance(plan) > 1e-6]
    if not others:
        return None
    points = line.array if len(line.array) > 2 else line.at(np.linspace(0, line.length, 9))
    across = _nearest_on(others, points) - points
    gap = np.linalg.norm(across[:, :2], axis=1)
    width = float(np.median(gap))
    beside = np.abs(gap - width) <= _PARALLEL * width + 0.05
    if width > line.length / 4 or beside.mean() < _BESIDE:
        return None
    known = np.flatnonzero(beside)
    turn = len(points) if line.closed else None
    every = np.arange(len(points))
    filled = np.column_stack([np.interp(every, known, across[known, k], period=turn) for k in range(3)])
    size = np.linalg.norm(filled[:, :2], axis=1, keepdims=True)
    filled[~beside] *= (width / np.maximum(size, 1e-9))[~beside]
    middle = points + filled / 2
    return Polyline.of(middle if line.closed else _without_flat(middle), line.closed)


def _nearest_on(lines: list[Polyline], points: F64) -> F64:
    """The point of any of the lines nearest in plan to each point, (q, 3)."""
    sides = np.concatenate([np.stack([o.ring[:-1], o.ring[1:]], axis=1) for o in lines])
    tree = shapely.STRtree(shapely.linestrings(sides[:, :, :2]))
    found = tree.query_nearest(shapely.points(points[:, :2]), all_matches=False)[1]
    a, step = sides[found, 0], sides[found, 1] - sides[found, 0]
    square = np.maximum(np.einsum("ij,ij->i", step[:, :2], step[:, :2]), 1e-18)
    share = np.clip(np.einsum("ij,ij->i", points[:, :2] - a[:, :2], step[:, :2]) / square, 0, 1)
    out: F64 = a + share[:, None] * step
    return out


def _free_outline(piece: Piece, z: float) -> Polyline:
    """The longest stretch of a region's outline that is not held, at height ``z``."""
    region = piece.region
    held = piece.loose.below.grown(piece.loose.advance + 0.01) if not piece.loose.below.empty else None
    lines = region.border if held is None else shapely.line_merge(shapely.difference(region.border, held.shape))
    parts = [p for p in shapely.get_parts(lines) if p.length > 0] or list(shapely.get_parts(region.border))
    longest = max(parts, key=lambda p: p.length)
    points = shapely.get_coordinates(shapely.simplify(longest, 0.005))
    closed = bool(longest.is_ring) and len(points) > 3
    plan = points[:-1] if closed else points
    return Polyline.of(np.column_stack([plan, np.full(len(plan), z)]), closed)


def _length(piece: Piece, path: Polyline) -> float:
    """How long a spot is: along a strip or around a ring its middle line, else its width square to the way it hangs."""
    region = piece.region
    perimeter = region.perimeter
    width = 2 * region.area / perimeter
    if piece.kind in ("slope", "island") or piece.loose.below.empty:
        return path.length
    if path.closed:
        middle = (path.array[:, :2] + _feet(piece.loose, path.array[:, :2])) / 2
        ring = np.vstack([middle, middle[:1]])
        around = float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())
        return around if _is_rooted_ring(piece, path) else path.length
    if perimeter / 2 - width > STRIP * width:
        return path.length
    inside = inner_points(region, 200)
    away = inside - _feet(piece.loose, inside)
    way = away.sum(axis=0)
    size = float(np.linalg.norm(way))
    if size < 0.2 * float(np.linalg.norm(away, axis=1).sum()):
        return path.length
    square = np.array([-way[1], way[0]]) / size
    across = np.concatenate(region.outlines) @ square
    return float(np.ptp(across))


def _is_rooted_ring(piece: Piece, path: Polyline) -> bool:
    """Whether the support runs all along beside a closed path, as around the floor of a bore."""
    gap = piece.loose.below.distance(path.array[:, :2])
    return bool(np.ptp(gap) <= _PARALLEL * gap.max())


def _feet(loose: Loose, points: F64) -> F64:
    """The nearest point of support to each plan point, (q, 2)."""
    lines = shapely.shortest_line(shapely.points(points), loose.below.border)
    return np.asarray(shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 1])
