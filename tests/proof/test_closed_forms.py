"""Roark's worked beams, the flattened strand, the tipping box. Figures worked by hand from the cited tables."""

import math

import pytest

from core.proof import closed_forms as cf

# b = 20, h = 40 mm, E = 200 GPa, L = 1 m, w = 1 N/mm. Roark's Formulas for Stress and Strain, Tables 8.1 and A.1.
INERTIA = cf.rectangle_inertia(20, 40)


def test_rectangle_inertia():
    assert pytest.approx(106_666.667, abs=1e-3) == INERTIA


@pytest.mark.parametrize(
    ("formula", "load", "expected"),
    [
        (cf.sag_simply_supported, 1.0, 0.6104),
        (cf.sag_clamped, 1.0, 0.1221),
        (cf.sag_cantilever, 1.0, 5.859),
        (cf.bend_cantilever, 100.0, 1.5625),
    ],
)
def test_roark_beams(formula, load, expected):
    assert formula(load, 1000.0, 200e3, INERTIA) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("length", "expected"), [(5, 0.001979), (10, 0.03167), (20, 0.5067)])
def test_soft_strand_under_its_own_weight(length, expected):
    # Ø 0.4 strand of 1240 kg/m³ and 1 MPa, clamped (Roark, Table 8.1; calculated)
    load = cf.strand_weight(0.4, 1.24)
    assert cf.sag_clamped(load, length, 1.0, cf.circle_inertia(0.4)) == pytest.approx(expected, rel=1e-3)


def test_cold_strand_does_not_sag():
    load = cf.strand_weight(0.4, 1.24)
    assert cf.sag_clamped(load, 10, 3500.0, cf.circle_inertia(0.4)) == pytest.approx(9e-6, rel=0.02)


def test_halving_the_pitch_divides_by_sixteen():
    assert cf.bending_ratio(10.0, 5.0) == 16.0
    assert math.isinf(cf.bending_ratio(10.0, 0.0))


@pytest.mark.parametrize(("width", "area", "diameter"), [(0.45, 0.081416, 0.3220), (0.40, 0.071416, 0.3015)])
def test_flattened_strand(width, area, diameter):
    # (w − h)h + πh²/4 worked by hand
    found = cf.bead_area(width, 0.2)
    assert found == pytest.approx(area, abs=1e-6)
    assert cf.free_strand_diameter(found) == pytest.approx(diameter, abs=1e-4)


def test_corner_voids():
    assert cf.corner_voids(0.4, 0.2) == pytest.approx(0.1073, abs=1e-4)


def test_box_tips_at_its_diagonal():
    # Box 20 × 20 × 40: margin 10, centre of mass at 20 (statics)
    assert cf.tip_angle(10, 20) == pytest.approx(26.565, abs=1e-3)
    assert cf.tip_angle(-1, 20) < 0
