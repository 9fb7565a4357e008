"""Teeth in the view: ghosts of a row that is planned, the rows that were added, and those that came with the file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkRenderingCore import vtkProp, vtkRenderer

from app.look.tokens import LIGHT, Pen, Theme
from app.view import actors, arrays
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology, shells

Bool = NDArray[np.bool_]

#: Ghost teeth let the part shine through until they are in the mesh.
GHOST_OPACITY: Final = 0.78
ATTENTION_OPACITY: Final = 0.72
TOOTH_LINE: Final = 1.2
#: Hatching of existing teeth: finer than on the elevation, for the teeth are small in the view.
HATCH_STEP: Final = 3.6
HATCH_WIDE: Final = 0.9
#: Hatching of a cut through the part.
CUT_STEP: Final = Pen.HATCH_STEP
AMBIENT: Final = 0.58
DIFFUSE: Final = 0.95


class _Solid:
    """Faces and edges of one group of teeth."""

    def __init__(self, layer: vtkRenderer, opacity: float) -> None:
        self.faces, self.edges = actors.facets(), actors.facets()
        self.faces.GetProperty().SetOpacity(opacity)
        self.faces.GetProperty().SetAmbient(AMBIENT)
        self.faces.GetProperty().SetDiffuse(DIFFUSE)
        self.faces.GetProperty().BackfaceCullingOn()
        self.faces.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, 0.0)
        self.edges.GetProperty().LightingOff()
        self.filled = False
        layer.AddActor(self.faces)
        layer.AddActor(self.edges)

    def show(self, mesh: Mesh | None) -> None:
        self.filled = mesh is not None and len(mesh.triangles) > 0
        if mesh is None or not self.filled:
            return
        topology = Topology.of(mesh)
        self.faces.GetMapper().SetInputData(arrays.surface(mesh.vertices, mesh.triangles))
        self.edges.GetMapper().SetInputData(arrays.lines(mesh.vertices, topology.edges[topology.features]))

    def colour(self, fill: str, line: str, width: float) -> None:
        self.faces.GetProperty().SetColor(*arrays.rgb(fill))
        self.edges.GetProperty().SetColor(*arrays.rgb(line))
        self.edges.GetProperty().SetLineWidth(width)

    @property
    def props(self) -> list[vtkProp]:
        return [self.faces, self.edges] if self.filled else []


class TeethDrawing:
    """Draws teeth over the kept picture of the part, so that a row in hand never costs a redraw of the part."""

    def __init__(self, layer: vtkRenderer) -> None:
        self._ghost = _Solid(layer, GHOST_OPACITY)
        self._attention = _Solid(layer, ATTENTION_OPACITY)
        self._added = _Solid(layer, 1.0)
        self._existing = actors.facets()
        self._existing.GetProperty().LightingOff()
        self._existing.GetProperty().SetColor(1.0, 1.0, 1.0)
        # Their faces are faces of the part: draw them a little nearer to the eye.
        self._existing.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(-3.0, -30.0)
        layer.AddActor(self._existing)
        self._hatched = False

    def set_ghosts(self, teeth: Mesh | None, attention: Bool | Sequence[bool] | None) -> None:
        """Teeth that are planned; ``attention`` marks, tooth by tooth, those that will not print as drawn."""
        if teeth is None or not len(teeth.triangles):
            self._ghost.show(None)
            self._attention.show(None)
            return
        marked = np.asarray(attention if attention is not None else [], bool)
        if not marked.any():
            self._ghost.show(teeth)
            self._attention.show(None)
            return
        of_triangle = shells(teeth)
        wrong = np.zeros(int(of_triangle.max()) + 1, bool)
        wrong[: len(marked)] = marked[: len(wrong)]
        pick = wrong[of_triangle]
        self._ghost.show(Mesh(teeth.vertices, teeth.triangles[~pick]))
        self._attention.show(Mesh(teeth.vertices, teeth.triangles[pick]))

    def set_added(self, teeth: Mesh | None) -> None:
        """Teeth that are part of the job."""
        self._added.show(teeth)

    def set_existing(self, triangles: NDArray[np.float64] | None) -> None:
        """Surface of the teeth that came with the file, (k, 3, 3) bed mm: it is hatched."""
        self._hatched = triangles is not None and len(triangles) > 0
        if triangles is None or not self._hatched:
            return
        corners = np.ascontiguousarray(triangles, np.float64).reshape(-1, 3)
        index = np.arange(len(corners), dtype=np.int32).reshape(-1, 3)
        self._existing.GetMapper().SetInputData(arrays.surface(corners, index))

    def set_theme(self, theme: Theme, device_pixels: float) -> None:
        """Colours and line widths."""
        thin = TOOTH_LINE * device_pixels
        self._ghost.colour(theme.tooth_3d, theme.tooth_3d_line, thin)
        self._added.colour(theme.tooth_3d, theme.tooth_3d_line, thin)
        self._attention.colour(LIGHT.attention_ground, theme.attention, Pen.TOOTH * device_pixels)

    @property
    def props(self) -> list[vtkProp]:
        """What is to be drawn in colour; empty when there is nothing."""
        return [*self._added.props, *self._ghost.props, *self._attention.props]

    @property
    def mask_props(self) -> list[vtkProp]:
        """What is to be drawn as the mask of the hatching; empty when there is nothing."""
        return [self._existing] if self._hatched else []


def hatch(
    mask: NDArray[np.uint8], device_pixels: float, colour: str, step_px: float = HATCH_STEP
) -> NDArray[np.uint8]:
    """Lines at 45° where ``mask`` (h, w), 0…255, is set: (h, w, 4) uint8, colours multiplied by alpha."""
    out = np.zeros((*mask.shape, 4), np.uint8)
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return out
    window = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    step, half = step_px * device_pixels * 2**0.5, HATCH_WIDE * device_pixels * 2**0.5 / 2
    down, along = (np.arange(part.start, part.stop, dtype=np.float32) for part in window)
    across = (down[:, None] + along) % np.float32(step)  # along either axis a 45° line repeats every √2 steps
    away = np.minimum(across, np.float32(step) - across)
    alpha = np.clip(np.float32(half + 0.5) - away, 0.0, 1.0) * mask[window]
    for channel, value in enumerate((*arrays.rgb(colour), 1.0)):
        out[*window, channel] = alpha * np.float32(value)
    return out
