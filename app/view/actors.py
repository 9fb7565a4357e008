"""Empty actors that share how this program draws: one colour each, and lines on faces that stay whole."""

from __future__ import annotations

from vtkmodules.vtkCommonDataModel import vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper


def facets() -> vtkActor:
    """Facets shaded one by one, without smoothing."""
    actor = _plain()
    actor.GetProperty().SetInterpolationToFlat()
    return actor


def lines() -> vtkActor:
    """Lines in one colour, whatever the light."""
    actor = _plain()
    actor.GetProperty().LightingOff()
    return actor


def _plain() -> vtkActor:
    mapper = vtkPolyDataMapper()
    mapper.SetInputData(vtkPolyData())
    mapper.ScalarVisibilityOff()
    mapper.SetResolveCoincidentTopologyToPolygonOffset()
    actor = vtkActor()
    actor.SetMapper(mapper)
    return actor
