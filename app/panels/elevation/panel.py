"""The elevation on the bench: fed with the row in hand, its drags turned into undo steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.bench import Bench
from app.look.tokens import Theme
from app.panels.elevation.build import elevation_model
from app.panels.elevation.fates import fates_of
from app.panels.elevation.section import SpanSection, span_section
from app.panels.elevation.widget import Elevation
from core.design.plan import RowWishes
from core.design.span import Span
from core.geometry.mesh import F64, joined
from core.job.job import Row
from core.job.pipeline import RowDesign

#: A place farther from every tip than this belongs to no tooth, mm.
NEAR_TIP = 6.0


@dataclass(frozen=True, eq=False)
class _Section:
    """A section that was cut, and what it was cut through."""

    span: Span
    others: tuple[RowDesign, ...]
    walls: int
    drawn: SpanSection
    cut: float


class ElevationPanel(QWidget):
    """Shows the row in hand, or the last one added, or the gap that is chosen in the list."""

    def __init__(
        self, bench: Bench, parent: QWidget | None = None, eye: Callable[[], F64 | None] = lambda: None
    ) -> None:
        """``eye`` tells where the part is looked at from, bed mm."""
        super().__init__(parent)
        self.bench, self.eye = bench, eye
        self.drawing = Elevation(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.drawing)
        self._section: _Section | None = None
        self._shown: RowDesign | None = None
        bench.refreshed.connect(self.refresh)
        bench.place_shown.connect(self._show_place)
        self.drawing.layer_chosen.connect(bench.choose_layer)
        self.drawing.wishes_edited.connect(bench.set_wishes)
        self.drawing.drag_started.connect(bench.store.begin_drag)
        self.drawing.drag_previewed.connect(self._preview)
        self.drawing.drag_ended.connect(self._end)

    def _preview(self, wishes: RowWishes) -> None:
        self.bench.preview_wishes("", wishes)
        self.drawing.set_refusal(self.bench.results.trouble.get("wish", ""))

    def _end(self, keep: bool) -> None:
        self.drawing.set_refusal("")
        self.bench.results.trouble.pop("wish", None)
        self.bench.store.end_drag(keep)
        self.bench.refreshed.emit()

    def _show_place(self, place: F64) -> None:
        """Select the tooth whose tip is nearest to a place (bed mm), as far as it belongs to the row on show."""
        shown = self._shown
        if shown is None or not shown.plan.teeth:
            return
        at = shown.span.at(shown.plan.centres)
        tips = shown.span.bed_points(at.points(shown.plan.across_range.mean(axis=1), at.edge.min(axis=1)))
        away = np.linalg.norm(tips - place, axis=1)
        nearest = int(np.argmin(away))
        self.drawing.set_selected_tooth(shown.plan.numbers[nearest] if away[nearest] <= NEAR_TIP else None)

    def refresh(self) -> None:
        """Draw what is in hand now."""
        job = self.bench.job
        self._shown = None
        self.drawing.set_layer(self.bench.view.layer)
        self.drawing.set_unit(self.bench.view.unit)
        row = None if job is None else job.draft or (job.rows[-1] if job.rows else None)
        if job is None or (row is None and not self._gap_span()):
            self.drawing.set_drawing(None)
            return
        if row is None:
            span = self._gap_span()
            assert span is not None
            self._draw(span, None, RowWishes(), self.tr("Gap {0}").format(self._gap_number()))
            return
        self._draw_row(row)

    def _draw_row(self, row: Row) -> None:
        job = self.bench.job
        assert job is not None
        if row.wall is None and not self.bench.pipeline.span_known(job, row.pick):
            return
        draft = row is job.draft
        span = self.bench.draft_span() if draft else None
        design = self.bench.draft_design() if draft else self.bench.row_design(row)
        plan = getattr(design, "plan", None)
        if span is None and plan is not None:
            span = design.span
        if span is None:
            self.drawing.set_drawing(None)
            return
        if plan is None and draft and self.drawing.dragging:
            return
        self._shown = design if isinstance(design, RowDesign) else None
        title = self.tr("Row in hand") if draft else self.tr("Row {0}, added").format(row.number)
        self._draw(span, plan, row.wishes, title)

    def _draw(self, span: Span, plan: object, wishes: RowWishes, title: str) -> None:
        job = self.bench.job
        assert job is not None
        section = self._section_of(span)
        proof = next((p for r, p in self.bench.proved() if r.wishes is wishes), self.bench.results.proof)
        fates = fates_of(proof.survival) if plan is not None and proof is not None else ()
        if len(fates) != (plan.teeth if plan is not None else 0):
            fates = ()  # the proof of an earlier plan
        self.drawing.set_drawing(
            elevation_model(
                span, plan, wishes, job.setup, section=section.drawn, survival=fates, title=title, cut=section.cut
            )
        )

    def _section_of(self, span: Span) -> _Section:
        """The cut along a span through the part, the wall of the row on show, and the teeth of the job's other rows."""
        shown = self._shown
        solids = [] if shown is None or shown.wall is None else [shown.wall.solid]
        walls = len(solids)
        job, mesh = self.bench.job, self.bench.bed_mesh()
        assert job is not None
        assert mesh is not None
        designs = [d for d in map(self.bench.row_design, job.rows) if isinstance(d, RowDesign)]
        others = tuple(d for d in designs if shown is None or d.teeth is not shown.teeth)
        known = self._section
        same = known is not None and known.span is span
        if known is None or not same or known.walls != walls or list(map(id, known.others)) != list(map(id, others)):
            solids += [joined(d.solids()) for d in others]
            cut = self._behind(span) if known is None or not same else known.cut
            self._section = known = _Section(span, others, walls, span_section(mesh, span, also=solids), cut)
        return known

    def _behind(self, span: Span) -> float:
        """Where a closed span is cut open: at its place farthest from the eye, so that what is seen stays whole."""
        eye = self.eye()
        if not span.closed or eye is None:
            return 0.0
        st = span.stations
        line = span.bed_points(st.points((st.lo + st.hi) / 2, st.edge.min(axis=1)))
        return float(st.s[np.argmax(np.linalg.norm(line - eye, axis=1))])

    def _gap(self) -> object | None:
        found = self.bench.results.inspection
        gaps = self.bench.open_gaps() or (list(found.gaps) if found is not None else [])
        return gaps[min(self.bench.view.chosen_spot, len(gaps) - 1)] if gaps else None

    def _gap_number(self) -> int:
        """The gap's number, as it stands in its balloon in the view."""
        found, gap = self.bench.results.inspection, self._gap()
        return next((k for k, one in enumerate(found.gaps if found else (), start=1) if one is gap), 1)

    def _gap_span(self) -> Span | None:
        gap = self._gap()
        return None if gap is None else gap.span

    def set_theme(self, theme: Theme) -> None:
        """Repaint in another theme."""
        self.drawing.update()
