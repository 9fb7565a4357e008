"""Vertical lines through meshes against closed forms and a general library's rays."""

import numpy as np
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from core.geometry.columns import Columns
from core.geometry.mesh import Mesh, joined
from tests import meshes


def over(mesh: Mesh) -> Columns:
    return Columns.over(mesh, mesh.bounds[0, :2] - 1, mesh.bounds[1, :2] + 1)


def test_a_box_is_crossed_where_it_is() -> None:
    line, floor, ceiling = over(meshes.box((0, 0, 0), (10, 20, 30))).air([[5, 5], [-0.5, 5]])
    assert line.tolist() == [0, 0, 1]
    np.testing.assert_allclose(floor, [-np.inf, 30, -np.inf])
    np.testing.assert_allclose(ceiling, [0, np.inf, np.inf])


def test_lines_through_corners_and_edges_are_never_counted_twice() -> None:
    mesh = trimesh.creation.icosphere(3, radius=10)
    points = mesh.vertices[np.hypot(*mesh.vertices[:, :2].T) < 9.9, :2]
    middles = mesh.vertices[mesh.edges_unique].mean(axis=1)[:, :2]
    points = np.vstack([points, middles[np.hypot(*middles.T) < 9.8]])
    line, _, _ = over(Mesh(mesh.vertices, mesh.faces)).air(points)
    np.testing.assert_array_equal(np.bincount(line), 2)


def test_overlapping_shells_are_one_material() -> None:
    a, b = meshes.box((0, 0, 0), (10, 10, 10)), meshes.box((5, 0, 8), (15, 10, 20))
    _, floor, ceiling = over(joined([a, b])).air([[7, 5]])
    np.testing.assert_allclose(floor, [-np.inf, 20])
    np.testing.assert_allclose(ceiling, [0, np.inf])


def test_the_air_around_a_height_is_found_and_material_is_nan() -> None:
    span = meshes.bar_over_ledge(20, 1.2, ledge_top=10)
    x, y, _ = span.edge.mean(axis=0)
    floor, ceiling = over(span.mesh).air_around([[x, y + 0.2]], 10.5)
    np.testing.assert_allclose([floor[0], ceiling[0]], [10, 11.2])
    inside, _ = over(span.mesh).air_around([[x, y]], 9.0)
    assert np.isnan(inside).all()


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31 - 1))
def test_random_lines_agree_with_trimesh_rays(seed: int) -> None:
    rng = np.random.default_rng(seed)
    mesh = meshes.torus()
    points = rng.uniform(mesh.bounds[0, :2], mesh.bounds[1, :2], (40, 2))
    line, height, _ = over(mesh).crossings(points)
    origins = np.column_stack([points, np.full(len(points), mesh.bounds[0, 2] - 5)])
    ray = trimesh.ray.ray_triangle.RayMeshIntersector(trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False))
    where, index, _ = ray.intersects_location(origins, np.tile([0.0, 0, 1], (len(points), 1)))
    expected = np.array(sorted(zip(index, where[:, 2], strict=True))).reshape(-1, 2)
    np.testing.assert_array_equal(line, expected[:, 0])
    np.testing.assert_allclose(height, expected[:, 1], atol=1e-9)
