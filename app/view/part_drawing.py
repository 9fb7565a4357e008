"""The part: plaster, its feature lines and its outline."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonDataModel import vtkPlane, vtkPolyData
from vtkmodules.vtkRenderingCore import vtkActor, vtkProp, vtkProperty, vtkRenderer

from app.look.tokens import Pen, Theme
from app.view import actors, arrays
from app.view.lens import Lens
from app.view.part_shape import Outline, Shaded, cut_lines, rounded, stand_in
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology

F64 = NDArray[np.float64]

#: Up to here shading is rounded and the outline follows every frame; above, facets are fine enough as they are.
SMALL_TRIANGLES: Final = 200_000
#: Above this a lighter stand-in turns in place of the part (software GL: one frame at 1 M costs about 0.1 s).
BIG_TRIANGLES: Final = 500_000
STAND_IN_TRIANGLES: Final = 200_000
#: The outline of more triangles than this is fuzz, and costs more than a frame may.
OUTLINE_TRIANGLES: Final = 2_000_000

#: How plaster takes the light: most of it from everywhere, as on a drawing, little from the lamps.
AMBIENT: Final = 0.62
DIFFUSE: Final = 1.0
#: On dark paper plaster is turned down a little, or it would glare.
DARK_SHARE: Final = 0.86
#: The ground of a cut, which is hatched.
INSIDE: Final = 0.97
#: Where vertices have colours of their own, these also take the place of the shade's colour, which is darker.
COLOURED_SHARE: Final = 0.91


class PartDrawing:
    """Draws one mesh in bed mm. Give it the mesh, the theme and the lens; it keeps no other truth."""

    def __init__(self, layer: vtkRenderer, over: vtkRenderer) -> None:
        self.mesh: Mesh | None = None
        self._shaded: Shaded | None = None
        self._outline: Outline | None = None
        self._pending: Iterator[None] | None = None
        self._ambient = AMBIENT
        self._body, self._light_body = _body_actor(), _body_actor()
        self._features, self._rim, self._cut = actors.lines(), actors.lines(), actors.lines()
        for actor in (self._body, self._light_body, self._features, self._rim, self._cut):
            actor.VisibilityOff()
            layer.AddActor(actor)
        self._patch = _body_actor()
        self._patch.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(-1.0, -4.0)
        self._patch.VisibilityOff()
        layer.AddActor(self._patch)
        self._inside = _inside_actor()
        over.AddActor(self._inside)
        self._section: tuple[F64, F64] | None = None
        self.has_stand_in = False
        #: Whether an outline came after the last picture.
        self.outline_is_new = False

    def set_mesh(self, mesh: Mesh | None, segments: F64, topology: Topology | None) -> None:
        """Show a mesh (or none) with its feature lines, (k, 2, 3) bed mm."""
        self.mesh, self._shaded, self._outline, self._pending = mesh, None, None, None
        self.set_patch(None, None)
        self.has_stand_in = False
        if mesh is None or not len(mesh.triangles):
            self.mesh = None
            for actor in (self._body, self._light_body, self._features, self._rim, self._cut):
                actor.VisibilityOff()
                actor.GetMapper().SetInputData(vtkPolyData())
            return
        count = len(mesh.triangles)
        if topology is None and count <= SMALL_TRIANGLES:
            topology = Topology.of(mesh)
        if topology is not None and count <= BIG_TRIANGLES:
            self._outline = Outline(mesh, topology)
        self._body.GetMapper().SetInputData(self._surface(mesh, topology))
        self._features.GetMapper().SetInputData(arrays.loose_lines(segments))
        self._features.SetVisibility(len(segments) > 0)
        if count > BIG_TRIANGLES:
            self._pending = self._made_later(mesh, topology)
        self.use_stand_in(False)
        self._draw_cut()

    def _surface(self, mesh: Mesh, topology: Topology | None) -> vtkPolyData:
        if topology is None or len(mesh.triangles) > SMALL_TRIANGLES:
            self._body.GetProperty().SetInterpolationToFlat()
            return arrays.surface(mesh.vertices, mesh.triangles)
        self._shaded = rounded(mesh, topology)
        self._body.GetProperty().SetInterpolationToPhong()
        data = arrays.surface(self._shaded.vertices, self._shaded.triangles)
        data.GetPointData().SetNormals(numpy_to_vtk(self._shaded.normals))
        return data

    def work(self) -> bool:
        """One step towards what a big part gets later; True while there is more to do."""
        if self._pending is None:
            return False
        try:
            next(self._pending)
        except StopIteration:
            self._pending = None
        return self._pending is not None

    def _made_later(self, mesh: Mesh, topology: Topology | None) -> Iterator[None]:
        """The stand-in and the outline of a big part, in steps between which the window can answer."""
        yield from mesh.normals_by_steps()
        for made in stand_in(mesh, STAND_IN_TRIANGLES):
            yield
            if made is not None:
                data = arrays.surface(made.vertices.astype(np.float32), made.triangles)
                self._light_body.GetMapper().SetInputData(data)
                self.has_stand_in = True
        if topology is not None and len(mesh.triangles) <= OUTLINE_TRIANGLES:
            yield
            self._outline = Outline(mesh, topology)
            self.outline_is_new = True

    def use_stand_in(self, moving: bool) -> bool:
        """Show the stand-in while moving, the part itself otherwise; True when the part itself is shown."""
        light = moving and self.has_stand_in
        shown = self.mesh is not None
        self._body.SetVisibility(shown and not light)
        self._light_body.SetVisibility(shown and light)
        return not light

    def follow(self, lens: Lens, moving: bool) -> None:
        """Bring the outline up to date for a lens; a big part goes without while it moves."""
        self.outline_is_new = False
        if self._outline is None or self.mesh is None:
            self._rim.VisibilityOff()
            return
        if moving and len(self.mesh.triangles) > SMALL_TRIANGLES:
            self._rim.VisibilityOff()
            return
        pairs = self._outline.seen(lens)
        self._rim.SetVisibility(len(pairs) > 0)
        if len(pairs):
            # Only the vertices in use: each outline is loaded into the graphics memory anew.
            self._rim.GetMapper().SetInputData(arrays.loose_lines(self.mesh.vertices[pairs]))

    def set_theme(self, theme: Theme) -> None:
        """Colours of plaster and lines."""
        self._ambient = AMBIENT * (DARK_SHARE if theme.dark else 1.0)
        for actor in (self._body, self._light_body):
            _plaster(actor.GetProperty(), theme)
            inside = vtkProperty()
            inside.SetColor(*arrays.rgb(theme.plaster_shade))
            inside.SetAmbient(INSIDE * (DARK_SHARE if theme.dark else 1.0))
            inside.SetDiffuse(0.0)
            actor.SetBackfaceProperty(inside)
        for actor in (self._features, self._rim, self._cut):
            actor.GetProperty().SetColor(*arrays.rgb(theme.plaster_edge))

    def set_scale(self, device_pixels: float) -> None:
        """Device pixels in a logical one: lines keep their width."""
        self._features.GetProperty().SetLineWidth(Pen.FEATURE * device_pixels)
        self._rim.GetProperty().SetLineWidth(Pen.OUTLINE * device_pixels)
        self._cut.GetProperty().SetLineWidth(Pen.CUT * device_pixels)

    def set_colours(self, rgb: NDArray[np.uint8] | None) -> None:
        """Colour the part by vertex, (n, 3) uint8, or None for plaster."""
        mapper = self._body.GetMapper()
        data = mapper.GetInput()
        if rgb is None or self.mesh is None:
            data.GetPointData().SetScalars(None)
            mapper.ScalarVisibilityOff()
            self._body.GetProperty().SetAmbient(self._ambient)
            return
        if self._shaded is not None:
            rgb = rgb[self._shaded.origin]
        data.GetPointData().SetScalars(numpy_to_vtk(np.ascontiguousarray(rgb)))
        mapper.SetColorModeToDirectScalars()
        mapper.ScalarVisibilityOn()
        self._body.GetProperty().SetAmbient(self._ambient * COLOURED_SHARE)

    def set_patch(self, mesh: Mesh | None, rgb: NDArray[np.uint8] | None) -> None:
        """Lay a coloured mesh (bed mm; colours by vertex, (n, 3) uint8) upon the part, or take it away."""
        self._patch.SetVisibility(mesh is not None and rgb is not None and len(mesh.triangles) > 0)
        if mesh is None or rgb is None:
            self._patch.GetMapper().SetInputData(vtkPolyData())
            return
        data = arrays.surface(mesh.vertices, mesh.triangles)
        data.GetPointData().SetScalars(numpy_to_vtk(np.ascontiguousarray(rgb)))
        mapper = self._patch.GetMapper()
        mapper.SetInputData(data)
        mapper.SetColorModeToDirectScalars()
        mapper.ScalarVisibilityOn()
        self._patch.GetProperty().SetAmbient(self._ambient * COLOURED_SHARE)

    def set_section(self, origin: F64 | None, normal: F64 | None) -> None:
        """Cut away what lies on the side that ``normal`` points to; None shows the whole part."""
        whole = origin is None or normal is None
        self._section = None if whole else (np.asarray(origin, float), np.asarray(normal, float))
        for actor in (self._body, self._light_body, self._features, self._rim, self._inside):
            mapper = actor.GetMapper()
            mapper.RemoveAllClippingPlanes()
            if self._section is None:
                continue
            plane = vtkPlane()
            plane.SetOrigin(*self._section[0])
            plane.SetNormal(*-self._section[1])
            mapper.AddClippingPlane(plane)
        self._draw_cut()

    def _draw_cut(self) -> None:
        """The line in which the section plane meets the part."""
        shown = self.mesh is not None and self._section is not None
        self._cut.SetVisibility(shown)
        if self.mesh is not None and self._section is not None:
            self._cut.GetMapper().SetInputData(arrays.loose_lines(cut_lines(self.mesh, *self._section)))
            self._inside.GetMapper().SetInputData(self._body.GetMapper().GetInput())

    @property
    def mask_props(self) -> list[vtkProp]:
        """What is to be drawn as the mask of the cut's hatching: the inner side of the skin, seen through the cut."""
        return [self._inside] if self.mesh is not None and self._section is not None else []


def _body_actor() -> vtkActor:
    actor = actors.facets()
    # Faces step back by their slope, so that the lines on them are whole at any angle.
    actor.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, 0.0)
    return actor


def _inside_actor() -> vtkActor:
    """The back of every facet, in plain white: it serves as a mask."""
    actor = actors.lines()
    actor.GetProperty().SetColor(1.0, 1.0, 1.0)
    actor.GetProperty().FrontfaceCullingOn()
    actor.GetMapper().SetRelativeCoincidentTopologyPolygonOffsetParameters(-1.0, -10.0)
    return actor


def _plaster(surface: vtkProperty, theme: Theme) -> None:
    surface.SetColor(*arrays.rgb(theme.plaster))
    share = DARK_SHARE if theme.dark else 1.0
    surface.SetAmbientColor(*arrays.rgb(theme.plaster_shade))
    surface.SetAmbient(AMBIENT * share)
    surface.SetDiffuse(DIFFUSE * share)
    surface.SetSpecular(0.0)
