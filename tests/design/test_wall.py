"""Walls: figures against the trade's limits, solids against closed forms, distances against trimesh."""

from __future__ import annotations

import math

import numpy as np
import pytest

from core.design.plan_wall import plan_wall
from core.design.setup import PrintSetup
from core.design.wall import WallWishes
from core.design.wall_body import wall_solid
from core.design.wall_sheet import Sheet, faces, sheet_mesh
from core.errors import PlanRefused, SpanProblem
from core.geometry.mesh import joined
from core.geometry.polyline import Polyline
from core.proof.hold import topple
from tests.design.walls import (
    SETUP,
    closed_one_body,
    ellipse,
    front_edge,
    least_distance,
    mesh_of,
    rim,
    shelf,
    weak_spots,
)
from tests.meshes import box


def helix(radius: float = 20.0, rise: float = 12.0, sweep: float = 4.0, count: int = 120):
    """A screw-shaped underside about Z: the edge in its middle and the part above it, 2 mm wide."""
    import manifold3d as m3

    t = np.linspace(0, sweep, count + 1)
    z = 12.0 + rise * t / sweep
    edge = Polyline.of(np.column_stack([radius * np.cos(t), radius * np.sin(t), z]))
    section = m3.CrossSection([[(0, -1), (sweep, -1), (sweep, 1), (0, 1)]])
    solid = m3.Manifold.extrude(section, 6.0).refine_to_length(sweep / count * 4)

    def bent(points):
        p = np.asarray(points)
        r = radius - p[:, 1]
        return np.column_stack([r * np.cos(p[:, 0]), r * np.sin(p[:, 0]), p[:, 2] + 12.0 + rise * p[:, 0] / sweep])

    return mesh_of(solid.warp_batch(bent)), edge


def test_sheet_with_a_gabled_window_has_the_volume_of_its_face_times_its_thickness():
    # Closed form: (length × height − window) × thickness; window = width × upright part + gable triangle.
    axis = np.array([[0.0, 0], [10, 0], [14, 0], [18, 0], [30, 0]])
    left, right = faces(axis, 1.2, closed=False)
    whole = [(0.0, 20.0, 0.0, 20.0)]
    rising = [(0.0, 3.0, 0.0, 3.0), (8.0, 20.0, 12.0, 20.0)]
    falling = [(0.0, 3.0, 0.0, 3.0), (12.0, 20.0, 8.0, 20.0)]
    mesh = sheet_mesh(Sheet(left, right, [[(a, b, c, d) for a, b, c, d in whole], rising, falling, whole], False))
    assert closed_one_body(mesh)
    assert mesh.volume == pytest.approx((30 * 20 - (8 * 5 + 8 * 4 / 2)) * 1.2, rel=1e-9)


def test_closed_sheet_about_a_polygon_has_the_mitred_volume():
    # A regular n-gon of apothem a, thickened to both sides: area = n tan(π/n) ((a + t/2)² − (a − t/2)²).
    n, a, t = 12, 10.0, 1.0
    r = a / math.cos(math.pi / n)
    angle = 2 * np.pi * np.arange(n) / n
    left, right = faces(r * np.column_stack([np.cos(angle), np.sin(angle)]), t, closed=True)
    mesh = sheet_mesh(Sheet(left, right, [[(0.0, 0.0, 5.0, 5.0)] and [(0.0, 5.0, 0.0, 5.0)]] * n, True))
    assert closed_one_body(mesh)
    assert mesh.volume == pytest.approx(n * math.tan(math.pi / n) * ((a + t / 2) ** 2 - (a - t / 2) ** 2) * 5, rel=1e-9)


def test_a_straight_wall_keeps_the_figures_of_the_trade():
    plan = plan_wall(shelf(), front_edge(), SETUP)
    # Common practice, no source: free-standing 1.2 mm at least, whole lines.
    assert plan.thickness >= 1.2
    assert plan.thickness == pytest.approx(plan.lines * SETUP.line_width)
    assert plan.gap == pytest.approx(1.2)
    assert plan.top == pytest.approx(25.0 - 1.2)
    assert plan.base == "bed"
    # Common practice: height over thickness above 15 is worth bracing.
    assert plan.slenderness > 15
    assert len(plan.ribs) >= 2
    assert topple(wall_solid(shelf(), plan)) > 10


@pytest.mark.parametrize(
    "edge", [front_edge(), Polyline.of([(-15, 0, 25), (-15, -18, 25), (15, -18, 25), (15, 0, 25)])], ids=["front", "U"]
)
def test_walls_below_a_shelf_are_closed_clear_and_print_by_themselves(edge):
    part = shelf()
    plan = plan_wall(part, edge, SETUP)
    solid = wall_solid(part, plan)
    assert closed_one_body(solid)
    assert least_distance(part, solid) >= plan.clearance
    assert weak_spots(solid) == []


@pytest.mark.parametrize(("a", "b"), [(30.0, 30.0), (40.0, 22.0)])
def test_walls_below_closed_rims_follow_them(a, b):
    part = rim(a, b)
    plan = plan_wall(part, ellipse(a, b, 15.0), SETUP)
    solid = wall_solid(part, plan)
    assert plan.closed
    assert closed_one_body(solid)
    assert least_distance(part, solid) >= plan.clearance
    assert weak_spots(solid) == []
    # The middle of the wall runs in the middle of the 2 mm strip: one millimetre inside the rim.
    x, y = plan.axis.array[:, :2].T
    assert np.abs(np.hypot(x / (a - 1), y / (b - 1)) - 1).max() * min(a, b) < 0.3


