"""The edges that can be picked, with what is known of each before anything is clicked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.geometry.chains import Chain, FeatureGraph
from core.geometry.columns import Columns
from core.geometry.mesh import F64, I64
from core.geometry.part import Part
from core.geometry.pose import Pose

#: How far beside and how far below an edge the looks downward start, mm: at its rim, then where a fin would stand.
BESIDE, BELOW = (0.05, 0.4, 0.8), 0.03
#: Only so many of the longest chains are looked at; a noisy surface has hundreds of thousands of tiny ones.
MOST = 20_000


@dataclass(frozen=True, eq=False)
class EdgeIndex:
    """Feature edges and their chains in one print pose. Lengths mm, heights above the bed.

    ``edges`` (f, 2) vertex ids; ``chain_of`` (f,) chain numbers; per chain ``length`` (c,), ``height`` (c,) of its
    lowest point, ``gap`` (c,) to what lies below the middle of its longest edge (inf when that is only the bed) and
    ``lower`` (c,) whether the part hangs over it.
    """

    graph: FeatureGraph
    chain_of: I64
    length: F64
    height: F64
    gap: F64
    lower: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @property
    def edges(self) -> np.ndarray[tuple[int, int], np.dtype[np.int32]]:
        """Vertex ids of the feature edges, (f, 2) int32."""
        return self.graph.topology.edges[self.graph.ids]

    def chain(self, feature: int) -> Chain:
        """The ordered chain through feature edge number ``feature``."""
        return self.graph.grow(int(self.graph.ids[feature]))


def edge_index(part: Part, pose: Pose) -> EdgeIndex:
    """Everything that a person may click as an edge, in the print pose; an empty index where there is nothing."""
    graph = FeatureGraph.of(part.topology)
    points = pose.apply(part.mesh.vertices)
    edges = part.topology.edges[graph.ids]
    chain_of = graph.chain_of if len(graph.ids) else np.zeros(0, np.int64)
    count = int(chain_of.max()) + 1 if len(chain_of) else 0
    ends = points[edges]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    height = np.full(count, np.inf)
    np.minimum.at(height, chain_of, ends[:, :, 2].min(axis=1))
    longest = np.zeros(count, np.int64)
    order = np.argsort(length, kind="stable")
    longest[chain_of[order]] = order
    gap, lower = _gap_below(part, pose, ends[longest])
    along = np.bincount(chain_of, length, count).astype(np.float64)
    return EdgeIndex(graph, chain_of, along, height, gap, lower)


def _gap_below(part: Part, pose: Pose, ends: F64) -> tuple[F64, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Distance from the middle of each chain's longest edge down to what lies below; whether the part hangs there."""
    middle = ends.mean(axis=1)
    gap = np.full(len(middle), np.inf)
    lower = np.zeros(len(middle), np.bool_)
    if not len(middle):
        return gap, lower
    step = ends[:, 1, :2] - ends[:, 0, :2]
    length = np.linalg.norm(step, axis=1)
    flat = np.flatnonzero(length > 1e-6)
    flat = flat[np.argsort(-length[flat], kind="stable")[:MOST]]
    across = np.column_stack([-step[flat, 1], step[flat, 0]]) / length[flat, None]
    mesh = part.mesh.moved(pose.matrix)
    if not len(flat):
        return gap, lower
    looks = middle[flat, :2]
    columns = Columns.over(mesh, looks.min(axis=0) - 1, looks.max(axis=0) + 1)  # 1 mm: more than any look is beside
    z = middle[flat, 2]
    for offset in (sign * b for b in BESIDE for sign in (-1, 1)):
        floor, ceiling = columns.air_around(middle[flat, :2] + offset * across, z - BELOW)
        hangs = np.isfinite(ceiling) & (ceiling - z < 0.1 + abs(offset))
        below = np.where(np.isfinite(floor), z - floor, np.inf)
        better = hangs & (below < gap[flat])
        gap[flat[better]] = below[better]
        lower[flat[hangs]] = True
    return gap, lower
