"""Layers lost at the tips, the printed path and the bond at the edge."""

import math

import manifold3d as m3
import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.geometry.polyline import Polyline
from core.proof.near import Near
from core.proof.survival import LayerState, holding_width, lost_layers, survive, worst_sideways
from core.proof.tooth_sections import tooth_sections

# The trade's own tooth: foot 0.082 in, tip 0.006 in (common practice, no source).
FOOT, TIP = 0.082 * 25.4, 0.006 * 25.4
# Layers lost of it with a least width of 0.42 mm at layers of 0.1, 0.2 and 0.3 mm, counted from the ledge (calculated).
TABLE = [
    ("straight", 1.2, (2, 1, 1)),
    ("arc_tip", 1.2, (6, 3, 2)),
    ("straight", 0.6, (1, 0, 0)),
    ("arc_ledge", 0.6, (2, 1, 1)),
    ("arc_tip", 0.6, (3, 2, 1)),  # beyond a quarter circle: the quarter ellipse
]


@pytest.mark.parametrize(("shape", "gap", "lost"), TABLE)
@pytest.mark.parametrize("step", range(3))
def test_the_trades_own_tooth(shape, gap, lost, step):
    layer = (0.1, 0.2, 0.3)[step]
    found = lost_layers(shape, foot=FOOT, tip=TIP, gap=gap, least=0.42, layer=layer)
    assert found == lost[step]


@pytest.mark.parametrize(("shape", "gap", "lost"), TABLE)
@pytest.mark.parametrize("step", range(3))
def test_the_same_cut_out_of_the_solids(bench, shape, gap, lost, step):
    layer = (0.1, 0.2, 0.3)[step]
    b = bench(gap=gap, setup=PrintSetup(line_width=0.42, layer_height=layer, first_layer=layer))
    mesh, span, plan, teeth = b.measured(shape=shape, foot=FOOT, tip=TIP)
    found = survive(Near(mesh, span, b.setup), plan, teeth)
    assert found.lost.tolist() == [lost[step]] * plan.teeth
    assert (found.lost_worst >= lost[step]).all()
    assert (found.lost_worst <= lost[step] + 1).all()
    assert found.connected.all() == (lost[step] == 0)


def test_mid_layer_widths(bench):
    # Foot 2.0, tip 0.8, height 1.2 at 0.2 mm layers: 1.9 1.7 1.5 1.3 1.1 0.9 (calculated)
    b = bench()
    mesh, span, plan, teeth = b.measured(foot=2.0, tip=0.8)
    found = survive(Near(mesh, span, b.setup), plan, teeth)
    gap = (found.heights > 6.0) & (found.heights < 7.2)
    np.testing.assert_allclose(
        found.planned[:, gap], np.tile([1.9, 1.7, 1.5, 1.3, 1.1, 0.9], (plan.teeth, 1)), atol=1e-6
    )
    np.testing.assert_allclose(found.left[:, gap], found.planned[:, gap], atol=1e-6)
    assert (found.state[:, gap] == LayerState.PRINTED).all()
    # The last layer in the gap is 0.9 wide and 0.9 thick; the opening rounds its four corners with r = 0.22:
    # a square less its inscribed quarter circles loses (4 − π) r²
    assert plan.thickness == 0.9
    assert found.contact == pytest.approx(np.full(plan.teeth, 0.81 - (4 - math.pi) * 0.22**2), rel=0.005)


def test_the_last_layers_hang_in_the_air(bench):
    b = bench(setup=PrintSetup(layer_height=0.1, first_layer=0.1))
    mesh, span, plan, teeth = b.measured(foot=2.0, tip=0.15)
    found = survive(Near(mesh, span, b.setup), plan, teeth)
    # Width falls by 1.85 mm over 1.2 mm: thinner than 0.44 over the last 0.188 mm, two middles of 0.1 mm layers
    assert found.lost.tolist() == found.air.tolist() == found.lost_worst.tolist() == [2] * plan.teeth
    assert not found.connected.any()
    assert (found.contact == 0).all()
    assert (found.state[0] == LayerState.LOST).sum() == 2


def test_a_thin_tooth_does_not_print_at_all(bench):
    b = bench()
    mesh, span, plan, teeth = b.measured(thickness=0.3)
    found = survive(Near(mesh, span, b.setup), plan, teeth)
    assert found.lost.tolist() == found.lost_worst.tolist() == [6] * plan.teeth
    assert not found.left.any()


