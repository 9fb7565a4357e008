"""Print poses and working axes: rigid, seated, and never touching file coordinates."""

import numpy as np
import pytest
from hypothesis import given, settings

from core.errors import BadValue
from core.geometry.pose import (
    Pose,
    as_filed,
    placed,
    rotation_between,
    seat_on_face,
    turn_about_vertical,
    turn_over,
    up_is,
    working_axes,
)
from tests import meshes
from tests.strategies import rigid_poses


def test_as_filed_only_lifts() -> None:
    pose = as_filed(meshes.box((3, 4, -7), (10, 10, 10)))
    np.testing.assert_allclose(pose.matrix, placed(np.eye(3), [0, 0, 7]))


@pytest.mark.parametrize("normal", [(1, 0, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)])
def test_a_seated_face_lies_on_the_bed(normal: tuple[int, int, int]) -> None:
    mesh = meshes.box()
    pose = seat_on_face(mesh, as_filed(mesh), normal)
    np.testing.assert_allclose(pose.turn(normal), [0, 0, -1], atol=1e-12)
    assert mesh.moved(pose.matrix).bounds[0, 2] == pytest.approx(0, abs=1e-9)


def test_four_quarter_turns_and_two_turn_overs_come_home() -> None:
    mesh = meshes.box((0, 0, 0), (10, 20, 30))
    pose = as_filed(mesh)
    turned = pose
    for _ in range(4):
        turned = turn_about_vertical(mesh, turned, 90)
    np.testing.assert_allclose(turned.matrix, pose.matrix, atol=1e-9)
    np.testing.assert_allclose(turn_over(mesh, turn_over(mesh, pose)).matrix, pose.matrix, atol=1e-9)


def test_up_is_points_up_and_refuses_nothing() -> None:
    np.testing.assert_allclose(up_is(meshes.box(), (1, 0, 0)).turn([1, 0, 0]), [0, 0, 1], atol=1e-12)
    with pytest.raises(BadValue):
        up_is(meshes.box(), (0, 0, 0))


def test_scaling_and_mirroring_are_no_poses() -> None:
    for bad in (np.diag([2, 2, 2, 1]), np.diag([-1, 1, 1, 1]), np.full((4, 4), np.nan)):
        with pytest.raises(BadValue):
            Pose.of(bad)


@settings(max_examples=60, deadline=None)
@given(rigid_poses())
def test_a_pose_and_its_inverse_cancel(matrix: np.ndarray) -> None:
    pose = Pose.of(matrix)
    points = np.array([[1.0, 2, 3], [-400, 5, 0]])
    np.testing.assert_allclose(pose.inverse.apply(pose.apply(points)), points, atol=1e-9)
    assert Pose.of(pose.matrix) == pose


@settings(max_examples=60, deadline=None)
@given(rigid_poses())
def test_rotation_between_and_working_axes_are_rotations(matrix: np.ndarray) -> None:
    a, b = matrix[:3, 0], matrix[:3, 1]
    for r in (rotation_between(a, b), rotation_between(a, -a), working_axes(a)):
        np.testing.assert_allclose(r @ r.T, np.eye(3), atol=1e-9)
        assert np.linalg.det(r) == pytest.approx(1)
    np.testing.assert_allclose(rotation_between(a, b) @ a, b, atol=1e-9)
    np.testing.assert_allclose(working_axes(a) @ a, [0, -1, 0], atol=1e-9)
