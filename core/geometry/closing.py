"""Lines that an open mesh leaves open: which ends are joined, which are not, and what is said about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from core.geometry.contours import Index, runs
from core.geometry.mesh import F64, I32

#: Loose ends nearer than this are joined. mm; a crack between two badly joined surfaces is narrower, two walls are not
#: nearer to each other than the narrowest printable line is wide, so nothing separate is joined. From memory.
JOIN_GAP = 0.4
#: Farther ends are joined, nearest first, when the gap is at most this share of the lines it joins: one side of a box
#: may be missing (a third), not half of a pipe (0.64). From memory.
JOIN_SHARE = 0.35
#: Ends looked at when a loose end seeks its partner.
_NEAREST = 8


@dataclass(frozen=True, eq=False)
class Joins:
    """What was done about loose ends: the links to add, the widest gap closed and the loose ends left over.

    ``tails`` (j,) and ``heads`` (j,) are links; ``gaps`` (j,) mm between them. ``loose`` holds tails without a partner.
    """

    tails: Index
    heads: Index
    gaps: F64
    loose: Index


def joins(following: I32, begin: F64, end: F64, owner: Index) -> Joins:
    """Find partners for loose ends. −1 in ``following`` (n,) marks a tail; a link that nobody names is a head.

    ``begin``, ``end`` (n, 2): where each link starts and stops, mm; ``owner`` (n,): only ends of one owner are joined.
    First the nearest tail and head within JOIN_GAP, then by JOIN_SHARE, nearest first, a chain also with itself.
    """
    tails = np.flatnonzero(following < 0)
    named = np.zeros(len(following), np.bool_)
    named[following[following >= 0]] = True
    heads = np.flatnonzero(~named)
    stop, start = _Ends(end[tails], owner[tails], tails), _Ends(begin[heads], owner[heads], heads)
    near_t, near_h, near_d = _nearest(stop, start)
    tail_1, head_1 = tails[near_t], heads[near_h]
    follow = following.copy()
    follow[tail_1] = head_1
    count, chain = runs(follow)
    length = np.bincount(chain, weights=np.hypot(*(end - begin).T), minlength=count).astype(np.float64)
    stop, start = stop.without(near_t), start.without(near_h)
    far_t, far_h, far_d = _by_share(stop, start, chain, length)
    return Joins(
        np.concatenate([tail_1, stop.link[far_t]]),
        np.concatenate([head_1, start.link[far_h]]),
        np.concatenate([near_d, far_d]),
        np.delete(stop.link, far_t),
    )


@dataclass(frozen=True, eq=False)
class _Ends:
    """Loose ends: where they are (n, 2) mm, whose they are and which link each belongs to."""

    point: F64
    owner: Index
    link: Index

    def without(self, some: Index) -> _Ends:
        return _Ends(np.delete(self.point, some, axis=0), np.delete(self.owner, some), np.delete(self.link, some))


def _nearest(tails: _Ends, heads: _Ends) -> tuple[Index, Index, F64]:
    """Tails and heads of one owner that are nearest to each other within JOIN_GAP, and their distances."""
    distance, head = _partners(tails, heads, 1, JOIN_GAP)
    tail = np.flatnonzero(np.isfinite(distance[:, 0]))
    tail = tail[np.argsort(distance[tail, 0], kind="stable")]
    _, first = np.unique(head[tail, 0], return_index=True)
    tail = tail[first]
    return tail, head[tail, 0], distance[tail, 0]


def _by_share(tails: _Ends, heads: _Ends, chain: I32, length: F64) -> tuple[Index, Index, F64]:
    """Tails and heads of one owner that JOIN_SHARE allows, nearest first, and their distances.

    ``chain`` of every link, ``length`` of every chain, mm; chains that are joined count together from then on.
    """
    distance, head = _partners(tails, heads, _NEAREST, np.inf)
    tail, rank = np.nonzero(np.isfinite(distance))
    value, partner = distance[tail, rank], head[tail, rank]
    tail_chain, head_chain = chain[tails.link[tail]].tolist(), chain[heads.link[partner]].tolist()
    group, total = list(range(len(length))), length.tolist()
    used_tails: set[int] = set()
    used_heads: set[int] = set()
    kept = []
    for i in np.argsort(value, kind="stable").tolist():
        if int(tail[i]) in used_tails or int(partner[i]) in used_heads:
            continue
        a, b = _root(group, tail_chain[i]), _root(group, head_chain[i])
        together = total[a] if a == b else total[a] + total[b]
        if value[i] <= JOIN_SHARE * together:
            used_tails.add(int(tail[i]))
            used_heads.add(int(partner[i]))
            group[b], total[a] = a, together
            kept.append(i)
    pick = np.array(kept, np.intp)
    return tail[pick], partner[pick], value[pick]


def _root(group: list[int], member: int) -> int:
    while group[member] != member:
        group[member] = group[group[member]]
        member = group[member]
    return member


def _partners(tails: _Ends, heads: _Ends, most: int, reach: float) -> tuple[F64, Index]:
    """The nearest ``most`` heads of every tail within ``reach`` mm: distances (t, most), infinite for none; heads."""
    if not len(tails.link) or not len(heads.link):
        return np.full((len(tails.link), 1), np.inf), np.zeros((len(tails.link), 1), np.intp)
    # Owners are set apart by more than the whole picture, so a head of another owner is never among the near ones.
    apart = 2.0 * float(np.ptp(np.concatenate([tails.point, heads.point]), axis=0).sum()) + 1.0
    tree = cKDTree(np.column_stack([heads.point, heads.owner * apart]))
    places = np.column_stack([tails.point, tails.owner * apart])
    distance, head = tree.query(places, k=np.arange(1, most + 1), distance_upper_bound=min(reach, apart))
    return np.asarray(distance, np.float64), np.asarray(head, np.intp)


class Repairs:
    """Closes what an open mesh leaves open, and remembers what it did."""

    def __init__(self, heights: F64) -> None:
        self.heights = heights
        self.gap = np.full(len(heights), -1.0)
        self.loose = np.zeros(len(heights), np.int64)

    def close(self, following: I32, begin: F64, end: F64, layer: Index) -> tuple[I32, F64, Index, Index]:
        """Links with the loose ends joined; each join adds a link that starts where the tail stops.

        Returns the links, their beginnings, their layers, and the original link of each.
        """
        found = joins(following, begin, end, layer)
        np.maximum.at(self.gap, layer[found.tails], found.gaps)
        np.add.at(self.loose, layer[found.loose], 1)
        n = len(following)
        more = np.arange(n, n + len(found.tails), dtype=np.int32)
        links = np.concatenate([following, found.heads.astype(np.int32)])
        links[found.tails] = more
        back = np.concatenate([np.arange(n), found.tails])
        alone = _of_open_chains(links, found.loose)
        links[alone] = alone
        return links, np.concatenate([begin, end[found.tails]]), layer[back], back

    def notes(self) -> tuple[str, ...]:
        """What was done, in plain sentences."""
        out = []
        closed = np.flatnonzero(self.gap >= 0)
        if len(closed):
            out.append(
                f"The mesh is open: lines were closed in {counted(len(closed), 'layer')}, over gaps of up to "
                f"{self.gap.max():.2f} mm ({self._where(closed)})."
            )
        left = np.flatnonzero(self.loose)
        if len(left):
            out.append(
                f"The mesh is open and could not be closed in {counted(len(left), 'layer')} ({self._where(left)}); "
                "what is open there is left out of the layers."
            )
        return tuple(out)

    def _where(self, layers: Index) -> str:
        low, high = self.heights[layers[0]], self.heights[layers[-1]]
        return f"z {low:.2f} mm" if low == high else f"z {low:.2f} to {high:.2f} mm"


def _of_open_chains(links: I32, loose: Index) -> I32:
    """All links of the chains that end in the tails ``loose``."""
    n = len(links)
    before = np.full(n, -1, np.int32)
    known = links >= 0
    before[links[known]] = np.flatnonzero(known)
    at = before[loose]
    out: list[NDArray[np.integer]] = [loose]
    at = at[at >= 0]
    while len(at):
        out.append(at)
        at = before[at]
        at = at[at >= 0]
    return np.concatenate(out).astype(np.int32)


def counted(number: int, what: str) -> str:
    """A number with its noun: “1 layer”, “1,204 layers”."""
    return f"{number:,} {what}" + ("" if number == 1 else "s")