def test_a_wall_follows_a_helix_at_its_gap():
    part, edge = helix()
    plan = plan_wall(part, edge, SETUP)
    solid = wall_solid(part, plan)
    t = np.arctan2(*plan.axis.array[:, 1::-1].T) % (2 * np.pi)
    t = np.where(t > 5.5, t - 2 * np.pi, t)
    under = 12.0 + 12.0 * t / 4.0
    assert closed_one_body(solid)
    assert np.abs(under - plan.gap - plan.top)[2:-2].max() < 0.15  # the wall keeps below the lowest point across
    assert least_distance(part, solid) >= plan.clearance
    assert weak_spots(solid) == []


def test_a_wall_below_a_stepped_edge_keeps_its_clearance_at_every_step():
    steps = [box((10.0 * i, -1, 12.0 + 4 * i), (10.0 * i + 10.0, 1, 40)) for i in range(4)]
    part = joined(steps)
    line = [(x, 0.0, 12.0 + 4 * i) for i in range(4) for x in (10.0 * i + 0.01, 10.0 * i + 9.99)]
    plan = plan_wall(part, Polyline.of(line), SETUP)
    solid = wall_solid(part, plan)
    assert closed_one_body(solid)
    assert least_distance(part, solid) >= plan.clearance
    assert plan.top.max() == pytest.approx(24.0 - plan.gap)


def test_a_wall_on_the_part_below_stands_on_feet_that_reach_it():
    part = joined([shelf(), box((-20, -30, 0), (20, 0.5, 5))])
    plan = plan_wall(part, front_edge(), SETUP)
    solid = wall_solid(part, plan)
    assert plan.base == "part"
    assert closed_one_body(solid)
    assert solid.bounds[0, 2] == pytest.approx(5.0 - 0.1)
    # The arches between the feet are steeper than 45° from the bed, so nothing of the wall starts in the air.
    for a, b in zip(plan.feet[:-1], plan.feet[1:], strict=True):
        assert b.start - a.stop < 5.0
    hanging = [w for w in weak_spots(joined([part, solid])) if 5.0 < w[1] < 23.0]
    assert hanging == []


def test_a_wall_beside_something_is_moved_or_cut_back():
    # A leg stands 0.4 mm beside the rim of the 2 mm strip, over a fifth of its length.
    bar = box((0, -1, 15), (40, 1, 20))
    part = joined([bar, box((16, 1.0, 0), (24, 4, 18))])
    plan = plan_wall(part, Polyline.of([(0, 0, 15), (40, 0, 15)]), SETUP)
    solid = wall_solid(part, plan)
    assert closed_one_body(solid)
    assert least_distance(part, solid) >= plan.clearance
    assert plan.length == pytest.approx(40.0, abs=0.2)


def test_break_lines_part_a_long_wall():
    part, edge = shelf(width=150.0), front_edge(width=150.0)
    plan = plan_wall(part, edge, SETUP)
    pieces = plan.pieces
    assert len(pieces) == 3
    assert max(b - a for a, b in pieces) < 60.0
    assert closed_one_body(wall_solid(part, plan))
    assert plan_wall(part, edge, SETUP, WallWishes(breaks=0)).pieces == ((0.0, plan.length),)


def test_windows_save_material_and_stay_self_supporting():
    part = shelf()
    bare = wall_solid(part, plan_wall(part, front_edge(), SETUP, WallWishes(windows=False)))
    plan = plan_wall(part, front_edge(), SETUP)
    assert wall_solid(part, plan).volume < 0.65 * bare.volume
    for w in plan.windows:
        assert (w.apex - w.side) / ((w.stop - w.start) / 2) > 1.0  # steeper than 45°
    flat = PrintSetup(overhang=35.0)
    for w in plan_wall(part, front_edge(), flat).windows:
        assert (w.apex - w.side) / ((w.stop - w.start) / 2) > 1 / math.tan(math.radians(35.0))


@pytest.mark.parametrize(
    ("wishes", "field"),
    [
        (WallWishes(lines=1), "lines"),
        (WallWishes(gap=0.1), "gap"),
        (WallWishes(gap=30.0), "gap"),
        (WallWishes(clearance=0.2), "clearance"),
        (WallWishes(clearance=9.0), "clearance"),
        (WallWishes(foot_width=-1.0), "foot_width"),
        (WallWishes(breaks=-1), "breaks"),
        (WallWishes(shift=9.0), "shift"),
    ],
)
def test_wishes_that_cannot_be_kept_are_refused_with_their_field(wishes, field):
    with pytest.raises(PlanRefused) as said:
        plan_wall(shelf(), front_edge(), SETUP, wishes)
    assert said.value.field == field
    assert said.value.next_step


def test_edges_without_room_or_material_are_refused():
    with pytest.raises(SpanProblem, match="Nothing hangs"):
        plan_wall(shelf(), Polyline.of([(-15, -18, 60), (15, -18, 60)]), SETUP)
    low = shelf(z=1.5)
    with pytest.raises(SpanProblem, match="no room"):
        plan_wall(low, front_edge(z=1.5), SETUP)


def test_braced_walls_may_be_two_lines_thick():
    part = rim(30.0, 30.0)
    plan = plan_wall(part, ellipse(30.0, 30.0, 15.0), SETUP, WallWishes(lines=2))
    assert plan.thickness == pytest.approx(0.88)
    assert closed_one_body(wall_solid(part, plan))


def test_a_wall_higher_than_printers_reach_is_refused_in_words():
    with pytest.raises(SpanProblem, match=r"would be 40\d mm high"):  # the shelf's height less the gap
        plan_wall(shelf(z=405.0), front_edge(z=405.0), SETUP)
    assert plan_wall(shelf(z=250.0), front_edge(z=250.0), SETUP).top.max() < 250.0
