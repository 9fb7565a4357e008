"""Bed, heat scale, scale bar, dimensions and balloons: their figures and places."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from app.look.drawing import nice_length
from app.look.tokens import LIGHT
from app.view.balloon_drawing import Balloon, Coverage, place
from app.view.bed_drawing import BedDrawing
from app.view.camera import Camera
from app.view.heat_drawing import Heat, cividis
from app.view.lens import Lens
from app.view.measure_drawing import Dimension, paint_dimension
from app.view.page import Page, frame_of, lightened
from app.view.rendering import FINE, shifts
from app.view.sheet_drawing import paint_note, scale_box
from app.view.teeth_drawing import hatch
from tests.app.view.shapes import near

BOX = np.array([[-30.0, 0.0, 0.0], [30.0, 20.0, 40.0]])


def page(azimuth: float = 0.0, elevation: float = 0.0) -> Page:
    camera = Camera(azimuth=azimuth, elevation=elevation).framed(BOX, 4 / 3)
    return Page(Lens(camera, 800.0, 600.0, BOX), LIGHT, frame_of(800.0, 600.0))


def test_cividis_is_the_published_one() -> None:
    share = np.linspace(0.0, 1.0, 256)
    theirs = mpl.colormaps["cividis"](share, bytes=True)[:, :3].astype(int)
    assert np.abs(cividis(share).astype(int) - theirs).max() <= 6


def test_heat_leaves_the_unknown_as_plaster_and_shows_the_limit_in_any_case() -> None:
    heat = Heat(np.array([0.0, np.nan, 0.4]), 1.0, "reach")
    assert heat.top == pytest.approx(1.25)
    assert heat.colours()[1].tolist() == [0xFD, 0xFA, 0xF3]
    assert heat.colours()[0].tolist() == [0x00, 0x22, 0x4D]
    assert Heat(np.array([3.0]), 1.0, "reach").top == 3.0
    assert Heat(np.array([np.nan]), 0.0, "reach").top > 0


@pytest.mark.parametrize(("size", "step"), [(1.0, 0.1), (120.0, 10.0), (900.0, 100.0)])
def test_the_bed_is_ruled_to_the_size_of_the_part(size: float, step: float, looked: QApplication) -> None:
    bed = BedDrawing()
    bounds = np.array([[-size / 2, 3.0, 0.0], [size / 2, 3.0 + size / 3, size / 2]])
    bed.set_bounds(bounds)
    assert bed.step == pytest.approx(step)
    assert (bed.low < bounds[0, :2]).all()
    assert (bed.high > bounds[1, :2]).all()
    assert np.allclose(np.rint(bed.low / step), bed.low / step)


def test_the_word_stands_before_the_part_and_reads_from_the_front(looked: QApplication) -> None:
    bed = BedDrawing()
    bed.set_bounds(BOX)
    outlines = np.concatenate(bed._lettered())
    assert (outlines[:, 1] < BOX[0, 1]).all()
    assert outlines[:, 0].mean() == pytest.approx(0.0, abs=5.0)
    assert np.ptp(outlines[:, 0]) > 3 * np.ptp(outlines[:, 1])
    assert (outlines[:, 2] == 0).all()


def test_shifts_lie_evenly_within_one_pixel() -> None:
    places = np.array(shifts(FINE))
    assert places[0].tolist() == [0.0, 0.0]
    assert np.abs(places).max() <= 0.5
    between = np.linalg.norm(places[:, None] - places[None], axis=2) + np.eye(FINE)
    assert between.min() > 0.2  # on a square grid of eight the spacing is 0.35


def test_hatching_runs_at_45_degrees_inside_its_mask_only() -> None:
    mask = np.zeros((60, 80), np.uint8)
    mask[10:50, 20:60] = 255
    drawn = hatch(mask, 1.0, "#16181B")[..., 3]
    assert not drawn[mask == 0].any()
    inside = drawn[10:50, 20:60]
    assert 0.1 < (inside > 128).mean() < 0.5
    assert np.array_equal(inside[:-1, 1:], inside[1:, :-1])  # a step down and to the left stays on a line


def painted(draw) -> np.ndarray:
    image = QImage(800, 600, QImage.Format.Format_RGB888)
    image.fill(LIGHT.paper)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw(painter)
    painter.end()
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(600, image.bytesPerLine())
    return flat[:, :2400].reshape(600, 800, 3).astype(np.int16)


def test_a_dimension_is_as_long_as_what_it_measures(looked: QApplication) -> None:
    p, q = np.array([-30.0, 0.0, 0.0]), np.array([30.0, 0.0, 0.0])
    here = page()
    picture = painted(lambda painter: paint_dimension(painter, here, Dimension(p, q, "60.00"), BOX))
    ink = near(picture, LIGHT.ink, 120)
    ends, _ = here.lens.project(np.array([p, q]))
    columns = np.flatnonzero(ink.any(axis=0))
    assert columns[0] == pytest.approx(ends[0, 0], abs=2)
    assert columns[-1] == pytest.approx(ends[1, 0], abs=2)
    rows = np.flatnonzero(ink.any(axis=1))
    assert rows.min() > ends[:, 1].max()  # away from the part, which is above


def test_a_dimension_on_the_bed_lies_before_the_part(looked: QApplication) -> None:
    p, q = np.array([-30.0, 0.0, 15.0]), np.array([30.0, 0.0, 15.0])
    here = page(0.0, np.pi / 2)
    picture = painted(lambda painter: paint_dimension(painter, here, Dimension(p, q, "60.00", on_bed=True), BOX))
    rows = np.flatnonzero(near(picture, LIGHT.ink, 60).any(axis=1))
    front, _ = here.lens.project(np.array([0.0, 0.0, 0.0]))
    assert rows.max() > front[1] + 20


def test_a_dimension_of_no_length_or_behind_the_eye_draws_nothing(looked: QApplication) -> None:
    here = page()
    behind = here.lens.eye + here.lens.basis[2] * 10
    for none in (Dimension(np.zeros(3), np.zeros(3), "0"), Dimension(behind, behind + 5, "0")):
        picture = painted(lambda painter, none=none: paint_dimension(painter, here, none, BOX))
        assert not near(picture, LIGHT.ink, 60).any()


def test_balloons_keep_off_each_other_the_part_and_what_stands_there(looked: QApplication) -> None:
    here = page()
    taken = [QRectF(11, 11, 300, 80), scale_box(here)]
    busy = Coverage(np.zeros((100, 134), bool), 6.0)
    busy.mask[40:60, :60] = True
    places = enumerate((-25, -20, -15, 15, 20))
    balloons = [Balloon(n, np.array([x, 0.0, 20.0]), f"Lip {n}", "gap 2.40") for n, x in places]
    placed = place(balloons, here, taken, busy)
    assert len(placed) == 5
    boxes = [one.box for one in placed]
    for i, box in enumerate(boxes):
        assert here.frame.contains(box)
        assert not any(box.intersects(other) for other in boxes[:i] + taken)
        assert busy.share(box) == 0.0
    assert [one.on_left for one in placed].count(True) == 3


def test_a_balloon_of_a_point_off_the_page_is_left_out(looked: QApplication) -> None:
    assert place([Balloon(1, np.array([500.0, 0.0, 0.0]), "far")], page(), []) == []


def test_the_note_stays_on_the_page(looked: QApplication) -> None:
    here, where = page(), []
    figures = [("Length", "68.00 mm"), ("Gap", "5.88 mm")]
    corners = QPointF(15, 15), QPointF(785, 590)
    for corner in corners:
        painted(lambda painter, corner=corner: where.append(paint_note(painter, here, corner, figures)))
    assert all(here.frame.contains(box) for box in where)
    assert not any(box.contains(corner) for box, corner in zip(where, corners, strict=True))


@pytest.mark.parametrize(("most", "step"), [(9.99, 5.0), (10.0, 10.0), (0.3, 0.2), (1234.0, 1000.0)])
def test_scale_steps_are_one_two_five(most: float, step: float) -> None:
    assert nice_length(most) == pytest.approx(step)


def test_a_line_of_very_many_points_looks_the_same_with_few() -> None:
    """Against shapely's Hausdorff distance between the line and what is drawn of it."""
    t = np.linspace(0, 6, 5000)
    curve = np.column_stack([100 * t, 80 * np.sin(t)])
    straight = np.column_stack([100 * t, 30 * t])
    back = np.vstack([straight, straight[::-1][1:]])
    for line, most in ((curve, 900), (straight, 2), (back, 1400)):
        drawn = lightened(line)
        assert len(drawn) <= most
        assert shapely.hausdorff_distance(shapely.LineString(line), shapely.LineString(drawn)) < 0.5
    few = curve[:20]
    assert lightened(few) is few
