"""Projection against VTK's own camera, and there and back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from vtkmodules.vtkRenderingCore import vtkCamera

from app.view.camera import FIELD_RAD, Camera
from app.view.lens import Lens

BOX = np.array([[-30.0, -10.0, 0.0], [50.0, 25.0, 40.0]])
points = np.random.default_rng(4).uniform(BOX[0], BOX[1], (200, 3))


def lens(azimuth: float, elevation: float, parallel: bool) -> Lens:
    camera = Camera(azimuth=azimuth, elevation=elevation, parallel=parallel).framed(BOX, 1.6)
    return Lens(camera, 800.0, 500.0, BOX)


@pytest.mark.parametrize("parallel", [False, True])
@pytest.mark.parametrize(("azimuth", "elevation"), [(0.0, 0.0), (0.7, 0.4), (-2.0, -1.2), (0.3, np.pi / 2)])
def test_projects_as_vtk_does(azimuth: float, elevation: float, parallel: bool) -> None:
    ours = lens(azimuth, elevation, parallel)
    theirs = vtkCamera()
    theirs.SetFocalPoint(*(ours.eye - ours.basis[2]))
    theirs.SetPosition(*ours.eye)
    theirs.SetViewUp(*ours.basis[1])
    theirs.SetViewAngle(np.rad2deg(FIELD_RAD))
    theirs.SetParallelProjection(parallel)
    theirs.SetParallelScale(ours.camera.height / 2)
    theirs.SetClippingRange(*ours.clip)
    matrix = theirs.GetCompositeProjectionTransformMatrix(1.6, -1, 1)
    m = np.array([[matrix.GetElement(i, j) for j in range(4)] for i in range(4)])
    clip = np.column_stack([points, np.ones(len(points))]) @ m.T
    ndc = clip[:, :3] / clip[:, 3:]
    screen, depth = ours.project(points)
    assert np.allclose(screen[:, 0], (ndc[:, 0] + 1) * 400.0, atol=1e-6)
    assert np.allclose(screen[:, 1], (1 - ndc[:, 1]) * 250.0, atol=1e-6)
    assert np.allclose(ours.buffer_from_depth(depth), (ndc[:, 2] + 1) / 2, atol=1e-9)


@given(st.floats(-3, 3), st.floats(-1.5, 1.5), st.booleans())
def test_a_projected_point_comes_back(azimuth: float, elevation: float, parallel: bool) -> None:
    through = lens(azimuth, elevation, parallel)
    screen, depth = through.project(points[:5])
    for place, far, point in zip(screen, depth, points[:5], strict=True):
        assert np.allclose(through.at(*place, far), point, atol=1e-9)
        origin, towards = through.ray(*place)
        assert np.linalg.norm(np.cross(point - origin, towards)) < 1e-7
        z = through.buffer_from_depth(far)
        assert through.depth_from_buffer(z) == pytest.approx(far, rel=1e-9)


def test_everything_in_the_box_lies_in_the_depth_range() -> None:
    for parallel in (False, True):
        z = lens(0.4, 0.3, parallel).buffer_from_depth(lens(0.4, 0.3, parallel).depth_of(points))
        assert (z > 0).all()
        assert (z < 1).all()


def test_a_line_past_the_eye_is_cut_before_it() -> None:
    through = lens(0.0, 0.0, False)
    behind = through.eye + through.basis[2] * 50.0 + through.basis[0] * 3.0
    ends, depth, there = through.project_segments(np.array([[through.camera.focus, behind], [behind, behind + 1.0]]))
    assert there.tolist() == [True, False]
    assert np.isfinite(ends[0]).all()
    assert (depth[0] > 0).all()


def test_meets_the_bed_where_it_should() -> None:
    through = lens(0.2, 0.5, False)
    screen, _ = through.project(np.array([5.0, 6.0, 0.0]))
    assert np.allclose(through.on_plane(*screen), (5.0, 6.0, 0.0), atol=1e-9)
    assert lens(0.0, 0.0, True).on_plane(400.0, 100.0) is None
