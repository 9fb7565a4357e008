"""Reading teeth that are there. Truth: the figures by which the bodies were made, and the samples' truth file."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.rows_present import read_row
from core.geometry.mesh import Mesh, joined
from core.geometry.polyline import Polyline
from core.geometry.solids import mesh_of, solid_of
from tests.diagnose.sample_parts import PLAIN, TRUTH, part_of, single
from tests.meshes import bar_over_ledge, box, comb, prism, revolved
from tests.strategies import combs, upright_poses

SETUP = PrintSetup()

def united(mesh):
    """One skin, by manifold3d."""
    origin = mesh.bounds.mean(axis=0)
    return mesh_of(solid_of(mesh, origin), origin)


def front(made, y):
    """The edge of a bar over a ledge, moved to its front."""
    return Polyline.of(np.add(made.edge, (0, y, 0)))


def turned(mesh, line, pose):
    return single(mesh.moved(pose)), line.moved(pose)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(made=combs(), pose=upright_poses())
def test_comb_of_one_skin(made, pose):
    y, z = -made.thickness / 2, made.edge_z
    edge = Polyline.of([[0, y, z], [made.mesh.bounds[1, 0], y, z]])
    mesh, edge = turned(made.mesh, edge, pose)
    row = read_row(mesh, measure_span(mesh, edge, SETUP))
    assert row is not None
    assert (row.teeth, row.is_row) == (made.teeth, True)
    assert row.pitch == pytest.approx(made.pitch, abs=0.01)
    assert (row.foot, row.tip) == pytest.approx((made.foot, made.tip), abs=0.03)
    assert (row.thickness, row.height) == pytest.approx((made.thickness, made.height), abs=0.02)


def test_the_row_of_the_check_value():
    """Edge 40, nine teeth, pitch 4.65, foot 2.0, tip 0.8, clear bridge 3.85 (worked by hand for the trade)."""
    made = comb()
    span = measure_span(made.mesh, Polyline.of([[0, -0.4, 6.2], [40, -0.4, 6.2]]), SETUP)
    row = read_row(made.mesh, span)
    assert (row.teeth, row.shape) == (9, "straight")
    assert (row.pitch, row.foot, row.tip) == pytest.approx((4.65, 2.0, 0.8), abs=1e-6)
    assert row.clear_distances(span) == pytest.approx(np.r_[1.0, [3.85] * 8, 1.0], abs=1e-6)
    assert row.enough(span, SETUP)
    assert not row.enough(span, PrintSetup(clear_bridge=3.8))


@pytest.mark.parametrize("bond", ["lapped", "one skin"])
@pytest.mark.parametrize("shape", ["straight", "arc_tip", "arc_ledge", "rake", "post"])
@pytest.mark.parametrize("gap", [1.0, 3.0])
def test_every_form_lapped_and_united(shape, bond, gap):
    made = bar_over_ledge(40.0, gap, strip=2.4, ledge=1.8)
    edge = front(made, -1.2)
    span = measure_span(made.mesh, edge, SETUP)
    foot = 0.7 if shape == "post" else 2.2
    plan = plan_row(span, RowWishes(shape=shape, foot=foot, tip=0.7, thickness=0.9), SETUP)
    mesh = joined([made.mesh, row_solids(span, plan).mesh()])
    mesh = single(mesh if bond == "lapped" else united(mesh))
    again = measure_span(mesh, edge, SETUP)
    row = read_row(mesh, again)
    assert (row.teeth, row.shape) == (plan.teeth, shape)
    assert row.pitch == pytest.approx(plan.pitch, abs=0.01)
    assert (row.foot, row.tip) == pytest.approx((foot, 0.7), abs=0.03)
    assert row.thickness == pytest.approx(0.9, abs=0.01)
    assert again.gap_range == pytest.approx((gap, gap), abs=0.02)
    assert again.length == pytest.approx(made.length, rel=0.01)


def test_growing_gap():
    """A ledge that falls 2 in 40 under a level edge; the teeth are as high as the gap where they stand."""
    fin = prism([(0, 0), (11.0, 0.0), (9.0, 40.0), (0, 40)], -0.9, 0.9, axis=1)  # outline in (z, x)
    mesh = joined([fin, box((0, -1.2, 12), (40, 1.2, 18))])
    edge = Polyline.of([[0, -1.2, 12], [40, -1.2, 12]])
    span = measure_span(mesh, edge, SETUP)
    plan = plan_row(span, RowWishes(foot=2.0, tip=0.6, thickness=1.0), SETUP)
    row = read_row(mesh_with := joined([mesh, row_solids(span, plan).mesh()]), measure_span(mesh_with, edge, SETUP))
    assert (row.teeth, row.foot, row.tip) == pytest.approx((plan.teeth, 2.0, 0.6), abs=0.03)
    assert row.height == pytest.approx(2.0, abs=0.02)


@pytest.mark.parametrize("radius", [8.0, 25.0])
def test_round_a_closed_rim(radius):
    """Teeth round a rim: prisms made flat and turned into place, so their figures are exact."""
    def disc(r, low, high):
        return solid_of(revolved([(0, low), (r, low), (r, high), (0, high)], 160), np.zeros(3))

    rings = [(2.0, 10.0), (11.5, 20.0)]
    tubes = [disc(radius + 0.9, low, high) - disc(radius - 0.9, low - 1, high + 1) for low, high in rings]
    bodies = [mesh_of(tube, np.zeros(3)) for tube in tubes]
    half = [(10.0, -1.0), (9.7, -1.0), (9.7, 1.0), (10.0, 1.0), (11.5, 0.4), (11.6, 0.4), (11.6, -0.4), (11.5, -0.4)]
    teeth = []
    for k in range(12):
        tooth = prism(half[::-1], radius - 0.5, radius + 0.5, axis=1)  # outline in (z, x), thickness along y
        turn = np.deg2rad(30 * k + 7)
        c, s = np.cos(turn), np.sin(turn)
        teeth.append(Mesh(tooth.vertices @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]), tooth.triangles))
    assert teeth[0].volume > 0
    mesh = joined([*bodies, *teeth])
    at = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    circle = (radius + 0.9) * np.array([np.cos(at), np.sin(at)])
    rim = Polyline.of(np.column_stack([*circle, np.full(160, 11.5)]), True)
    span = measure_span(mesh, rim, SETUP)
    row = read_row(mesh, span)
    assert span.closed
    assert row.teeth == 12
    assert (row.foot, row.tip, row.thickness) == pytest.approx((2.0, 0.8, 1.0), abs=0.03)
    assert row.pitch == pytest.approx(span.length / 12, rel=0.01)
    assert len(row.clear_distances(span)) == 12


def test_one_or_two_are_told_but_make_no_row():
    made = bar_over_ledge(40.0, 1.5)
    posts = [box((x, -0.4, 9.5), (x + 0.8, 0.4, 12)) for x in (10, 25)]
    mesh = joined([made.mesh, *posts])
    span = measure_span(mesh, front(made, -0.8), SETUP)
    row = read_row(mesh, span)
    assert (len(row.centres), row.is_row) == (2, False)
    assert not row.enough(span, SETUP)


def test_irregular_things_make_no_row():
    made = bar_over_ledge(60.0, 1.5)
    posts = [box((x, -0.4, 9.5), (x + w, 0.4, 12)) for x, w in ((3, 0.8), (6, 3.0), (27, 1.6), (38, 0.5))]
    mesh = joined([made.mesh, *posts])
    row = read_row(mesh, measure_span(mesh, front(made, -0.8), SETUP))
    assert len(row.centres) == 4
    assert not row.is_row


def test_a_row_with_a_tooth_missing_keeps_its_pitch():
    made = bar_over_ledge(40.0, 1.5)
    posts = [box((x - 0.4, -0.4, 9.5), (x + 0.4, 0.4, 12)) for x in (4, 8, 12, 20, 24, 28, 32, 36)]
    mesh = joined([made.mesh, *posts])
    span = measure_span(mesh, front(made, -0.8), SETUP)
    row = read_row(mesh, span)
    assert (row.teeth, row.is_row, row.shape) == (8, True, "post")
    assert row.pitch == pytest.approx(4.0)
    assert row.clear_distances(span).max() == pytest.approx(7.2, abs=1e-6)


def test_an_empty_gap_has_none():
    made = bar_over_ledge()
    assert read_row(made.mesh, measure_span(made.mesh, front(made, -0.8), SETUP)) is None


@settings(max_examples=6, deadline=None, derandomize=True)
@given(name=st.sampled_from(PLAIN), pose=upright_poses())
def test_samples_in_turned_poses(name, pose):
    truth = TRUTH[name]
    mesh = single(part_of(name).mesh.moved(pose))
    rows = {row["gap"]: row for row in truth["rows"]}
    for gap in truth["gaps"]:
        if gap["closed"] or not gap["lip"]:
            continue
        lip, ledge = (Polyline.of(gap[k]).moved(pose) for k in ("lip", "ledge"))
        span = measure_span(mesh, lip, SETUP, ledge=ledge if gap["direction"] == "side" else None)
        assert span.gap_range == pytest.approx((gap["gap_min_mm"], gap["gap_max_mm"]), abs=0.02)
        assert span.length == pytest.approx(gap["length_mm"], rel=0.01)
        row, known = read_row(mesh, span), rows.get(gap["id"])
        assert (row is None) == (known is None)
        if known is None:
            continue
        assert (row.teeth, row.shape, row.direction) == (known["teeth"], known["flank"], known["direction"])
        assert row.pitch == pytest.approx(known["pitch_mm"], abs=0.01)
        mine = [row.foot, row.tip, row.thickness, row.height]
        assert mine == pytest.approx([known[k] for k in ("foot_mm", "tip_mm", "thickness_mm", "height_mm")], abs=0.03)
        ends = Polyline.of([known["from"], known["to"]]).moved(pose).array
        found = row.points[[0, -1]]
        off = [np.abs(found - e).max() for e in (ends, ends[::-1])]
        assert min(off) < 0.05
