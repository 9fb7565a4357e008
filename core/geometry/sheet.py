"""The exact section of a mesh by an upright sheet that stands on a line in plan, unrolled.

The sheet is made of flat pieces, one over each segment of the line; every piece is cut on its own and nothing is
projected. In the drawing, s is arc length along the line (or any other measure given for its points) and z is height.

Cuts are named by the mesh edge they lie on, so they are joined by name and not by nearness; where one piece of the
sheet meets the next they are joined in their order of height. A corner that lies exactly in a piece counts as left
of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import manifold3d as m3
import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.errors import BadValue
from core.geometry.mesh import F64, I64, Mesh, frozen

#: Pairs of triangle and piece of sheet that are looked at in one go; more would not fit a core's cache.
_BLOCK: Final = 1 << 20
#: Pieces of sheet that share one search for triangles near them.
_GROUP: Final = 24


@dataclass(frozen=True, eq=False)
class Section:
    """What the sheet cuts. Read-only arrays, float64, mm.

    ``segments`` (n, 2, 2): oriented (s, z) pairs, the solid on their left; the two upright ends of the sheet close
    what they cut off. ``names`` (n, 2) int64: equal numbers mean the same point. ``range``: s at both ends.
    """

    segments: F64
    names: I64
    range: tuple[float, float]

    def solid_at(self, level: float) -> F64:
        """Stretches (k, 2) of s, mm, in which the line z = ``level`` runs in material (winding number positive)."""
        seg = self.segments
        above = seg[:, :, 1] > level
        hit = np.flatnonzero(above[:, 0] != above[:, 1])
        t = (level - seg[hit, 0, 1]) / (seg[hit, 1, 1] - seg[hit, 0, 1])
        s = seg[hit, 0, 0] + t * (seg[hit, 1, 0] - seg[hit, 0, 0])
        enters = np.where(above[hit, 1], -1, 1)
        order = np.lexsort((-enters, s))
        depth = np.cumsum(enters[order])
        starts = s[order][(depth > 0) & (depth - enters[order] <= 0)]
        stops = s[order][(depth <= 0) & (depth - enters[order] > 0)]
        count = min(len(starts), len(stops))
        return np.column_stack([starts[:count], stops[:count]])

    def between(self, s: F64, low: F64, high: F64) -> Section:
        """The same section with heights told from two lines over ``s`` (k,): 0 on ``low`` (k,), 1 on ``high`` (k,)."""
        out = self.segments.copy()
        base = np.interp(out[:, :, 0], s, low)
        out[:, :, 1] = (out[:, :, 1] - base) / (np.interp(out[:, :, 0], s, high) - base)
        frozen(out)
        return Section(out, self.names, self.range)

    @cached_property
    def loops(self) -> list[F64]:
        """The segments chained by name to closed lines (k, 2), not repeating their first point; shells may overlap."""
        return [self.segments[ids, 0] for ids in _chained(self.names)]

    def outlines(self) -> list[F64]:
        """Outlines (k, 2) of the material: outer ones counter-clockwise, holes clockwise; overlaps are united.

        The positive fill rule of the 3MF core specification 1.4.0, §4.1.
        """
        loops = [loop for loop in self.loops if len(loop) > 2]
        if not loops:
            return []
        return [np.asarray(p) for p in m3.CrossSection(loops, m3.FillRule.Positive).to_polygons()]


def sheet_section(mesh: Mesh, plan: ArrayLike, s: ArrayLike | None = None) -> Section:
    """Cut ``mesh`` (mm, +Z up) by the upright sheet over the plan line ``plan`` (k ≥ 2, 2), mm.

    ``s`` (k,), rising, is the measure of every point; arc length when left out. A closed line is given with its first
    point repeated; the sheet is cut open there. Raises BadValue for a line without length.
    """
    line = np.asarray(plan, np.float64)
    if line.ndim != 2 or line.shape[1] != 2 or len(line) < 2:
        raise BadValue("A section needs two points in plan at least.")
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    measure = np.r_[0.0, np.cumsum(steps)] if s is None else np.asarray(s, np.float64)
    keep = np.r_[True, steps > 1e-12]
    line, measure = line[keep], measure[keep]
    if len(line) < 2:
        raise BadValue("A section line must have a length.")
    triangle, piece = _near(mesh, line)
    return _cut(mesh, line, measure, triangle, piece)


def _near(mesh: Mesh, line: F64) -> tuple[I64, I64]:
    """Pairs of triangle and piece of the sheet whose boxes in plan meet, two (p,) arrays."""
    xy = mesh.vertices[:, :2]
    found: list[tuple[I64, I64]] = []
    for start in range(0, len(line) - 1, _GROUP):
        group = line[start : start + _GROUP + 1]
        code = _outcode(xy, group.min(axis=0), group.max(axis=0))
        tri = mesh.triangles
        near = np.flatnonzero((code[tri[:, 0]] & code[tri[:, 1]] & code[tri[:, 2]]) == 0)
        if not len(near):
            continue
        corners = xy[tri[near]]
        low, high = corners.min(axis=1), corners.max(axis=1)
        a, b = np.minimum(group[:-1], group[1:]), np.maximum(group[:-1], group[1:])
        for i in range(0, len(near), max(_BLOCK // len(a), 1)):
            part = slice(i, i + max(_BLOCK // len(a), 1))
            meets = (low[part, None] <= b).all(axis=2) & (high[part, None] >= a).all(axis=2)
            which, piece = np.nonzero(meets)
            found.append((near[part][which], piece + start))
    if not found:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


def _outcode(xy: F64, low: F64, high: F64) -> NDArray[np.uint8]:
    """On which sides of a box every point lies, as bits: a triangle whose three codes share a bit misses it."""
    out: NDArray[np.uint8] = (xy[:, 0] < low[0]).astype(np.uint8)
    out |= (xy[:, 0] > high[0]).astype(np.uint8) << np.uint8(1)
    out |= (xy[:, 1] < low[1]).astype(np.uint8) << np.uint8(2)
    out |= (xy[:, 1] > high[1]).astype(np.uint8) << np.uint8(3)
    return out


def _cut(mesh: Mesh, line: F64, measure: F64, triangle: I64, piece: I64) -> Section:
    """Cut every pair of triangle and piece; orient, clip, name and close."""
    ids = mesh.triangles[triangle].astype(np.int64)
    start = line[piece]
    along = line[piece + 1] - start
    length = np.linalg.norm(along, axis=1)
    unit = along / length[:, None]
    rel = mesh.vertices[ids] - np.concatenate([start, np.zeros((len(start), 1))], axis=1)[:, None]
    t = np.einsum("ijk,ik->ij", rel[:, :, :2], unit)
    side = unit[:, None, 0] * rel[:, :, 1] - unit[:, None, 1] * rel[:, :, 0]
    left = side >= 0
    crossed = np.flatnonzero(left.any(axis=1) & ~left.all(axis=1))
    t, side, left, ids = t[crossed], side[crossed], left[crossed], ids[crossed]
    follows = np.roll(left, -1, axis=1)
    first = _on_side(mesh, ids, t, side, np.argmax(~left & follows, axis=1))
    second = _on_side(mesh, ids, t, side, np.argmax(left & ~follows, axis=1))
    return _assembled((first, second), piece[crossed], length[crossed], measure)


def _on_side(mesh: Mesh, ids: I64, t: F64, side: F64, corner: I64) -> tuple[F64, F64, I64]:
    """Where the side from ``corner`` to the next one passes the sheet: t, z and a name (the mesh edge).

    Worked out from the lower vertex number to the higher, so both triangles at the edge get the same point.
    """
    rows = np.arange(len(ids))
    a, b = corner, (corner + 1) % 3
    flip = ids[rows, a] > ids[rows, b]
    a, b = np.where(flip, b, a), np.where(flip, a, b)
    low, high = ids[rows, a], ids[rows, b]
    f = side[rows, a] / (side[rows, a] - side[rows, b])
    z = mesh.vertices[low, 2] + f * (mesh.vertices[high, 2] - mesh.vertices[low, 2])
    return t[rows, a] + f * (t[rows, b] - t[rows, a]), z, low * len(mesh.vertices) + high


def _assembled(
    ends: tuple[tuple[F64, F64, I64], tuple[F64, F64, I64]], piece: I64, length: F64, measure: F64
) -> Section:
    """Clip the cuts to their pieces, and number their points."""
    t = np.column_stack([ends[0][0], ends[1][0]])
    inside = (t.max(axis=1) > 0) & (t.min(axis=1) < length)
    t, piece, length = t[inside], piece[inside], length[inside]
    z = np.column_stack([ends[0][1], ends[1][1]])[inside]
    edge = np.column_stack([ends[0][2], ends[1][2]])[inside]
    names = np.stack([np.repeat(piece[:, None], 2, axis=1), edge], axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (z[:, 1] - z[:, 0]) / (t[:, 1] - t[:, 0])
    for col in (0, 1):
        for mask, limit, post in ((t[:, col] <= 0, 0 * length, piece), (t[:, col] >= length, length, piece + 1)):
            row = np.flatnonzero(mask)
            z[row, col] += slope[row] * (limit[row] - t[row, col])
            t[row, col] = limit[row]
            onward = (col == 1) == (post[row] > piece[row])  # whether the outline runs with s here
            rank = _rank(post[row] * 2 + onward, z[row, col])
            names[row, col] = np.column_stack([-1 - post[row], rank * 2 + onward])
    s = measure[piece][:, None] + t / length[:, None] * (measure[piece + 1] - measure[piece])[:, None]
    return _closed(np.stack([s, z], axis=2), names, len(measure) - 1, measure)


def _rank(group: I64, value: F64) -> I64:
    """Place of every value within its group, in rising order, from 0."""
    order = np.lexsort((value, group))
    sorted_group = group[order]
    first = np.flatnonzero(np.r_[True, sorted_group[1:] != sorted_group[:-1]]) if len(group) else np.zeros(0, np.int64)
    size = np.diff(np.r_[first, len(group)])
    out = np.empty(len(group), np.int64)
    out[order] = np.arange(len(group)) - np.repeat(first, size)
    return out


def _closed(segments: F64, names: I64, pieces: int, measure: F64) -> Section:
    """Close the material at both upright ends of the sheet, from where it begins to where it ends."""
    extra, extra_names = [], []
    for post, upward in ((0, False), (pieces, True)):
        at_end = names[:, :, 0] == -1 - post
        arriving, leaving = (np.flatnonzero(at_end[:, k]) for k in (1, 0))
        arriving = arriving[np.argsort(segments[arriving, 1, 1])]
        leaving = leaving[np.argsort(segments[leaving, 0, 1])]
        count = min(len(arriving), len(leaving))
        pair = np.stack([segments[arriving[:count], 1], segments[leaving[:count], 0]], axis=1)
        good = (pair[:, 1, 1] >= pair[:, 0, 1]) == upward
        extra.append(pair[good])
        extra_names.append(np.stack([names[arriving[:count], 1], names[leaving[:count], 0]], axis=1)[good])
    segments = np.concatenate([segments, *extra])
    named = np.concatenate([names, *extra_names]).reshape(-1, 2)
    _, number = np.unique(named, axis=0, return_inverse=True)
    numbers = number.reshape(-1, 2).astype(np.int64)
    for array in (segments, numbers):
        frozen(array)
    return Section(segments, numbers, (float(measure[0]), float(measure[-1])))


def _chained(names: I64) -> list[I64]:
    """Segment numbers of every closed line; a line that breaks off (an open mesh) is taken as it is."""
    waiting: dict[int, list[int]] = {}
    for i, name in enumerate(names[:, 0].tolist()):
        waiting.setdefault(name, []).append(i)
    has_before = np.isin(names[:, 0], names[:, 1])
    ends = names[:, 1].tolist()
    used = np.zeros(len(names), np.bool_)
    out: list[I64] = []
    for i in np.r_[np.flatnonzero(~has_before), np.flatnonzero(has_before)].tolist():
        run: list[int] = []
        at = i
        while not used[at]:
            used[at] = True
            run.append(at)
            follow = waiting.get(ends[at], [])
            at = next((j for j in follow if not used[j]), at)
        if run:
            out.append(np.array(run, np.int64))
    return out
