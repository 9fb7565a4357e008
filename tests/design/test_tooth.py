"""Tooth solids against closed forms and a general boolean library."""

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from core.design.bond import bonded
from core.design.measure_span import measure_span
from core.design.plan import SHAPES, RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import flank, profile, row_solids
from core.errors import NotASolid
from core.geometry.mesh import joined
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology
from tests import meshes
from tests.strategies import bar_spans, finite, upright_poses

SETUP = PrintSetup()


def row_on(made: meshes.Span, **wishes: object):
    span = measure_span(made.mesh, Polyline.of(made.edge), SETUP)
    return span, (plan := plan_row(span, RowWishes(**wishes), SETUP)), row_solids(span, plan)


def test_a_straight_tooth_has_its_worked_volume() -> None:
    # Calculated: (2.0 + 0.8) / 2 × 1.2 × 0.8 = 1.344 mm³; nine of them 12.096.
    made = meshes.bar_over_ledge(40, 1.2)
    _, _, teeth = row_on(
        made, tip=0.8, foot=2.0, thickness=0.8, clear_bridge=4.2, sink_ledge=0.0, sink_part=0.0
    )
    assert sum(t.volume for t in teeth.each()) == pytest.approx(12.096, abs=1e-6)
    assert teeth.each()[0].volume == pytest.approx(1.344, abs=1e-9)
    y, half = flank("straight", 2.0, 0.8, 1.2)
    assert np.degrees(np.arctan((half[0] - half[1]) / (y[1] - y[0]))) == pytest.approx(26.565, abs=1e-3)
    widths = 2 * np.interp(np.arange(0.1, 1.2, 0.2), y, half)
    np.testing.assert_allclose(widths, [1.9, 1.7, 1.5, 1.3, 1.1, 0.9], atol=1e-9)


@pytest.mark.parametrize(
    ("run", "gap", "area"),
    # Area between a line and an arc R = 5 that leaves it tangentially, R·x − ½[x√(R²−x²) + R² asin(x/R)] (calculus).
    [(3.0, 1.0, 0.956236), (4.0, 2.0, 2.408810), (5.0, 5.0, 5.365046)],
)
def test_arc_flanks_enclose_the_areas_of_the_closed_form(run: float, gap: float, area: float) -> None:
    y, half = flank("arc_ledge", 2 * run + 1.0, 1.0, gap)
    outside = np.trapezoid(half - 0.5, y)  # between the upright through the tip and the arc
    assert outside == pytest.approx(area, abs=0.02)
    y, half = flank("arc_tip", 2 * gap + 1.0, 1.0, run)  # the same arc, lying the other way
    assert np.trapezoid(half - 0.5, y) == pytest.approx(area, abs=0.02)


