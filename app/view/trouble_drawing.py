"""What is wrong with the mesh, at its place: the facets laid over in the colour of attention, and their outline."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkRenderingCore import vtkProp, vtkRenderer

from app.look.tokens import LIGHT, Pen, Theme
from app.view import actors, arrays

F64 = NDArray[np.float64]

OPACITY: Final = 0.55
AMBIENT: Final = 0.75
DIFFUSE: Final = 0.6
#: More facets than this are only outlined: laying them all over would cost more than it tells.
MOST_FACETS: Final = 400_000


class TroubleDrawing:
    """Draws marked facets and lines over the kept picture of the part, like teeth."""

    def __init__(self, layer: vtkRenderer) -> None:
        self._faces, self._lines = actors.facets(), actors.facets()
        look = self._faces.GetProperty()
        look.SetOpacity(OPACITY)
        look.SetAmbient(AMBIENT)
        look.SetDiffuse(DIFFUSE)
        # The facets are facets of the part: draw them a little nearer to the eye, whichever way they face.
        self._faces.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(-3.0, -30.0)
        self._lines.GetProperty().LightingOff()
        self._lines.GetMapper().SetRelativeCoincidentTopologyLineOffsetParameters(-3.0, -60.0)
        self._marked = self._lined = False
        for actor in (self._faces, self._lines):
            layer.AddActor(actor)

    def show(self, facets: F64, segments: F64) -> None:
        """Mark facets (k, 3, 3) and lines (s, 2, 3), bed mm; both empty takes all marks away."""
        self._marked = 0 < len(facets) <= MOST_FACETS
        self._lined = len(segments) > 0
        if self._marked:
            corners = np.ascontiguousarray(facets, np.float64).reshape(-1, 3)
            index = np.arange(len(corners), dtype=np.int32).reshape(-1, 3)
            self._faces.GetMapper().SetInputData(arrays.surface(corners, index))
        if self._lined:
            self._lines.GetMapper().SetInputData(arrays.loose_lines(segments))

    def set_theme(self, theme: Theme, device_pixels: float) -> None:
        """Colours and line width."""
        self._faces.GetProperty().SetColor(*arrays.rgb(LIGHT.attention))
        self._lines.GetProperty().SetColor(*arrays.rgb(theme.attention))
        self._lines.GetProperty().SetLineWidth(Pen.TOOTH * device_pixels)

    @property
    def props(self) -> list[vtkProp]:
        """What is to be drawn; empty when nothing is wrong."""
        return [self._faces] * self._marked + [self._lines] * self._lined
