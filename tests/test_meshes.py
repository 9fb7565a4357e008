"""The shapes that other tests lean on are what they claim: checked with trimesh, manifold3d and closed forms."""

from __future__ import annotations

import manifold3d as m3
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings

from tests import meshes
from tests.strategies import bar_spans, combs, rigid_poses, upright_poses


def other(mesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


@pytest.mark.parametrize("name", meshes.CLOSED)
def test_closed_shapes_are_closed_and_outward(name):
    mesh = meshes.CLOSED[name]()
    judge = other(mesh)
    assert judge.is_watertight
    assert judge.is_winding_consistent
    assert judge.volume > 0
    assert judge.area_faces.min() > 0
    for shell in judge.split():
        solid = m3.Manifold(m3.Mesh64(np.array(shell.vertices), np.array(shell.faces, np.uint64)))
        assert solid.num_tri() == len(shell.faces) or name == "hollow box"


@pytest.mark.parametrize(
    ("name", "volume"),
    [
        ("box", 6000.0),
        ("two overlapping boxes", 2000.0),  # counted twice where they overlap
        ("hollow box", 20.0**3 - 16.0**3),
        ("cube", (2 * 10 / 3**0.5) ** 3),  # corner at radius r: side 2 r/√3
        ("octahedron", 4 / 3 * 10**3),  # V = 4/3 r³
        ("tetrahedron", 8 / (9 * 3**0.5) * 10**3),  # V = 8/(9√3) r³
        ("dodecahedron", 2 / 9 * 3**0.5 * (5 + 5**0.5) * 10**3),  # V = (2√3/9)(5 + √5) r³
        ("icosahedron", (10 + 2 * 5**0.5) ** 0.5 * (2 / 3) * 10**3 * 1.0),  # V = (2/3)√(10 + 2√5) r³
    ],
)
def test_volumes_follow_the_closed_forms(name, volume):
    assert meshes.CLOSED[name]().volume == pytest.approx(volume, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "degrees"),
    # handbook values of the dihedral angles of the regular solids
    [
        ("tetrahedron", 70.5288),
        ("cube", 90.0),
        ("octahedron", 109.4712),
        ("dodecahedron", 116.5651),
        ("icosahedron", 138.1897),
    ],
)
def test_regular_solids_have_their_dihedral_angles(name, degrees):
    angles = 180 - np.degrees(other(meshes.platonic(name)).face_adjacency_angles)
    assert angles[angles < 179].min() == pytest.approx(degrees, abs=1e-4)
    assert angles[angles < 179].max() == pytest.approx(degrees, abs=1e-4)


def test_round_shapes_approach_their_closed_forms():
    assert meshes.ball(10, 256).volume == pytest.approx(4 / 3 * np.pi * 1000, rel=1e-3)
    assert meshes.torus(20, 5, 256, 128).volume == pytest.approx(2 * np.pi**2 * 20 * 25, rel=1e-3)
    assert meshes.cone(45, 20, 512).volume == pytest.approx(np.pi * 20**3 / 3, rel=1e-3)
    # barrel: half a ring; legs: two boxes
    assert meshes.arch(30, 8, 4, 400).volume == pytest.approx((np.pi / 2 * (19**2 - 15**2) + 2 * 40) * 8, rel=1e-4)


def test_the_comb_is_the_trade_s_check_value():
    # nine teeth of 1.344 mm³ (foot 2.0, tip 0.8, height 1.2, thickness 0.8), base 40 × 5 and bar 40 × 5
    comb = meshes.comb()
    assert comb.mesh.volume == pytest.approx(9 * 1.344 + 2 * 40 * 5 * 0.8, rel=1e-12)
    assert other(comb.mesh).body_count == 1


def test_broken_shapes_are_broken_as_said():
    assert meshes.inverted_box().volume == pytest.approx(-6000)
    assert not other(meshes.open_box()).is_watertight
    assert len(meshes.open_box().triangles) == 10
    assert not len(meshes.empty().triangles)
    assert meshes.flat_sheet().volume == 0.0


@settings(max_examples=40, deadline=None)
@given(rigid_poses(), upright_poses())
def test_poses_are_rigid(wild, upright):
    for pose in (wild, upright):
        np.testing.assert_allclose(pose[:3, :3] @ pose[:3, :3].T, np.eye(3), atol=1e-12)
        assert np.linalg.det(pose[:3, :3]) == pytest.approx(1.0)
        np.testing.assert_array_equal(pose[3], [0, 0, 0, 1])
    np.testing.assert_allclose(upright[:3, 2], [0, 0, 1], atol=1e-15)


@settings(max_examples=40, deadline=None)
@given(bar_spans())
def test_spans_are_what_they_say(span):
    fin, bar = other(span.mesh).split()
    if fin.bounds[0, 2] > bar.bounds[0, 2]:
        fin, bar = bar, fin
    assert bar.bounds[0, 2] - fin.bounds[1, 2] == pytest.approx(span.gap)
    low, high = max(fin.bounds[0, 0], bar.bounds[0, 0]), min(fin.bounds[1, 0], bar.bounds[1, 0])
    assert high - low == pytest.approx(span.length)
    np.testing.assert_allclose(span.edge - span.ledge, [[0, 0, span.gap]] * 2, atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(combs())
def test_combs_are_closed_and_hold_what_they_say(comb):
    judge = other(comb.mesh)
    assert judge.is_watertight
    assert judge.body_count == 1
    teeth = comb.teeth * (comb.foot + comb.tip) / 2 * comb.height * comb.thickness
    length = comb.mesh.bounds[1, 0]
    assert judge.volume == pytest.approx(teeth + 2 * length * 5 * comb.thickness, rel=1e-9)
