"""What a pull wishes, held against what the planner then plans."""

from __future__ import annotations

import json
from dataclasses import asdict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.panels.elevation import drags, elevation_model, span_section
from app.panels.elevation.drags import Grip, Manner, dragged, typed
from app.panels.elevation.handles import Handle
from core.design.plan import RowWishes, plan_row
from core.errors import BadValue
from tests.app.elevation import parts


def drawn(make=parts.straight, wishes=None):
    case, wishes = make(), wishes or RowWishes()
    plan = plan_row(case.span, wishes, case.setup, case.standing)
    section = span_section(case.mesh, case.span) if case.standing else None
    return elevation_model(case.span, plan, wishes, case.setup, section=section, standing=case.standing)


def again(model, wishes, make=parts.straight):
    return drawn(make, wishes)


@settings(max_examples=60, deadline=None)
@given(number=st.integers(0, 14), by=st.floats(-20, 20), stepped=st.booleans(), catch=st.sampled_from([0.0, 0.4]))
def test_a_pulled_tooth_stands_where_it_was_let_go(number, by, stepped, catch):
    model = drawn()
    tooth = model.tooth(number)
    wishes, snap = dragged(
        Grip.take(model, Handle("tooth", number), tooth.centre), tooth.centre + by, Manner(catch, stepped)
    )
    after = again(model, wishes).tooth(number)
    assert after is not None
    left, right = model.tooth(number - 1), model.tooth(number + 1)
    low = left.centre + 2.0 if left else 0.225
    high = right.centre - 2.0 if right else 72 - 0.225
    wanted = min(max(tooth.centre + by, low), high)
    allowed = 0.051 if stepped else 0.0051
    assert after.centre == pytest.approx(snap.u if snap else wanted, abs=allowed)
    assert low - 1e-6 <= after.centre <= high + 1e-6
    others = {t.number: t.centre for t in again(model, wishes).teeth if t.number != number}
    assert others == pytest.approx({t.number: t.centre for t in model.teeth if t.number != number})


def test_a_moved_tooth_catches_its_place_and_lets_go_with_the_key():
    model = drawn(wishes=RowWishes(moved=((5, 1.0),)))
    grip = Grip.take(model, Handle("tooth", 5), model.tooth(5).centre)
    back = model.tooth(5).base + 0.05
    wishes, snap = dragged(grip, back, Manner(0.2))
    assert snap.word == "equal"
    assert wishes.moved == ()
    wishes, snap = dragged(grip, back, Manner(0.0))
    assert snap is None
    assert dict(wishes.moved)[5] == pytest.approx(0.05, abs=0.006)


def test_catching_the_middle_of_the_span():
    model = drawn(wishes=RowWishes(teeth=14))
    tooth = model.tooth(6)
    wishes, snap = dragged(Grip.take(model, Handle("tooth", 6), tooth.centre), 35.9, Manner(0.2))
    assert snap.word == "middle"
    assert again(model, wishes).tooth(6).centre == pytest.approx(36.0, abs=1e-4)


def test_shift_keeps_to_tenths():
    model = drawn()
    tooth = model.tooth(3)
    for by in (0.04, 0.06, 0.31, -0.58):
        wishes, _ = dragged(Grip.take(model, Handle("tooth", 3), tooth.centre), tooth.centre + by, Manner(1.0, True))
        shift = dict(wishes.moved).get(3, 0.0)
        assert shift == pytest.approx(round(by, 1))


@pytest.mark.parametrize(("kind", "field", "value"), [("start", "start", 5.0), ("stop", "stop", 4.0)])
def test_end_stops_trim(kind, field, value):
    model = drawn()
    at = 5.0 if kind == "start" else model.length - 4.0
    place = 0.0 if kind == "start" else model.length
    wishes, _ = dragged(Grip.take(model, Handle(kind), place), at, Manner(0.1))
    assert getattr(wishes, field) == pytest.approx(value)
    after = again(model, wishes)
    assert after.row_ends[0] >= after.stops[0] + 1.0 - 1e-6
    assert after.row_ends[1] <= after.stops[1] - 1.0 + 1e-6


def test_end_stops_do_not_pass_each_other():
    model = drawn(wishes=RowWishes(stop=60.0))
    wishes, _ = dragged(Grip.take(model, Handle("start"), 0.0), 70.0, Manner())
    assert wishes.start + wishes.stop <= model.length - 1.0 + 1e-6


@pytest.mark.parametrize("kind", ["foot_left", "foot_right"])
def test_a_foot_corner_changes_the_foot_of_all(kind):
    model = drawn()
    tooth = model.tooth(4)
    at = tooth.foot[0] - 0.4 if kind == "foot_left" else tooth.foot[1] + 0.4
    wishes, _ = dragged(Grip.take(model, Handle(kind, 4), drags.place_of(model, Handle(kind, 4))), at, Manner())
    assert wishes.foot == pytest.approx(2.8, abs=0.011)
    assert all(t.foot[1] - t.foot[0] == pytest.approx(wishes.foot) for t in again(model, wishes).teeth)


def test_foot_and_tip_stay_within_each_other_and_the_pitch():
    model = drawn()
    plan = model.plan
    for kind, by in (("foot_right", 30.0), ("foot_right", -30.0), ("tip_right", 30.0), ("tip_right", -30.0)):
        handle = Handle(kind, 4)
        place = drags.place_of(model, handle)
        wishes, _ = dragged(Grip.take(model, handle, place), place + by, Manner())
        after = again(model, wishes)  # planning it does not refuse
        assert after.plan.tip <= after.plan.foot + 1e-9
        assert after.plan.foot <= plan.pitch


