"""Weak spots against closed forms, other libraries, the samples' truth and arbitrary poses."""

from __future__ import annotations

import math
import os
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from pyvista import examples as pv_examples

from core.design.setup import PrintSetup
from core.diagnose.heat import heat
from core.diagnose.layers import print_layers
from core.diagnose.pieces import chords, farthest, severity
from core.diagnose.weak_spots import WeakSpot, find_weak_spots, listed_spots
from core.geometry.mesh import Mesh, joined
from core.geometry.pose import Pose, about_z
from core.geometry.regions import Region
from core.geometry.topology import Topology
from tests.diagnose.sample_parts import PLAIN, TRUTH, part_of
from tests.meshes import (
    arch,
    ball,
    bar_over_ledge,
    box,
    cone,
    flipped,
    hollow_box,
    ridge_over_ledge,
    stepped_pyramid,
    torus,
)
from tests.strategies import upright_poses

SETUP = PrintSetup()


def spots_in(mesh: Mesh, setup: PrintSetup = SETUP, **more) -> list[WeakSpot]:
    topology = Topology.of(mesh)
    return find_weak_spots(print_layers(mesh, setup, topology=topology), setup, topology, **more)


def shelf(depth: float, width: float = 30.0, at: float = 10.0) -> Mesh:
    """A post 10 mm thick with a shelf ``depth`` deep sticking out of it towards −y at height ``at``."""
    return joined([box((0, 0, 0), (width, 10, 20)), box((0, -depth, at), (width, 1, at + 2))])


def portal(clear: float, depth: float = 6.0) -> Mesh:
    """Two posts and a flat lintel at z = 10 over the clear width between them."""
    lintel = box((-5, 0, 10), (clear + 5, depth, 14))
    return joined([box((-5, 0, 0), (0, depth, 12)), box((clear, 0, 0), (clear + 5, depth, 12)), lintel])


# --- closed forms ----------------------------------------------------------------------------------------------------


def test_severity_is_half_at_twice_the_limit() -> None:
    assert [severity(e) for e in (0.0, 1.0, 2.0, 4.0, math.inf)] == [0, 0, 0.5, 0.75, 1]


def test_a_shelf_is_a_cantilever_with_its_depth_as_reach() -> None:
    (spot,) = spots_in(shelf(8.0))
    assert spot.id == "w1"
    assert spot.kind == "cantilever"
    assert spot.z == pytest.approx(10.0)
    assert spot.reach == pytest.approx(8.0, abs=1e-6)
    assert spot.length == pytest.approx(30.0, abs=1e-6)
    assert spot.area == pytest.approx(30 * (8 - 0.2), rel=1e-4)
    assert spot.severity == pytest.approx(1 - 1 / 8)
    ends = spot.path.array[[0, -1]]
    assert sorted(ends[:, 0]) == pytest.approx([0, 30])
    assert spot.path.array[:, 1:] == pytest.approx(np.tile([-8.0, 10.0], (len(spot.path.array), 1)))


@pytest.mark.parametrize(("depth", "weak"), [(0.9, False), (1.1, True)])
def test_a_step_may_reach_as_far_as_the_setup_allows(depth: float, weak: bool) -> None:
    assert bool(spots_in(shelf(depth))) == weak
    assert not spots_in(shelf(depth), PrintSetup(free_overhang=1.2))


@pytest.mark.parametrize(("clear", "weak"), [(5.3, False), (5.5, True), (14.0, True)])
def test_a_lintel_is_a_bridge_between_its_posts(clear: float, weak: bool) -> None:
    # The unsupported region is the clear width less the advance on both sides: 5 mm at a clear width of 5.4.
    spots = spots_in(portal(clear))
    assert bool(spots) == weak
    if weak:
        (spot,) = spots
        assert spot.kind == "bridge"
        assert spot.length == pytest.approx(clear - 0.4, abs=2e-3)
        assert spot.reach == pytest.approx(clear / 2, abs=0.01)
        assert spot.path.length == pytest.approx(clear, abs=2e-3)
        assert spot.z == pytest.approx(10.0)


