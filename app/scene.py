"""From the bench to the 3D view: what is shown there, and what a move or click of the pointer there means."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QObject, Qt, Signal

from app.bench import Bench
from app.spots import Entry
from app.view.hit import Hit
from app.view.viewport import Viewport
from core.design.span import Span
from core.geometry.mesh import Mesh, joined
from core.job.pipeline import RowDesign
from core.units import format_length

#: A part is looked at from this much to the side and above, radians and slope.
ASIDE_RAD, ABOVE = 0.45, 0.42
#: A place under an edge is looked at nearly from its own height.
LEVEL_LOOK = 0.08
#: Less than this is no heat, mm.
LEAST_HEAT = 1e-3
PICKS = {
    "pick": ("edge",), "ledge": ("edge", "face"), "measure": ("vertex",), "seat": ("face",), "axes": ("edge", "face"),
}  # fmt: skip


class Scene(QObject):
    """Keeps the view in step with the bench. It holds no truth: only what was last shown, to compare by identity."""

    hinted = Signal(str)
    pointed = Signal(object)

    def __init__(self, bench: Bench, view: Viewport) -> None:
        super().__init__()
        self.bench, self.view = bench, view
        self._shown: tuple[object, object] = (None, None)
        self._teeth: tuple[object, object, object] = (None, None, None)
        self._working = np.eye(3)
        self._standing: object = None
        self._hot = False
        self._faced: object = None
        self._faced_part: object = None
        self._hovered: tuple[str, int] | None = None
        self._layer: tuple[object, ...] = ()
        bench.refreshed.connect(self.refresh)
        bench.part_shown.connect(self.show_part)
        bench.mode_changed.connect(self._mode)
        bench.spot_chosen.connect(self._fly)
        bench.place_shown.connect(self._fly_to_place)
        bench.layer_shown.connect(self._refresh_layer)
        view.hovered.connect(self._hover)
        view.clicked.connect(self._click)
        view.escape_pressed.connect(bench.step_back)
        view.camera_changed.connect(self._turned)
        self._mode(bench.view.mode)

    # What is shown

    def show_part(self) -> None:
        """Put the part into the view, with the edges that can be picked."""
        mesh, edges = self.bench.bed_mesh(), self.bench.results.edges
        if (mesh, edges) == self._shown:
            return
        self._shown, self._hovered = (mesh, edges), None
        if mesh is None:
            self.view.set_mesh(None)
            return
        topology = edges.graph.topology if edges is not None else None
        self.view.set_mesh(mesh, edges.edges if edges is not None else None, topology)

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
        self._face_worst()
        if self._hovered is None:
            self.hinted.emit(self.hint())

    def _refresh_teeth(self) -> None:
        job = self.bench.job
        assert job is not None
        design = self.bench.draft_design()
        added = [d for d in (self.bench.row_design(r) for r in job.rows) if isinstance(d, RowDesign)]
        proof = self.bench.results.proof
        key = (design, tuple(added), proof)
        if key == self._teeth:
            return
        self._teeth = key
        attention = getattr(proof, "lost_teeth", None) if design is not None else None
        if design is not None and attention is not None and len(attention) != design.plan.teeth:
            attention = None
        self.view.set_ghost_teeth(design.teeth.mesh() if design else None, attention)
        self.view.set_added_teeth(joined([s for d in added for s in d.solids()]) if added else None)

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

    def _refresh_lines(self) -> None:
        span = self.bench.draft_span()
        waiting, job = self.bench.view.waiting, self.bench.job
        assert job is not None
        if span is not None:
            self.view.set_overhang_edge(self._nearer_side(span))
            self.view.set_ledge(span.ledge_line.ring)
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

    def _mm(self, value: float, unit: bool = True) -> str:
        return format_length(value, self.bench.view.unit, with_unit=unit)

    def _turned(self) -> None:
        """After a turn of the view another side of the strip may face the eye."""
        if self.bench.job is not None and self.bench.job.draft is not None:
            span = self.bench.draft_span()
            if span is not None and span.kind == "strip":
                self.view.set_overhang_edge(self._nearer_side(span))

    # The pointer

    def _mode(self, mode: str) -> None:
        self._hovered = None
        self.view.set_pick_kinds(PICKS[mode])
        self.view.set_hover(None)
        self.hinted.emit(self.hint())

    def hint(self) -> str:
        """What the next click does, when nothing is under the pointer."""
        job = self.bench.job
        in_hand = job is not None and job.draft is not None
        return {
            "pick": self.tr("Enter adds the row in hand; a click takes another edge instead. Esc lets it go.")
            if in_hand
            else self.tr("Click the edge that hangs free. Drag turns the view."),
            "ledge": self.tr("Click another ledge, or press Enter to take the one proposed. Esc lets the edge go."),
            "measure": self.tr("Click a corner of the part, then another one. Esc ends measuring."),
            "seat": self.tr("Click the face that shall lie on the bed. Esc leaves the part as it is."),
            "axes": self.tr("Click a face to look at it squarely, or an edge that shall run across. Esc leaves it."),
        }[self.bench.view.mode]

    def _hover(self, hit: Hit | None) -> None:
        self.pointed.emit(None if hit is None else np.array(hit.point))
        key = None if hit is None else (hit.kind, hit.index)
        if key == self._hovered and key is not None:
            return
        self._hovered = key
        if hit is None or hit.kind == "none" or (hit.index < 0 and hit.kind != "face"):
            self.view.set_hover(None)
            self.hinted.emit(self.hint())
            return
        if hit.kind == "edge":
            self._hover_edge(hit.index)
        else:
            self.view.set_hover(None)
            self.hinted.emit(self.hint())

    def _hover_edge(self, feature: int) -> None:
        line, edges = self.bench.edge_polyline(feature), self.bench.results.edges
        if line is None or edges is None:
            return
        chain = int(edges.chain_of[feature])
        height, gap = float(edges.height[chain]), float(edges.gap[chain])
        rows = [(self.tr("Length"), self._mm(line.length)), (self.tr("Above bed"), self._mm(height))]
        words = self.tr("Click takes this edge: {0} long, {1} above the bed").format(
            self._mm(line.length), self._mm(height)
        )
        if self.bench.view.mode == "ledge":
            words = self.tr("Click takes this as the ledge: {0} long, {1} above the bed").format(
                self._mm(line.length), self._mm(height)
            )
        elif np.isfinite(gap):
            rows.append((self.tr("Gap"), self._mm(gap)))
            words += self.tr(", gap {0} to what lies below").format(self._mm(gap))
        self.view.set_hover(line.ring, rows)
        self.hinted.emit(words + ".")

    def _click(self, hit: Hit | None, keys: Qt.KeyboardModifier) -> None:
        mode = self.bench.view.mode
        if hit is None:
            return
        if mode == "measure" and hit.kind == "vertex":
            self._measure(np.array(hit.point))
        elif hit.kind == "edge" and mode == "axes":
            self.bench.set_mode("pick")
            self.bench.line_up_edge(hit.index)
        elif hit.kind == "edge":
            self.bench.click_edge(hit.index)
        elif hit.kind == "face":
            self.bench.click_face(hit.index, np.array(hit.point))

    def _measure(self, point: np.ndarray) -> None:
        measured = self.bench.view.measured
        measured = [point] if len(measured) != 1 else [measured[0], point]
        self.bench.view.measured = measured
        if len(measured) == 2:
            self.hinted.emit(self.measure_words())
        self.refresh()

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

    def measure_words(self) -> str:
        """The last measurement in words, also for the clipboard."""
        if len(self.bench.view.measured) != 2:
            return ""
        a, b = self.bench.view.measured
        d = b - a
        return self.tr("Distance {0}, dx {1}, dy {2}, dz {3}").format(
            self._mm(float(np.linalg.norm(d))), *(self._mm(float(abs(x)), False) for x in d)
        )

    def _fly(self, entry: Entry) -> None:
        """Fly to what the list's entry stands for, and look at it from outside."""
        found = self.bench.results.inspection
        if found is None:
            return
        gap = next((g for g in found.gaps if g.id == entry.gap), None)
        if gap is not None:
            line, outward = gap.span.edge_line, _outward(gap.span, self.bench.bed_mesh().bounds.mean(axis=0))
        else:
            spot = next((s for s in found.weak_spots if s.key == entry.spot), None)
            if spot is None:
                return
            line, outward = spot.path, self._away_from_middle(spot.path.array)
        box = np.array([line.array.min(axis=0), line.array.max(axis=0)])
        self.view.fly_to(box, self._seen_from(outward))

    def _face_worst(self) -> None:
        """Turn the whole part so that its worst spot faces the eye; once for every part."""
        found = self.bench.results.inspection
        if found is None or self._faced is found.split:
            return
        fresh, self._faced = self._faced_part is not self.bench.job.part, found.split
        if not fresh:
            return
        self._faced_part = self.bench.job.part
        gap = next((g for g in found.gaps if not g.enough), None)
        spot = found.weak_spots[0] if found.weak_spots else None
        if gap is not None:
            bounds = self.bench.bed_mesh().bounds
            self.view.fly_to(bounds, self._seen_from(_outward(gap.span, bounds.mean(axis=0))))
        elif spot is not None:
            outward = self._away_from_middle(spot.path.array)
            self.view.fly_to(self.bench.bed_mesh().bounds, self._seen_from(outward))

    def _fly_to_place(self, place: np.ndarray) -> None:
        """Fly to one place of the row that is shown, looked at from outside and nearly level, below its edge."""
        row = next((r for r, _ in self.bench.proved()), None)
        design = None if row is None else self.bench.row_design(row)
        direction = None
        if isinstance(design, RowDesign):
            direction = self._seen_from(_outward(design.span, self.bench.bed_mesh().bounds.mean(axis=0)))
        if direction is not None:
            direction[2] = LEVEL_LOOK
        self.view.fly_to(np.array([place, place]), direction)

    def _away_from_middle(self, points: np.ndarray) -> np.ndarray:
        away = points.mean(axis=0) - self.bench.bed_mesh().bounds.mean(axis=0)
        return np.array([away[0], away[1], 0.0])

    def _seen_from(self, outward: np.ndarray) -> np.ndarray | None:
        """Where to look from: a little to the right of the way out, and from above; None keeps the present side."""
        length = float(np.hypot(outward[0], outward[1]))
        if length < 1e-6:
            return None
        x, y = outward[:2] / length
        c, s = np.cos(ASIDE_RAD), np.sin(ASIDE_RAD)
        return np.array([c * x - s * y, s * x + c * y, ABOVE])


def _outward(span: Span, middle: np.ndarray) -> np.ndarray:
    """The horizontal way square to a span that leads away from the part's middle (bed mm)."""
    across = span.at(span.length / 2).across[0]
    out = span.to_bed @ np.array([-across[0], -across[1], 0.0])
    away = span.edge_line.at(span.edge_line.length / 2)[0] - middle
    return out if float(out @ away) >= 0 else -out
