"""Cracks: borders of a mesh that lie so near to each other that they were meant to be one edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.mesh import I32, I64
from core.geometry.topology import Topology

STEPS: Final = (0.001, 0.003, 0.01, 0.03, 0.1)
"""Distances, mm, that are tried one after the other; the widest is a quarter of a printed line and far below what
holds two parts apart on purpose. From memory."""

_ENOUGH: Final = 0.9
"""The first step is taken that closes this share of what the widest would close."""


@dataclass(frozen=True, eq=False)
class Crack:
    """Edges that would close when border vertices within ``within`` mm are joined: their number, and all of them."""

    within: float
    closed: int
    edges: I32


def crack(topology: Topology) -> Crack | None:
    """The cracks of a mesh (mm) that joining could close; None without any."""
    borders = topology.edges[topology.borders]
    if not len(borders):
        return None
    closing = []
    for within in STEPS:
        new = join_map(topology, within)
        closing.append(_closed(borders, new) if new is not None else np.zeros(len(borders), np.bool_))
    best = max(int(c.sum()) for c in closing)
    if not best:
        return None
    step = next(i for i, c in enumerate(closing) if c.sum() >= _ENOUGH * best)
    return Crack(STEPS[step], int(closing[step].sum()), borders[closing[step]])


def join_map(topology: Topology, within: float) -> I64 | None:
    """For every vertex the one that takes its place when border vertices within ``within`` mm are joined.

    The nearest pairs come first; vertices that an edge joins stay apart, so no facet collapses. None if all stay.
    """
    ids = np.unique(topology.edges[topology.borders]).astype(np.int64)
    points = topology.mesh.vertices[ids]
    pairs = cKDTree(points).query_pairs(within, output_type="ndarray") if len(ids) else np.zeros((0, 2), np.int64)
    if not len(pairs):
        return None
    distance = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    pairs = ids[pairs[np.lexsort((pairs[:, 1], pairs[:, 0], distance))]]
    return _united(topology, ids, pairs)


def _united(topology: Topology, ids: I64, pairs: I64) -> I64:
    """Join pairs in order, unless that brought the two ends of an edge together."""
    member = np.zeros(len(topology.mesh.vertices), np.bool_)
    member[ids] = True
    near = topology.edges[member[topology.edges].all(axis=1)]
    beside: dict[int, set[int]] = {int(i): set() for i in ids}
    for a, b in near.tolist():
        beside[a].add(b)
        beside[b].add(a)
    group = {int(i): {int(i)} for i in ids}
    for a, b in pairs.tolist():
        one, other = group[a], group[b]
        if one is other or any(beside[v] & other for v in one):
            continue
        small, large = sorted((one, other), key=len)
        large |= small
        for v in small:
            group[v] = large
    out = np.arange(len(topology.mesh.vertices), dtype=np.int64)
    for v, members in group.items():
        out[v] = min(members)
    return out


def _closed(borders: I32, new: I64) -> np.ndarray:
    """Border edges (e,) that meet an opposite one, and only one, once vertices are replaced."""
    ends = new[borders]
    forward, backward = ends[:, 0] * len(new) + ends[:, 1], ends[:, 1] * len(new) + ends[:, 0]
    keys, counts = np.unique(forward, return_counts=True)
    at = np.minimum(np.searchsorted(keys, backward), len(keys) - 1)
    mine = counts[np.searchsorted(keys, forward)]
    return np.asarray((keys[at] == backward) & (counts[at] == 1) & (mine == 1))
