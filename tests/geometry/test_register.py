"""Registering a part on itself in another place: against motions that were put in, and another library's meshes."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from scipy.spatial.transform import Rotation

from core.files.read import read_part
from core.geometry.landmarks import Landmarks
from core.geometry.mesh import Mesh, joined
from core.geometry.pose import placed
from core.geometry.register import MET, registered
from core.geometry.topology import Topology
from samples import sample_path
from tests.meshes import box
from tests.strategies import rigid_poses

HOOD = read_part(sample_path("rain_hood"))


def landmarks(mesh: Mesh) -> Landmarks:
    return Landmarks.of(Topology.of(mesh))


def motion(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return placed(Rotation.random(random_state=seed).as_matrix(), rng.uniform(-200, 200, 3))


@pytest.mark.parametrize("seed", range(4))
def test_a_rigid_move_is_found_exactly(seed: int) -> None:
    put = motion(seed)
    (found,) = registered(HOOD.landmarks, landmarks(HOOD.mesh.moved(put)))
    assert np.abs(found.matrix - put).max() < 0.02
    assert found.share > 0.99
    assert found.residual < MET


@settings(max_examples=15, deadline=None)
@given(rigid_poses())
def test_any_rigid_move_of_a_lopsided_block_is_found(put: np.ndarray) -> None:
    part = joined([box((0, 0, 0), (40, 23, 9)), box((3, 5, 20), (21, 11, 31))])
    found = registered(landmarks(part), landmarks(part.moved(put)))
    assert any(np.abs(f.matrix - put).max() < 0.02 for f in found)


def test_what_did_not_move_is_not_moved_even_if_it_would_fit_elsewhere() -> None:
    """A cube fits on itself in 24 ways (the order of its rotation group)."""
    cube = landmarks(box((0, 0, 0), (20, 20, 20)))
    (found,) = registered(cube, cube)
    assert found.still


def test_a_symmetric_part_that_moved_has_several_motions() -> None:
    block = box((0, 0, 0), (40, 23, 9))  # half turns about three axes bring it onto itself: four motions in all
    found = registered(landmarks(block), landmarks(block.moved(motion(5))))
    assert len(found) == 4
    for one in found:
        assert one.share == pytest.approx(1.0)
        assert np.linalg.det(one.matrix[:3, :3]) == pytest.approx(1.0)  # never a mirror image


def test_a_mirror_image_is_another_part() -> None:
    flipped = Mesh(HOOD.mesh.vertices * [-1, 1, 1], HOOD.mesh.triangles[:, ::-1])
    found = registered(HOOD.landmarks, landmarks(flipped))
    assert all(f.share < 0.8 for f in found)


def test_other_triangles_are_the_same_landmarks() -> None:
    vertices, faces = trimesh.remesh.subdivide(HOOD.mesh.vertices, HOOD.mesh.triangles)
    finer = landmarks(Mesh(vertices, faces.astype(np.int32)))
    assert finer.lengths.sum() == pytest.approx(HOOD.landmarks.lengths.sum(), rel=1e-6)
    assert len(finer.ends) == len(HOOD.landmarks.ends)


def test_a_box_has_twelve_runs_with_square_corners() -> None:
    found = landmarks(box((0, 0, 0), (3, 4, 5)))
    assert sorted(found.lengths.round(9)) == [3] * 4 + [4] * 4 + [5] * 4
    assert np.einsum("ij,ij->i", found.normals[:, 0], found.normals[:, 1]) == pytest.approx(np.zeros(12))
    # left and right of a run, seen from outside with its end ahead: left × right runs along a convex edge, backwards
    ahead = np.einsum("ij,ij->i", np.cross(found.normals[:, 1], found.normals[:, 0]), found.directions)
    assert np.abs(ahead) == pytest.approx(np.ones(12))
    assert len(set(np.sign(ahead))) == 1


def test_a_round_edge_is_one_closed_chain() -> None:
    tube = trimesh.creation.cylinder(10, 20, sections=64)
    found = landmarks(Mesh(tube.vertices, tube.faces.astype(np.int32)))
    assert list(found.closed) == [True, True]
    # perimeter of a regular 64-gon in a circle of radius 10: 2 · 64 · 10 · sin(π/64)
    assert found.lengths.sum() == pytest.approx(2 * 2 * 64 * 10 * np.sin(np.pi / 64))


def test_nothing_is_registered_on_nothing() -> None:
    ball = trimesh.creation.icosphere(4)
    smooth = landmarks(Mesh(ball.vertices, ball.faces.astype(np.int32)))
    assert not len(smooth.ends)
    assert registered(smooth, HOOD.landmarks) == []
    assert registered(HOOD.landmarks, smooth) == []


def test_few_landmarks_keep_what_is_near() -> None:
    near = np.array([[0.0, 0.0, 0.0], HOOD.mesh.bounds[0]])
    few = HOOD.landmarks.few([near], (3.0, 6.0), 200)
    assert 0 < len(few.ends) <= 200
    assert np.array_equal(np.unique(few.chain), np.arange(len(few.closed)))
    (found,) = registered(few, landmarks(HOOD.mesh.moved(motion(2))))
    assert np.abs(found.matrix - motion(2)).max() < 0.05
