"""The coupon and the trial piece: closed, standing, quick to print, and carrying what they say."""

import numpy as np
import pytest
import trimesh

from core.design.cautions import CAUTIONS
from core.design.coupon import MINUTES, coupon, print_minutes
from core.design.digits import figure_outlines, figure_width
from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.design.trial_piece import trial_piece
from core.diagnose.inspection import inspect_part
from core.errors import MeshProblem
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import as_filed

SETUPS = [
    PrintSetup(),
    PrintSetup(layer_height=0.1, first_layer=0.2),
    PrintSetup(nozzle=0.25, line_width=0.28, layer_height=0.12),
    PrintSetup(nozzle=0.8, line_width=0.88, layer_height=0.4, first_layer=0.4),
]


def solid(mesh):
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


@pytest.fixture(scope="module")
def usual():
    return coupon(PrintSetup())


@pytest.mark.parametrize("setup", SETUPS, ids=lambda s: f"{s.line_width}/{s.layer_height}")
def test_one_closed_body_that_stands_on_the_bed(setup):
    mesh, plan = coupon(setup)
    whole = solid(mesh)
    assert whole.is_watertight
    assert whole.body_count == 1
    assert mesh.bounds[0] == pytest.approx([0, 0, 0], abs=1e-9)
    assert plan.volume == pytest.approx(whole.volume, rel=1e-9)
    assert print_minutes(mesh, setup) == plan.minutes <= MINUTES
    assert len(plan.rows) >= 3
    # Sure footing: the outline on the bed holds the centre of mass by a wide margin
    assert (whole.center_mass[:2] > 8).all()
    assert (whole.center_mass[:2] < np.array(plan.size[:2]) - 8).all()


def test_rows_are_graded_in_one_figure_at_a_time(usual):
    _, plan = usual
    base = plan.rows[0]
    changed = {"tip": "tip", "thickness": "thickness", "bridge": "teeth"}
    for row in plan.rows[1:]:
        differs = [n for n in ("tip", "thickness", "teeth") if getattr(row, n) != getattr(base, n)]
        assert differs == [changed[row.about]]
    tips = sorted({r.tip for r in plan.rows})
    assert tips[0] < plan.setup.line_width < tips[-1]
    assert max(r.clear_bridge for r in plan.rows) > 1.5 * plan.setup.clear_bridge
    assert len(plan.lines) == 4 + len(plan.rows) + len(CAUTIONS)


def test_ledges_and_edges_lie_between_layers(usual):
    mesh, _ = usual
    flat = mesh.normals[:, 2] < -0.999
    heights = np.unique(np.round(mesh.corners[flat].mean(axis=1)[:, 2], 3))
    np.testing.assert_allclose(heights / 0.2, np.round(heights / 0.2), atol=1e-3)


READ_BACK = [
    *SETUPS,
    PrintSetup(nozzle=0.6, line_width=0.65, layer_height=0.3, first_layer=0.3),
    PrintSetup(line_width=0.65),
    PrintSetup(nozzle=0.15, line_width=0.17, layer_height=0.08, first_layer=0.1, walls="variable"),
    PrintSetup(nozzle=1.2, line_width=1.47, layer_height=0.6, first_layer=0.65, clear_bridge=19.0),
    PrintSetup(nozzle=1.8, line_width=2.5, layer_height=0.67, first_layer=1.15),
    PrintSetup(air_layers=1),
    PrintSetup(nozzle=0.5, line_width=0.45, layer_height=0.32, first_layer=0.26, air_layers=2),
]


@pytest.mark.parametrize("setup", READ_BACK, ids=lambda s: f"{s.line_width}/{s.layer_height}/{s.air_layers}")
def test_reading_it_back_finds_exactly_its_rows(setup):
    mesh, plan = coupon(setup)
    found = inspect_part(Part("coupon", mesh), as_filed(mesh), setup).rows
    told = sorted((r.teeth, round(r.tip, 2), round(r.thickness, 2)) for r in plan.rows)
    read = sorted((r.teeth, round(r.tip, 2), round(r.thickness, 2)) for r in found)
    assert len(read) == len(told) >= 2
    np.testing.assert_allclose(read, told, atol=0.011)