def test_beyond_a_quarter_circle_both_arcs_are_the_quarter_ellipse() -> None:
    for shape, run, gap in (("arc_tip", 2.0, 1.0), ("arc_ledge", 1.0, 2.0)):
        y, half = flank(shape, 2 * run + 1.0, 1.0, gap)
        x = (run - (half - 0.5)) / run
        np.testing.assert_allclose(x**2 + ((gap - y) / gap) ** 2, 1.0, atol=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("air", [0, 1])
@pytest.mark.parametrize("gap", [0.5, 1.2, 4.0])
def test_every_shape_is_closed_outward_and_clear_of_both_planes(shape: str, air: int, gap: float) -> None:
    made = meshes.bar_over_ledge(40, gap)
    foot = {} if shape == "post" else {"foot": 2.0}
    _, _, teeth = row_on(made, shape=shape, air_layers=air, tip=0.5, **foot)
    for tooth in teeth.each()[:2]:
        other = trimesh.Trimesh(tooth.vertices, tooth.triangles, process=False)
        assert other.is_watertight
        assert other.is_winding_consistent
        assert tooth.volume > 0
        z = tooth.vertices[:, 2]
        assert np.abs(z - 10.0).min() > 1e-3
        assert np.abs(z - 10.0 - gap).min() > 1e-3 or air


@pytest.mark.parametrize("shape", ["straight", "rake", "post", "arc_tip"])
def test_foot_and_tip_are_exact_in_the_planes(shape: str) -> None:
    foot = 0.6 if shape == "post" else 2.0
    made = profile(shape, foot, 0.6, 1.2, 0.2, 0.1)
    width = made.right - made.left
    assert np.interp(0.0, made.y, width) == pytest.approx(foot, abs=1e-3)
    assert np.interp(1.2, made.y, width) == pytest.approx(0.6, abs=1e-3)


@pytest.mark.parametrize("shape", SHAPES)
def test_one_skin_is_one_closed_body_of_the_right_volume(shape: str) -> None:
    made = meshes.bar_over_ledge(40, 1.2)
    _, _, teeth = row_on(made, shape=shape)
    skin = bonded(made.mesh, teeth.each(), "skin")
    topology = Topology.of(skin)
    assert topology.watertight
    assert topology.shell_count == 1
    part, row = (solid(m) for m in (made.mesh, teeth.mesh()))
    overlap = (part ^ row).volume()
    assert skin.volume == pytest.approx(part.volume() + row.volume() - overlap, rel=1e-6)


def solid(mesh):
    raw = manifold3d.Mesh64(np.array(mesh.vertices), np.array(mesh.triangles, np.uint64))
    shells = manifold3d.Manifold(raw).decompose()
    return manifold3d.Manifold.batch_boolean(shells, manifold3d.OpType.Add)


def test_lapped_shells_keep_every_original_facet_in_place() -> None:
    made = meshes.bar_over_ledge(40, 1.2)
    _, _, teeth = row_on(made)
    whole = bonded(made.mesh, teeth.each(), "shells")
    np.testing.assert_array_equal(whole.corners[: len(made.mesh.triangles)], made.mesh.corners)
    assert len(whole.triangles) == len(made.mesh.triangles) + sum(len(t.triangles) for t in teeth.each())


def test_an_open_part_refuses_one_skin_and_says_where() -> None:
    with pytest.raises(NotASolid, match="not closed") as problem:
        bonded(meshes.open_box(), [meshes.box()], "skin")
    assert problem.value.where
    assert "lapped" in problem.value.next_step.lower()


def test_feet_and_tips_follow_a_slope() -> None:
    bar = meshes.box((0, -1, 12), (40, 1, 20))
    fin = meshes.prism([(0, 0), (11, 0), (9, 40), (0, 40)], -0.6, 0.6, axis=1)
    span = measure_span(joined([bar, fin]), Polyline.of([[0, 0, 12], [40, 0, 12]]), SETUP)
    plan = plan_row(span, RowWishes(), SETUP)
    for tooth, centre in zip(row_solids(span, plan).each(), plan.centres, strict=True):
        assert tooth.bounds[1, 2] == pytest.approx(12 + plan.sink_part, abs=0.01)
        x = tooth.vertices[:, 0]
        ledge = 11 - 2 * x / 40
        below = ledge - tooth.vertices[:, 2]
        assert below.max() == pytest.approx(plan.sink_ledge, abs=0.01)
        assert abs(x.mean() - centre) < 0.2 or abs((40 - x.mean()) - centre) < 0.2


@settings(max_examples=30, deadline=None)
@given(bar_spans(), upright_poses(), st.sampled_from(SHAPES), finite(0.2, 1.0), st.sampled_from([0, 1]))
def test_random_rows_are_closed_positive_and_inside_their_span(
    made: meshes.Span, pose: np.ndarray, shape: str, tip: float, air: int
) -> None:
    assume(made.length > 3 and made.width > 0.6)
    span = measure_span(made.mesh.moved(pose), Polyline.of(made.edge).moved(pose), SETUP)
    plan = plan_row(span, RowWishes(shape=shape, tip=tip, air_layers=air), SETUP)
    along = Polyline.of(made.edge).moved(pose)
    way = (along.array[1] - along.array[0]) / along.length
    for tooth in row_solids(span, plan).each():
        assert Topology.of(tooth).watertight
        assert tooth.volume > 0
        s = (tooth.vertices - along.array[0]) @ way
        reach = (plan.foot - tip) / 2 + 0.05
        assert s.min() > -reach
        assert s.max() < along.length + reach


@pytest.mark.parametrize("air", [0.2, 0.4])
def test_layers_left_empty_cut_the_tooth_short_and_leave_its_flanks_alone(air: float) -> None:
    """Straight flanks from a foot of 2 to a tip of 0.8 over 1.2: at height y the width is 2 − y (closed form)."""
    shape = profile("straight", 2.0, 0.8, 1.2, 0.2, -air)
    assert shape.y[-1] == pytest.approx(1.2 - air)
    assert shape.right[-1] - shape.left[-1] == pytest.approx(0.8 + air)
    np.testing.assert_allclose(np.interp(0.5, shape.y, shape.right - shape.left), 1.5, atol=1e-9)
