"""Gaps that are listed, and those that are not. Truth: the figures by which the bodies were made."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings

from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.inspection import inspect_part
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.pose import Pose, as_filed
from core.geometry.solids import mesh_of, solid_of
from tests.diagnose.sample_parts import single
from tests.meshes import arch, ball, bar_over_ledge, box, hollow_box, prism, revolved, ridge_over_ledge
from tests.strategies import bar_spans, upright_poses

SETUP = PrintSetup()
NO_SHRINK = (Phase.explicit, Phase.generate)  # an inspection takes too long to search for the smallest example


def inspect(mesh, setup=SETUP):
    part = Part("part", single(mesh))
    return inspect_part(part, as_filed(part.mesh), setup)


def united(mesh):
    origin = mesh.bounds.mean(axis=0)
    return mesh_of(solid_of(mesh, origin), origin)


@settings(max_examples=12, deadline=None, derandomize=True, phases=NO_SHRINK)
@given(made=bar_spans(posts=True), pose=upright_poses())
def test_a_bar_over_a_fin_is_one_gap(made, pose):
    """One gap for the two mesh edges of a strip, as long and as high as it was made, whichever way it stands."""
    assume(made.length > SETUP.clear_bridge + 4)  # shorter ones are bridged without help
    (gap,) = [g for g in inspect(made.mesh.moved(pose)).gaps if g.direction == "up"]
    assert (gap.direction, gap.span.closed, gap.row) == ("up", False, None)
    assert gap.span.gap_range == pytest.approx((made.gap, made.gap), abs=0.02)
    assert gap.length == pytest.approx(made.length, rel=0.01, abs=1.1)  # the posts take half a millimetre each


def test_a_gap_under_a_weak_edge_is_linked_and_gets_a_row():
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    found = inspect(made.mesh)
    (gap,) = found.gaps
    assert gap.weak_spot == found.weak_spots[0].id
    assert not gap.enough
    assert gap.suggested.teeth >= 7
    assert gap.cause.startswith("The fin stops 1.2 mm short of this edge for ")
    assert "no teeth" in gap.cause


def test_a_ridge_gets_a_gap_too():
    made = ridge_over_ledge(40.0, 1.2)
    posts = [box((-4, -2, 0), (0.5, 2, 19.2)), box((39.5, -2, 0), (44, 2, 19.2))]
    (gap,) = inspect(joined([made.mesh, *posts])).gaps
    assert gap.span.kind == "ridge"
    assert gap.span.gap_range == pytest.approx((1.2, 1.2), abs=0.02)


@pytest.mark.parametrize("one_skin", [False, True])
def test_teeth_that_suffice_leave_a_gap_that_asks_for_nothing(one_skin):
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    before = inspect(made.mesh).gaps[0]
    plan = plan_row(before.span, RowWishes(), SETUP)
    mesh = joined([made.mesh, row_solids(before.span, plan).mesh()])
    found = inspect(united(mesh) if one_skin else mesh)
    (gap,), (row,) = found.gaps, found.rows
    assert (gap.enough, gap.weak_spot, gap.row, row.gap) == (True, None, row.id, gap.id)
    assert row.teeth == plan.teeth
    assert found.weak_spots == ()
    assert gap.suggested is None


def test_too_few_teeth_are_completed_between_those_that_are_there():
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    before = inspect(made.mesh).gaps[0]
    plan = plan_row(before.span, RowWishes(left_out=(3, 4)), SETUP)
    found = inspect(joined([made.mesh, row_solids(before.span, plan).mesh()]))
    (gap,) = found.gaps
    assert gap.row == "r1"
    assert not gap.enough
    tip = plan.tip
    added = [(c - tip / 2, c + tip / 2) for c in gap.suggested.centres]
    tips = sorted([*gap.standing, *added])
    clear = [b[0] - a[1] for a, b in pairwise(tips)]
    assert min(clear) > 0
    assert max(clear) <= SETUP.clear_bridge + 1e-6


def test_a_side_row_is_read_from_the_edge_to_the_fin():
    """A wall, a fin 1.2 thick beside its end, five side teeth that widen towards the fin."""
    wall, fin = box((0, -1.5, 0), (20, 1.5, 24)), box((-12, -0.6, 0), (-1.4, 0.6, 20))
    teeth = [
        prism([(z - 0.88, -1.7), (z + 0.88, -1.7), (z + 0.28, 0.1), (z - 0.28, 0.1)], -0.45, 0.45, axis=1)
        for z in (3.0, 6.5, 10.0, 13.5, 17.0)
    ]  # outline in (z, x); 0.3333 of flank a side and mm: 0.78 and 0.3133 in the planes x = −1.4 and x = 0
    teeth = [t if t.volume > 0 else Mesh(t.vertices, t.triangles[:, ::-1]) for t in teeth]
    for mesh in (joined([wall, fin, *teeth]), united(joined([wall, fin, *teeth]))):
        found = inspect(mesh)
        (gap,), (row,) = found.gaps, found.rows
        assert (gap.direction, row.direction, row.teeth) == ("side", "side", 5)
        assert gap.span.gap_range == pytest.approx((1.4, 1.4), abs=0.02)
        assert gap.length == pytest.approx(20.0, rel=0.01)
        assert (row.foot, row.tip) == pytest.approx((2 * 0.78, 2 * (0.28 + 0.1 / 3)), abs=0.03)
        assert (row.pitch, row.thickness) == pytest.approx((3.5, 0.9), abs=0.02)
        thrown = [p for p in found.pieces if p.sacrificial]
        assert len(thrown) == 1


def test_a_closed_rim_over_a_ring():
    """A cup's rim that hangs 1.1 above a ring: one closed gap; the cup is held by a post in its middle."""
    def tube(inner, outer, low, high):
        def disc(r, a, b):
            return solid_of(revolved([(0, a), (r, a), (r, b), (0, b)], 120), np.zeros(3))

        return disc(outer, low, high) - disc(inner, low - 1, high + 1)

    roof = solid_of(revolved([(0, 0), (3, 0), (3, 24), (16, 24), (16, 27), (0, 27)], 120), np.zeros(3))
    cup = mesh_of(tube(14.4, 16, 8, 25) + roof, np.zeros(3))
    ring = mesh_of(tube(14.6, 15.8, 0, 6.9), np.zeros(3))
    found = inspect(joined([cup, ring]))
    gap = next(g for g in found.gaps if g.span.closed)
    assert gap.span.gap_range == pytest.approx((1.1, 1.1), abs=0.02)
    assert gap.length == pytest.approx(2 * np.pi * 15.2, rel=0.01)
    assert [p.sacrificial for p in found.pieces if p.shells == (1,)] == [True]


