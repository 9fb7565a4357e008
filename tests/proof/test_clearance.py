"""A row against what is around it, each trouble provoked on the bench."""

import numpy as np
import pytest

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.tooth import row_solids
from core.proof.clearance import clearance
from core.proof.near import Near


def cleared(b, others=(), **wishes):
    mesh, span, plan, teeth = b.measured(**wishes)
    return plan, clearance(Near(mesh, span, b.setup), plan, teeth, others)


def test_a_plain_row_is_clear_of_everything(bench):
    _, found = cleared(bench())
    assert not found.off_ledge.any()
    assert not found.outside.any()
    assert np.isinf(found.to_part).all()
    assert found.to_teeth.min() > 3


@pytest.mark.parametrize("away", [0.05, 0.2, 0.37])
def test_a_wall_beside_the_teeth(bench, solid_box, away):
    b = bench(extras=[])
    _, span, plan, _ = b.measured()
    assert span.stations.across[0, 1] > 0  # inward is +y here
    back = -b.strip / 2 + float((plan.across_range[:, 1] - 0).max()) + span.stations.axis[0, 1] + b.strip / 2
    wall = solid_box((0, back + away, 0), (b.length, back + away + 1, b.ledge + b.gap + 1))
    _, found = cleared(bench(extras=[wall]))
    np.testing.assert_allclose(found.to_part, away, atol=0.01)


def test_a_wall_across_one_tooth(bench, solid_box):
    b = bench()
    _, _, plan, _ = b.measured()
    third = float(plan.centres[2])
    start = third - 0.1
    wall = solid_box((start, -0.6, b.ledge - 1), (start + 0.2, 0.6, b.ledge + b.gap + 1))
    mesh = bench(extras=[wall]).mesh
    span = measure_span(bench().mesh, b.edge(), b.setup)
    found = clearance(Near(mesh, span, b.setup), plan, row_solids(span, plan))
    assert found.to_part[2] == 0.0
    assert np.isinf(np.delete(found.to_part, 2)).all()


def test_a_foot_past_the_end_of_the_fin(bench):
    plan, found = cleared(bench(), end_clearance=0.3, foot=2.0, tip=0.45)
    # half a foot of 1.0 less 0.3 + 0.225 hangs over: 0.475 of 2.0
    assert found.off_ledge[0] == pytest.approx(0.475 / 2.0, abs=1 / 9)
    assert not found.off_ledge[1 : plan.teeth - 1].any()
    assert found.off_ledge_along


def test_a_notch_in_the_fin(bench, as_mesh, solid_box):
    b = bench()
    _, span, plan, teeth = b.measured()
    c = float(plan.centres[3])
    notched = as_mesh(b.solid() - solid_box((c - 0.2, -2, b.ledge - 2), (c + 5, 2, b.ledge + 0.001)))
    found = clearance(Near(notched, span, b.setup), plan, teeth)
    assert found.off_ledge[3] == pytest.approx(0.6, abs=1 / 9)
    assert not found.off_ledge[:3].any()


def test_a_tip_beside_the_part(bench, as_mesh, solid_box):
    b = bench()
    _, span, plan, teeth = b.measured()
    c = float(plan.centres[3])
    cut = as_mesh(b.solid() - solid_box((c - 0.3, -0.3, b.ledge + 0.1), (c + 0.3, 3, b.ledge + b.gap + 5)))
    found = clearance(Near(cut, span, b.setup), plan, teeth)
    assert found.outside[3] > 0.4
    assert not np.delete(found.outside, 3).any()


def test_distance_to_the_ends_of_the_edge(bench, solid_box):
    # The posts stand beyond the fin, so the edge runs on: no end counts
    _, found = cleared(bench())
    assert np.isinf(found.from_end).all()


def test_teeth_of_another_row(bench):
    b = bench()
    mesh, span, _, _ = b.measured(teeth=2, tip=0.6, thickness=0.9)
    near = Near(mesh, span, b.setup)
    other = plan_row(span, RowWishes(teeth=2, tip=0.6, foot=0.6, thickness=0.9, moved=((0, 2.0), (1, -2.0))), b.setup)
    again = plan_row(span, RowWishes(teeth=2, tip=0.6, foot=0.6, thickness=0.9, moved=((0, 0.9),)), b.setup)
    narrow = row_solids(span, again)
    here = plan_row(span, RowWishes(teeth=2, tip=0.6, foot=0.6, thickness=0.9), b.setup)
    assert clearance(near, here, row_solids(span, here), [row_solids(span, other)]).to_teeth[1] > 30
    found = clearance(near, here, row_solids(span, here), [narrow])
    assert found.to_teeth[0] == pytest.approx(0.3, abs=1e-6)
    assert found.to_teeth[1] == 0.0  # the same place twice


def test_tips_that_nearly_touch(bench):
    _, found = cleared(bench(length=12), teeth=12, foot=0.7, tip=0.6)
    assert found.to_teeth.max() < 0.3
