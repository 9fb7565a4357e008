"""Rounded normals, outlines, the stand-in and the soft shading, against shapes whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
import pyvista as pv
import trimesh
from scipy.ndimage import uniform_filter

from app.view.camera import Camera
from app.view.lens import Lens
from app.view.part_shape import Outline, cut_lines, rounded, stand_in
from app.view.shade import _blurred, occlusion
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology
from tests.meshes import box


def of(made: trimesh.Trimesh) -> Mesh:
    return Mesh(np.array(made.vertices), np.array(made.faces, np.int32))


def view_of(mesh: Mesh, parallel: bool = True, azimuth: float = 0.4, elevation: float = 0.5) -> Lens:
    camera = Camera(azimuth=azimuth, elevation=elevation, parallel=parallel).framed(mesh.bounds, 1.0)
    return Lens(camera, 400.0, 400.0, mesh.bounds)


def test_a_cylinder_is_round_on_its_side_and_flat_on_its_ends() -> None:
    mesh = of(trimesh.creation.cylinder(radius=5.0, height=20.0, sections=48))
    shaded = rounded(mesh, Topology.of(mesh))
    assert len(shaded.vertices) == len(mesh.vertices) + 2 * 48  # each rim vertex belongs to the side and to an end
    flat = np.abs(shaded.normals[:, 2]) > 0.5
    assert np.allclose(np.abs(shaded.normals[flat, 2]), 1.0, atol=1e-6)
    radial = shaded.vertices[~flat, :2] / 5.0
    assert np.allclose(shaded.normals[~flat, :2], radial, atol=0.02)
    assert np.allclose(shaded.vertices, mesh.vertices[shaded.origin], atol=1e-5)


def test_a_box_keeps_its_corners_sharp() -> None:
    mesh = box()
    shaded = rounded(mesh, Topology.of(mesh))
    assert len(shaded.vertices) == 24
    assert np.allclose(np.abs(shaded.normals).max(axis=1), 1.0)


@pytest.mark.parametrize("parallel", [True, False])
def test_the_outline_of_a_box_from_a_corner_is_its_hexagon(parallel: bool) -> None:
    mesh = box((0, 0, 0), (10, 10, 10))
    assert len(Outline(mesh, Topology.of(mesh)).seen(view_of(mesh, parallel))) == 6


def test_the_outline_of_a_ball_is_the_great_circle_square_to_the_sight() -> None:
    mesh = of(trimesh.creation.icosphere(subdivisions=4, radius=10.0))
    lens = view_of(mesh)
    pairs = Outline(mesh, Topology.of(mesh)).seen(lens)
    towards = mesh.vertices[np.unique(pairs)] @ lens.basis[2]
    assert len(pairs) > 60
    assert np.abs(towards).max() < 10.0 * 0.12  # an edge of this ball spans about 0.07 of its radius
    outer = mesh.vertices[np.unique(pairs)] @ lens.basis[:2].T
    assert np.allclose(np.linalg.norm(outer, axis=1), 10.0, rtol=0.01)


def test_the_stand_in_is_light_and_keeps_the_shape() -> None:
    ball = pv.Sphere(radius=10.0, theta_resolution=400, phi_resolution=400).triangulate()
    mesh = Mesh(np.array(ball.points, float), ball.regular_faces.astype(np.int32))
    steps = list(stand_in(mesh, 20_000))
    light = steps[-1]
    assert light is not None
    assert all(step is None for step in steps[:-1])
    assert 8_000 < len(light.triangles) < 40_000
    assert np.allclose(light.bounds, mesh.bounds, atol=0.5)
    assert light.volume == pytest.approx(mesh.volume, rel=0.02)


@pytest.mark.parametrize("normal", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.3, -0.5, 0.8)])
def test_a_section_is_cut_where_trimesh_cuts_it(normal: tuple[float, float, float]) -> None:
    made = trimesh.creation.annulus(r_min=4.0, r_max=9.0, height=12.0, sections=40)
    origin = np.array([0.13, 0.21, 0.37])  # through no vertex
    ours = cut_lines(of(made), origin, np.array(normal))
    theirs = trimesh.intersections.mesh_plane(made, np.array(normal), origin)
    assert np.linalg.norm(np.diff(ours, axis=1), axis=2).sum() == pytest.approx(
        np.linalg.norm(np.diff(theirs, axis=1), axis=2).sum(), rel=1e-9
    )
    assert np.abs((ours - origin) @ np.array(normal)).max() < 1e-12
    assert len(cut_lines(of(made), np.array([0.0, 0.0, 50.0]), np.array([0.0, 0.0, 1.0]))) == 0


def corner_buffer(lens: Lens) -> np.ndarray:
    """Depths of a floor (z = 0) that meets a wall (y = 0), as seen through the lens."""
    x, y = np.meshgrid(np.arange(200) + 0.5, np.arange(200) + 0.5)
    right, up, back = lens.basis
    scale = lens.px_per_mm(1.0)
    origin = lens.eye + ((x - 100) / scale)[..., None] * right + ((100 - y) / scale)[..., None] * up
    to_floor = origin[..., 2] / back[2]
    to_wall = origin[..., 1] / back[1]
    return lens.buffer_from_depth(np.minimum(to_floor, to_wall)).astype(np.float32)


def test_a_corner_is_darker_than_the_faces_beside_it_and_a_plane_is_not_dark() -> None:
    bounds = np.array([[-20.0, -20.0, 0.0], [20.0, 0.0, 20.0]])
    camera = Camera(np.array([0.0, 0.0, 0.0]), 0.0, np.pi / 4, 40.0, True)
    lens = Lens(camera, 200.0, 200.0, bounds)
    light = occlusion(corner_buffer(lens), lens, 1.0)
    middle, floor, wall = light[100, 100], light[170, 100], light[30, 100]
    assert floor == pytest.approx(1.0, abs=0.03)
    assert wall == pytest.approx(1.0, abs=0.03)
    assert middle < 0.9
    assert (light > 0.3).all()


@pytest.mark.parametrize("width", [1, 2, 3, 5])
def test_blurring_is_scipys_uniform_filter(width: int) -> None:
    picture = np.random.default_rng(1).random((20, 31)).astype(np.float32)
    assert np.allclose(_blurred(picture, width), uniform_filter(picture, width, mode="nearest"), atol=1e-6)


def test_the_background_is_never_shaded() -> None:
    mesh = box()
    assert (occlusion(np.ones((60, 80), np.float32), view_of(mesh), 1.0) == 1.0).all()
