"""Printable and hanging regions of layers against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from manifold3d import CrossSection

from core.design.setup import PrintSetup
from core.diagnose.layers import hanging, print_layers, printable
from core.diagnose.steep import steep_layers
from core.geometry.mesh import Mesh, joined
from core.geometry.slicing import slice_layers
from core.geometry.topology import Topology
from tests.meshes import ball, bar_over_ledge, box, cone, hollow_box, ridge_over_ledge, stepped_pyramid, torus

SETUP = PrintSetup()


def found_in(mesh: Mesh, setup: PrintSetup = SETUP):
    topology = Topology.of(mesh)
    return hanging(print_layers(mesh, setup, topology=topology), setup, topology)


def test_layers_are_cut_at_their_middles() -> None:
    layers = print_layers(box(), PrintSetup(layer_height=0.3, first_layer=0.2))
    assert layers.heights[:3] == pytest.approx([0.1, 0.35, 0.65])
    assert layers.heights[-1] < 30
    shifted = print_layers(box(), SETUP, phase=0.5)
    assert shifted.heights[:3] == pytest.approx([0.1, 0.4, 0.6])


# --- what prints -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "prints"), [(0.42, False), (0.44, True), (0.5, True)])
def test_a_wall_prints_when_it_is_a_line_wide(width: float, prints: bool) -> None:
    wall = joined([box((0, 0, 0), (10, 10, 1)), box((0, 0, 0), (10, width, 5))])
    regions, _ = printable(print_layers(wall, SETUP), SETUP.least_printable)
    assert (regions[15].area > 0) == prints
    if prints:
        assert regions[15].area == pytest.approx(10 * width, rel=0.01)


def test_a_thin_fin_on_a_thick_body_goes_and_the_body_stays_whole() -> None:
    body = joined([box((0, 0, 0), (10, 10, 5)), box((9, 4, 0), (15, 4.3, 5))])
    regions, changed = printable(print_layers(body, SETUP), SETUP.least_printable)
    # Of the fin, 0.3 wide, less than 0.2 mm is left at its root: 0.45 radii of 0.22, and as far as the disc looks
    # into it.
    assert 0 <= regions[12].area - 100 <= 0.2 * 0.3
    assert changed[12]
    assert not changed[0]


def test_wide_bodies_are_left_as_they_are() -> None:
    for mesh in (box(), ball(), torus(), hollow_box()):
        layers = print_layers(mesh, SETUP)
        regions, changed = printable(layers, SETUP.least_printable)
        assert changed.mean() < 0.06  # but for the tip of the ball
        assert [r.area for r in regions][5:-5] == pytest.approx(layers.areas[5:-5])


@pytest.mark.parametrize("corners", [24, 60, 240])
def test_many_round_holes_do_not_look_like_thin_places(corners: int) -> None:
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ring = 3.0 * np.column_stack([np.cos(turn), -np.sin(turn)])
    outline = np.float64([[0, 0], [120, 0], [120, 120], [0, 120]])
    places = [(10 * i + 5, 10 * j + 5) for i in range(12) for j in range(12)]
    plate = CrossSection([outline, *(ring + p for p in places)]).extrude(2.0).to_mesh64()
    mesh = Mesh(np.array(plate.vert_properties)[:, :3], np.array(plate.tri_verts).astype(np.int32))
    layers = print_layers(mesh, SETUP)
    regions, changed = printable(layers, SETUP.least_printable)
    assert not changed.any()
    assert all(a is b for a, b in zip(regions, layers.regions, strict=True))


def test_a_thin_fin_over_many_layers_goes_from_each() -> None:
    body = joined([box((0, 0, 0), (10, 10, 5)), box((20, 0, 0), (30, 0.3, 5))])
    layers = print_layers(body, SETUP)
    regions, changed = printable(layers, SETUP.least_printable)
    assert changed[1:].all()
    assert not changed[0]
    assert [r.area for r in regions[1:]] == pytest.approx([100.0] * (len(layers) - 1))
    assert regions[0].area == pytest.approx(103.0)


def test_a_sharp_edge_loses_its_own_lowest_layers() -> None:
    # Flanks 40° from vertical: 2·z·tan 40° wide; 0.168 at the first mid-layer, 0.503 at the second (closed form).
    span = ridge_over_ledge(half_angle_deg=40.0)
    low = 11.2
    layers = slice_layers(span.mesh, [low + 0.1, low + 0.3])
    assert layers.areas == pytest.approx([40 * 2 * z * math.tan(math.radians(40)) for z in (0.1, 0.3)], rel=1e-6)
    loose = found_in(span.mesh)
    heights = loose.layers.heights
    assert [round(float(heights[p.layer]), 6) for p in loose.pieces] == [11.5]


# --- what hangs ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", range(30, 61))
def test_a_cone_hangs_exactly_beyond_the_limit(angle: int) -> None:
    """The limit is found to the degree: rings of r·(tan a − tan 45°), closed form."""
    loose = found_in(cone(angle, height=6.0, count=360))
    rings = [p for p in loose.pieces if p.layer > 4]
    if angle <= 45:
        assert not rings
        return
    h, t = 0.2, math.tan(math.radians(angle))
    assert len(rings) == 25
    for p in rings:
        outer = float(loose.layers.heights[p.layer]) * t
        assert p.region.area == pytest.approx(math.pi * (outer**2 - (outer - h * t + h) ** 2), rel=0.05)


@pytest.mark.parametrize("limit", [30, 38, 52, 60])
def test_the_limit_is_the_setups(limit: int) -> None:
    for angle, hangs in ((limit - 1, False), (limit + 1, True)):
        loose = found_in(cone(angle, height=6.0, count=360), PrintSetup(overhang=limit))
        assert any(p.layer > 6 for p in loose.pieces) == hangs


def test_nothing_hangs_from_upright_walls_and_steps_that_narrow() -> None:
    for mesh in (box(), stepped_pyramid(), cone(20)):
        assert not [p for p in found_in(mesh).pieces if p.layer > 8]


def test_steps_that_widen_hang_by_their_treads() -> None:
    # Each step: the outer square less the inner one grown by the advance with round corners.
    loose = found_in(stepped_pyramid(upside_down=True))
    assert [round(float(loose.layers.heights[p.layer]), 6) for p in loose.pieces] == [4.1, 8.1, 12.1]
    for k, p in enumerate(loose.pieces, start=1):
        inner, outer, d = 6.0 * k, 6.0 * (k + 1), 0.2
        assert p.region.area == pytest.approx(outer**2 - (inner**2 + 4 * inner * d + math.pi * d * d), rel=1e-4)


def test_a_ceiling_hangs_but_for_the_advance_along_its_walls() -> None:
    (piece,) = found_in(hollow_box(20.0, 2.0)).pieces
    assert piece.region.area == pytest.approx((16 - 0.4) ** 2)


@pytest.mark.parametrize("mesh", [torus(), ball(8.0), bar_over_ledge(posts=True).mesh], ids=["torus", "ball", "bar"])
def test_hanging_regions_equal_shapelys(mesh: Mesh) -> None:
    """The same difference by shapely's buffers from trimesh's plain sections, for layers without thin places."""
    import trimesh

    loose = found_in(mesh)
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    areas = {}
    for p in loose.pieces:
        areas[p.layer] = areas.get(p.layer, 0.0) + p.region.area
    compared = 0
    for i in range(1, min(len(loose.layers), 60)):
        if any(loose.printable[j] is not loose.layers.regions[j] for j in (i - 1, i)):
            continue
        here, below = (_plain(other, float(loose.layers.heights[j])) for j in (i, i - 1))
        free = here.difference(below.buffer(0.2, quad_segs=32))
        assert areas.get(i, 0.0) == pytest.approx(free.area, abs=0.03 + 0.01 * free.area)
        compared += 1
    assert compared > 20


def _plain(mesh, z: float) -> shapely.Geometry:
    out: shapely.Geometry = shapely.Polygon()
    section = mesh.section([0, 0, 1], [0, 0, z])
    for ring in section.discrete if section is not None else []:
        area = shapely.Polygon(ring[:, :2])
        out = out.symmetric_difference(area) if out.contains(area) or area.contains(out) else out.union(area)
    return out


# --- the quick look --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mesh", [torus(), ball(8.0, lift=2.0), stepped_pyramid(upside_down=True), hollow_box(),
                                  ridge_over_ledge().mesh, cone(50, 8.0)])  # fmt: skip
def test_layers_that_are_skipped_hang_nowhere(mesh: Mesh) -> None:
    """Looking into every layer finds nothing that the quick look at the mesh would have missed."""
    topology = Topology.of(mesh)
    layers = print_layers(mesh, SETUP, topology=topology)
    quick = hanging(layers, SETUP, topology)
    full = hanging(replace(layers, notes=("look everywhere",)), SETUP, topology)
    assert {p.layer for p in full.pieces} == {p.layer for p in quick.pieces}
    assert sum(p.region.area for p in full.pieces) == pytest.approx(sum(p.region.area for p in quick.pieces))


def test_the_quick_look_skips_most_layers_of_a_sound_part() -> None:
    layers = print_layers(box(), SETUP)
    assert steep_layers(Topology.of(box()), layers.heights, 45.0).sum() <= 1
    layers = print_layers(torus(), SETUP)
    marked = steep_layers(Topology.of(torus()), layers.heights, 45.0)
    # The underside of a torus is beyond the limit up to r·(1 − sin 45°) = 1.46 of 10 mm; its facets are coarse.
    assert np.flatnonzero(marked).max() * 0.2 < 2.4