def test_a_tip_corner_catches_one_line():
    model = drawn(wishes=RowWishes(tip=0.8))
    handle = Handle("tip_right", 4)
    place = drags.place_of(model, handle)
    wishes, snap = dragged(Grip.take(model, handle, place), model.tooth(4).centre + 0.21, Manner(0.02))
    assert snap.word == "line"
    assert wishes.tip == pytest.approx(0.44)


@pytest.mark.parametrize("number", [0, 2, 12, 14])
def test_pitch_by_one_tooth_keeps_the_row_in_the_middle(number):
    model = drawn()
    tooth = model.tooth(number)
    at = 36.0 + (tooth.centre - 36.0) * 0.9
    wishes, _ = dragged(Grip.take(model, Handle("tooth", number), tooth.centre), at, Manner(pitch=True))
    after = again(model, wishes)
    assert len(after.teeth) == 15
    assert after.plan.pitch == pytest.approx(model.plan.pitch * 0.9, abs=0.006)
    assert after.tooth(number).centre == pytest.approx(at, abs=0.05)
    assert after.teeth[0].centre + after.teeth[-1].centre == pytest.approx(72.0, abs=1e-3)


def test_pitch_does_not_push_the_row_past_its_ends():
    model = drawn()
    tooth = model.tooth(14)
    wishes, _ = dragged(Grip.take(model, Handle("tooth", 14), tooth.centre), 90.0, Manner(pitch=True))
    assert again(model, wishes).row_ends[1] <= 71.0 + 1e-6


def test_pitch_of_a_closed_row_is_its_count():
    model = drawn(parts.ring)
    tooth = model.tooth(3)
    wishes, _ = dragged(Grip.take(model, Handle("tooth", 3), tooth.centre), tooth.centre + 1.5, Manner(pitch=True))
    assert wishes.pitch is None
    assert wishes.teeth == round(model.length / (model.plan.pitch + 1.5))


def test_rows_between_standing_teeth_have_no_pitch():
    assert not drags.pitch_free(drawn(parts.with_teeth))
    assert drags.pitch_free(drawn())


@pytest.mark.parametrize(
    ("key", "value", "check"),
    [
        ("length", 60.0, lambda m: m.stops[1] - m.stops[0]),
        ("end_left", 2.0, lambda m: m.row_ends[0] - m.stops[0]),
        ("pitch", 4.2, lambda m: m.plan.pitch),
        ("clear", 3.5, lambda m: m.bridges[3].clear),
        ("foot", 2.6, lambda m: m.plan.foot),
        ("tip", 0.7, lambda m: m.plan.tip),
    ],
)
def test_a_typed_figure_is_what_comes(key, value, check):
    model = drawn()
    assert check(again(model, typed(model, key, value))) == pytest.approx(value, abs=1e-4)


@pytest.mark.parametrize(("key", "index"), [("clear_left", 0), ("clear_right", 1)])
def test_a_typed_bridge_moves_the_tooth(key, index):
    model = drawn()
    after = again(model, typed(model, key, 3.0, 6))
    assert after.neighbours(6)[index].clear == pytest.approx(3.0, abs=1e-6)


def test_typed_nonsense_is_refused_in_words():
    model = drawn()
    with pytest.raises(BadValue, match="more than zero"):
        typed(model, "foot", 0.0)
    with pytest.raises(BadValue, match=r"72\.00 mm long"):
        typed(model, "length", 99.0)


def test_leaving_out_and_putting_back_are_opposites():
    model = drawn()
    out = drags.left_out(model, 7)
    assert out.left_out == (7,)
    gone = again(model, out)
    assert drags.nearest_left_out(gone, 10.0) == 7
    assert drags.put_back(gone, 7) == model.wishes


def test_the_last_tooth_stays():
    model = drawn(lambda: parts.straight(3.0), RowWishes(teeth=1))
    with pytest.raises(BadValue, match="last tooth"):
        drags.left_out(model, 0)
    with pytest.raises(BadValue, match="one tooth at least"):
        drags.counted(model, -1)


def test_count_drops_what_no_longer_is_there():
    model = drawn(wishes=RowWishes(teeth=10, left_out=(9,), moved=((9, 0.2), (2, 0.1))))
    wishes = drags.counted(model, -1)
    assert (wishes.teeth, wishes.left_out, wishes.moved) == (9, (), ((2, 0.1),))


@settings(max_examples=80, deadline=None)
@given(
    kind=st.sampled_from(["start", "stop", "tooth", "foot_left", "foot_right", "tip_left", "tip_right"]),
    number=st.integers(0, 9), by=st.floats(-9, 9), catch=st.sampled_from([0.0, 3.0]), pitch=st.booleans(),
    make=st.sampled_from([parts.straight, parts.with_teeth, parts.sloping, parts.ring, parts.sideways]),
)  # fmt: skip
def test_what_a_pull_wishes_can_be_written_to_a_file(kind, number, by, catch, pitch, make):
    """Plain numbers only: a figure as it comes out of an array would stop the work from being kept."""
    model = drawn(make)
    handle = Handle(kind, None if kind in ("start", "stop") else number)
    place = drags.place_of(model, handle)
    wishes, _ = dragged(Grip.take(model, handle, place), place + by, Manner(catch, False, pitch))
    json.dumps(asdict(wishes), allow_nan=False)


def test_figures_of_arrays_become_plain_numbers():
    wishes = RowWishes(
        teeth=np.int64(3), tip=np.float64(0.6), moved=((np.int64(1), np.float64(0.2)),), left_out=(np.int64(2),)
    )
    assert json.loads(json.dumps(asdict(wishes)))["tip"] == 0.6
    assert wishes == RowWishes(teeth=3, tip=0.6, moved=((1, 0.2),), left_out=(2,))
