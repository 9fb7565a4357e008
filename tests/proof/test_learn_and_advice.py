"""What a coupon teaches, and advice within the limits."""

from dataclasses import replace

import pytest

from core.design.coupon import CouponPlan, CouponRow
from core.design.learned import UNTAUGHT, Learned
from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.errors import BadValue
from core.proof.advice import advise
from core.proof.learn import Lesson, Outcome, learn, learned_from, tried_rows
from core.proof.near import Near
from core.proof.snap import FINGERS_N, snap_row
from core.proof.survival import survive

SETUP = PrintSetup()


def plan_of(*rows):
    """A coupon of rows (teeth, tip, thickness, clear bridge), 1.6 mm high."""
    made = tuple(CouponRow(i + 1, "", n, 5.0, 2.0, tip, t, 1.6, clear) for i, (n, tip, t, clear) in enumerate(rows))
    return CouponPlan(SETUP, made, 1.0, 1.0, (1, 1, 1))


COUPON = plan_of((5, 0.45, 0.9, 4.4), (5, 0.3, 0.9, 4.6), (3, 0.45, 0.9, 9.3), (5, 0.65, 0.9, 4.2))


def taught(*outcomes):
    return learn(tried_rows(COUPON, outcomes), SETUP, "your coupon of May")


def test_the_smallest_width_that_was_built():
    assert taught((1, Outcome()), (2, Outcome(printed=False)), (4, Outcome())).least_printable == 0.45
    assert taught((1, Outcome()), (2, Outcome())).least_printable == 0.3
    # A narrow tip that printed by chance beside a wider one that did not counts for nothing
    assert taught((1, Outcome(printed=False)), (2, Outcome()), (4, Outcome())).least_printable == 0.65
    assert taught((2, Outcome(printed=False))).least_printable is None


def test_the_longest_bridge_that_held():
    assert taught((1, Outcome()), (3, Outcome())).clear_bridge == 9.3
    assert taught((1, Outcome()), (3, Outcome(held=False))).clear_bridge == 4.4
    assert taught((3, Outcome(held=False))).clear_bridge is None
    assert taught((1, Outcome()), (3, Outcome(held=None))).clear_bridge == 4.4
    # Where the tips are missing the edge hung free: nothing is learned about bridges
    assert taught((1, Outcome()), (2, Outcome(printed=False, held=False))).clear_bridge == 4.4


def test_the_strength_from_a_scale():
    # 5 × 0.45 × 0.9 = 2.025 mm²: 60.75 N make 30 MPa, give or take a fifth
    found = taught((1, Outcome(pulled=60.75))).strength
    assert (found.low, found.high) == pytest.approx((24, 36))
    assert found.source == "your coupon of May"
    assert taught((1, Outcome())).strength is None


def test_the_limit_for_fingers():
    forces = {r.number: snap_row(t.necks, SETUP).sideways.high for r, t in zip(
        COUPON.rows, tried_rows(COUPON, [(i, Outcome()) for i in (1, 2, 3, 4)]), strict=True)}  # fmt: skip
    assert taught((1, Outcome())).fingers is None
    assert taught((1, Outcome(came_off="fingers"))).fingers == pytest.approx(max(forces[1], FINGERS_N))
    assert taught((1, Outcome(came_off="pliers"))).fingers == pytest.approx(0.9 * forces[1])
    found = taught((1, Outcome(came_off="fingers")), (4, Outcome(came_off="knife"))).fingers
    assert forces[1] <= found < forces[4]


def test_nonsense_is_refused():
    with pytest.raises(BadValue, match="no row 9"):
        taught((9, Outcome()))
    with pytest.raises(BadValue, match="newtons"):
        Outcome(pulled=-3)


def span_of(b):
    mesh = b.mesh
    return mesh, measure_span(mesh, b.edge(), b.setup)


def test_holding_better(bench):
    b = bench()
    mesh, span = span_of(b)
    advice = advise(span, RowWishes(), b.setup, "hold")
    assert advice.plan.clear_bridge < 4.0
    assert advice.plan.tip > 0.45
    assert advice.plan.teeth > 8
    assert advice.after.sideways.high > advice.before.sideways.high
    assert advice.after.sideways.high <= FINGERS_N
    assert any(c.startswith("Teeth: 8, now") for c in advice.changes)
    from core.design.tooth import row_solids

    found = survive(Near(mesh, span, b.setup), advice.plan, row_solids(span, advice.plan))
    assert found.connected.all()