def test_a_bridge_is_measured_the_short_way() -> None:
    (spot,) = spots_in(joined([portal(14.0, depth=40.0)]))
    assert (spot.kind, round(spot.length, 2)) == ("bridge", 13.6)
    (spot,) = spots_in(hollow_box(20.0, 2.0))
    assert (spot.kind, spot.z) == ("bridge", pytest.approx(18.0))
    assert spot.length == pytest.approx(15.6, abs=2e-3)
    assert spot.reach == pytest.approx(8.0, abs=0.01)
    assert spot.area == pytest.approx(15.6**2, rel=1e-6)


def test_steps_that_widen_are_cantilevers_with_the_diagonal_as_reach() -> None:
    spots = spots_in(stepped_pyramid(upside_down=True))
    assert [s.kind for s in spots] == ["cantilever"] * 3
    assert sorted(s.z for s in spots) == pytest.approx([4, 8, 12])
    assert [s.reach for s in spots] == pytest.approx([3 * math.sqrt(2)] * 3, abs=1e-6)
    assert all(s.path.closed or s.path.length >= 12 - 1e-6 for s in spots)


def test_a_bar_on_posts_is_a_bridge_and_one_without_an_island() -> None:
    (spot,) = spots_in(bar_over_ledge(posts=True).mesh)
    assert spot.kind == "bridge"
    assert spot.length == pytest.approx(39 - 0.4, abs=2e-3)
    assert spot.z == pytest.approx(11.2)
    (spot,) = spots_in(bar_over_ledge().mesh)
    assert spot.kind == "island"
    assert spot.severity == 1
    assert math.isinf(spot.reach)
    # A strip: named by the line midway between its two edges.
    assert spot.path.length == pytest.approx(40.0)
    assert spot.path.array[:, 1:] == pytest.approx(np.tile([0.0, 11.2], (len(spot.path.array), 1)), abs=1e-9)


def test_a_ridge_is_weak_where_both_its_faces_pass_and_is_named_by_its_edge() -> None:
    (spot,) = spots_in(ridge_over_ledge(half_angle_deg=40.0).mesh)
    assert spot.kind == "island"
    assert sorted(spot.path.array[:, 0]) == pytest.approx([0, 40])
    assert spot.path.array[:, 1:] == pytest.approx(np.tile([0.0, 11.2], (2, 1)))
    assert spot.length == pytest.approx(40.0)
    assert spot.z == pytest.approx(11.2)


@pytest.mark.parametrize("angle", [40, 45, 46, 50, 60])
def test_a_cone_is_a_slope_beyond_the_limit(angle: int) -> None:
    spots = spots_in(joined([cone(angle, height=8.0, count=200), box((-3, -3, 0), (3, 3, 2))]))
    assert bool(spots) == (angle > 45)
    if spots:
        (spot,) = spots
        assert spot.kind == "slope"
        assert spot.reach == pytest.approx(0.2 * math.tan(math.radians(angle)), abs=0.004)
        assert spot.severity == pytest.approx(1 - 1 / math.tan(math.radians(angle)), abs=0.02)
        assert spot.path.closed


def test_a_ball_hangs_up_to_where_its_underside_is_as_steep_as_the_limit() -> None:
    radius = 15.0
    spots = spots_in(ball(radius, 160))
    top = max(s.layers[1] for s in spots) * 0.2
    assert top == pytest.approx(radius * (1 - math.sin(math.radians(45))), abs=0.4)
    (spot,) = [s for s in spots_in(ball(radius, 160, lift=3.0)) if s.kind == "island"]
    assert spot.severity == 1
    assert spot.z == pytest.approx(3.0, abs=0.02)


def test_a_torus_hangs_on_both_sides_of_the_line_it_lies_on() -> None:
    tube = 12.0
    spots = spots_in(torus(40.0, tube, 200, 120))
    assert spots
    assert max(s.layers[1] for s in spots) * 0.2 == pytest.approx(tube * (1 - math.sin(math.radians(45))), abs=0.4)
    assert all(s.z < 1.0 for s in spots)


@pytest.mark.parametrize(("span", "weak"), [(8.0, False), (12.0, False), (40.0, True)])
def test_small_round_arches_carry_themselves_and_wide_ones_do_not(span: float, weak: bool) -> None:
    spots = spots_in(arch(span, count=96))
    assert bool(spots) == weak
    if weak:
        assert min(s.layers[0] for s in spots) * 0.2 > 10 + span / 2 * math.sin(math.radians(45)) - 0.6
        assert max(s.z for s in spots) <= 10 + span / 2 + 1e-6


