"""What stands in the 3D view: part, teeth, lines, layer, heat and words."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject, Signal

from app.bench import Bench
from app.view.viewport import Viewport
from core.design.post import Post
from core.design.span import Span
from core.geometry.mesh import Mesh, joined
from core.job.pipeline import RowDesign
from core.units import format_length

#: Less than this is no heat, mm.
LEAST_HEAT = 1e-3
#: A single picked point is shown by a stroke of this length below it, mm.
POINTER = 3.0


class Showing(QObject):
    """Keeps the view in step with the bench. It holds no truth: only what was last shown, to compare by identity."""

    hinted = Signal(str)
    pointed = Signal(object)

    def __init__(self, bench: Bench, view: Viewport) -> None:
        super().__init__()
        self.bench, self.view = bench, view
        self._shown: tuple[object, object] = (None, None)
        self._teeth: tuple[object, ...] = ()
        self._working = np.eye(3)
        self._standing: object = None
        self._hot = False
        self._layer: tuple[object, ...] = ()

    def show_part(self) -> None:
        """Put the part into the view, with the edges that can be picked."""
        mesh, edges = self.bench.bed_mesh(), self.bench.results.edges
        if (mesh, edges) == self._shown:
            return
        self._shown = (mesh, edges)
        self.fresh_part()
        if mesh is None:
            self.view.set_mesh(None)
            return
        topology = edges.graph.topology if edges is not None else None
        self.view.set_mesh(mesh, edges.edges if edges is not None else None, topology)
        self._refresh_trouble()

    def fresh_part(self) -> None:
        """Another part or pose is put into the view."""

    def refresh(self) -> None:
        """Show what changed."""
        job = self.bench.job
        if job is None:
            self._shown = (None, None)
            self.view.set_mesh(None)
            return
        if self.bench.bed_mesh() is not self._shown[0]:
            self.show_part()
        working = np.eye(3) if job.working is None else np.array(job.working).reshape(3, 3)
        if not np.array_equal(working, self._working):
            self._working = working
            self.view.set_view_rotation(working)
            lined_up = job.working is not None
            self.view.views.set_legend(
                self.tr("Working axes: squared up") if lined_up else "", self.tr("only for looking") if lined_up else ""
            )
        self._refresh_teeth()
        self._refresh_standing()
        self._refresh_lines()
        self._refresh_layer()
        self._refresh_words()

    def _refresh_teeth(self) -> None:
        job = self.bench.job
        assert job is not None
        design = self.bench.draft_design()
        added = [d for d in (self.bench.row_design(r) for r in job.rows) if isinstance(d, RowDesign)]
        proof = self.bench.results.proof
        posts = [post.solid for _, post in self.bench.posts() if isinstance(post, Post)]
        key = (design, tuple(added), tuple(posts), proof)
        if key == self._teeth:
            return
        self._teeth = key
        attention = getattr(proof, "lost_teeth", None) if design is not None else None
        if design is not None and attention is not None and len(attention) != design.plan.teeth:
            attention = None
        ghost = None if design is None else design.teeth.mesh()
        if ghost is not None and design.wall is not None:
            ghost = joined([ghost, design.wall.solid])
        self.view.set_ghost_teeth(ghost, attention)
        solids = [*(s for d in added for s in d.solids()), *posts]
        self.view.set_added_teeth(joined(solids) if solids else None)

    def _refresh_standing(self) -> None:
        """Hatch the teeth that came with the file."""
        found, mesh = self.bench.results.inspection, self.bench.bed_mesh()
        key = (found, mesh)
        if key == self._standing:
            return
        self._standing = key
        cuts = [ids for row in (found.rows if found is not None else ()) for ids in row.cuts]
        self.view.set_existing_teeth(
            mesh.corners[np.unique(np.concatenate(cuts))] if cuts and mesh is not None else None
        )

    def _refresh_trouble(self) -> None:
        """Mark what is wrong with the mesh, at its place."""
        mesh, shown = self.bench.bed_mesh(), self.bench.mending.shown
        if mesh is None or not shown:
            self.view.set_trouble(None)
            return
        facets = np.concatenate([d.facets for d in shown])
        edges = np.concatenate([d.edges for d in shown])
        self.view.set_trouble(mesh.vertices[mesh.triangles[facets]], mesh.vertices[edges])

    def _refresh_lines(self) -> None:
        span = self.bench.draft_span()
        waiting, job, points = self.bench.view.waiting, self.bench.job, self.bench.view.points
        assert job is not None
        if span is not None and not points:
            self.view.set_overhang_edge(self._nearer_side(span))
            self.view.set_ledge(span.ledge_line.ring)
        elif points:
            below = points[-1] - [0.0, 0.0, POINTER]
            self.view.set_overhang_edge(np.array([*points, below] if len(points) == 1 else points))
            self.view.set_ledge(None)
        else:
            self.view.set_overhang_edge(waiting.moved(job.pose.matrix).ring if waiting is not None else None)
            self.view.set_ledge(None)
        measured = self.bench.view.measured
        if len(measured) == 2:
            self.view.set_dimension(
                measured[0], measured[1], self._mm(float(np.linalg.norm(measured[1] - measured[0])), False)
            )
        elif span is not None and not span.closed:
            line = span.ledge_line.array
            self.view.set_dimension(line[0], line[-1], self._mm(span.length, False), on_bed=True)
        else:
            self.view.set_dimension(None)

    def _refresh_layer(self) -> None:
        """The outline of the layer that the height rule points at."""
        job, number = self.bench.job, self.bench.view.layer
        wanted = () if job is None or number is None else (number, self.bench.bed_mesh(), job.setup)
        if wanted == self._layer:
            return
        self._layer = wanted
        if job is None or number is None:
            self.view.set_layer_lines([])
            return

        def put(lines: list[np.ndarray]) -> None:
            if self._layer == wanted:
                self.view.set_layer_lines(lines)

        self.bench.runner.post("layer", "layer_lines", job, number, then=put)

    def _nearer_side(self, span: Span) -> np.ndarray:
        """The side of the overhang strip that faces the eye: the other one is hidden by the part."""
        st = span.stations
        sides = [span.bed_points(st.points(v, z)) for v, z in ((st.lo, st.edge[:, 0]), (st.hi, st.edge[:, 1]))]
        if span.kind != "strip":
            return sides[0] if span.kind == "outer" else span.edge_line.ring
        eye = self.view.camera.eye
        return min(sides, key=lambda line: float(np.linalg.norm(line - eye, axis=1).min()))

    def _refresh_words(self) -> None:
        job = self.bench.job
        assert job is not None
        low, high = self.bench.bed_mesh().bounds
        size = " × ".join(self._mm(float(x), False) for x in high - low)
        setup = self.tr("layer {0}, line {1}").format(f"{job.setup.layer_height:.2f}", f"{job.setup.line_width:.2f}")
        unit = "in" if self.bench.view.unit == "inch" else "mm"
        self.view.set_title(job.part.name, f"{size} {unit}", job.setup.material, setup)
        self.view.set_unit(self.bench.view.unit, self.tr("{0} at the edge").format(unit))
        self.view.set_balloons(self._balloons())

    def _balloons(self) -> list[tuple[int, np.ndarray, str, str]]:
        """The gaps that the inspection found, numbered as they are listed; none while the heat's scale is shown."""
        found, out = self.bench.results.inspection if not self._hot else None, []
        for number, gap in enumerate(found.gaps if found is not None else (), start=1):
            low, high = gap.span.gap_range
            words = self._mm(low) if high - low < 0.005 else f"{self._mm(low, False)}–{self._mm(high)}"
            way = self.tr("gap {0}") if gap.direction == "up" else self.tr("side gap {0}")
            row = next((r for r in found.rows if getattr(r, "gap", None) == gap.id), None)
            teeth = self.tr("{0} teeth as filed").format(row.teeth) if row is not None else self.tr("no teeth as filed")
            line = gap.span.edge_line
            title = self.tr("Edge {0}").format(self._mm(gap.span.length))
            out.append((number, line.at(line.length / 2)[0], title, f"{way.format(words)}, {teeth}"))
        return out[:6]

    def show_heat(self, shown: bool) -> None:
        """Colour the part by how far it reaches beyond what holds it, or take the colours away."""
        job, found = self.bench.job, self.bench.results.inspection
        self._hot = shown and job is not None and found is not None
        if not shown or job is None or found is None:
            self.view.set_heat(None)
            self.refresh()
            return
        self.refresh()

        def put(found: tuple[np.ndarray, Mesh, np.ndarray]) -> None:
            values, patch, on_patch = found
            if self.bench.job is not None and self.bench.bed_mesh() is self._shown[0] and self._hot:
                values, on_patch = (np.where(v > LEAST_HEAT, v, np.nan) for v in (values, on_patch))
                words = self.tr("Reach beyond what a layer may advance")
                self.view.set_heat(values, job.setup.free_overhang, words, patch=(patch, on_patch))

        self.bench.runner.post("heat", "heat", job, found, then=put)

    def _mm(self, value: float, unit: bool = True) -> str:
        return format_length(value, self.bench.view.unit, with_unit=unit)

    def _turned(self) -> None:
        """After a turn of the view another side of the strip may face the eye."""
        if self.bench.job is not None and self.bench.job.draft is not None:
            span = self.bench.draft_span()
            if span is not None and span.kind == "strip":
                self.view.set_overhang_edge(self._nearer_side(span))
