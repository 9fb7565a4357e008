"""Sections that repeat: the ones that are shared must be what trimesh cuts there."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from core.geometry.mesh import Mesh, joined
from core.geometry.pose import about_z
from core.geometry.repeats import repeated_sections
from core.geometry.slicing import slice_layers
from core.geometry.topology import Topology
from tests.meshes import ball, box, open_box, stepped_pyramid

HEIGHTS = np.arange(0.1, 30, 0.2)
#: Place and size of a box, mm.
BOXES = st.tuples(*[st.integers(0, 12)] * 3, *[st.integers(1, 8)] * 3)


def shared(mesh: Mesh, heights: np.ndarray = HEIGHTS, tolerance: float = 0.001) -> np.ndarray:
    return repeated_sections(Topology.of(mesh), heights, tolerance)


def leaning_box(lean: float) -> Mesh:
    """A box of 10 × 20 × 30 whose top is moved aside by ``lean`` mm."""
    mesh = box()
    return Mesh(mesh.vertices + mesh.vertices[:, 2:] / 30 * [lean, 0, 0], mesh.triangles)


def test_every_layer_of_a_box_is_its_first() -> None:
    assert (shared(box()) == 0).all()


def test_a_leaning_wall_repeats_only_while_its_whole_lean_is_rounding() -> None:
    assert (shared(leaning_box(5e-5)) == 0).all()
    for lean in (5e-3, 0.5, 20.0):
        assert (shared(leaning_box(lean)) == np.arange(len(HEIGHTS))).all()


def test_something_leaning_beside_an_upright_body_makes_only_its_own_layers_new() -> None:
    knob = ball(2.0)
    knob = Mesh(knob.vertices + np.float64([30, 0, 10 - knob.bounds[0, 2]]), knob.triangles)
    found = shared(joined([box(), knob]))
    below, above = HEIGHTS < 10, HEIGHTS > 14
    assert (found[below] == 0).all()
    assert (found[above] == np.flatnonzero(above)[0]).all()
    assert (found[~below & ~above] == np.flatnonzero(~below & ~above)).all()


def test_layers_of_a_stepped_pyramid_repeat_within_its_steps() -> None:
    found = shared(stepped_pyramid(), np.arange(0.1, 16, 0.2))
    assert len(np.unique(found)) == 4 + 3  # three of the four steps also reach into the one below


def test_an_open_mesh_is_cut_everywhere_and_nothing_is_shared_without_tolerance() -> None:
    every = np.arange(len(HEIGHTS))
    assert (shared(open_box()) == every).all()
    assert (shared(box(), tolerance=0.0) == every).all()


@settings(max_examples=15, deadline=None)
@given(st.lists(BOXES, min_size=1, max_size=5), st.floats(0, 90))
def test_shared_sections_are_what_trimesh_cuts(boxes: list[tuple[int, ...]], turn: float) -> None:
    parts = [box((3 * i * 20, y, z), (3 * i * 20 + w, y + d, z + h)) for i, (_, y, z, w, d, h) in enumerate(boxes)]
    mesh = joined(parts)
    mesh = Mesh(mesh.vertices @ about_z(turn)[:3, :3].T, mesh.triangles)
    heights = np.arange(mesh.bounds[0, 2] + 0.1, mesh.bounds[1, 2], 0.2)
    layers = slice_layers(mesh, heights)
    assert len(np.unique(layers.same_as)) < len(heights)
    plain = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    sections = plain.section_multiplane([0, 0, 0], [0, 0, 1], heights)
    assert layers.areas == pytest.approx([0.0 if s is None else s.area for s in sections], rel=1e-4)
    for i, same in enumerate(layers.same_as):
        assert layers.regions[i] is layers.regions[same]
