"""Hover picking on a made-up depth buffer, where every hidden and visible point is known beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from app.view.camera import Camera
from app.view.lens import Lens
from app.view.picking import Picker
from app.view.sight import Sight
from core.geometry.mesh import Mesh
from tests.app.view.shapes import features
from tests.meshes import box

W, H = 400, 300
BOX = box((-20, 0, 0), (20, 30, 40))


def lens(parallel: bool = True) -> Lens:
    """From the front: x to the right, z up; 120 mm over 300 px, so that 1 mm takes 2.5 px in the middle."""
    camera = Camera(np.array([0.0, 0.0, 20.0]), 0.0, 0.0, 120.0, parallel)
    return Lens(camera, W, H, np.array([[-60.0, -60.0, -10.0], [60.0, 60.0, 60.0]]))


def wall_at(y: float, through: Lens, covered: slice = slice(None)) -> np.ndarray:
    """A depth buffer that shows an upright wall at ``y`` in some rows and background elsewhere."""
    buffer = np.ones((H, W), np.float32)
    depth = through.depth_of(np.array([0.0, y, 0.0]))
    buffer[covered] = through.buffer_from_depth(depth)
    return buffer


def picker(through: Lens, buffer: np.ndarray, mesh: Mesh, pairs: np.ndarray, ratio: float = 1.0) -> Picker:
    made = Picker()
    made.set_part(mesh, mesh.vertices[pairs], pairs)
    made.set_picture(Sight(through, buffer, ratio))
    return made


def screen_of(through: Lens, point: tuple[float, float, float]) -> tuple[float, float]:
    place, _ = through.project(np.array(point))
    return float(place[0]), float(place[1])


@pytest.mark.parametrize("parallel", [True, False])
def test_what_lies_before_on_and_behind_a_wall(parallel: bool) -> None:
    through = lens(parallel)
    sight = Sight(through, wall_at(0.0, through))
    points = np.array([[5.0, -10.0, 20.0], [5.0, 0.0, 20.0], [5.0, 10.0, 20.0]])
    assert sight.seen(*through.project(points)).tolist() == [True, True, False]


def test_points_beside_the_picture_are_not_seen() -> None:
    through = lens()
    sight = Sight(through, np.ones((H, W), np.float32))
    places = np.array([[-5.0, 10.0], [10.0, -5.0], [W + 3.0, 10.0], [10.0, H + 3.0], [np.nan, 10.0], [10.0, 10.0]])
    assert sight.seen(places, np.full(6, 300.0)).tolist() == [False] * 5 + [True]


def test_a_silhouette_edge_is_seen_though_only_background_is_behind_it() -> None:
    through = lens()
    sight = Sight(through, np.ones((H, W), np.float32))
    assert sight.seen(*through.project(np.array([[0.0, 0.0, 20.0]])))[0]


def test_an_edge_just_behind_a_nearer_rim_is_hidden() -> None:
    """One pixel inside the near wall, background beyond its rim: the edge behind must not leak through."""
    through = lens()
    buffer = wall_at(-40.0, through, slice(150, None))
    sight = Sight(through, buffer)
    depth = float(through.depth_of(np.array([0.0, 10.0, 0.0])))
    rows = np.array([150.5, 151.5, 152.5])
    assert not sight.seen(np.column_stack([np.full(3, 200.0), rows]), np.full(3, depth)).any()


def test_a_line_that_dips_behind_a_wall_is_cut_where_it_goes_under() -> None:
    through = lens()
    sight = Sight(through, wall_at(0.0, through))
    runs = sight.runs(np.array([[-30.0, -20.0, 20.0], [30.0, 20.0, 20.0]]))
    assert [seen for seen, _ in runs] == [True, False]
    meets = screen_of(through, (0.0, 0.0, 20.0))[0]
    assert runs[0][1][-1, 0] == pytest.approx(meets, abs=6.0)


def test_the_nearest_edge_within_reach_is_taken_and_none_beyond() -> None:
    through = lens()
    pairs = features(BOX)
    made = picker(through, wall_at(0.0, through), BOX, pairs)
    x, y = screen_of(through, (-20.0, 0.0, 25.0))  # on the upright front edge at the left
    hit = made.pick(x - 7.5, y, ("edge",))
    assert hit is not None
    assert hit.kind == "edge"
    ends = BOX.vertices[pairs[hit.index]]
    assert np.allclose(ends[:, :2], (-20.0, 0.0))
    assert hit.point == pytest.approx((-20.0, 0.0, 25.0), abs=1e-4)
    assert made.pick(x - 8.5, y, ("edge",)) is None


def test_edges_behind_the_front_are_never_taken() -> None:
    """In perspective the far edges fall well inside the front face; a pick there must not find them."""
    through = lens(parallel=False)
    deep = box((-20, 0, 0), (20, 120, 40))
    pairs = features(deep)
    x, y = screen_of(through, (20.0, 120.0, 20.0))
    assert screen_of(through, (20.0, 0.0, 20.0))[0] - x > 8 + 4
    assert picker(through, wall_at(0.0, through), deep, pairs).pick(x, y, ("edge",)) is None
    assert picker(through, wall_at(120.0, through), deep, pairs).pick(x, y, ("edge",)) is not None


def test_a_hidden_edge_does_not_stand_before_a_visible_one() -> None:
    through = lens(parallel=False)
    made = picker(through, wall_at(0.0, through), BOX, features(BOX))
    hidden = screen_of(through, (20.0, 30.0, 20.0))  # nearer to the pointer than the front edge, but behind the face
    hit = made.pick(*hidden, ("edge",))
    assert hit is not None
    assert hit.point == pytest.approx((20.0, 0.0, 20.0), abs=1e-3)


def test_reach_is_in_logical_pixels_at_any_device_scale() -> None:
    through = lens()
    buffer = np.kron(wall_at(0.0, through), np.ones((2, 2), np.float32))
    made = picker(through, buffer, BOX, features(BOX), ratio=2.0)
    x, y = screen_of(through, (-20.0, 0.0, 25.0))
    assert made.pick(x - 7.5, y, ("edge",)) is not None
    assert made.pick(x - 8.5, y, ("edge",)) is None


def test_corners_come_before_edges_when_they_may_be_taken() -> None:
    through = lens()
    pairs = features(BOX)
    made = picker(through, wall_at(0.0, through), BOX, pairs)
    x, y = screen_of(through, (20.0, 0.0, 40.0))
    hit = made.pick(x + 3, y - 3, ("vertex", "edge", "face"))
    assert hit is not None
    assert hit.kind == "vertex"
    assert BOX.vertices[hit.index].tolist() == [20.0, 0.0, 40.0]
    far = made.pick(x, y + 30, ("vertex", "edge", "face"))
    assert far is not None
    assert far.kind == "edge"


@pytest.mark.parametrize("parallel", [True, False])
def test_a_face_is_found_from_the_depth_alone(parallel: bool) -> None:
    through = lens(parallel)
    made = picker(through, wall_at(0.0, through), BOX, features(BOX))
    hit = made.pick(*screen_of(through, (4.0, 0.0, 23.0)), ("edge", "face"))
    assert hit is not None
    assert (hit.kind, hit.index) == ("face", -1)
    assert hit.point == pytest.approx((4.0, 0.0, 23.0), abs=0.5)  # half a pixel is 0.2 mm here
    triangle = made.triangle_of(hit)
    assert np.allclose(BOX.vertices[BOX.triangles[triangle]][:, 1], 0.0)
    assert made.has_finder


def test_what_a_section_cuts_away_cannot_be_taken() -> None:
    through = lens()
    made = picker(through, np.ones((H, W), np.float32), BOX, features(BOX))
    x, y = screen_of(through, (0.0, 0.0, 40.0))  # the upper front edge, with nothing drawn behind it
    assert made.pick(x, y, ("edge",)) is not None
    made.set_section(np.array([0.0, 0.0, 30.0]), np.array([0.0, 0.0, 1.0]))
    assert made.pick(x, y, ("edge",)) is None


def test_without_a_picture_nothing_is_taken() -> None:
    made = Picker()
    assert made.pick(10.0, 10.0, ("edge", "face", "vertex")) is None
    made.set_part(BOX, BOX.vertices[features(BOX)])
    assert made.pick(10.0, 10.0, ("edge", "face", "vertex")) is None
    assert made.surface_point(10.0, 10.0) is None
