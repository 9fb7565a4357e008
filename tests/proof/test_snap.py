"""Necks against figures worked by hand: tip 0.8 × thickness 0.8 at 23 MPa."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.design.learned import Learned
from core.design.materials import Range
from core.design.setup import PrintSetup
from core.proof.snap import (
    FINGERS_N,
    Force,
    Necks,
    how_it_goes,
    neck_moment,
    neck_pull,
    neck_shear,
    neck_sideways,
    snap_piece,
    snap_row,
)

SETUP = PrintSetup()
FIXED = Learned(strength=Range(23.0, 23.0, "a round figure near PLA across layers, doi 10.1089/3dp.2020.0109"))
sizes = st.floats(0.2, 3.0)
strengths = st.floats(5.0, 60.0)


def necks(**changes):
    return Necks(**({"direction": "up", "teeth": 9, "tip": 0.8, "thickness": 0.8, "height": 1.2} | changes))


def test_one_neck_by_hand():
    # 23 × 0.64 = 14.72; / √3 = 8.50; 23 × 0.8³ / 6 = 1.963; / 1.2 = 1.636
    assert neck_pull(0.8, 0.8, 23) == pytest.approx(14.72)
    assert neck_shear(0.8, 0.8, 23) == pytest.approx(8.50, abs=0.005)
    assert neck_moment(0.8, 0.8, 23) == pytest.approx(1.963, abs=5e-4)
    assert neck_sideways(0.8, 0.8, 1.2, 23) == pytest.approx(1.636, abs=5e-4)


def test_nine_at_once():
    snap = snap_row(necks(), SETUP, FIXED)
    assert snap.pull.low == pytest.approx(132.48)
    assert snap.sideways.low == pytest.approx(9 * 1.63556, abs=1e-3)
    assert snap.scar == pytest.approx(9 * 0.64)


def test_a_short_tooth_shears_before_it_bends():
    assert neck_sideways(0.8, 0.8, 0.05, 23) == pytest.approx(neck_shear(0.8, 0.8, 23))


def test_the_depth_counts_in_the_direction_of_the_push():
    # b d² / 6: twice the depth is twice the moment of twice the width (Roark, Table A.1)
    assert neck_moment(0.5, 1.0, 23) == pytest.approx(2 * neck_moment(1.0, 0.5, 23))


def test_an_upright_neck_is_weaker_than_a_side_neck():
    up, side = (snap_row(necks(direction=d), SETUP) for d in ("up", "side"))
    assert up.pull.low == pytest.approx(9 * 0.64 * 22.8)  # specimens, doi 10.1089/3dp.2020.0109
    assert side.pull.low == pytest.approx(9 * 0.64 * 33.75)  # interface, same paper
    assert up.pull.high == side.pull.high == pytest.approx(9 * 0.64 * 53)  # Processes 2025, 13(9), 2733


def test_a_tip_that_does_not_print_holds_nothing_on_the_low_side():
    snap = snap_row(necks(tip=0.2, lost=True), SETUP)
    assert snap.pull.low == 0
    assert snap.pull.high == pytest.approx(9 * SETUP.line_width * 0.8 * 53)


def test_soft_material_is_cut():
    snap = snap_row(necks(), PrintSetup(material="TPU"))
    assert snap.how == "knife"
    assert "cut" in snap_piece([necks()], PrintSetup(material="TPU")).order[0]


@pytest.mark.parametrize(("force", "how"), [(FINGERS_N, "fingers"), (FINGERS_N + 1, "pliers"), (1000.0, "knife")])
def test_thresholds(force, how):
    assert how_it_goes(Force(1.0, force), SETUP) == how


def test_a_piece_sums_all_its_rows_and_frees_the_weakest_first():
    rows = [necks(name="lip"), necks(direction="side", teeth=3, name="ear")]
    piece = snap_piece(rows, SETUP)
    each = [snap_row(r, SETUP) for r in rows]
    assert piece.pull.high == pytest.approx(sum(e.pull.high for e in each))
    assert piece.order[0].startswith("Start with ear")
    assert "both ways" in piece.order[-1]


def test_no_rows_hold_nothing():
    piece = snap_piece([], SETUP)
    assert (piece.pull, piece.order) == (Force(0, 0), ())


@given(sizes, sizes, st.floats(0.1, 8.0), strengths)
def test_doubling_the_strength_doubles_every_force(tip, thickness, height, strength):
    row = necks(tip=tip, thickness=thickness, height=height)
    one, two = (snap_row(row, SETUP, Learned(strength=Range(k * strength, k * strength, ""))) for k in (1, 2))
    for name in ("pull", "shear", "sideways", "along", "moment"):
        a, b = getattr(one, name), getattr(two, name)
        assert (b.low, b.high) == pytest.approx((2 * a.low, 2 * a.high))


@given(sizes, sizes, st.floats(0.1, 8.0))
def test_low_never_exceeds_high(tip, thickness, height):
    snap = snap_row(necks(tip=tip, thickness=thickness, height=height), SETUP)
    assert all(f.low <= f.high + 1e-12 for f in (snap.pull, snap.shear, snap.sideways, snap.along))
