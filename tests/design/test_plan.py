"""Row plans by the written rules, against figures worked out by hand."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.span import Span
from core.errors import PlanRefused
from core.geometry.polyline import Polyline
from tests import meshes
from tests.strategies import bar_spans, finite

SETUP = PrintSetup()


def span_of(made: meshes.Span) -> Span:
    edge = made.edge.copy()
    edge[:, 1] -= 1e-6  # the axis of the strip
    return measure_span(made.mesh, Polyline.of(edge), SETUP)


@pytest.fixture(scope="module")
def forty() -> Span:
    return span_of(meshes.bar_over_ledge(40, 1.2))


def test_the_worked_row_of_an_edge_of_forty(forty: Span) -> None:
    # Calculated: 40 − 2·1 − 0.8 = 37.2 between centres, ⌈37.2 / 5⌉ = 8 intervals of 4.65, 3.85 clear.
    plan = plan_row(forty, RowWishes(tip=0.8, foot=2.0, clear_bridge=4.2), SETUP)
    assert plan.teeth == 9
    assert plan.pitch == pytest.approx(4.65, abs=1e-4)
    assert plan.clear_bridge == pytest.approx(3.85, abs=1e-4)
    np.testing.assert_allclose(plan.centres + plan.centres[::-1], forty.length, atol=1e-9)


def test_defaults_start_from_common_figures(forty: Span) -> None:
    # From memory: 0.4 nozzle, line 0.44: tip 0.45, thickness 0.9; 0.6 nozzle, line 0.65: tip 0.7, thickness 1.3.
    plan = plan_row(forty, RowWishes(), SETUP)
    assert (plan.tip, plan.thickness) == (pytest.approx(0.45), pytest.approx(0.9))
    wide = replace(SETUP, nozzle=0.6, line_width=0.65)
    plan = plan_row(span_of(meshes.bar_over_ledge(40, 1.2, strip=3, ledge=2)), RowWishes(), wide)
    assert (plan.tip, plan.thickness) == (pytest.approx(0.7), pytest.approx(1.3))


def test_thickness_never_exceeds_the_ledge() -> None:
    span = span_of(meshes.bar_over_ledge(40, 1.2, ledge=0.8))
    assert plan_row(span, RowWishes(), SETUP).thickness <= 0.8
    with pytest.raises(PlanRefused) as refused:
        plan_row(span, RowWishes(thickness=1.0), SETUP)
    assert refused.value.field == "thickness"
    assert refused.value.limit == pytest.approx(0.8, abs=0.05)


def test_a_trade_row_in_inches_is_planned_exactly() -> None:
    # A tooth row of the trade (common practice, no source): foot 0.082 in, tip 0.006 in, thickness 0.02 in, eleven
    # teeth with arc flanks, symmetric on one edge of a part about 6.5 in wide.
    inch = 25.4
    span = span_of(meshes.bar_over_ledge(6.5 * inch, 1.2))
    wishes = RowWishes(shape="arc_tip", teeth=11, foot=0.082 * inch, tip=0.006 * inch, thickness=0.02 * inch)
    plan = plan_row(span, wishes, SETUP)
    assert plan.teeth == 11
    assert (plan.foot, plan.tip, plan.thickness) == (0.082 * inch, 0.006 * inch, 0.02 * inch)
    assert plan.pitch == pytest.approx((span.length - 2 * plan.end_clearance - plan.tip) / 10)


@pytest.mark.parametrize(
    ("wishes", "field"),
    [
        (RowWishes(tip=3.0, foot=2.0), "tip"),
        (RowWishes(teeth=0), "teeth"),
        (RowWishes(teeth=30, pitch=4.0), "teeth"),
        (RowWishes(teeth=9, foot=6.0), "foot"),
        (RowWishes(pitch=-1.0), "pitch"),
        (RowWishes(teeth=2000), "teeth"),
        (RowWishes(start=30, stop=20), "start"),
        (RowWishes(moved=((0, -5.0),)), "moved"),
        (RowWishes(teeth=2, left_out=(0, 1)), "left_out"),
        (RowWishes(air_layers=5, clear_bridge=4), None),
        (RowWishes(sink_part=9.0), "sink_part"),
    ],
)
def test_impossible_wishes_are_refused_with_the_figure(forty: Span, wishes: RowWishes, field: str | None) -> None:
    if field is None:
        assert plan_row(forty, wishes, SETUP).air == pytest.approx(1.0)
        return
    with pytest.raises(PlanRefused) as refused:
        plan_row(forty, wishes, SETUP)
    assert refused.value.field == field
    assert refused.value.limit is not None
    assert refused.value.next_step


def test_a_set_figure_is_kept_and_the_rest_follows(forty: Span) -> None:
    by_count = plan_row(forty, RowWishes(teeth=5), SETUP)
    assert by_count.teeth == 5
    assert "pitch" in by_count.automatic
    assert "teeth" not in by_count.automatic
    by_pitch = plan_row(forty, RowWishes(pitch=6.0), SETUP)
    assert by_pitch.pitch == 6.0
    assert by_pitch.teeth == math.floor((40 - 2 - 0.45) / 6.0) + 1


def test_single_teeth_are_moved_and_left_out(forty: Span) -> None:
    whole = plan_row(forty, RowWishes(), SETUP)
    plan = plan_row(forty, RowWishes(left_out=(1,), moved=((2, 0.4),)), SETUP)
    assert plan.teeth == whole.teeth - 1
    assert 1 not in plan.numbers
    assert plan.centres[1] == pytest.approx(whole.centres[2] + 0.4)


def test_between_standing_teeth_only_what_is_needed_is_added(forty: Span) -> None:
    plan = plan_row(forty, RowWishes(), SETUP, standing=((1.0, 1.5), (20.0, 20.5), (38.5, 39.0)))
    new = ((c - plan.tip / 2, c + plan.tip / 2) for c in plan.centres)
    tips = sorted([(1.0, 1.5), (20.0, 20.5), (38.5, 39.0), *new])
    clear = [b[0] - a[1] for a, b in pairwise(tips)]
    assert max(clear) <= SETUP.clear_bridge + 1e-9
    assert plan.teeth == 2 * math.ceil((18.5 - 5) / (5 + 0.45))  # 18.5 and 18.0 are bridged by as many


def test_a_set_count_and_a_set_pitch_are_kept_between_standing_teeth(forty: Span) -> None:
    ends = ((0.0, 0.5), (39.5, 40.0))
    by_count = plan_row(forty, RowWishes(teeth=11), SETUP, standing=ends)
    assert by_count.teeth == 11
    np.testing.assert_allclose(np.diff(by_count.centres), by_count.pitch)
    assert by_count.centres[0] - 0.5 - by_count.tip / 2 == pytest.approx(by_count.pitch - by_count.tip)
    by_pitch = plan_row(forty, RowWishes(pitch=6.0), SETUP, standing=ends)
    np.testing.assert_allclose(np.diff(by_pitch.centres), 6.0)
    with pytest.raises(PlanRefused) as refused:
        plan_row(forty, RowWishes(teeth=500), SETUP, standing=ends)
    assert refused.value.field == "teeth"
    split = plan_row(forty, RowWishes(teeth=6), SETUP, standing=((0.0, 0.5), (12.0, 12.5), (39.5, 40.0)))
    assert (np.sum(split.centres < 12), np.sum(split.centres > 12)) == (2, 4)


def test_enough_standing_teeth_need_no_more(forty: Span) -> None:
    standing = tuple((float(x), x + 0.5) for x in np.arange(1, 39.5, 4))
    with pytest.raises(PlanRefused, match="No new teeth"):
        plan_row(forty, RowWishes(), SETUP, standing=standing)


def test_a_very_short_edge_gets_one_tooth_in_the_middle() -> None:
    span = span_of(meshes.bar_over_ledge(6, 1.0, overlap=(1.5, 1.5)))
    plan = plan_row(span, RowWishes(), SETUP)
    assert plan.teeth == 1
    assert plan.centres[0] == pytest.approx(span.length / 2)


@settings(max_examples=40, deadline=None)
@given(bar_spans(), finite(0.3, 1.2), finite(2.0, 8.0))
def test_no_tooth_leaves_its_span_and_no_bridge_is_too_long(made: meshes.Span, tip: float, bridge: float) -> None:
    assume(made.length > 3 and made.width > 0.6)
    span = span_of(made)
    plan = plan_row(span, RowWishes(tip=tip, clear_bridge=bridge), SETUP)
    assert plan.centres.min() - tip / 2 >= -1e-9
    assert plan.centres.max() + tip / 2 <= span.length + 1e-9
    assert plan.clear_bridge <= bridge + 1e-9 or plan.teeth == 1
    assert (plan.across_range[:, 0] >= span.at(plan.centres).lo - 1e-9).all()
    assert (plan.across_range[:, 1] <= span.at(plan.centres).hi + 1e-9).all()
    np.testing.assert_allclose(plan.centres + plan.centres[::-1], span.length, atol=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.integers(3, 40))
def test_round_a_closed_rim_teeth_stand_evenly(count: int) -> None:
    span = closed_span()
    plan = plan_row(span, RowWishes(teeth=count, foot=0.9), SETUP)
    gaps = np.diff(np.r_[plan.centres, plan.centres[0] + span.length])
    np.testing.assert_allclose(gaps, span.length / count, rtol=1e-9)


def closed_span() -> Span:
    from core.geometry.mesh import joined

    rim = meshes.revolved([(18, 12), (20, 12), (20, 25), (18, 25)], 72)
    fin = meshes.revolved([(18.4, 0), (19.6, 0), (19.6, 10.8), (18.4, 10.8)], 72)
    around = np.linspace(0, 2 * np.pi, 73)[:-1]
    edge = np.column_stack([20 * np.cos(around), 20 * np.sin(around), np.full(72, 12.0)])
    return measure_span(joined([rim, fin]), Polyline.of(edge, closed=True), SETUP)
