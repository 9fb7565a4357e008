"""Edge chains grow along their feature and stop at corners."""

import numpy as np
import pytest

from core.errors import MeshProblem
from core.geometry.chains import FeatureGraph, cut_back, feature_chains
from core.geometry.topology import Topology
from tests import meshes


def graph_of(mesh: object) -> FeatureGraph:
    return FeatureGraph.of(Topology.of(mesh))


def test_a_box_has_twelve_chains_of_one_edge() -> None:
    chains = feature_chains(graph_of(meshes.box()))
    assert len(chains) == 12
    assert sorted(round(c.polyline(meshes.box().vertices).length) for c, _ in chains) == [10] * 4 + [20] * 4 + [30] * 4


def test_the_rims_of_a_cylinder_are_closed_rings() -> None:
    mesh = meshes.revolved([(0, 0), (8, 0), (8, 20), (0, 20)], 48)
    chains = feature_chains(graph_of(mesh))
    assert [(c.closed, len(c.vertices)) for c, _ in chains] == [(True, 48), (True, 48)]
    # Perimeter of a regular polygon: 2 n R sin(π/n).
    assert chains[0][0].polyline(mesh.vertices).length == pytest.approx(2 * 48 * 8 * np.sin(np.pi / 48))


def test_every_edge_belongs_to_one_chain_and_grows_the_same_from_any_of_its_edges() -> None:
    graph = graph_of(meshes.arch())
    chains = feature_chains(graph)
    ids = np.concatenate([e for _, e in chains])
    assert sorted(ids.tolist()) == graph.ids.tolist()
    for chain, edges in chains:
        for edge in edges[:: max(len(edges) // 3, 1)]:
            assert set(graph.grow(int(edge)).vertices) == set(chain.vertices)


def test_a_chain_can_be_carried_on_past_a_corner_and_cut_back() -> None:
    mesh = meshes.box()
    graph = graph_of(mesh)
    chain = graph.grow(int(graph.ids[0]))
    longer = graph.extend(chain, at_end=True)
    assert len(longer.vertices) == 3
    assert longer.vertices[:2] == chain.vertices
    assert cut_back(longer, 0, 1).vertices == chain.vertices
    with pytest.raises(MeshProblem):
        cut_back(longer, 1, 1)


def test_no_such_edge_is_a_sentence() -> None:
    with pytest.raises(MeshProblem, match="no such edge"):
        graph_of(meshes.box()).grow(10_000)
