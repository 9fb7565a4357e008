"""What stands in a gap: the pieces of material that a surface half way between ledge and edge cuts.

The surface follows ledge and edge, so it works where the gap grows and where the edge runs up or down. It is cut
through the mesh itself, triangle by triangle; cuts that share a mesh edge belong together. Shells are never counted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from core.design.ledge import WIDEST_TOOTH
from core.design.span_section import NearSpan
from core.geometry.mesh import F64, I64, Bool

#: Height of the cutting surface as a share of the gap. Not one half, where a kink of a tooth may well lie.
LEVEL: Final = 0.47
#: Something must reach this far into the strip to count as standing in it, mm; from memory.
_INTO_STRIP: Final = 0.05


@dataclass(frozen=True, eq=False)
class Standing:
    """One thing that stands in the gap. ``s`` and ``v`` are its extents along and across the span, mm, at the cut.

    ``middle`` (2,) plan point of its middle, gap frame; ``width`` and ``thickness`` its extents square to each other
    there; ``cut`` the numbers of the mesh's triangles that the surface cuts. A ``wall`` is too wide to be a tooth or
    stands past an end of the span; its ``s`` is what it takes of the span.
    """

    s: tuple[float, float]
    v: tuple[float, float]
    middle: F64
    width: float
    thickness: float
    cut: I64
    wall: bool = False

    @property
    def centre(self) -> float:
        """Arc length of the middle, mm."""
        return (self.s[0] + self.s[1]) / 2


def standing_in(near: NearSpan) -> list[Standing]:
    """What stands in the span, teeth and walls, in the order of arc length."""
    mesh, span = near.mesh, near.span
    s, _ = near.along_across(mesh.vertices[:, :2])
    at = span.at(s)
    low, high = at.ledge.max(axis=1), at.edge.min(axis=1)
    side = mesh.vertices[:, 2] - (low + LEVEL * (high - low))
    above = side >= 0
    tri = mesh.triangles
    hit = np.flatnonzero(above[tri].any(axis=1) & ~above[tri].all(axis=1))
    if not len(hit):
        return []
    points, names = _cuts(mesh.vertices[:, :2], tri[hit].astype(np.int64), side, above)
    out = []
    for members in _joined(names):
        found = _one(near, points[members], near.triangles[hit[members]])
        if found is not None:
            out.append(found)
    return _merged(sorted(out, key=lambda b: b.s[0]))


def _cuts(plan: F64, ids: I64, side: F64, above: Bool) -> tuple[F64, I64]:
    """Where the surface cuts the triangles ``ids`` (h, 3): plan points (h, 2, 2), solid left, and edge names (h, 2)."""
    up = above[ids]
    follows = np.roll(up, -1, axis=1)
    points, names = [], []
    rows = np.arange(len(ids))
    for corner in (np.argmax(up & ~follows, axis=1), np.argmax(~up & follows, axis=1)):
        a, b = ids[rows, corner], ids[rows, (corner + 1) % 3]
        low, high = np.minimum(a, b), np.maximum(a, b)
        t = side[low] / (side[low] - side[high])
        points.append(plan[low] + t[:, None] * (plan[high] - plan[low]))
        names.append(low * len(plan) + high)
    return np.stack(points, axis=1), np.column_stack(names)


def _joined(names: I64) -> list[I64]:
    """Numbers of the cuts that hang together by shared mesh edges, one array a piece."""
    _, index = np.unique(names, return_inverse=True)
    index = index.reshape(-1, 2)
    n = int(index.max()) + 1
    graph = coo_array((np.ones(len(index), np.int8), (index[:, 0], index[:, 1])), shape=(n, n))
    count, label = connected_components(graph.tocsr(), directed=False)
    piece = label[index[:, 0]]
    order = np.argsort(piece, kind="stable")
    return list(np.split(order, np.cumsum(np.bincount(piece, minlength=count))[:-1]))


def _one(near: NearSpan, cuts: F64, triangles: I64) -> Standing | None:
    """The thing outlined by ``cuts`` (k, 2, 2), or None when it is a hole, too wide, or not in the strip."""
    span = near.span
    area = float((cuts[:, 0, 0] * cuts[:, 1, 1] - cuts[:, 0, 1] * cuts[:, 1, 0]).sum()) / 2
    extent = np.ptp(cuts.reshape(-1, 2), axis=0)
    if area <= 0:
        return None
    if float(np.hypot(*extent)) > 2 * WIDEST_TOOTH:
        return _wall(near, cuts, triangles)
    points = cuts.reshape(-1, 2)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    s_mid, _ = near.along_across(middle[None])
    here = span.at(s_mid)
    across = here.across[0]
    along = np.array([across[1], -across[0]])
    ahead = (span.at(here.s + 0.05).axis - span.at(here.s - 0.05).axis)[0]  # beyond an end, s_mid would not move
    along = along if along @ ahead >= 0 else -along
    u, v = (points - here.axis[0]) @ along, (points - here.axis[0]) @ across
    width, thickness = float(np.ptp(u)), float(np.ptp(v))
    lo, hi = float(here.lo[0]), float(here.hi[0])
    beside = v.max() < lo + _INTO_STRIP or v.min() > hi - _INTO_STRIP
    centre = float(here.s[0]) + float(u.min() + u.max()) / 2  # here lies within the span, the thing perhaps not
    off_end = not span.closed and not 0 <= centre <= span.length
    if beside:
        return None
    if width > WIDEST_TOOTH or off_end:
        return _wall(near, cuts, triangles)
    middle = here.axis[0] + along * (u.min() + u.max()) / 2 + across * (v.min() + v.max()) / 2
    return Standing(
        (centre - width / 2, centre + width / 2), (float(v.min()), float(v.max())), middle, width, thickness, triangles
    )


def _wall(near: NearSpan, cuts: F64, triangles: I64) -> Standing | None:
    """What a large outline takes of an end of the span, found along the middle of its strip; None when nothing."""
    span = near.span
    st = span.stations
    middle = st.axis + st.across * ((st.lo + st.hi) / 2)[:, None]
    inside = _within(cuts, middle)
    if span.closed or not inside.any() or inside.all():
        return None
    s = st.s[inside]
    start, stop = float(s.min()), float(s.max())
    if stop - start > float(np.diff(st.s).max()) * (inside.sum() + 1):
        return None  # it takes both ends, or pieces in between: not one wall
    v = float(st.lo.min()), float(st.hi.max())
    return Standing((start, stop), v, middle[inside][0], stop - start, 0.0, triangles, wall=True)


def _within(cuts: F64, points: F64) -> Bool:
    """Whether plan points (k, 2) lie inside the closed line made of ``cuts`` (n, 2, 2): crossings of a ray, counted."""
    (ax, ay), (bx, by) = cuts[:, 0].T, cuts[:, 1].T
    x, y = points[:, 0, None], points[:, 1, None]
    spans = (ay <= y) != (by <= y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = ax + (y - ay) / (by - ay) * (bx - ax)
    return np.asarray((spans & (at > x)).sum(axis=1) % 2 == 1)


def _merged(things: list[Standing]) -> list[Standing]:
    """Things that overlap along the span taken together: shells lapped in one tooth."""
    out: list[Standing] = []
    for thing in things:
        if out and thing.s[0] < out[-1].s[1] and not thing.wall and not out[-1].wall:
            out[-1] = _both(out[-1], thing)
        else:
            out.append(thing)
    return out


def _both(a: Standing, b: Standing) -> Standing:
    s = (min(a.s[0], b.s[0]), max(a.s[1], b.s[1]))
    v = (min(a.v[0], b.v[0]), max(a.v[1], b.v[1]))
    bigger = a if a.width * a.thickness >= b.width * b.thickness else b
    return Standing(s, v, bigger.middle, s[1] - s[0], v[1] - v[0], np.concatenate([a.cut, b.cut]))
