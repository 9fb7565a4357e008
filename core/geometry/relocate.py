"""Finding a line of one part again on another: by the feature edge that it follows, its faces, and how far it went.

The line is looked at station by station in its own frame: t along it, g the way of the gap, c across. Feature edges
near a station have a place (c, g) there. The edge that carries the line in the old part has one such place all along;
the edges that could carry it in the new part have others, and the difference is how far the line moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.landmarks import Landmarks, Samples
from core.geometry.mesh import F64, I64, Bool, dot
from core.geometry.polyline import Polyline

# Lengths mm; from memory unless a reason is given.
#: Stations along a line: their distance, and how many there are at least and at most.
_STEP, _LEAST, _MOST = 0.5, 24, 160
#: Distance of the points on feature edges.
_SAMPLES: Final = 0.5
#: The edge that carries a line lies at most this far from it: a strip is hardly wider.
_CARRIER: Final = 2.6
#: Feature edges in one place differ by less than this across; their places are counted in cells of this size.
_CELL: Final = 0.3
#: Cosines: edges run the same way, and faces look the same way, within about 20°.
_SAME_WAY, _SAME_FACE = 0.94, 0.94
#: An edge carries a line when it lies beside this share of its stations.
COVERED: Final = 0.6
#: An edge that is that long only in part is still taken for one that was made shorter, down to this share.
SHORTER: Final = 0.4
#: Stated residual: what is found lies this near to one place all along.
RESIDUAL: Final = 0.15
#: A line that moved less than this is where it was.
IN_PLACE: Final = 0.1
#: A second place is as likely when it costs less than this times the first, and this many mm more.
LIKELY, LIKELY_MORE = 1.6, 0.6
#: What it costs not to find an edge at a tenth of the stations, mm of way.
_UNSEEN: Final = 1.5
#: An end of a line this near to the end of its edge moves along with it.
_END: Final = 4.0


@dataclass(frozen=True, eq=False)
class Found:
    """A place where a line may be in the new part. ``line`` in mm of the new part; ``offset`` (2,) mm across and along
    the gap; ``share`` of its stations with an edge, ``residual`` mm of how far that edge strays; ``ends`` (2,) mm by
    which the line grew at its start and at its end."""

    line: Polyline
    offset: F64
    share: float
    residual: float
    ends: F64

    @property
    def way(self) -> float:
        """How far the line moved square to itself, mm."""
        return float(np.linalg.norm(self.offset))

    @property
    def cost(self) -> float:
        """How unlikely the place is, mm."""
        return self.way + 10 * _UNSEEN * (1 - min(self.share, 1.0))


@dataclass(frozen=True, eq=False)
class _Stations:
    """Points (k, 3) with unit vectors along, across and in the way of the gap, all (k, 3)."""

    points: F64
    t: F64
    c: F64
    g: F64

    @classmethod
    def of(cls, line: Polyline, gap: F64) -> _Stations:
        count = int(np.clip(line.length / _STEP, _LEAST, _MOST))
        s = (np.arange(count) + 0.5) * line.length / count
        half = min(0.5, line.length / 8)
        ahead, behind = (line.at(s + sign * half if line.closed else np.clip(s + sign * half, 0, line.length))
                         for sign in (1, -1))  # fmt: skip
        t = (ahead - behind) / np.maximum(np.linalg.norm(ahead - behind, axis=1, keepdims=True), 1e-12)
        c = np.cross(np.broadcast_to(gap, t.shape), t)
        c /= np.maximum(np.linalg.norm(c, axis=1, keepdims=True), 1e-12)
        return cls(line.at(s), t, c, np.cross(t, c))


@dataclass(frozen=True, eq=False)
class _Seen:
    """Feature points beside stations: which station, which sample (p,), their place (p, 2) across and along the gap,
    and the faces on both sides in the same axes (p, 2, 2), the one further across first."""

    station: I64
    sample: I64
    place: F64
    faces: F64


def find_again(
    line: Polyline, gap: F64, old: Landmarks, new: Landmarks, *, reach: float
) -> list[Found] | None:
    """Places of a line of the old part in the new one, the likeliest first; both in one frame, mm.

    ``gap`` (3,) is the unit vector from the ledge to the edge; places up to ``reach`` mm off are looked at. Empty when
    its edge is not found again, None when it follows no feature edge in the old part.
    """
    stations = _Stations.of(line, gap)
    before = _seen(stations, old.samples(_SAMPLES), _CARRIER)
    carriers = [p for p in _places(before, len(stations.points)) if p[1] >= COVERED]
    if not carriers:
        return None
    members, _ = min(carriers, key=lambda p: float(np.linalg.norm(np.median(before.place[p[0]], axis=0))))
    from_edge = np.median(before.place[members], axis=0)
    faces = _unit(before.faces[members].mean(axis=0))
    samples = new.samples(_SAMPLES)
    after = _alike(_seen(stations, samples, reach), faces)
    home = _home(old, before, members, old.samples(_SAMPLES))
    out = []
    for who, share in _places(after, len(stations.points)):
        if share >= SHORTER:
            out.append(_found(line, stations, (after, who, share), from_edge, samples, new, home))
    good = [f for f in out if f.residual <= RESIDUAL]
    return sorted(good, key=lambda f: f.cost)


def near_equal(found: Sequence[Found], costs: Sequence[float] | None = None) -> list[Found]:
    """The places among which nobody should choose silently: the best alone where it stands out.

    A line that is where it was stands out, whatever else looks like it. ``costs`` (mm) take the place of the places'
    own when more is known about them.
    """
    if not found or found[0].way <= IN_PLACE:
        return list(found[:1])
    each = [f.cost for f in found] if costs is None else list(costs)
    most = LIKELY * min(each) + LIKELY_MORE
    return [f for cost, f in sorted(zip(each, found, strict=True), key=lambda pair: pair[0]) if cost <= most]


def _seen(stations: _Stations, samples: Samples, reach: float) -> _Seen:
    """Feature points within ``reach`` mm of stations, beside them and running the same way."""
    if not len(samples.points):
        none = np.zeros(0, np.int64)
        return _Seen(none, none, np.zeros((0, 2)), np.zeros((0, 2, 2)))
    found = cKDTree(samples.points).query_ball_point(stations.points, np.hypot(reach, _SAMPLES))
    lists = [np.asarray(x, np.int64) for x in found]
    station = np.repeat(np.arange(len(lists)), [len(x) for x in lists])
    sample = np.concatenate(lists) if lists else np.zeros(0, np.int64)
    off = samples.points[sample] - stations.points[station]
    ahead = dot(off, stations.t[station])
    way = dot(samples.along[sample], stations.t[station])
    near = (np.abs(ahead) <= 0.75 * _SAMPLES) & (np.abs(way) >= _SAME_WAY)
    station, sample, off, way = station[near], sample[near], off[near], way[near]
    axes = np.stack([stations.c[station], stations.g[station]], axis=1)
    sides = samples.normals[sample]
    sides = np.where((way < 0)[:, None, None], sides[:, ::-1], sides)
    return _Seen(
        station, sample, np.einsum("pij,pj->pi", axes, off), np.einsum("pij,psj->psi", axes, sides)
    )


def _unit(faces: F64) -> F64:
    return np.asarray(faces / np.maximum(np.linalg.norm(faces, axis=-1, keepdims=True), 1e-12))


def _alike(seen: _Seen, faces: F64) -> _Seen:
    """Only what has the same faces on the same sides."""
    cosine = (_unit(seen.faces) * faces).sum(axis=2)
    good: Bool = (cosine >= _SAME_FACE).all(axis=1)
    return _Seen(seen.station[good], seen.sample[good], seen.place[good], seen.faces[good])


def _places(seen: _Seen, stations: int) -> list[tuple[I64, float]]:
    """Groups of feature points that keep one place all along, each with the share of stations it is found at."""
    out: list[tuple[I64, float]] = []
    free = np.ones(len(seen.station), np.bool_)
    while free.any() and len(out) < 40:
        rows = np.flatnonzero(free)
        centre = _fullest(seen, rows)
        members = rows[np.linalg.norm(seen.place[rows] - centre, axis=1) <= _CELL]
        for _ in range(2):
            centre = np.median(seen.place[members], axis=0)
            members = rows[np.linalg.norm(seen.place[rows] - centre, axis=1) <= _CELL]
        share = len(np.unique(seen.station[members])) / stations
        free[members] = False
        if share < 0.1 or not len(members):
            break
        out.append((members, share))
    return out


def _fullest(seen: _Seen, rows: I64) -> F64:
    """The middle of the cell in which most stations have a feature point."""
    cell = np.floor(seen.place[rows] / _CELL).astype(np.int64)
    cell -= cell.min(axis=0)
    key = cell[:, 0] * (int(cell[:, 1].max()) + 1) + cell[:, 1]
    pair = np.unique(np.column_stack([key, seen.station[rows]]), axis=0)
    keys, count = np.unique(pair[:, 0], return_counts=True)
    best = keys[int(np.argmax(count))]
    return np.asarray(np.median(seen.place[rows[key == best]], axis=0))


@dataclass(frozen=True, eq=False)
class _Home:
    """The chain that carries a line in the old part."""

    points: F64
    closed: bool


def _chain_of(landmarks: Landmarks, samples: Samples, chosen: I64) -> int:
    """The chain that most of the chosen samples belong to."""
    return int(np.bincount(samples.chain[chosen]).argmax())


def _home(old: Landmarks, seen: _Seen, members: I64, samples: Samples) -> _Home:
    chain = _chain_of(old, samples, seen.sample[members])
    return _Home(old.line(chain), bool(old.closed[chain]))


def _found(
    line: Polyline, stations: _Stations, group: tuple[_Seen, I64, float], from_edge: F64, samples: Samples,
    new: Landmarks, home: _Home,
) -> Found:  # fmt: skip
    seen, members, share = group
    place = seen.place[members]
    middle = np.median(place, axis=0)
    residual = float(np.sqrt(((place - middle) ** 2).sum(axis=1).mean()))
    offset = middle - from_edge
    chain = _chain_of(new, samples, seen.sample[members])
    shift = _shifted(line, stations, offset)
    if line.closed or home.closed or new.closed[chain]:
        return Found(shift, offset, share, residual, np.zeros(2))
    grown = _grown(line, home.points, new.line(chain))
    if np.abs(grown).max() <= 2 * IN_PLACE:
        return Found(shift, offset, share, residual, np.zeros(2))
    drawn, length = _stretched(shift, grown), float(grown.sum())
    if length < 0:  # a shorter edge cannot be found beside stations that are not there any more
        share = min(1.0, share * line.length / max(drawn.length, 1e-9))
    return Found(drawn, offset, share, residual, grown)


def _shifted(line: Polyline, stations: _Stations, offset: F64) -> Polyline:
    """The line moved by ``offset`` mm across and along the gap, in the frame of the nearest station."""
    if float(np.linalg.norm(offset)) <= 1e-3:
        return line
    _, near = cKDTree(stations.points).query(line.array)
    return Polyline.of(line.array + offset[0] * stations.c[near] + offset[1] * stations.g[near], line.closed)


def _grown(line: Polyline, old: F64, new: F64) -> F64:
    """By how much the edge grew at the start and the end of the line, mm; nothing where the line ends within it."""
    out = np.zeros(2)
    for k, (end, inner) in enumerate(((line.array[0], line.array[1]), (line.array[-1], line.array[-2]))):
        outward = (end - inner) / max(float(np.linalg.norm(end - inner)), 1e-12)
        before, after = (float(((edge[[0, -1]] - end) @ outward).max()) for edge in (old, new))
        if before <= _END:
            out[k] = after - before
    return out


def raised(line: Polyline, gap: F64, by: float) -> Polyline:
    """The line moved by ``by`` mm in the way of its gap, ``gap`` (3,) unit."""
    return line if by == 0 else Polyline.of(line.array + by * gap, line.closed)


def _stretched(line: Polyline, grown: F64) -> Polyline:
    """The line made longer or shorter at both ends, straight on, mm."""
    points = line.array
    low, high = max(-grown[0], 0.0), line.length - max(-grown[1], 0.0)
    if high - low < 1.0:
        return line
    inner = line.stations[(line.stations > low) & (line.stations < high)]
    points = line.at(np.r_[low, inner, high])
    for k, (end, inside) in enumerate(((0, 1), (-1, -2))):
        if grown[k] > 0:
            way = points[end] - points[inside]
            points[end] = points[end] + way / np.linalg.norm(way) * grown[k]
    return Polyline.of(points)
