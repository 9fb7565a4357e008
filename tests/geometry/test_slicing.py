"""Layers against trimesh's sections, manifold3d's slices and closed forms."""

from __future__ import annotations

import os
from functools import reduce
from itertools import pairwise

import hypothesis.strategies as st
import manifold3d
import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from pyvista import examples as pv_examples

from core.errors import BadValue
from core.geometry.contours import Contours, ordered, thinned
from core.geometry.mesh import Mesh, joined
from core.geometry.pose import about_z
from core.geometry.slicing import slice_layers
from core.geometry.topology import Topology


def mesh_of(shape: trimesh.Trimesh) -> Mesh:
    return Mesh(np.array(shape.vertices), np.array(shape.faces, np.int32))


def inside_out(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices, mesh.triangles[:, [0, 2, 1]])


def even_odd_area(lines: list[np.ndarray]) -> float:
    """Area between nested outlines, by shapely alone."""
    return float(reduce(shapely.symmetric_difference, [shapely.Polygon(line) for line in lines]).area)


def shifted(mesh: Mesh, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> Mesh:
    return Mesh(mesh.vertices + np.array([x, y, z]), mesh.triangles)


BOX = mesh_of(trimesh.creation.box((20, 20, 20)))
CUBE = mesh_of(trimesh.creation.box((10, 10, 10)))
BALL = mesh_of(trimesh.creation.icosphere(subdivisions=4, radius=8.0))
TORUS = mesh_of(trimesh.creation.torus(10.0, 4.0, major_sections=96, minor_sections=48))
STEP = 0.2
HEIGHTS = np.arange(-9.9, 10.0, STEP)


def volume(mesh: Mesh, heights: np.ndarray = HEIGHTS) -> float:
    return float(slice_layers(mesh, heights).areas.sum() * STEP)


# --- areas against other programs ------------------------------------------------------------------------------------


@pytest.mark.parametrize("mesh", [BALL, TORUS, BOX], ids=["ball", "torus", "box"])
def test_areas_equal_trimesh_sections_and_manifold_slices(mesh: Mesh) -> None:
    heights = np.linspace(mesh.bounds[0, 2] + 0.111, mesh.bounds[1, 2] - 0.133, 9)
    ours = slice_layers(mesh, heights, tolerance=0.0).areas
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    sections = other.section_multiplane([0, 0, 0], [0, 0, 1], heights)
    assert ours == pytest.approx([even_odd_area(s.discrete) for s in sections], rel=1e-6)
    solid = manifold3d.Manifold(manifold3d.Mesh64(mesh.vertices.copy(), mesh.triangles.astype(np.uint64)))
    assert ours == pytest.approx([solid.slice(h).area() for h in heights], rel=1e-6)


def test_thinning_keeps_areas_within_its_tolerance() -> None:
    ball = mesh_of(trimesh.creation.icosphere(subdivisions=6, radius=8.0))
    exact, thin = (slice_layers(ball, HEIGHTS[20:40], tolerance=t) for t in (0.0, 0.01))
    assert len(thin.contours.points) < 0.5 * len(exact.contours.points)
    for a, b in zip(exact.regions, thin.regions, strict=True):
        assert abs(a.area - b.area) <= 0.01 * a.perimeter


def test_layer_areas_times_height_approach_the_volume() -> None:
    # Midpoint rule: closed forms of the ball and the torus; the meshes are inscribed, hence compare with their volumes.
    for mesh, closed in ((BALL, 4 / 3 * np.pi * 8**3), (TORUS, 2 * np.pi**2 * 10 * 4**2)):
        assert volume(mesh) == pytest.approx(mesh.volume, rel=2e-3)
        assert volume(mesh) == pytest.approx(closed, rel=1e-2)


def test_contours_run_counter_clockwise_around_material_and_clockwise_around_holes() -> None:
    layers = slice_layers(TORUS, [0.0])
    assert sorted(np.sign(layers.contours.signed_areas())) == [-1, 1]
    assert [len(r.components()) for r in layers.regions] == [1]


# --- heights exactly at vertices -------------------------------------------------------------------------------------


def test_a_height_at_vertices_counts_them_as_just_above() -> None:
    bottom, inner, top = slice_layers(BOX, [-10.0, 0.0, 10.0]).areas
    assert (bottom, inner, top) == (0.0, pytest.approx(400), pytest.approx(400))


def test_heights_at_every_vertex_row_of_a_ball_give_closed_lines() -> None:
    rows = np.unique(BALL.vertices[:, 2])
    layers = slice_layers(BALL, rows[1:-1])
    assert not layers.notes
    nudged = slice_layers(BALL, rows[1:-1] - 1e-9)
    assert layers.areas == pytest.approx(nudged.areas, abs=1e-5)


def test_a_saddle_cut_exactly_at_its_point_is_closed() -> None:
    two = joined([shifted(BALL, -7.9), shifted(BALL, 7.9)])
    assert slice_layers(two, [0.0]).areas[0] == pytest.approx(slice_layers(two, [-1e-9]).areas[0], rel=1e-6)


# --- shells ----------------------------------------------------------------------------------------------------------


def test_overlapping_shells_are_united() -> None:
    assert volume(joined([BOX, shifted(CUBE, 10)])) == pytest.approx(8500)
    assert volume(joined([BOX, CUBE])) == pytest.approx(8000)


def test_a_cavity_stays_hollow() -> None:
    assert volume(joined([BOX, inside_out(CUBE)])) == pytest.approx(7000)
    assert slice_layers(joined([BOX, inside_out(CUBE)]), HEIGHTS).notes == ()


@pytest.mark.parametrize(
    ("mesh", "expected", "word"),
    [
        (inside_out(BOX), 8000, "whole mesh"),
        (inside_out(joined([BOX, inside_out(CUBE)])), 7000, "whole mesh"),
        (joined([BOX, inside_out(shifted(CUBE, 40))]), 9000, "1 shell"),
        (joined([BOX, *(inside_out(shifted(CUBE, x)) for x in (-40, 0, 40))]), 9000, "2 shells"),
    ],
    ids=["box", "box with cavity", "one of two", "two of four"],
)
def test_shells_inside_out_are_taken_as_solid_and_it_is_said(mesh: Mesh, expected: float, word: str) -> None:
    layers = slice_layers(mesh, HEIGHTS)
    assert layers.areas.sum() * STEP == pytest.approx(expected)
    assert len(layers.notes) == 1
    assert word in layers.notes[0]
    assert "inside out" in layers.notes[0]


def test_facets_that_disagree_with_their_neighbours_are_turned() -> None:
    flip = np.random.default_rng(3).random(len(BALL.triangles)) < 0.3
    triangles = BALL.triangles.copy()
    triangles[flip] = triangles[flip][:, [0, 2, 1]]
    layers = slice_layers(Mesh(BALL.vertices, triangles), HEIGHTS)
    assert layers.areas == pytest.approx(slice_layers(BALL, HEIGHTS).areas, abs=1e-6)
    assert f"{int(flip.sum()):,} facets" in layers.notes[0]


# --- open and bad meshes ---------------------------------------------------------------------------------------------


def test_a_box_without_one_facet_is_closed_straight_and_it_is_said() -> None:
    whole = slice_layers(BOX, HEIGHTS).areas
    for missing in range(12):
        layers = slice_layers(Mesh(BOX.vertices, np.delete(BOX.triangles, missing, axis=0)), HEIGHTS)
        assert layers.areas == pytest.approx(whole)
        level = np.ptp(BOX.vertices[BOX.triangles[missing], 2]) == 0
        assert level or "open" in layers.notes[0]


def test_a_mesh_full_of_pinholes_still_fills() -> None:
    some = np.random.default_rng(5).random(len(BALL.triangles)) > 0.03
    layers = slice_layers(Mesh(BALL.vertices, BALL.triangles[some]), HEIGHTS)
    assert layers.areas.sum() * STEP == pytest.approx(BALL.volume, rel=2e-3)
    assert "closed in" in layers.notes[0]


def test_half_a_pipe_cannot_be_closed_and_it_is_said() -> None:
    pipe = mesh_of(trimesh.creation.cylinder(8.0, 20.0))
    half = pipe.triangles[pipe.corners[:, :, 0].max(axis=1) < 0.1]
    layers = slice_layers(Mesh(pipe.vertices, half), HEIGHTS)
    assert layers.areas.max() == 0
    assert layers.open_layers.all()
    assert "could not be closed" in layers.notes[0]


def test_unwelded_facets_are_linked_all_the_same() -> None:
    loose = Mesh(BALL.corners.reshape(-1, 3), np.arange(3 * len(BALL.triangles)).reshape(-1, 3))
    ours, whole = (slice_layers(m, HEIGHTS, tolerance=0.0).areas for m in (loose, BALL))
    assert ours == pytest.approx(whole, abs=1e-5)


def test_a_self_crossing_mesh_fills_by_winding_number() -> None:
    # A bar whose ends are twisted by half a turn crosses itself; in its lower half the outline runs the right way.
    bar = trimesh.creation.box((10, 10, 20))
    bar = bar.subdivide().subdivide().subdivide()
    points = np.array(bar.vertices)
    points[:, 0] *= np.where(points[:, 2] > 0, -1.0, 1.0)
    layers = slice_layers(Mesh(points, np.array(bar.faces, np.int32)), HEIGHTS)
    assert np.isfinite(layers.areas).all()
    assert layers.areas.max() <= 100 + 1e-6
    assert layers.areas[:45] == pytest.approx(np.full(45, 100.0))


@pytest.mark.parametrize("name", ["airplane.ply", "ant.ply", "nut.ply", "sphere.ply"])
def test_meshes_that_pyvista_ships_get_their_volume(name: str) -> None:
    import pyvista

    data = pyvista.read(os.path.join(os.path.dirname(pv_examples.__file__), name)).triangulate().clean()
    points = np.array(data.points, np.float64)
    points = (points - points.min(axis=0)) * (60 / np.ptp(points, axis=0).max())
    mesh = Mesh(points, data.faces.reshape(-1, 4)[:, 1:].astype(np.int32))
    heights = np.arange(0.1, points[:, 2].max(), 0.2)
    layers = slice_layers(mesh, heights)
    box = np.prod(np.ptp(points[:, :2], axis=0))
    assert 0 < layers.areas.max() <= box
    if Topology.of(mesh).watertight:
        # Overlapping shells (the ant's limbs) count once, therefore the volume is an upper bound.
        assert layers.areas.sum() * 0.2 == pytest.approx(mesh.volume, rel=6e-3)
        assert not layers.notes
    else:
        assert "open" in " ".join(layers.notes)


def test_nothing_comes_of_nothing() -> None:
    nothing = Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    assert slice_layers(nothing, [0.1, 0.3]).areas.tolist() == [0, 0]
    assert len(slice_layers(BOX, [])) == 0
    assert slice_layers(BOX, [50.0]).regions[0].empty


@pytest.mark.parametrize("heights", [[0.0, 0.0], [1.0, 0.5], [np.nan], [np.inf]])
def test_heights_must_ascend(heights: list[float]) -> None:
    with pytest.raises(BadValue, match="ascending"):
        slice_layers(BOX, heights)


# --- properties ------------------------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(st.floats(0, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_turning_about_the_vertical_and_shifting_change_nothing_but_rounding(turn: float, x: float, y: float) -> None:
    moved = Mesh(TORUS.vertices @ about_z(turn).T + [x, y, 0], TORUS.triangles)
    ours = slice_layers(moved, HEIGHTS[32:70:5], tolerance=0.0)
    assert ours.areas == pytest.approx(slice_layers(TORUS, HEIGHTS[32:70:5], tolerance=0.0).areas, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 40), min_size=1, max_size=30), st.integers(0, 2**32 - 1))