def test_nothing_is_weak_in_sound_parts() -> None:
    for mesh in (box(), stepped_pyramid(), arch(8.0), Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))):
        assert spots_in(mesh) == []


def test_what_is_smaller_than_a_line_is_left_out() -> None:
    nib = joined([box((0, 0, 0), (20, 20, 10)), box((-0.36, 5, 5), (0.5, 15, 6)), box((30, 0, 5), (30.36, 20, 9))])
    assert spots_in(nib) == []


# --- the list --------------------------------------------------------------------------------------------------------


def test_worst_first_with_ids_in_that_order() -> None:
    spots = spots_in(joined([shelf(3.0), Mesh(shelf(9.0).vertices + np.array([60, 0, 0]), shelf(9.0).triangles)]))
    assert [s.id for s in spots] == ["w1", "w2"]
    assert [round(s.reach) for s in spots] == [9, 3]


def test_small_fry_near_each_other_is_one_entry() -> None:
    studs = [box((5 * i, -2.5, 10), (5 * i + 2, 1, 12)) for i in range(8)]
    spots = spots_in(joined([box((-5, 0, 0), (45, 10, 20)), *studs]))
    assert [(s.count, s.kind) for s in spots] == [(8, "cantilever")]
    assert spots[0].area == pytest.approx(8 * 2 * 2.3, rel=0.01)


def test_what_hangs_from_sacrificial_triangles_does_not_matter() -> None:
    left, right = shelf(5.0), Mesh(shelf(7.0).vertices + np.array([60, 0, 0]), shelf(7.0).triangles)
    mask = np.zeros(len(left.triangles) + len(right.triangles), bool)
    mask[len(left.triangles) :] = True
    assert [round(s.reach) for s in spots_in(joined([left, right]), ignore=mask)] == [5]
    assert [round(s.reach) for s in spots_in(joined([left, right]), ignore=~mask)] == [7]
    assert [(s.id, round(s.reach)) for s in listed_spots(spots_in(joined([left, right])), SETUP, mask)] == [("w1", 5)]


def test_spots_cross_to_another_process_with_only_what_lies_near() -> None:
    spots = spots_in(portal(14.0))
    back = pickle.loads(pickle.dumps(spots))
    assert back[0].pieces[0].region.area == pytest.approx(spots[0].pieces[0].region.area)
    assert back[0].pieces[0].loose.below.distance([[7.0, 3.0]]) == pytest.approx(7.0)
    assert len(pickle.dumps(spots)) < 20_000


