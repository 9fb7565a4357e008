"""Several walls below a wide underside: what they leave weak, and what they cost."""

from __future__ import annotations

import manifold3d as m3
import numpy as np
import pytest

from core.design.wall_area import block_volume, lines_for_spot, plan_walls_for_spot
from core.design.wall_reach import ways_out
from core.design.wall_row import wall_with_row
from core.diagnose.inspection import inspect_part
from core.geometry.mesh import joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import as_filed
from core.proof.hold import topple
from tests.design.walls import SETUP, closed_one_body, front_edge, least_distance, mesh_of, shelf, weak_spots
from tests.meshes import box, hollow_box


def spot_of(mesh):
    return inspect_part(Part("test", mesh), as_filed(mesh), SETUP).weak_spots[0]


def test_a_bare_shelf_is_carried_by_parallel_walls_for_a_quarter_of_a_block():
    part = shelf()
    spot = spot_of(part)
    made = [wall_with_row(part, n.edge, SETUP, n.wall, n.row) for n in lines_for_spot(part, spot, SETUP)]
    solids = [s for m in made for s in (m.solid, m.teeth.mesh())]
    # 18 mm from the plate to the free edge, 5 mm bridges, 0.45 mm teeth: one at the edge and ⌈(17.45 − 5) / 5.45⌉ more.
    assert len(made) == 4
    assert all(closed_one_body(m.solid) for m in made)
    assert min(least_distance(part, m.solid, 500) for m in made) >= 0.5
    assert min(topple(m.solid) for m in made) > 10
    assert weak_spots(joined([part, *solids])) == []
    assert sum(s.volume for s in solids) <= 0.25 * block_volume(spot, SETUP)
    assert block_volume(spot, SETUP) == pytest.approx(30 * 18 * 25, rel=0.03)


def test_the_first_wall_stands_along_the_free_edge():
    part = shelf()
    plans = plan_walls_for_spot(part, spot_of(part), SETUP)
    y = [float(p.axis.array[:, 1].mean()) for p in plans]
    assert y[0] == pytest.approx(-18 + 0.05 + plans[0].thickness / 2, abs=0.15)
    assert np.diff(sorted(y)).max() < 5.0 + 2 * 0.66 + 0.45


def test_walls_run_the_way_that_needs_fewer():
    # Held on both long sides, 12 mm apart: walls along the 40 mm, not across.
    part = joined([box((0, -8, 0), (40, 0, 30)), box((0, 12, 0), (40, 20, 30)), box((0, -0.5, 20), (40, 12.5, 24))])
    plans = plan_walls_for_spot(part, spot_of(part), SETUP)
    assert len(plans) == 2
    for plan in plans:
        step = plan.axis.array[-1] - plan.axis.array[0]
        assert abs(step[0]) > 30
        assert abs(step[1]) < 0.1


def test_a_hole_in_the_underside_gets_a_ring():
    hole = m3.Manifold.cylinder(10, 3.0, 3.0, 64).translate((0, -9, 22))
    raw = m3.Manifold.cube((30, 18.5, 4)).translate((-15, -18, 25)) - hole
    part = joined([box((-20, 0, 0), (20, 6, 40)), mesh_of(raw)])
    rings = [n for n in lines_for_spot(part, spot_of(part), SETUP) if n.edge.closed]
    assert len(rings) == 1
    r = np.linalg.norm(rings[0].edge.array[:, :2] - [0, -9], axis=1)
    assert r == pytest.approx(3.0, abs=0.1)


def test_a_wall_below_a_shelf_slides_out_to_the_front():
    part = shelf()
    plan = plan_walls_for_spot(part, spot_of(part), SETUP)[0]
    (way,) = ways_out(part, plan)
    assert way.tool == "fingers"
    assert any(abs((b - 270 + 180) % 360 - 180) < 1 for b in way.bearings)
    assert not any(abs((b - 90 + 180) % 360 - 180) < 1 for b in way.bearings)  # the plate is there


def test_a_wall_in_a_closed_room_has_no_way_out():
    from core.design.plan_wall import plan_wall

    room = hollow_box()
    plan = plan_wall(room, Polyline.of([(5, 10, 18), (15, 10, 18)]), SETUP)
    assert plan.base == "part"
    assert not any(way.free for way in ways_out(room, plan))


def test_two_pieces_of_a_ring_come_out_where_one_does_not():
    from core.design.plan_wall import plan_wall
    from core.design.wall import WallWishes
    from tests.design.walls import ellipse

    disc = mesh_of(m3.Manifold.cylinder(5, 25, 25, 128).translate((0, 0, 15)))
    part = joined([disc, box((-5, -5, 0), (5, 5, 16))])
    edge = ellipse(25, 25, 15, 128)
    whole = ways_out(part, plan_wall(part, edge, SETUP, WallWishes(breaks=0)))
    pieces = ways_out(part, plan_wall(part, edge, SETUP, WallWishes(breaks=4)))
    assert not whole[0].free
    assert len(pieces) == 4
    assert all(p.free for p in pieces)


def test_the_front_edge_alone_is_a_plan_too():
    assert front_edge().length == pytest.approx(30)