def test_links_are_put_in_running_order(sizes: list[int], seed: int) -> None:
    names = np.random.default_rng(seed).permutation(sum(sizes)).astype(np.int32)
    following = np.empty_like(names)
    for run in np.split(names, np.cumsum(sizes)[:-1]):
        following[run] = np.roll(run, -1)
    order, starts = ordered(following)
    assert sorted(np.diff(starts)) == sorted(sizes)
    for a, b in pairwise(starts):
        assert (following[order[a:b]] == np.roll(order[a:b], -1)).all()


@settings(max_examples=60, deadline=None)
@given(st.integers(5, 400), st.floats(1e-4, 0.5), st.integers(0, 2**32 - 1))
def test_thinning_never_strays_farther_than_told(n: int, tolerance: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.random(n)) * 2 * np.pi
    line = np.column_stack([np.cos(angle), np.sin(angle)]) * (10 + rng.random((n, 1)) * rng.choice([0, 0.1, 3]))
    whole = Contours(line, np.array([0, n]), np.zeros(1, np.intp), np.zeros(1, np.intp))
    rest = thinned(whole, tolerance).points
    left = shapely.LinearRing(rest) if len(rest) > 2 else shapely.LineString(rest)
    assert shapely.distance(shapely.points(line), left).max() <= tolerance * (1 + 1e-9)