def test_layers_left_empty_on_wish_are_not_lost(bench):
    b = bench()
    mesh, span, plan, teeth = b.measured(air_layers=1)
    found = survive(Near(mesh, span, b.setup), plan, teeth)
    assert found.air.tolist() == [1] * plan.teeth
    assert found.worst == 0
    assert found.connected.all()
    assert not found.contact.any()
    assert (found.state == LayerState.AIR).sum() == plan.teeth


def test_variable_walls_keep_thinner_tips(bench):
    for walls, expected in (("fixed", 1), ("variable", 0)):
        b = bench(setup=PrintSetup(walls=walls))
        mesh, span, plan, teeth = b.measured(tip=0.25)
        assert survive(Near(mesh, span, b.setup), plan, teeth).worst == expected


def test_a_ridge_loses_its_own_first_layer(solid_box, as_mesh):
    """A 90° ridge is 0.2 mm wide at the middle of its first 0.2 mm layer and 0.6 at the second (plane geometry)."""
    fin = solid_box((0, -0.6, 0), (30, 0.6, 6)) + solid_box((0, -5, 0), (30, 5, 1))
    roof = m3.CrossSection([np.array([[0, 7.2], [4, 11.2], [-4, 11.2]])]).extrude(30)
    roof = roof.rotate((90, 0, 0)).rotate((0, 0, 90))
    posts = solid_box((-5, -4, 0), (-1, 4, 11)) + solid_box((31, -4, 0), (35, 4, 11))
    mesh = as_mesh(fin + roof + posts + solid_box((-5, -1, 10), (35, 1, 11)))
    setup = PrintSetup()
    span = measure_span(mesh, Polyline.of([(0, 0, 7.2), (30, 0, 7.2)]), setup)
    assert span.kind == "ridge"
    plan = plan_row(span, RowWishes(), setup)
    near = Near(mesh, span, setup)
    found = survive(near, plan, row_solids(span, plan))
    assert found.lost.tolist() == [0] * plan.teeth
    first = int(np.argmax(near.layers[1] > 7.2))
    # Wider tips print by themselves, and are bonded where they cross the strip of 0.6: width × 0.6, less what is
    # rounded off their corners by the radius of 0.22, 4 ∫ r − √(r² − x²) dx (closed form)
    plan = plan_row(span, RowWishes(tip=0.8), setup)
    wide = survive(near, plan, row_solids(span, plan))
    r, x = 0.22, 0.3 - (plan.thickness / 2 - 0.22)
    corners = 4 * (r * x - (x * np.sqrt(r**2 - x**2) + r**2 * np.arcsin(x / r)) / 2)
    assert (wide.planned[:, first] > 0.7).all()
    np.testing.assert_allclose(wide.contact, wide.planned[:, first] * 0.6 - corners, rtol=0.01)
    assert near.printed[first].within(*ROOF).empty
    assert not near.printed[first + 1].within(*ROOF).empty


ROOF = ((-3.0, -10.0), (3.0, 10.0))


def test_side_teeth(solid_box, as_mesh):

    mesh = as_mesh(
        solid_box((0, -1.5, 0), (6, 1.5, 30))
        + solid_box((-11.5, -0.6, 0), (-1.5, 0.6, 26))
        + solid_box((-12, -4, 0), (-2, 4, 1))
    )
    setup = PrintSetup()
    span = measure_span(
        mesh, Polyline.of([(0, -1.5, 0), (0, -1.5, 30)]), setup, ledge=Polyline.of([(-1.5, -0.6, 0), (-1.5, -0.6, 26)])
    )
    near = Near(mesh, span, setup)

    def found(**wishes):
        plan = plan_row(span, RowWishes(**wishes), setup)
        return plan, survive(near, plan, row_solids(span, plan))

    _, whole = found(tip=0.6)
    assert whole.connected.all()
    assert whole.worst == 0
    # three or two layer middles fall into a tip of 0.6 mm: 0.2 × 0.9 mm bonded each, 3 at most
    assert set(np.round(whole.contact / (0.2 * 0.9), 3)) <= {3.0, 4.0}
    _, thin = found(tip=0.6, thickness=0.3)
    assert not thin.connected.any()
    assert (thin.lost_worst == 3).all()
    _, rake = found(shape="rake", tip=0.6)
    assert (rake.lost == 0).all()


