"""The 3D picture, drawn off the screen and handed over as arrays.

VTK draws into memory of its own; the window then paints that picture like any other. So the drawing's lettering,
leaders and marks lie over the part without a second native window, the depth of every pixel is at hand for picking
and soft shading, and the job sheet can draw the same pictures where there is no display.
"""

from __future__ import annotations

import os
import sys
from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules import vtkRenderingOpenGL2
from vtkmodules.util.numpy_support import vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkFloatArray, vtkUnsignedCharArray
from vtkmodules.vtkRenderingCore import vtkLight, vtkProp, vtkRenderer, vtkRenderWindow

from app.view.camera import FIELD_RAD
from app.view.lens import Lens

Pixels = NDArray[np.uint8]
Depths = NDArray[np.float32]

#: Directions of the lights in the eye's axes (right, up, towards the eye) and their strengths: a window high on the
#: right, and a weak return from the lower left. Chosen by eye on the rain hood.
LIGHTS: Final = (((0.45, 0.05, 0.89), 0.40), ((-0.80, 0.0, 0.60), 0.10), ((0.0, 0.98, 0.20), 0.07))

_LARGEST_PX: Final = 8192

class Stage:
    """One off-screen window with a layer for the part and layers drawn over its kept depth.

    Nothing is drawn after ``close``. Multisampling stays off: smooth edges come from adding up frames that are
    shifted by fractions of a pixel, which costs the same everywhere and nothing while it is not wanted.
    """

    def __init__(self) -> None:
        self.window = _window()
        self.window.SetOffScreenRendering(1)
        self.window.SetMultiSamples(0)
        self.window.SetAlphaBitPlanes(1)
        # Nobody looks at this window: handing each frame to the screen would cost four times the drawing itself.
        self.window.SwapBuffersOff()
        self.part = self._layer()
        self.over = self._layer()
        self.over.SetPreserveDepthBuffer(1)
        self._camera = self.part.GetActiveCamera()
        self.over.SetActiveCamera(self._camera)
        self._size = (1, 1)
        self._kept_depth: vtkFloatArray | None = None
        self.closed = False
        self.frames = 0

    def _layer(self) -> vtkRenderer:
        layer = vtkRenderer()
        layer.SetBackground(0.0, 0.0, 0.0)
        layer.SetBackgroundAlpha(0.0)
        layer.SetAutomaticLightCreation(0)
        layer.SetAmbient(1.0, 1.0, 1.0)
        for direction, strength in LIGHTS:
            light = vtkLight()
            light.SetLightTypeToCameraLight()
            light.SetPosition(*direction)
            light.SetFocalPoint(0.0, 0.0, 0.0)
            light.SetIntensity(strength)
            layer.AddLight(light)
        self.window.AddRenderer(layer)
        return layer

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in device pixels."""
        return self._size

    def resize(self, width: int, height: int) -> None:
        """Set the size in device pixels."""
        size = (min(max(width, 1), _LARGEST_PX), min(max(height, 1), _LARGEST_PX))
        if size != self._size:
            self._size = size
            self.window.SetSize(*size)

    def aim(self, lens: Lens, shift: tuple[float, float] = (0.0, 0.0)) -> None:
        """Look through a lens; ``shift`` moves the picture by fractions of a device pixel."""
        camera = self._camera
        camera.SetFocalPoint(*(lens.eye - lens.basis[2]))
        camera.SetPosition(*lens.eye)
        camera.SetViewUp(*lens.basis[1])
        camera.SetViewAngle(np.rad2deg(FIELD_RAD))
        camera.SetParallelProjection(lens.camera.parallel)
        camera.SetParallelScale(lens.camera.height / 2.0)
        camera.SetClippingRange(*lens.clip)
        camera.SetWindowCenter(2.0 * shift[0] / self._size[0], 2.0 * shift[1] / self._size[1])

    def draw_part(self) -> Pixels:
        """The part as (h, w, 4) uint8, first row on top, colours already multiplied by alpha."""
        return self._draw(self.part)

    def keep_depth(self) -> Depths:
        """Read the depth buffer of the last part picture, (h, w) float32, first row on top, and keep it for layers."""
        depth = vtkFloatArray()
        width, height = self._size
        self.window.GetZbufferData(0, 0, width - 1, height - 1, depth)
        self._kept_depth = depth
        return vtk_to_numpy(depth).reshape(height, width)[::-1]

    def draw_over(self, shown: list[vtkProp]) -> Pixels:
        """What ``shown`` looks like where the kept depth of the part does not hide it; as draw_part."""
        for prop in _props(self.over):
            prop.SetVisibility(prop in shown)
        width, height = self._size
        if self._kept_depth is not None:
            self.window.SetZbufferData(0, 0, width - 1, height - 1, self._kept_depth)
        return self._draw(self.over)

    def _draw(self, layer: vtkRenderer) -> Pixels:
        if self.closed:
            raise RuntimeError("The view was closed; nothing can be drawn.")
        self.part.SetDraw(layer is self.part)
        self.over.SetDraw(layer is self.over)
        self.window.Render()
        self.frames += 1
        width, height = self._size
        bytes_ = vtkUnsignedCharArray()
        self.window.GetRGBACharPixelData(0, 0, width - 1, height - 1, 0, bytes_)
        return vtk_to_numpy(bytes_).reshape(height, width, 4)[::-1]

    def renderer_name(self) -> str:
        """What draws, as the driver names it, for the system information; empty before the first picture."""
        if self.frames == 0 or self.closed:
            return ""
        for line in self.window.ReportCapabilities().splitlines():
            if line.startswith("OpenGL renderer string"):
                return line.split(":", 1)[1].strip()
        return ""

    def close(self) -> None:
        """Free the drawing memory; no picture can be drawn any more."""
        if self.closed:
            return
        self.closed = True
        for layer in (self.part, self.over):
            layer.RemoveAllViewProps()
            self.window.RemoveRenderer(layer)
        self._kept_depth = None
        self.window.Finalize()
        # The window goes with its last name, and with it the connection to the screen.
        del self.window, self.part, self.over, self._camera


def _window() -> vtkRenderWindow:
    """The platform's own kind of window; on Linux without an X display one that needs none."""
    if sys.platform == "linux" and not os.environ.get("DISPLAY"):
        kind = getattr(vtkRenderingOpenGL2, "vtkEGLRenderWindow", vtkRenderWindow)
        return kind()
    return vtkRenderWindow()


def _props(layer: vtkRenderer) -> list[vtkProp]:
    found = layer.GetViewProps()
    return [found.GetItemAsObject(i) for i in range(found.GetNumberOfItems())]


def blank(size: tuple[int, int]) -> Pixels:
    """An empty picture of ``size`` = (width, height)."""
    return np.zeros((size[1], size[0], 4), np.uint8)
