"""What the view is given to show, by setters: part, teeth, edges, heat, balloons, dimensions, words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtWidgets import QWidget

from app.look.tokens import Space, Theme
from app.view.balloon_drawing import Balloon
from app.view.canvas import Canvas
from app.view.heat_drawing import Heat
from app.view.hit import Kind
from app.view.measure_drawing import Dimension
from app.view.sheet_drawing import TitleBlock
from app.view.view_block import ViewBlock
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology
from core.units import UnitName

F64 = NDArray[np.float64]

#: Up to this many triangles the search tree for faces is built while nothing else is to be done (some 10 ms).
FINDER_AT_ONCE = 150_000


#: A part whose box differs by more than this share of its diagonal from the one before is framed anew.
REFRAME_SHARE = 0.05


class Board(Canvas):
    """A part on its bed with all that belongs to it. Points are bed mm; setters ask for a drawing, none draws."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._kinds: tuple[Kind, ...] = ("edge", "face")
        self.views = ViewBlock(self)
        self.set_theme(self._theme)

    def _place_views(self) -> None:
        self.views.move(self.width() - self.views.width() - Space.XXL, Space.XXL)

    def frame_all(self) -> None:
        """The whole part from where one looks now."""
        self.fly(self.framing(self.camera, self.bounds))

    def set_mesh(
        self, mesh: Mesh | None, features: NDArray[np.generic] | None = None, topology: Topology | None = None
    ) -> None:
        """Show a mesh in bed mm, or none.

        ``features`` are its feature edges: vertex pairs (k, 2) int, or segments (k, 2, 3) in bed mm. The topology, if
        given, is that of the same triangles; it serves outline and rounded shading and is worked out for small parts.
        """
        segments, pairs = _features(mesh, features, topology)
        if mesh is not None and topology is not None and topology.mesh is not mesh:
            topology = replace(topology, mesh=mesh)
        before = None if self.rendering.part.mesh is None else self.bounds
        self.rendering.forget()
        self.rendering.part.set_mesh(mesh, segments, topology)
        self.picker.set_part(mesh, segments, pairs)
        self.layers.bounds = self.bounds
        self.layers.bed.set_bounds(self.bounds)
        self.layers.heat = None
        if mesh is not None and 0 < len(mesh.triangles) <= FINDER_AT_ONCE:
            self.picker.build_finder()
        if before is None or _elsewhere(before, self.bounds):
            self._unframed = before is None
            self.frame_all()
        self.request(part=True)

    def set_theme(self, theme: Theme) -> None:
        """Show everything in the colours of a theme."""
        self._theme = theme
        self.rendering.set_theme(theme, self.devicePixelRatioF())
        self.views.lay_out()
        self._place_views()
        self.views.update()
        self.request(part=True)

    def set_view_rotation(self, rotation: F64) -> None:
        """Working axes: a rotation (3, 3) from the bed frame, for looking only. The bed stays under the part."""
        if not np.allclose(rotation, self.camera.working):
            self.fly(self.framing(replace(self.camera, working=np.asarray(rotation, float)), self.bounds))

    def set_hover(self, polyline: F64 | None, figures: Sequence[tuple[str, str]] = ()) -> None:
        """The edge chain (n, 3) that a click would take, and the figures beside the pointer (label, value)."""
        self.layers.edges.hover = _line(polyline)
        self.layers.note = tuple(figures)
        self.request()

    def set_overhang_edge(self, polyline: F64 | None) -> None:
        """The chosen overhang edge (n, 3), or None."""
        self.layers.edges.overhang = _line(polyline)
        self.request()

    def set_ledge(self, polyline: F64 | None) -> None:
        """The chosen ledge (n, 3), or None."""
        self.layers.edges.ledge = _line(polyline)
        self.request()

    def set_layer_lines(self, outlines: Sequence[F64]) -> None:
        """The outlines (n, 3) of a layer that is looked at; none takes them away."""
        self.layers.edges.layer = [np.asarray(line, float).reshape(-1, 3) for line in outlines if len(line) > 1]
        self.request()

    def set_ghost_teeth(self, teeth: Mesh | None, attention: Sequence[bool] | NDArray[np.bool_] | None = None) -> None:
        """Teeth that are planned; ``attention`` marks by tooth, in the order of the mesh, what will not print."""
        self.rendering.teeth.set_ghosts(teeth, attention)
        self.request(teeth=True)

    def set_added_teeth(self, teeth: Mesh | None) -> None:
        """Teeth of the rows that are in the job."""
        self.rendering.teeth.set_added(teeth)
        self.request(teeth=True)

    def set_existing_teeth(self, triangles: NDArray[np.float64] | None) -> None:
        """Triangles (k, 3, 3) of the part that are teeth which came with the file: they are hatched."""
        self.rendering.teeth.set_existing(triangles)
        self.request(teeth=True)

    def set_trouble(self, facets: F64 | None, segments: F64 | None = None) -> None:
        """Facets (k, 3, 3) and lines (s, 2, 3) of the part where something is wrong with its mesh; None for none."""
        nothing = np.zeros((0, 3, 3))
        self.rendering.trouble.show(
            nothing if facets is None else facets, nothing[:, :2] if segments is None else np.asarray(segments, float)
        )
        self.request(teeth=True)

    def set_heat(
        self,
        values: F64 | None,
        limit: float = 0.0,
        label: str = "",
        unit: str = "mm",
        patch: tuple[Mesh, F64] | None = None,
    ) -> None:
        """Colour by vertex value (n,), NaN for plaster, with a scale and a line at the limit; None takes it away.

        ``patch`` is a mesh on the part (bed mm) with values of its own, where the part's triangles are too large.
        """
        if values is None:
            self.layers.heat = None
            self.rendering.part.set_colours(None)
            self.rendering.part.set_patch(None, None)
        else:
            split = len(values)
            every = values if patch is None else np.concatenate([values, patch[1]])
            heat = Heat(np.asarray(every, float), limit, label, unit)
            colours = heat.colours()
            self.layers.heat = heat
            self.rendering.part.set_colours(colours[:split])
            self.rendering.part.set_patch(patch[0] if patch is not None else None, colours[split:])
        self.request(part=True)

    def set_balloons(self, balloons: Sequence[tuple[int, F64, str, str]]) -> None:
        """Numbered balloons: (number, anchor, title, subtitle)."""
        self.layers.balloons = [Balloon(n, np.asarray(anchor, float), title, sub) for n, anchor, title, sub in balloons]
        self.request()

    def set_dimension(self, p: F64 | None, q: F64 | None = None, text: str = "", *, on_bed: bool = False) -> None:
        """One dimension between two points, laid on the bed if wished; None takes it away."""
        ends = [] if p is None or q is None else [np.asarray(p, float), np.asarray(q, float)]
        self.set_dimensions([Dimension(ends[0], ends[1], text, on_bed)] if ends else [])

    def set_dimensions(self, dimensions: Sequence[Dimension]) -> None:
        """Several dimensions."""
        self.layers.dimensions = list(dimensions)
        self.request()

    def set_title(self, name: str, size: str = "", material: str = "", setup: str = "") -> None:
        """The words of the title block; without a name there is none."""
        self.layers.title = TitleBlock(name, size, material, setup)
        self.request()

    def set_unit(self, unit: UnitName, words: str) -> None:
        """The unit of the scale bar, and the words beside it."""
        self.layers.unit, self.layers.scale_words = unit, words
        self.request()

    def set_section_plane(self, origin: F64 | None, normal: F64 | None = None) -> None:
        """Look inside: cut away the side that ``normal`` points to. None shows the whole part."""
        self.rendering.part.set_section(origin, normal)
        self.picker.set_section(origin, normal)
        self.request(part=True)

    def set_pick_kinds(self, kinds: Sequence[Kind]) -> None:
        """What can be taken at the moment, among "vertex", "edge" and "face"."""
        self._kinds = tuple(kinds)
        if "face" in kinds and "edge" not in kinds:
            self.picker.build_finder()

    def clear(self) -> None:
        """An empty bed: nothing of any part is left."""
        self.set_mesh(None)
        for take_away in (self.set_hover, self.set_overhang_edge, self.set_ledge, self.set_dimension):
            take_away(None)
        for teeth in (self.set_ghost_teeth, self.set_added_teeth, self.set_existing_teeth, self.set_trouble):
            teeth(None)
        self.set_balloons([])
        self.set_layer_lines([])
        self.set_section_plane(None)
        self.set_title("")


def _elsewhere(before: F64, after: F64) -> bool:
    """Whether a part takes another place than the one before, so that it has to be framed anew."""
    return bool(np.abs(after - before).max() > REFRAME_SHARE * np.linalg.norm(np.ptp(before, axis=0)))


def _line(polyline: F64 | None) -> F64 | None:
    return None if polyline is None or len(polyline) < 2 else np.asarray(polyline, float).reshape(-1, 3)


def _features(
    mesh: Mesh | None, features: NDArray[np.generic] | None, topology: Topology | None
) -> tuple[F64, NDArray[np.int32] | None]:
    """Segments (k, 2, 3) and, where known, their vertices (k, 2)."""
    if mesh is None or (features is None and topology is None):
        return np.zeros((0, 2, 3)), None
    if features is None:
        assert topology is not None
        features = topology.edges[topology.features]
    if features.ndim == 2:
        pairs = features.astype(np.int32, copy=False)
        return mesh.vertices[pairs], pairs
    return np.asarray(features, float), None