def test_snapping_easier(bench):
    b = bench()
    _, span = span_of(b)
    advice = advise(span, RowWishes(tip=0.8, thickness=1.1, teeth=12), b.setup, "snap")
    assert advice.after.sideways.high <= 0.6 * advice.before.sideways.high
    assert advice.plan.tip >= 0.44
    assert advice.plan.thickness >= 0.44
    assert advice.plan.clear_bridge <= 5.0


def test_nothing_goes_below_what_prints(bench):
    _, span = span_of(bench())
    advice = advise(span, RowWishes(tip=0.45, thickness=0.45), SETUP, "snap")
    assert (advice.plan.tip, advice.plan.thickness) == pytest.approx((0.45, 0.45))
    taught_least = advise(span, RowWishes(), SETUP, "snap", learned=Learned(least_printable=0.8))
    assert taught_least.plan.thickness >= 0.8


def test_advice_twice_says_so(bench):
    _, span = span_of(bench())
    wishes = RowWishes()
    for _ in range(8):
        advice = advise(span, wishes, SETUP, "snap")
        wishes = advice.wishes
    assert advice.changes == ("The row is at the limits already: nothing changes.",)


def test_lessons_speak_of_their_own_printer_and_filament_only():
    seen = Lesson("your coupon of May", SETUP, tuple(tried_rows(COUPON, [(1, Outcome()), (3, Outcome())])))
    assert learned_from([seen], SETUP).clear_bridge == 9.3
    assert learned_from([seen], replace(SETUP, clear_bridge=7.0, overhang=50)).clear_bridge == 9.3
    for other in (
        replace(SETUP, material="PETG"), replace(SETUP, layer_height=0.3), replace(SETUP, line_width=0.6),
        replace(SETUP, walls="variable"), replace(SETUP, nozzle=0.6),
    ):  # fmt: skip
        assert learned_from([seen], other) == UNTAUGHT
    assert learned_from([], SETUP) == UNTAUGHT


def test_lessons_of_one_printer_add_up_and_are_all_named():
    may = Lesson("your coupon of May", SETUP, tuple(tried_rows(COUPON, [(1, Outcome()), (3, Outcome())])))
    june = Lesson("your print of June", SETUP, tuple(tried_rows(COUPON, [(3, Outcome(held=False))])))
    found = learned_from([may, june], SETUP)
    assert found.clear_bridge == 4.4  # what sagged once is not trusted again
    assert found.source == "your coupon of May and your print of June"


def test_a_piece_that_stuck_taught_more_than_fingers():
    forces = snap_row(tried_rows(COUPON, [(1, Outcome())])[0].necks, SETUP).sideways.high
    assert taught((1, Outcome(came_off="stuck"))).fingers == pytest.approx(min(FINGERS_N, 0.9 * forces))


def test_planning_keeps_to_what_was_learned(bench):
    _, span = span_of(bench(length=60.0, strip=2.0, fin=2.0))
    usual = plan_row(span, RowWishes(), SETUP)
    taught_plan = plan_row(span, RowWishes(), SETUP, learned=Learned(least_printable=0.58, clear_bridge=7.0))
    assert usual.tip == pytest.approx(0.45)
    assert taught_plan.tip == pytest.approx(0.6)
    assert usual.clear_bridge <= 5.0 < taught_plan.clear_bridge <= 7.0
    assert {"tip", "clear_bridge"} <= taught_plan.automatic
    set_by_hand = plan_row(span, RowWishes(tip=0.3, clear_bridge=3.0), SETUP, learned=Learned(0.58, 7.0))
    assert set_by_hand.tip == 0.3
    assert set_by_hand.clear_bridge <= 3.0


def test_other_rows_of_the_piece_leave_less_to_the_fingers(bench):
    b = bench()
    _, span = span_of(b)
    alone, third = (advise(span, RowWishes(), b.setup, "hold", beside=n) for n in (0.0, 25.0))
    assert third.after.sideways.high < alone.after.sideways.high
    assert third.after.sideways.high + 25 <= FINGERS_N or third.after.sideways.high <= third.before.sideways.high * 1.4