def test_progress_is_told_and_may_end_the_work() -> None:
    told: list[float] = []
    spots_in(shelf(5.0), progress=told.append)
    assert told
    assert all(0 <= t <= 1 for t in told)

    def stop(share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        spots_in(shelf(5.0), progress=stop)


def test_heat_is_the_reach_beyond_the_advance() -> None:
    mesh = shelf(8.0)
    topology = Topology.of(mesh)
    layers = print_layers(mesh, SETUP, topology=topology)
    values = heat(mesh, layers, find_weak_spots(layers, SETUP, topology))
    at_lip = (mesh.vertices[:, 1] == -8) & (mesh.vertices[:, 2] == 10)
    assert values[at_lip] == pytest.approx([8 - 0.2] * 2)
    assert values[~at_lip].max() == 0


# --- poses -----------------------------------------------------------------------------------------------------------


@settings(max_examples=12, deadline=None)
@given(upright_poses())
def test_turning_about_the_vertical_and_shifting_change_nothing_but_rounding(pose: np.ndarray) -> None:
    pose[2, 3] = 0.0
    mesh = joined([shelf(6.0), Mesh(portal(9.0).vertices + np.array([60, 0, 0]), portal(9.0).triangles)])
    plain, turned = spots_in(mesh), spots_in(mesh.moved(pose))
    assert [(s.kind, s.layers) for s in turned] == [(s.kind, s.layers) for s in plain]
    for a, b in zip(plain, turned, strict=True):
        assert b.length == pytest.approx(a.length, abs=0.01)
        assert b.reach == pytest.approx(a.reach, abs=0.01)
        assert b.area == pytest.approx(a.area, rel=1e-3)
        back = Pose.of(pose).inverse.apply(b.path.array)
        assert sorted(back[:, 2]) == pytest.approx(sorted(a.path.array[:, 2]), abs=1e-6)


# --- the samples -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PLAIN)
@pytest.mark.parametrize("turn", [0.0, 137.0])
def test_samples_have_exactly_the_weak_spots_that_their_maker_knows(name: str, turn: float) -> None:
    truth = TRUTH[name]
    pose = np.eye(4)
    pose[:3, :3] = about_z(turn)
    mesh = part_of(name).mesh.moved(pose @ np.array(truth["pose"]))
    spots = sorted(spots_in(mesh), key=lambda s: (s.z, s.kind))
    stated = sorted(truth["weak_spots"], key=lambda w: (w["z_mm"], w["kind"]))
    assert [s.kind for s in spots] == [w["kind"] for w in stated]
    for spot, weak in zip(spots, stated, strict=True):
        assert spot.z == pytest.approx(weak["z_mm"], abs=0.02)
        assert spot.length == pytest.approx(weak["length_mm"], rel=0.01)
        assert spot.reach == pytest.approx(weak["reach_mm"], abs=0.03)
        assert spot.area == pytest.approx(weak["area_mm2"], rel=0.01)


# --- bad meshes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["airplane.ply", "ant.ply", "nut.ply", "sphere.ply"])
def test_meshes_that_pyvista_ships_get_sane_answers(name: str) -> None:
    import pyvista

    data = pyvista.read(os.path.join(os.path.dirname(pv_examples.__file__), name)).triangulate().clean()
    points = np.array(data.points, np.float64)
    points = (points - points.min(axis=0)) * (60 / np.ptp(points, axis=0).max())
    mesh = Mesh(points, data.faces.reshape(-1, 4)[:, 1:].astype(np.int32))
    spots = spots_in(mesh)
    assert (np.diff([s.severity for s in spots]) <= 1e-6).all()
    for s in spots:
        assert 0 < s.severity <= 1
        assert -1e-6 <= s.z <= points[:, 2].max()
        assert s.area <= np.prod(np.ptp(points[:, :2], axis=0)) * (s.layers[1] - s.layers[0] + 1)
        low, high = s.path.array.min(axis=0), s.path.array.max(axis=0)
        assert (low >= points.min(axis=0) - 0.5).all()
        assert (high <= points.max(axis=0) + 0.5).all()


def test_an_inverted_part_is_judged_like_the_upright_one() -> None:
    plain, other = spots_in(shelf(6.0)), spots_in(flipped(shelf(6.0)))
    figures = [[(s.kind, round(s.reach, 3), s.layers) for s in spots] for spots in (plain, other)]
    assert figures[0] == figures[1]


def test_an_open_part_is_judged_as_far_as_it_can_be_closed() -> None:
    whole = shelf(6.0)
    holed = Mesh(whole.vertices, np.delete(whole.triangles, [5, 20], axis=0))
    assert [(s.kind, round(s.reach, 3)) for s in spots_in(holed)] == [("cantilever", 6.0)]


# --- measures --------------------------------------------------------------------------------------------------------


def test_the_farthest_point_is_found_in_the_middle_of_a_ring_of_support() -> None:
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10.0]])
    hole = Region.filled([square])
    support = Region.filled([np.array([[-5, -5], [15, -5], [15, 15], [-5, 15.0]])]) - hole
    assert farthest(hole, support) == pytest.approx(5.0, abs=0.01)
    # Between two points of support the farthest corner of a square: closed form, half the diagonal from the centre.
    corners = Region.filled([square + 10, square - 10])
    assert farthest(hole, corners) == pytest.approx(10.0, abs=0.01)


def test_chords_of_a_disc_are_as_long_as_geometry_says() -> None:
    t = 2 * np.pi * np.arange(720) / 720
    runs = chords([5 * np.column_stack([np.cos(t), np.sin(t)])], np.array([0.6, 0.8]), count=10)
    offset = -5 + (np.arange(10) + 0.5)
    assert np.linalg.norm(runs[:, 1] - runs[:, 0], axis=1) == pytest.approx(2 * np.sqrt(25 - offset**2), abs=1e-3)