def test_a_round_underside_has_a_gap_although_no_mesh_edge_names_it():
    """A lying cylinder of radius 4 between two walls, over a fin: nothing but smooth facets."""
    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 97)[:-1]
    roll = prism([(4 * np.cos(t), 16 + 4 * np.sin(t)) for t in turn], -20.0, 20.0, axis=0)
    walls = [box((-24, -6, 0), (-19.5, 6, 22)), box((19.5, -6, 0), (24, 6, 22))]
    found = inspect(joined([roll, *walls, box((-18, -0.6, 0), (18, 0.6, 10.5))]))
    assert any(g.span.gap_range[0] == pytest.approx(1.5, abs=0.05) and g.length > 30 for g in found.gaps)


def nothing_weak():
    """Ordinary parts: a slot between broad walls, a grille, a comb of fins, a gear-like block, a box with a lid."""
    slot = united(joined([box((0, 0, 0), (40, 20, 4)), box((0, 0, 0), (40, 8, 20)), box((0, 10, 0), (40, 20, 20))]))
    fins = united(joined([box((0, 0, 0), (30, 20, 3)), *(box((x, 0, 0), (x + 1.2, 20, 15)) for x in range(0, 30, 3))]))
    bars = [box((4 * i, 0, 0), (4 * i + 2, 3, 14)) for i in range(9)]
    grille = united(joined([box((0, 0, 0), (34, 3, 4)), box((0, 0, 10), (34, 3, 14)), *bars]))
    return {"slot": slot, "fins": fins, "grille": grille, "box": box(), "arch": arch(8.0)}


@pytest.mark.parametrize("name", sorted(nothing_weak()))
def test_ordinary_slots_and_bars_are_no_gaps(name):
    found = inspect(nothing_weak()[name])
    assert found.gaps == ()
    assert found.rows == ()
    assert [p.sacrificial for p in found.pieces] == [False]


def test_weak_but_nothing_below():
    found = inspect(hollow_box(30.0))
    assert found.weak_spots
    assert found.gaps == ()
    assert inspect(ball(10.0)).rows == ()


def test_a_turned_pose_finds_the_gap_of_a_lying_file():
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    lying = Mesh(made.mesh.vertices[:, [0, 2, 1]] * [1, 1, -1], made.mesh.triangles)
    assert lying.volume > 0
    part = Part("lying", lying)
    pose = Pose.of([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0], [0, 0, 0, 1]])
    (gap,) = inspect_part(part, pose, SETUP).gaps
    assert gap.span.gap_range == pytest.approx((1.2, 1.2), abs=0.02)
