"""Lines and points laid onto undersides, against spheres, cylinders and planes in closed form."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.design.surface_lines import line_on_surface, lowest_line, lowest_point
from core.errors import SpanProblem
from core.geometry.mesh import Mesh
from tests.meshes import box

SQUARE = [(-8, -8), (8, -8), (8, 8), (-8, 8)]


def of(mesh: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(mesh.vertices), np.asarray(mesh.faces, np.int32))


def sphere(radius=12.0, centre=(0.7, -0.4, 20.0)):
    ball = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    ball.apply_translation(centre)
    return of(ball)


def test_the_lowest_point_of_a_sphere():
    at = lowest_point(sphere(), SQUARE)
    # Facets of this ball are 0.5 mm; its lowest corner lies within one of the true pole (0.7, −0.4, 8).
    assert np.hypot(at[0] - 0.7, at[1] + 0.4) < 0.5
    assert at[2] == pytest.approx(8.0, abs=0.02)


def test_a_sphere_has_no_lowest_line():
    with pytest.raises(SpanProblem, match="point"):
        lowest_line(sphere(), SQUARE)


@pytest.mark.parametrize("angle", [0.0, 25.0, 90.0])
def test_the_lowest_line_of_a_lying_cylinder(angle):
    tube = trimesh.creation.cylinder(radius=10.0, height=60.0, sections=256)
    tube.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0)))
    tube.apply_transform(trimesh.transformations.rotation_matrix(np.radians(angle), (0, 0, 1)))
    tube.apply_translation((0, 0, 18.0))
    line = lowest_line(of(tube), SQUARE)
    way = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    off = line.array[:, 0] * way[1] - line.array[:, 1] * way[0]
    assert np.abs(off).max() < 0.25  # within one facet of the axis, which lies right above
    assert line.array[:, 2] == pytest.approx(8.0, abs=0.01)
    assert line.length > 14.0


def test_a_free_line_lies_on_the_underside_of_a_sphere():
    ball = sphere(centre=(0.0, 0.0, 20.0))
    line = line_on_surface(ball, [(-6, 2, 9), (0, 2, 8), (6, 2, 9)])
    x, y, z = line.array.T
    # z = 20 − √(144 − x² − y²); an icosphere of five subdivisions lies within 0.01 mm inside its sphere.
    assert z == pytest.approx(20 - np.sqrt(144 - x**2 - y**2), abs=0.02)
    assert y == pytest.approx(2.0)


def test_a_line_that_leaves_the_part_is_refused():
    with pytest.raises(SpanProblem, match="leaves"):
        line_on_surface(box((0, 0, 5), (10, 10, 9)), [(2, 5, 5), (30, 5, 5)])
    with pytest.raises(SpanProblem, match="apart"):
        line_on_surface(box((0, 0, 5), (10, 10, 9)), [(2, 5, 5), (2, 5, 5)])
