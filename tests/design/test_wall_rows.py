"""Rows on walls: spacing against elliptic integrals, and nothing weak where wall and row stand."""

from __future__ import annotations

import manifold3d as m3
import numpy as np
import pytest
from scipy.special import ellipeinc

from core.design.span import corners_of
from core.design.wall_row import wall_with_row
from core.geometry.mesh import joined
from core.geometry.polyline import Polyline
from core.proof.clearance import clearance
from core.proof.prove import surroundings
from tests.design.walls import SETUP, ellipse, front_edge, mesh_of, rim, shelf, weak_spots
from tests.meshes import box


def arc(points, a, b):
    """Arc lengths of points on an ellipse from its end on +X: a E(t | 1 − b²/a²) for t counted from the minor axis.

    scipy.special.ellipeinc(φ, m) is the incomplete integral of the second kind.
    """
    t = np.unwrap(np.arctan2(points[:, 1] / b, points[:, 0] / a))
    m = 1 - (b / a) ** 2
    quarter = ellipeinc(np.pi / 2, m)
    return a * (ellipeinc(t - np.pi / 2, m) + quarter)


@pytest.mark.parametrize(("a", "b"), [(30.0, 30.0), (40.0, 22.0)])
def test_teeth_stand_evenly_along_a_closed_rim(a, b):
    part = rim(a, b)
    made = wall_with_row(part, ellipse(a, b, 15.0), SETUP)
    assert made.span.closed
    at = made.span.bed_points(made.span.at(made.row.centres).points(np.zeros(made.row.teeth), made.row.heights))
    step = np.abs(np.diff(arc(at[:, :2], a, b)))
    around = 4 * a * ellipeinc(np.pi / 2, 1 - (b / a) ** 2)
    assert step == pytest.approx(around / made.row.teeth, rel=0.01)
    assert made.span.length == pytest.approx(around, rel=1e-3)


def test_the_row_on_a_wall_stands_at_the_gap_and_keeps_clear():
    part = shelf()
    made = wall_with_row(part, front_edge(), SETUP)
    assert made.span.gap_range == pytest.approx((made.wall.gap, made.wall.gap), abs=1e-6)
    assert made.row.clear_bridge <= SETUP.clear_bridge
    near = surroundings(joined([part, made.solid]), made.span, SETUP)
    kept = clearance(near, made.row, made.teeth)
    assert kept.off_ledge.max() == 0.0
    assert kept.outside.max() == 0.0
    assert np.isinf(kept.to_part).all()


def test_a_rim_on_its_wall_has_nothing_weak_left():
    part = joined([rim(30.0, 30.0), box((-2, 29.9, 0), (2, 33, 16))])
    made = wall_with_row(part, ellipse(30.0, 30.0, 15.0), SETUP)
    assert weak_spots(part) != []
    assert weak_spots(joined([part, made.solid, made.teeth.mesh()])) == []


def test_no_tooth_stands_across_a_corner_and_one_stands_near_each_side_of_it():
    # A square tube, 30 mm a side: the rim's corners lie 30 mm apart, as they were drawn.
    half, thick = 15.0, 2.0
    outer = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    inner = outer * (half - thick) / half
    tube = mesh_of(m3.Manifold.extrude(m3.CrossSection([outer, inner[::-1]]), 10.0).translate((0, 0, 15.0)))
    made = wall_with_row(tube, Polyline.of(np.column_stack([outer, np.full(4, 15.0)]), True), SETUP)
    row, span = made.row, made.span
    assert len(span.corners) == 4
    assert np.diff(span.corners) == pytest.approx(30.0, abs=0.2)
    away = np.abs(row.centres[:, None] - np.array(span.corners)[None])
    away = np.minimum(away, span.length - away)
    near = np.sort(away, axis=0)[:2]  # the two nearest teeth of every corner
    assert near.min() >= row.tip / 2 + (row.foot - row.tip) / 2
    assert near.max() <= row.tip / 2 + row.thickness + SETUP.clear_bridge / 2
    assert row.clear_bridge <= SETUP.clear_bridge + 1e-6
    for tooth in made.teeth.each():  # a tooth is short along the rim and thin across: it has no leg round a corner
        low, high = tooth.bounds
        assert sorted(high[:2] - low[:2])[0] <= row.thickness + 1e-6


@pytest.mark.parametrize("sides", [24, 64, 256])
def test_a_round_rim_has_no_corners_however_coarse(sides):
    t = 2 * np.pi * np.arange(sides) / sides
    ring = np.column_stack([20 * np.cos(t), 20 * np.sin(t)])
    line = Polyline.of(np.column_stack([ring, np.zeros(sides)]), True)
    s = np.linspace(0, line.length, 500)
    assert corners_of(s, line.at(np.where(s >= line.length, 0, s))[:, :2], True) == ()