def test_figures():
    # A nought 3 mm high of strokes 0.5 mm wide: the outline of its outer side is 1.75 × 3
    points = np.concatenate(figure_outlines("0", 3.0, 0.5))
    np.testing.assert_allclose(np.ptp(points, axis=0), [figure_width("0", 3.0, 0.5), 3.0], atol=0.02)
    # three digits of 1.25 and a point of 0.375 between centre lines, three spaces of 1.375, and a stroke
    assert figure_width("0.45", 3.0, 0.5) == pytest.approx(3 * 1.25 + 0.375 + 3 * 1.375 + 0.5)
    with pytest.raises(KeyError):
        figure_outlines("A", 3.0, 0.5)


def test_the_engraving_is_two_layers_deep(usual):
    mesh, _ = usual
    rail = np.abs(mesh.vertices[:, 2] - 1.2) < 1e-5
    assert rail.any()
    assert (np.abs(mesh.vertices[:, 2] - 0.8) < 1e-5).sum() > 200


@pytest.mark.parametrize("middle", [None, 0.0, 100.0])
def test_a_trial_piece(bench, middle):
    b = bench(length=90.0, ledge=20.0)
    mesh, span, plan, teeth = b.measured()
    piece, cut = trial_piece(mesh, span, plan, teeth, b.setup, middle=middle)
    whole = solid(piece)
    assert whole.is_watertight
    assert whole.body_count == 1
    assert piece.bounds[0] == pytest.approx([0, 0, 0], abs=1e-9)
    assert 20 <= cut.stop - cut.start <= 30
    assert len(cut.teeth) >= 3
    # 4 mm of fin, the gap of 1.2, 4 mm of beam; nothing above it
    assert cut.size[2] == pytest.approx(4 + 1.2 + 4, abs=1e-5)
    assert print_minutes(piece, b.setup) < 10
    told = " ".join(cut.lines)
    for word in ("eye protection", "cool", "sharp", "children", "carries a load", "qualified", "estimate"):
        assert word in told
    # The same teeth stand in it: a section half way up the gap shows them and nothing else
    section = whole.section(plane_origin=[0, 0, 4.6], plane_normal=[0, 0, 1])
    paths = section.to_2D()[0] if hasattr(section, "to_2D") else section.to_planar()[0]
    tips = [p for p in paths.polygons_full if p.area < 3]
    assert len(tips) == len(cut.teeth)


def test_a_trial_piece_out_of_a_turned_part(bench, as_mesh):
    from core.geometry.pose import about_z, placed

    b = bench(length=60.0)
    mesh = as_mesh(b.solid().rotate((0, 0, 33)))
    span = measure_span(mesh, b.edge().moved(placed(about_z(33), (0, 0, 0))), b.setup)
    plan = plan_row(span, RowWishes(), b.setup)
    piece, cut = trial_piece(mesh, span, plan, row_solids(span, plan), b.setup)
    straight, same = trial_piece(*b.measured(), b.setup)
    assert piece.volume == pytest.approx(straight.volume, rel=1e-3)
    assert cut.teeth == same.teeth


def test_no_teeth_no_piece(bench):
    b = bench(length=90.0)
    mesh, span, _, _ = b.measured()
    few = plan_row(span, RowWishes(stop=60.0), b.setup)
    with pytest.raises(MeshProblem, match="no tooth"):
        trial_piece(mesh, span, few, row_solids(span, few), b.setup, middle=75.0)


def test_a_trial_piece_beside_a_fin(as_mesh, solid_box):
    fin = solid_box((-11.5, -0.6, 0), (-1.5, 0.6, 26)) + solid_box((-12, -4, 0), (-2, 4, 1))
    mesh, setup = as_mesh(solid_box((0, -1.5, 0), (6, 1.5, 30)) + fin), PrintSetup()
    ledge = Polyline.of([(-1.5, -0.6, 0), (-1.5, -0.6, 26)])
    span = measure_span(mesh, Polyline.of([(0, -1.5, 0), (0, -1.5, 30)]), setup, ledge=ledge)
    plan = plan_row(span, RowWishes(), setup)
    piece, cut = trial_piece(mesh, span, plan, row_solids(span, plan), setup)
    whole = solid(piece)
    assert whole.is_watertight
    assert whole.body_count == 1
    assert len(cut.teeth) == plan.teeth
    assert cut.size[2] == pytest.approx(26, abs=0.1)
