"""Sections by an upright sheet. Second opinions: closed forms, trimesh's plane section, shapely."""

import numpy as np
import pytest
import trimesh
from shapely.geometry import Polygon
from shapely.ops import unary_union

from core.errors import BadValue
from core.geometry.mesh import Mesh, joined
from core.geometry.sheet import sheet_section


def mesh_of(body):
    return Mesh(np.array(body.vertices), np.array(body.faces))


def area(loops):
    """Signed area of closed lines, by the shoelace formula."""
    turned = [(p, np.roll(p, -1, axis=0)) for p in loops]
    return sum(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])) / 2 for a, b in turned)


def by_trimesh(body, point, normal):
    """The plane section by trimesh, rings combined with even-odd by shapely."""
    out = Polygon()
    for ring in body.section(plane_origin=point, plane_normal=normal).discrete:
        out = out.symmetric_difference(Polygon(np.column_stack([ring[:, :2] @ [-normal[1], normal[0]], ring[:, 2]])))
    return out


@pytest.mark.parametrize("seed", range(6))
def test_flat_sheet_cuts_as_a_plane(seed):
    rng = np.random.default_rng(seed)
    body = trimesh.creation.torus(10, 3)
    angle, off = rng.uniform(0, 6), rng.uniform(-9, 9)
    along = np.array([np.cos(angle), np.sin(angle)])
    normal = np.array([-along[1], along[0]])
    section = sheet_section(mesh_of(body), [normal * off - 30 * along, normal * off + 30 * along])
    expected = by_trimesh(body, [*(normal * off), 0.0], [*normal, 0.0])
    assert area(section.outlines()) == pytest.approx(expected.area, rel=1e-6)
    assert area(section.loops) == pytest.approx(expected.area, rel=1e-9)


def test_curved_sheet_is_unrolled_not_projected():
    """A cylinder of radius r cuts a ball of radius R about the same axis in a band 2πr long, 2√(R² − r²) high."""
    angle = np.linspace(0, 2 * np.pi, 400)
    plan = 5 * np.column_stack([np.cos(angle), np.sin(angle)])
    section = sheet_section(mesh_of(trimesh.creation.icosphere(5, 10.0)), plan)
    outline = section.outlines()
    assert len(outline) == 1
    assert area(outline) == pytest.approx(2 * np.pi * 5 * 2 * np.sqrt(75), rel=2e-3)
    assert section.solid_at(8.0) == pytest.approx(np.array([[0, 2 * np.pi * 5]]), rel=1e-4)
    assert len(section.solid_at(8.7)) == 0


def test_a_bent_sheet_has_no_seam():
    box = trimesh.creation.box((40, 40, 4))
    plan = np.array([[-10.0, 1.0], [0.0, 1.0], [7.0, 8.0], [7.0, 12.0]])
    section = sheet_section(mesh_of(box), plan)
    length = np.linalg.norm(np.diff(plan, axis=0), axis=1).sum()
    assert area(section.outlines()) == pytest.approx(4 * length, rel=1e-9)
    assert [len(section.loops), len(section.outlines())] == [1, 1]
    assert section.solid_at(0.5) == pytest.approx(np.array([[0.0, length]]))


def test_own_measure_along_the_line():
    box = trimesh.creation.box((4, 4, 4))
    section = sheet_section(mesh_of(box), [[-6.0, 0.0], [6.0, 0.0]], [100.0, 200.0])
    assert section.solid_at(0.0) == pytest.approx(np.array([[100 + 100 * 4 / 12, 100 + 100 * 8 / 12]]))


def test_overlapping_shells_count_as_one():
    """Area of the union against shapely's union of the two rectangles."""
    bodies = [trimesh.creation.box((6, 4, 4)), trimesh.creation.box((2, 2, 9))]
    bodies[1].apply_translation([2.5, 0, 1])
    section = sheet_section(joined([mesh_of(b) for b in bodies]), [[-20.0, 0.1], [20.0, 0.1]])
    cuts = [Polygon([(-3, -2), (3, -2), (3, 2), (-3, 2)]), Polygon([(1.5, -3.5), (3.5, -3.5), (3.5, 5.5), (1.5, 5.5)])]
    assert area(section.outlines()) == pytest.approx(unary_union(cuts).area, rel=1e-6)
    assert area(section.loops) == pytest.approx(sum(c.area for c in cuts))
    assert section.solid_at(0.0) == pytest.approx(np.array([[17.0, 23.5]]))
    assert section.solid_at(5.0) == pytest.approx(np.array([[21.5, 23.5]]))


def test_a_hole_runs_the_other_way():
    outer, inner = trimesh.creation.box((10, 10, 10)), trimesh.creation.box((4, 4, 4))
    inner.invert()
    section = sheet_section(joined([mesh_of(outer), mesh_of(inner)]), [[-9.0, 0.2], [9.0, 0.2]])
    assert sorted(round(area([p])) for p in section.outlines()) == [-16, 100]
    assert section.solid_at(0.0) == pytest.approx(np.array([[4.0, 7.0], [11.0, 14.0]]))


def test_corners_and_edges_exactly_in_the_sheet():
    box = trimesh.creation.box((10, 10, 10)).subdivide()
    for y in (0.0, 4.999999, 5.0):
        assert area(sheet_section(mesh_of(box), [[-8.0, y], [8.0, y]]).outlines()) == pytest.approx(100, rel=1e-6)
    assert not len(sheet_section(mesh_of(box), [[-8.0, -5.0], [8.0, -5.0]]).segments)  # all of it lies left
    assert area(sheet_section(mesh_of(box), [[0.0, -8.0], [0.0, 0.0], [8.0, 0.0]]).loops) == pytest.approx(100)


def test_heights_told_from_two_lines():
    """A wedge whose top rises 1 in 10, cut along a line half way between its foot and its top, is solid all along."""
    wedge = trimesh.convex.convex_hull([(0, -1, 0), (0, 1, 0), (20, -1, 0), (20, 1, 0), (20, -1, 2), (20, 1, 2)])
    section = sheet_section(mesh_of(wedge), [[-1.0, 0.1], [30.0, 0.1]])
    s, top = np.array([0.0, 31.0]), np.array([-0.1, 3.0])
    told = section.between(s, top - 1.0, top)
    assert told.solid_at(0.5) == pytest.approx(np.array([[6.0, 21.0]]))


def test_open_mesh_and_nothing_near():
    box = trimesh.creation.box((10, 10, 10))
    opened = Mesh(np.array(box.vertices), np.array(box.faces)[:-2])
    assert len(sheet_section(opened, [[-8.0, 0.3], [8.0, 0.3]]).segments)
    nothing = sheet_section(mesh_of(box), [[50.0, 0.0], [60.0, 0.0]])
    assert nothing.outlines() == []
    assert nothing.solid_at(0.0).shape == (0, 2)


def test_refuses_a_point():
    with pytest.raises(BadValue):
        sheet_section(mesh_of(trimesh.creation.box()), [[0.0, 0.0], [0.0, 0.0]])
    with pytest.raises(BadValue):
        sheet_section(mesh_of(trimesh.creation.box()), [[0.0, 0.0]])
