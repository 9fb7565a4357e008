"""The drawing's figures against the plan, against closed forms, and against a general geometry library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from app.panels.elevation import Survival, elevation_model, plain_section, span_section
from app.panels.elevation.section import Profile, sorted_section
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from tests.app.elevation import parts
from tests.app.elevation.parts import Case


def model_of(case: Case, wishes: RowWishes | None = None, **more: object):
    wishes = wishes or RowWishes()
    plan = plan_row(case.span, wishes, case.setup, case.standing)
    section = span_section(case.mesh, case.span)
    model = elevation_model(case.span, plan, wishes, case.setup, section=section, standing=case.standing, **more)
    return model, plan


CASES = [parts.straight, parts.ridge, parts.sloping, parts.ring, parts.with_teeth, parts.rising_edge, parts.sideways]


@pytest.mark.parametrize("make", CASES, ids=lambda f: f.__name__)
def test_teeth_stand_where_the_plan_put_them(make):
    model, plan = model_of(make())
    for tooth in model.teeth:
        i = plan.numbers.index(tooth.number)
        assert model.to_s(tooth.centre) == pytest.approx(plan.centres[i])
        assert tooth.foot[1] - tooth.foot[0] == pytest.approx(plan.foot)
        assert tooth.tip[1] - tooth.tip[0] == pytest.approx(plan.tip)


@pytest.mark.parametrize("make", CASES, ids=lambda f: f.__name__)
def test_bridges_agree_with_the_plan(make):
    model, plan = model_of(make())
    assert max(b.clear for b in model.bridges) == pytest.approx(plan.clear_bridge, abs=0.02)
    assert not any(b.over for b in model.bridges)


def test_row_of_forty_millimetres():
    """Calculated: edge 40, end clearance 1, tip 0.8, clear bridge at most 4.2: 9 teeth, pitch 4.65, clear 3.85."""
    case = parts.straight(40.0)
    model, plan = model_of(case, RowWishes(tip=0.8, foot=2.0, clear_bridge=4.2, end_clearance=1.0))
    assert len(model.teeth) == 9
    assert plan.pitch == pytest.approx(4.65, abs=1e-4)
    assert [b.clear for b in model.bridges] == pytest.approx([3.85] * 8, abs=1e-3)
    first, last = model.row_ends
    assert first == pytest.approx(1.0, abs=1e-4)
    assert model.length - last == pytest.approx(1.0, abs=1e-4)


def test_area_of_a_drawn_tooth():
    """Closed form: trapezium of foot 2.0, tip 0.8 and height 2.4."""
    model, _ = model_of(parts.straight(40.0), RowWishes(tip=0.8, foot=2.0))
    for tooth in model.teeth:
        assert shapely.Polygon(tooth.outline).area == pytest.approx((2.0 + 0.8) / 2 * 2.4, rel=1e-3)


@pytest.mark.parametrize("shape", ["arc_tip", "arc_ledge"])
def test_area_beside_an_arc(shape):
    """Calculated: R = 5, arc from x = 3 at height 1 tangent to the line: 0.956236 beside it; here both flanks."""
    case = parts.straight(40.0, 1.0) if shape == "arc_ledge" else parts.straight(40.0, 3.0)
    model, _ = model_of(case, RowWishes(shape=shape, tip=0.5, foot=6.5 if shape == "arc_ledge" else 2.5, teeth=2))
    tooth = model.teeth[0]
    outer = (tooth.foot[1] - tooth.foot[0] + 0.0) * model.gap_at(tooth.centre)
    area = shapely.Polygon(tooth.outline).area
    if shape == "arc_ledge":
        # tangent to the ledge: between the ledge (the line) and the arc lies 0.956236 on each side
        assert area == pytest.approx(0.5 * 1.0 + 2 * 0.956236, rel=5e-3)
    else:
        # tangent to the upright at the tip, standing on end: 3 high, 1 wide
        assert area == pytest.approx(0.5 * 3.0 + 2 * 0.956236, rel=5e-3)
    assert area < outer


@pytest.mark.parametrize("shape", ["straight", "arc_tip", "arc_ledge", "rake", "post"])
@pytest.mark.parametrize("make", [parts.straight, parts.sloping, parts.ridge], ids=lambda f: f.__name__)
def test_outlines_are_those_of_the_solids(make, shape):
    """Every drawn corner lies on the solid tooth: seen along the thickness they are one outline."""
    case = make()
    wishes = RowWishes(shape=shape)
    model, plan = model_of(case, wishes)
    solids = row_solids(case.span, plan)
    start = case.span.stations.axis[0]
    run = case.span.stations.axis[-1] - start
    unit = run / np.linalg.norm(run)
    for i in (0, plan.teeth // 2, plan.teeth - 1):
        points = solids.vertices[i] @ case.span.frame[:3, :3].T
        seen = np.column_stack([(points[:, :2] - start) @ unit, points[:, 2]])
        outline = shapely.MultiPoint(seen).convex_hull if shape in ("straight", "rake", "post") else None
        tooth = model.tooth(plan.numbers[i])
        drawn = shapely.Polygon(tooth.outline)
        if outline is not None:
            assert drawn.difference(outline.buffer(0.02)).area < 1e-6
        heights = seen[:, 1]
        assert tooth.outline[:, 1].min() >= heights.min() - 1e-6
        assert tooth.outline[:, 1].max() <= heights.max() + 0.02 or plan.air > 0


def test_edge_reaches_over_its_whole_length():
    model, _ = model_of(parts.straight())
    assert model.profile.edge[0, 0] == pytest.approx(-1.0, abs=1e-3)
    assert model.profile.edge[-1, 0] == pytest.approx(73.0, abs=1e-3)
    assert model.profile.ledge[[0, -1], 0] == pytest.approx([0.0, 72.0], abs=1e-3)


def test_sloping_ledge_is_drawn_sloping():
    """The fin falls from 16.4 to 13.2 along 60 mm by construction."""
    model, _ = model_of(parts.sloping())
    for u in (1.0, 20.0, 45.0, 59.0):
        assert float(model.ledge_at(u)) == pytest.approx(16.4 - 3.2 * u / 60, abs=0.02)
        assert model.gap_at(u) == pytest.approx(1.6 + 3.2 * u / 60, abs=0.02)


def test_section_above_and_below():
    """The lip is 74 × 12 and the fin 72 × 15.6 by construction."""
    section = span_section(parts.straight().mesh, parts.straight().span)
    assert sum(shapely.Polygon(r).area for r in section.above) == pytest.approx(74 * 12, rel=1e-4)
    assert sum(shapely.Polygon(r).area for r in section.below) == pytest.approx(72 * 15.6, rel=1e-4)
    assert not section.standing


def test_standing_teeth_are_told_from_the_part():
    section = span_section(parts.with_teeth().mesh, parts.with_teeth().span)
    assert len(section.standing) == 3
    for tooth, centre in zip(section.standing, (3.0, 7.0, 11.0), strict=True):
        assert (tooth.foot[0] + tooth.foot[1]) / 2 == pytest.approx(centre, abs=0.01)
        assert tooth.foot[1] - tooth.foot[0] == pytest.approx(2.0, abs=0.05)
        assert tooth.tip[1] - tooth.tip[0] == pytest.approx(0.6, abs=0.05)
    whole = sum(shapely.Polygon(r).area for r in section.above)
    assert whole == pytest.approx(42 * 12, rel=2e-3)  # no tooth counted with the lip


def test_a_hole_in_the_section_stays_a_hole():
    profile = Profile(np.array([[0.0, 5.0], [10.0, 5.0]]), np.array([[0.0, 3.0], [10.0, 3.0]]), 10.0, (0.0, 10.0))
    outer = np.array([[0.0, 5.0], [10.0, 5.0], [10.0, 9.0], [0.0, 9.0]])
    hole = np.array([[4.0, 6.0], [4.0, 8.0], [6.0, 8.0], [6.0, 6.0]])
    section = sorted_section([outer, hole], profile)
    assert sorted(shapely.Polygon(r).area for r in section.above) == pytest.approx([4.0, 40.0])


def test_closed_span_is_cut_where_it_is_asked():
    case = parts.ring()
    whole, plan = model_of(case)
    cut, _ = model_of(case, cut=20.0)
    assert cut.to_s(0.0) == pytest.approx(20.0)
    assert {t.number for t in cut.teeth} == {t.number for t in whole.teeth}
    for tooth in cut.teeth:
        assert cut.to_s(tooth.centre) == pytest.approx(whole.tooth(tooth.number).centre)
        assert 0 <= tooth.centre < cut.length
    clear = case.span.length / plan.teeth - plan.tip  # equally spaced round the ring
    assert sorted(b.clear for b in cut.bridges) == pytest.approx([clear] * plan.teeth)
    area = sum(abs(shapely.Polygon(r).intersection(shapely.box(0, 0, cut.length, 99)).area) for r in cut.section.above)
    assert area == pytest.approx(sum(shapely.Polygon(r).area for r in whole.section.above), rel=1e-3)


def test_left_out_tooth_leaves_its_place():
    model, plan = model_of(parts.straight(), RowWishes(left_out=(4,)))
    assert model.tooth(4) is None
    assert [t.number for t in model.left_out] == [4]
    assert model.left_out[0].centre == pytest.approx((plan.centres[3] + plan.centres[4]) / 2)
    wide = next(b for b in model.bridges if b.left == 3)
    assert wide.over
    assert wide.clear == pytest.approx(2 * plan.pitch - plan.tip)


def test_moved_tooth_knows_its_place_in_the_row():
    model, _ = model_of(parts.straight(), RowWishes(moved=((5, 1.2),)))
    tooth = model.tooth(5)
    assert tooth.moved == pytest.approx(1.2)
    left, right = model.neighbours(5)
    assert left.clear - right.clear == pytest.approx(2.4)


def test_air_layers_stay_empty():
    """Two empty layers of 0.2 mm below a flat edge."""
    model, _ = model_of(parts.straight(), RowWishes(air_layers=2))
    assert all(t.outline[:, 1].max() == pytest.approx(18.0 - 0.4) for t in model.teeth)


def test_layers_of_an_upward_gap():
    """Tops of layers 0.2 high lie at multiples of 0.2: from 15.6 to 18.0 there are 13."""
    model, _ = model_of(parts.straight())
    assert model.layers.axis == "z"
    assert model.layers.at == pytest.approx(np.arange(15.6, 18.0001, 0.2))
    for number, top in zip(model.layers.numbers, model.layers.at, strict=True):
        assert model.layers.top_of(number) == pytest.approx(top)


def test_layers_cross_a_sideways_span():
    """The edge runs upright from the bed, so a layer top lies as far along the span as above the bed."""
    model, _ = model_of(parts.sideways())
    assert model.layers.axis == "u"
    tops = np.array([model.layers.top_of(n) for n in model.layers.numbers])
    assert model.layers.at == pytest.approx(tops, abs=1e-6)


def test_first_layer_counts_for_itself():
    case = parts.straight()
    setup = PrintSetup(layer_height=0.2, first_layer=0.3)
    model = elevation_model(case.span, None, RowWishes(), setup)
    assert model.layers.at[0] == pytest.approx(15.7)
    assert model.layers.middle_of(0) == pytest.approx(0.15)
    assert model.layers.middle_of(1) == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("fate", "share"),
    [
        (Survival("will not print"), 1.0),
        (Survival("lost layers", 2), 0.4 / 2.4),
        (Survival("lost layers", 1), 0.2 / 2.4),
    ],
)
def test_what_is_lost(fate, share):
    model, _ = model_of(parts.straight(), survival={3: fate})
    tooth = model.tooth(3)
    lost = 18.0 - tooth.lost_from
    assert lost / 2.4 == pytest.approx(share, abs=1e-6)
    assert model.tooth(2).lost_from is None
    assert fate.serious == (share > 0.1)


def test_fates_in_the_order_of_the_plan():
    model, _ = model_of(parts.straight(), RowWishes(left_out=(0,)), survival=["will not print"] + ["prints"] * 13)
    assert [t.number for t in model.teeth if t.survival.serious] == [1]


def test_without_a_mesh_solid_is_assumed():
    case = parts.with_teeth()
    section = plain_section(case.span, case.standing)
    assert len(section.standing) == 3
    assert all(len(r) >= 4 for r in (*section.above, *section.below))


def test_a_span_without_a_row():
    case = parts.sloping()
    model = elevation_model(case.span, None, RowWishes(), case.setup)
    assert model.teeth == ()
    assert model.bridges == ()
    assert model.row_ends is None
    assert math.isfinite(model.gap_at(3.0))
