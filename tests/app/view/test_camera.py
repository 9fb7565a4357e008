"""The turntable camera, by plain geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.view.camera import Camera
from app.view.lens import Lens

BOX = np.array([[-30.0, -10.0, 0.0], [50.0, 25.0, 40.0]])
angles = st.floats(-3.1, 3.1), st.floats(-1.5, 1.5)


def lens(camera: Camera, bounds: np.ndarray = BOX) -> Lens:
    return Lens(camera, 800.0, 500.0, bounds)


@pytest.mark.parametrize(
    ("name", "eye_side", "to_the_right", "up"),
    [  # third-angle projection as in ISO 128-3: the right end is seen from the right, the plan from above
        ("front", (0, -1, 0), (1, 0, 0), (0, 0, 1)),
        ("right", (1, 0, 0), (0, 1, 0), (0, 0, 1)),
        ("back", (0, 1, 0), (-1, 0, 0), (0, 0, 1)),
        ("left", (-1, 0, 0), (0, -1, 0), (0, 0, 1)),
        ("plan", (0, 0, 1), (1, 0, 0), (0, 1, 0)),
        ("below", (0, 0, -1), (1, 0, 0), (0, -1, 0)),
    ],
)
def test_named_views_look_from_where_the_drawing_says(name, eye_side, to_the_right, up) -> None:
    assert np.allclose(Camera().named(name).basis, [to_the_right, up, eye_side], atol=1e-12)


@given(*angles, st.floats(-900, 900), st.floats(-900, 900))
def test_orbiting_keeps_the_horizon_level(azimuth: float, elevation: float, dx: float, dy: float) -> None:
    right, up, back = Camera().looking(azimuth, elevation).orbited(dx, dy).basis
    assert abs(right[2]) < 1e-12
    assert up[2] > -1e-12
    assert np.allclose(np.cross(right, up), back, atol=1e-12)


@given(*angles, st.booleans(), st.floats(-200, 200), st.floats(-200, 200))
def test_orbiting_about_a_point_leaves_it_where_it_is_seen(azimuth, elevation, parallel, dx, dy) -> None:
    pivot = np.array([12.0, -7.0, 30.0])
    start = Camera(azimuth=azimuth, elevation=elevation, parallel=parallel)
    before, _ = lens(start).project(pivot)
    after, _ = lens(start.orbited(dx, dy, pivot)).project(pivot)
    assert np.allclose(before, after, atol=1e-6)


@given(*angles, st.booleans(), st.floats(0.2, 5.0), st.tuples(st.floats(50, 750), st.floats(50, 450)))
def test_zooming_leaves_the_point_under_the_pointer(azimuth, elevation, parallel, factor, pointer) -> None:
    start = Camera(azimuth=azimuth, elevation=elevation, parallel=parallel)
    through = lens(start)
    anchor = through.at(*pointer, through.distance * 0.9)
    after, _ = lens(start.zoomed(factor, anchor)).project(anchor)
    assert np.allclose(after, pointer, atol=1e-6)


def test_panning_moves_the_part_with_the_hand() -> None:
    start = Camera(parallel=True)
    point = np.array([3.0, 4.0, 5.0])
    before, _ = lens(start).project(point)
    after, _ = lens(start.panned(40.0, -25.0, 500.0)).project(point)
    assert np.allclose(after - before, (40.0, -25.0))


@given(*angles, st.booleans(), st.floats(0.4, 3.0))
def test_a_framed_box_fills_the_view_and_fits(azimuth, elevation, parallel, aspect) -> None:
    camera = Camera(azimuth=azimuth, elevation=elevation, parallel=parallel).framed(BOX, aspect)
    corners = np.array(np.meshgrid(*BOX.T, indexing="ij")).reshape(3, -1).T
    screen, depth = Lens(camera, 500.0 * aspect, 500.0, BOX).project(corners)
    share = np.ptp(screen, axis=0) / (500.0 * aspect, 500.0)
    assert (depth > 0).all()
    assert 0.90 < share.max() <= 1.0
    assert np.allclose((screen.min(axis=0) + screen.max(axis=0)) / 2, (250.0 * aspect, 250.0), atol=8.0)


def test_quarter_turns_start_from_the_nearest_square_view() -> None:
    turned = Camera().looking(math.radians(-20), math.radians(21)).turned(1)
    assert (turned.azimuth, turned.elevation) == pytest.approx((math.pi / 2, 0.0))
    assert Camera().turned(0, 1).elevation == pytest.approx(math.pi / 2)
    assert Camera().turned(0, 1).turned(0, 1).elevation == pytest.approx(math.pi / 2)


def test_looking_towards_a_direction_faces_it() -> None:
    assert np.allclose(Camera().towards(np.array([0.0, -2.0, 0.0])).basis[2], (0, -1, 0), atol=1e-12)
    assert np.allclose(Camera().towards(np.array([1.0, -1.0, 1.0])).basis[2], np.ones(3) / 3**0.5 * (1, -1, 1))
    assert np.allclose(Camera().towards(np.array([0.0, 0.0, -1.0])).basis[2], (0, 0, -1), atol=1e-12)


def test_a_flight_takes_the_short_way_and_arrives() -> None:
    a, b = Camera().looking(3.0, 0.2), Camera(height=20.0).looking(-3.0, -0.4)
    assert abs(abs(a.between(b, 0.5).azimuth) - math.pi) < 0.2
    arrived = a.between(b, 1.0)
    assert (arrived.azimuth, arrived.elevation, arrived.height) == pytest.approx((-3.0, -0.4, 20.0))


def test_working_axes_turn_what_front_means() -> None:
    quarter = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])  # the bed's +X becomes the working −Y
    assert np.allclose(Camera(working=quarter).named("front").basis[2], (1, 0, 0), atol=1e-12)


def test_a_kept_state_comes_back_and_nonsense_changes_nothing() -> None:
    camera = Camera(np.array([1.0, 2.0, 3.0]), 0.3, -0.2, 44.0, True)
    back = Camera().restored(camera.state())
    assert back.state() == camera.state()
    for nonsense in ({}, {**camera.state(), "height": -1.0}, {**camera.state(), "focus": "x"}, {"focus": [1, 2]}):
        assert Camera().restored(nonsense).state() == Camera().state()
