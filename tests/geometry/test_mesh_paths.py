"""The short ways of a mesh give what the plain ones give."""

from __future__ import annotations

import numpy as np
import pytest

from core.geometry.mesh import CHUNK, Mesh, joined
from core.geometry.pose import as_filed, seated
from tests import meshes


def test_normals_by_steps_are_numpys_cross_products():
    mesh = meshes.torus(count=300, around=120)
    steps = sum(1 for _ in mesh.normals_by_steps())
    assert steps == -(-len(mesh.triangles) // CHUNK) > 1
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles], 1, 0)
    area = np.cross(b - a, c - a) / 2
    np.testing.assert_allclose(mesh.area_vectors, area, atol=1e-12)
    np.testing.assert_allclose(mesh.normals, area / np.linalg.norm(area, axis=1, keepdims=True), atol=1e-12)
    assert not mesh.normals.flags.writeable
    assert list(mesh.normals_by_steps()) == []


def test_a_triangle_without_area_has_no_normal():
    mesh = Mesh(np.float64([[0, 0, 0], [1, 0, 0], [2, 0, 0]]), np.int32([[0, 1, 2]]))
    assert (mesh.normals == 0).all()


def test_joining_is_concatenation():
    parts = [meshes.box(), meshes.empty(), meshes.torus(), meshes.platonic("cube")]
    whole = joined(parts)
    np.testing.assert_array_equal(whole.corners, np.concatenate([p.vertices[p.triangles] for p in parts]))
    assert whole.triangles.dtype == np.int32
    assert not whole.vertices.flags.writeable
    Mesh(whole.vertices, whole.triangles)  # which looks at everything again
    assert len(joined([]).triangles) == 0


@pytest.mark.parametrize("shift", [(0, 0, 0), (1, 2, 3)])
def test_moving_without_a_turn(shift):
    pose = np.eye(4)
    pose[:3, 3] = shift
    mesh = meshes.torus()
    moved = mesh.moved(pose)
    np.testing.assert_array_equal(moved.vertices, mesh.vertices + np.array(shift))
    assert (moved is mesh) == (not any(shift))


def test_the_pose_as_filed_is_seated_without_a_turn():
    for mesh in (meshes.torus(), meshes.empty(), meshes.box((-5, -5, -7), (1, 2, 3))):
        pose = as_filed(mesh)
        assert pose == seated(mesh, np.eye(3))
        if len(mesh.triangles):
            assert pose.apply(mesh.vertices)[:, 2].min() == pytest.approx(0)
            np.testing.assert_array_equal(pose.apply(mesh.vertices)[:, :2], mesh.vertices[:, :2])
