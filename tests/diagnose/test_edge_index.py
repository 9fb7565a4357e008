"""The edges that can be picked, and what is known of each: by the figures of parts built for it, and by plain looks."""

from __future__ import annotations

import numpy as np
import pytest

from core.diagnose import edge_index as module
from core.diagnose.edge_index import edge_index
from core.geometry.columns import Columns
from core.geometry.mesh import joined
from core.geometry.part import Part
from core.geometry.pose import as_filed
from tests import meshes


def test_the_gap_below_a_bar_is_the_one_it_was_built_with():
    bar = meshes.bar_over_ledge(60, 1.2)
    found = edge_index(Part("bar", bar.mesh), as_filed(bar.mesh))
    middle = bar.mesh.vertices[found.edges].mean(axis=1)
    under = np.linalg.norm(middle - np.mean(bar.edge, axis=0), axis=1).argmin()
    chain = found.chain_of[under]
    assert found.lower[chain]
    assert found.gap[chain] == pytest.approx(1.2)


@pytest.mark.parametrize("name", ["bar and torus", "stairs", "arch", "comb"])
def test_columns_near_the_edges_tell_the_same_as_columns_over_the_whole_part(name, monkeypatch):
    ring = meshes.torus()
    ring = ring.moved(np.array([[1, 0, 0, 0], [0, 1, 0, 120], [0, 0, 1, 5], [0, 0, 0, 1.0]]))
    mesh = {
        "bar and torus": joined([meshes.bar_over_ledge(60, 1.2).mesh, ring]),
        "stairs": meshes.stepped_pyramid(upside_down=True),
        "arch": meshes.arch(),
        "comb": meshes.comb(5, 4.0).mesh,
    }[name]
    part = Part(name, mesh)
    near = edge_index(part, as_filed(mesh))

    class Whole(Columns):
        @classmethod
        def over(cls, mesh, low, high):
            return Columns.over(mesh, mesh.bounds[0, :2] - 1, mesh.bounds[1, :2] + 1)

    monkeypatch.setattr(module, "Columns", Whole)
    whole = edge_index(part, as_filed(mesh))
    np.testing.assert_allclose(near.gap, whole.gap)
    np.testing.assert_array_equal(near.lower, whole.lower)
    assert near.lower.any()


def test_a_part_without_edges():
    ring = meshes.torus()
    found = edge_index(Part("ring", ring), as_filed(ring))
    assert not len(found.length)
