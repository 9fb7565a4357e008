"""The bridges that are left and the wall below."""

import manifold3d as m3
import pytest

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.geometry.polyline import Polyline
from core.proof.hold import hold, practice_sag, topple
from core.proof.near import Near


def held(b, **wishes):
    mesh, span, plan, _ = b.measured(**wishes)
    return plan, hold(Near(mesh, span, b.setup), plan)


def test_bridges_between_tips_and_to_the_posts(bench):
    plan, found = held(bench(), teeth=9, tip=0.8)
    # Edge 40, clearance 1, tip 0.8: pitch 4.65, clear 3.85 (calculated); the posts stand 1 mm beyond the fin
    assert found.clear == pytest.approx(3.85, abs=1e-4)
    assert found.ends == pytest.approx((2.0, 2.0), abs=0.01)
    assert found.free_ends == (0, 0)
    assert found.bare == pytest.approx(42.0)
    assert found.longest == pytest.approx(plan.clear_bridge)
    assert found.stiffer == pytest.approx((42 / 3.85) ** 4, rel=1e-3)


def test_a_free_end(bench, as_mesh, solid_box):
    from core.design.measure_span import measure_span
    from core.design.plan import RowWishes, plan_row

    b = bench()
    mesh = as_mesh(b.solid() - solid_box((b.length + 1, -6, -1), (b.length + 9, 6, 20)))
    span = measure_span(mesh, b.edge(), b.setup)
    found = hold(Near(mesh, span, b.setup), plan_row(span, RowWishes(), b.setup))
    assert found.ends[0] is not None
    assert found.ends[1] is None
    assert found.free_ends[1] == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize(
    ("length", "sag"), [(4.9, (0, 0)), (10, (0, 0.2)), (30, (0.1, 0.5)), (50, (0.5, 2)), (80, (2, 10))]
)
def test_sag_of_practice(length, sag):
    # common practice, no source
    assert practice_sag(length) == sag


def test_the_fin_under_the_row(bench):
    _, found = held(bench(ledge=12.0))
    assert found.wall.thickness == pytest.approx(1.2, abs=0.11)
    assert found.wall.height == pytest.approx(11.0, abs=0.01)  # it stands on a plate 1 mm thick
    assert found.wall.slenderness == pytest.approx(11 / 1.2, rel=0.1)
    assert found.wall.long_and_free


def test_braces_shorten_the_free_wall(bench, solid_box):
    braces = [solid_box((x - 0.6, -5, 0), (x + 0.6, 5, 10)) for x in (10, 20, 30)]
    _, found = held(bench(ledge=12.0, extras=braces))
    assert 7.5 < found.wall.free_length < 11
    assert not found.wall.long_and_free


def test_a_block_is_no_wall(bench, solid_box):
    _, found = held(bench(extras=[solid_box((0, -5, 0), (40, 5, 6))]))
    assert found.wall is None


def test_toppling(as_mesh):
    # Box 20 × 20 × 40 falls at 26.565° (statics); a cone stands by its centre of mass at a quarter of its height
    block = as_mesh(m3.Manifold.cube((20, 20, 40)).translate((7, -3, 0)))
    assert topple(block) == pytest.approx(26.565, abs=1e-3)
    cone = as_mesh(m3.Manifold.cylinder(30, 10, 0.0, 256))
    assert topple(cone) == pytest.approx(53.13, abs=0.05)
    on_its_tip = as_mesh(m3.Manifold.cylinder(30, 0.0, 10, 64))
    assert topple(on_its_tip) == pytest.approx(0.0)


def test_a_body_that_falls_by_itself(as_mesh, solid_box):
    assert topple(as_mesh(solid_box((0, 0, 0), (2, 2, 2)) + solid_box((0, 0, 2), (20, 2, 4)))) < 0


def test_limits_follow_the_wish(bench):
    plan, _ = held(bench(setup=PrintSetup(clear_bridge=3.0)))
    assert plan.clear_bridge <= 3.0


def test_a_picked_stretch_of_an_edge_that_runs_on_to_a_post_is_held(bench):
    """The beam runs on for 1 mm past either end of the fin and there meets its post; picked is the middle only."""
    b = bench()
    mesh = b.mesh
    z, y = b.ledge + b.gap, -b.strip / 2
    span = measure_span(mesh, Polyline.of([(0.0, y, z), (b.length, y, z)]), b.setup)
    found = hold(Near(mesh, span, b.setup), plan_row(span, RowWishes(), b.setup))
    assert found.free_ends == (0.0, 0.0)
    assert None not in found.ends


def test_a_picked_stretch_in_mid_air_is_not(bench):
    b = bench()
    mesh = b.mesh
    z, y = b.ledge + b.gap, -b.strip / 2
    span = measure_span(mesh, Polyline.of([(15.0, y, z), (25.0, y, z)]), b.setup)
    found = hold(Near(mesh, span, b.setup), plan_row(span, RowWishes(), b.setup))
    assert found.ends == (None, None)