def test_side_tips_lower_than_a_layer():
    # layers of 0.2 mm, least width 0.44 mm
    assert worst_sideways(0.15, 0.9, 0.44, 0.2) == 1
    assert worst_sideways(0.25, 0.9, 0.44, 0.2) == 0
    assert worst_sideways(0.6, 0.3, 0.44, 0.2) == 3


def test_the_width_that_holds():
    assert holding_width(0.44) == pytest.approx(0.45)
    assert holding_width(0.42) == pytest.approx(0.45)
    assert holding_width(PrintSetup(walls="variable").least_printable) == pytest.approx(0.2)


shapes = st.sampled_from(["straight", "arc_tip", "arc_ledge", "rake"])


@settings(max_examples=200, derandomize=True)
@given(
    shapes,
    st.floats(0.1, 1.5),
    st.floats(0.01, 0.5),
    st.floats(0.4, 4),
    st.sampled_from([0.1, 0.2, 0.3]),
    st.floats(0, 1),
)
def test_a_wider_tip_never_loses_more_layers(shape, tip, wider, gap, layer, phase):
    narrow, wide = (
        lost_layers(shape, foot=2.1, tip=t, gap=gap, least=0.44, layer=layer, phase=phase) for t in (tip, tip + wider)
    )
    assert wide <= narrow


@settings(max_examples=8, derandomize=True, deadline=None)
@given(st.floats(-180, 180), st.floats(-300, 300), st.floats(-300, 300), st.integers(0, 30))
def test_moving_everything_together_changes_nothing(bench, as_mesh, turn, x, y, layers):
    setup = PrintSetup(layer_height=0.1, first_layer=0.1)
    b = bench(setup=setup)
    lift = m3.Manifold.cube((60, 20, max(layers, 1) * 0.1)).translate((-10, -10, -max(layers, 1) * 0.1))
    solid = (b.solid() + lift).translate((0, 0, max(layers, 1) * 0.1)).rotate((0, 0, turn)).translate((x, y, 0))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    edge = b.edge().array + np.array([0, 0, max(layers, 1) * 0.1])
    edge = edge @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]).T + np.array([x, y, 0])
    mesh = as_mesh(solid)
    span = measure_span(mesh, Polyline.of(edge), setup)
    plan = plan_row(span, RowWishes(tip=0.15, foot=2.0), setup)
    found = survive(Near(mesh, span, setup), plan, row_solids(span, plan))
    assert plan.teeth == 9
    assert found.lost.tolist() == [2] * 9
    assert found.contact.sum() == 0


@settings(max_examples=15, derandomize=True, deadline=None)
@given(st.sampled_from(["straight", "arc_tip", "arc_ledge"]), st.floats(0.1, 0.4), st.floats(0.02, 0.4))
def test_a_wider_tip_of_a_real_row_never_loses_more_layers(bench, shape, tip, wider):
    """The same property, cut out of the solids; the narrow tip is always narrower than the line of 0.44 mm."""
    b = bench(setup=PrintSetup(layer_height=0.1, first_layer=0.1))

    def found(width):
        mesh, span, plan, teeth = b.measured(shape=shape, foot=2.1, tip=width, teeth=8)
        return survive(Near(mesh, span, b.setup), plan, teeth)

    narrow, wide = found(tip), found(tip + wider)
    assert (narrow.lost_worst > 0).all()
    assert (wide.lost <= narrow.lost).all()
    assert (wide.lost_worst <= narrow.lost_worst).all()
    assert (wide.contact >= narrow.contact - 1e-9).all()


@pytest.mark.parametrize("shape", ["straight", "arc_tip", "arc_ledge", "rake"])
def test_sections_are_those_that_trimesh_cuts(bench, shape):
    mesh, span, plan, teeth = bench(length=20.0).measured(shape=shape, foot=2.1, tip=0.45)
    heights = np.array([6.05, 6.4, 6.83, 7.15])
    window = Near(mesh, span, PrintSetup()).window
    areas = shapely.area(tooth_sections(teeth, window, np.tile(heights, (plan.teeth, 1))))
    for i, tooth in enumerate(teeth.each()):
        solid = trimesh.Trimesh(tooth.vertices, tooth.triangles, process=False)
        cuts = [solid.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1]).to_2D()[0].area for z in heights]
        np.testing.assert_allclose(areas[i], cuts, rtol=1e-6)
