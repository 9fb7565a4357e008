"""Resting poses against statics in closed form and against the tip angle of a box."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings

from core.design.setup import PrintSetup
from core.diagnose.resting import Resting, resting_poses
from core.diagnose.sagging import COARSE_LAYERS, sagging_area
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology
from tests.meshes import arch, ball, box, cone, empty, flat_sheet, platonic, stepped_pyramid
from tests.strategies import rigid_poses

SETUP = PrintSetup()


def ups(found: tuple[Resting, ...]) -> np.ndarray:
    return np.array([r.pose.inverse.turn([0, 0, 1]) for r in found])


def test_a_box_stands_on_its_six_sides_and_falls_at_the_angle_of_the_formula() -> None:
    # tip angle = atan(margin / height of the centre of mass): 20 × 20 × 40 standing on end falls at 26.565°
    found = resting_poses(box((0, 0, 0), (20, 20, 40)), SETUP, most=9)
    assert len(found) == 6
    assert found[0].filed
    assert found[0].tip_deg == pytest.approx(26.565, abs=0.001)
    assert sorted(r.contact_area for r in found) == pytest.approx([400, 400, 800, 800, 800, 800])
    assert all(r.overhang_area == 0 for r in found)


def test_an_arch_filed_on_its_feet_is_left_there_though_its_side_would_overhang_less() -> None:
    first, second, *_ = resting_poses(arch(), SETUP)
    assert first.filed
    assert first.overhang_area > 100
    assert second.overhang_area == pytest.approx(0, abs=1e-6)


def test_what_would_sag_is_the_plan_of_what_hangs_beyond_the_limit() -> None:
    # Upside down each of three steps juts out 3 mm in mid-air; the layer below carries a rim as wide as it is high.
    mesh = stepped_pyramid(upside_down=True)
    step = max(SETUP.layer_height, float(np.ptp(mesh.vertices[:, 2])) / COARSE_LAYERS)
    sides = [(2 * 3 * (k + 2), 2 * (3 * (k + 1) + step)) for k in range(3)]  # of a step, and of what is carried of it
    corners = (4 - np.pi) * step**2  # the carried rim has round corners
    hangs = sum(whole**2 - carried**2 + corners for whole, carried in sides)
    assert sagging_area(Topology.of(mesh), SETUP) == pytest.approx(hangs, rel=0.01)
    assert sagging_area(Topology.of(stepped_pyramid()), SETUP) == 0


def test_an_overhanging_slope_sags_by_its_share_beyond_the_limit() -> None:
    # a cone on its tip, 55° from vertical: rise · (tan 55° − tan 45°) of plan radius is beyond the limit in each layer
    mesh = cone(55, 20.0)
    share = 1 - math.tan(math.radians(45)) / math.tan(math.radians(55))
    plan = math.pi * (20 * math.tan(math.radians(55))) ** 2
    assert sagging_area(Topology.of(mesh), SETUP) == pytest.approx(share * plan, rel=0.03)
    assert sagging_area(Topology.of(cone(44, 20.0)), SETUP) < 1


def test_poses_come_in_the_order_of_what_would_sag() -> None:
    found = [round(r.sag_area, 1) for r in resting_poses(cone(30), SETUP) if not r.filed]
    assert found == sorted(found)
    assert found[0] == 0 < found[-1]


@given(pose=rigid_poses())
@settings(max_examples=15, deadline=None)
def test_an_arch_in_a_wild_pose_is_laid_down_where_nothing_overhangs(pose: np.ndarray) -> None:
    tilted = arch().moved(pose)
    best = resting_poses(tilted, SETUP)[0]
    assert best.filed or best.overhang_area == pytest.approx(0, abs=1e-6)
    assert tilted.moved(best.pose.matrix).bounds[0, 2] == pytest.approx(0, abs=1e-6)


def test_a_cone_filed_on_its_tip_is_set_on_its_base() -> None:
    found = resting_poses(cone(30), SETUP)
    assert not found[0].filed
    assert ups(found)[0] == pytest.approx([0, 0, -1])
    assert found[0].overhang_area == 0


def test_overhang_areas_agree_with_another_librarys_face_areas() -> None:
    mesh = arch()
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    for r in resting_poses(mesh, SETUP):
        turned = other.copy().apply_transform(r.pose.matrix)
        steep = turned.face_normals[:, 2] < -math.sin(math.radians(45)) - 1e-9
        on_bed = turned.triangles[:, :, 2].max(axis=1) < 0.02
        assert r.overhang_area == pytest.approx(turned.area_faces[steep & ~on_bed].sum(), abs=1e-6)


@pytest.mark.parametrize("solid", ["tetrahedron", "cube", "octahedron", "dodecahedron", "icosahedron"])
def test_regular_solids_stand_on_every_face(solid: str) -> None:
    faces = {"tetrahedron": 4, "cube": 6, "octahedron": 8, "dodecahedron": 12, "icosahedron": 20}[solid]
    found = resting_poses(platonic(solid), SETUP, most=99)
    assert sum(r.contact_area > 0 for r in found) == faces


@pytest.mark.parametrize("mesh", [flat_sheet(), empty(), Mesh(np.zeros((1, 3)), np.zeros((0, 3), np.int32))])
def test_what_has_no_volume_keeps_the_pose_as_filed(mesh: Mesh) -> None:
    assert [r.filed for r in resting_poses(mesh, SETUP)] == [True]


def test_a_ball_gives_few_poses() -> None:
    assert 1 <= len(resting_poses(ball(), SETUP)) <= 6
