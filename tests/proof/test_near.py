"""Sections near a span against manifold3d's own slices of the same solid."""

import manifold3d as m3
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.design.setup import PrintSetup
from core.geometry.mesh import Mesh, joined
from core.proof.near import Near, Window, sections_in


def as_mesh(solid):
    raw = solid.to_mesh64()
    return Mesh(np.asarray(raw.vert_properties)[:, :3], np.asarray(raw.tri_verts).astype(np.int32))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(0, 360), st.floats(-3, 3), st.floats(0.05, 0.95))
def test_agrees_with_slices_of_the_solid(turn, shift, share):
    knot = m3.Manifold.sphere(10, 48) - m3.Manifold.sphere(7, 32).translate((1, 0, 2))
    solid = (knot + m3.Manifold.cube((30, 3, 3)).translate((-15, -1, -2))).rotate((20, 30, 10))
    heights = np.array([-6.3, -0.71, 0.0, 2.2, 5.9]) + share
    window = Window(
        np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]),
        np.array([shift, 1.0]),
        np.array([3.0, 6]),
    )
    found = sections_in(as_mesh(solid), window, heights)
    frame = np.array([[-3, -6], [3, -6], [3, 6], [-3, 6]]) @ window.turn + window.origin
    for region, z in zip(found, heights, strict=True):
        expected = (solid.slice(float(z)) ^ m3.CrossSection([frame])).area()
        assert region.area == pytest.approx(expected, abs=1e-4)


def test_overlapping_shells_count_once_and_cavities_stay():
    outer, inner = m3.Manifold.cube((10, 10, 10)), m3.Manifold.cube((4, 4, 4)).translate((3, 3, 3))
    cavity = as_mesh(inner)
    mesh = joined(
        [as_mesh(outer), as_mesh(outer.translate((5, 0, 0))), Mesh(cavity.vertices, cavity.triangles[:, ::-1])]
    )
    window = Window(np.eye(2), np.array([7.5, 5.0]), np.array([20.0, 20]))
    (region,) = sections_in(mesh, window, np.array([5.0]))
    # 15 × 10 united; the cavity 3..7 lies half in the second box (5..15), which fills it there: 2 × 4 stay empty
    assert region.area == pytest.approx(150 - 8, abs=1e-6)


def test_layers_are_those_of_the_printer(bench):
    b = bench(setup=PrintSetup(layer_height=0.3, first_layer=0.2))
    mesh, span, _, _ = b.measured()
    numbers, heights = Near(mesh, span, b.setup).layers
    # first layer 0.2, then 0.3 each: middles at 0.2 + 0.3 (n − 1/2)
    np.testing.assert_allclose(heights, 0.2 + 0.3 * (numbers - 0.5))
    assert heights[0] < b.ledge - 0.3
    assert heights[-1] > b.ledge + b.gap + 0.3


def test_the_window_holds_span_and_neighbours(bench):
    mesh, span, _, _ = bench().measured()
    near = Near(mesh, span, PrintSetup())
    assert sorted(2 * near.window.half) == pytest.approx([1.2 + 6, 40 + 6], abs=0.5)
    at_gap = int(np.argmin(np.abs(near.layers[1] - 6.5)))
    assert near.printed[at_gap].area == pytest.approx(2 * 2 * 7.2, rel=0.08)  # only the two posts, cut by the window
