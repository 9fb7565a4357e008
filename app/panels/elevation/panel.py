"""The elevation on the bench: fed with the row in hand, its drags turned into undo steps."""

from __future__ import annotations

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


class ElevationPanel(QWidget):
    """Shows the row in hand, or the last one added, or the gap that is chosen in the list."""

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bench = bench
        self.drawing = Elevation(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.drawing)
        self._section: tuple[Span, SpanSection] | None = None
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
            self._draw(span, None, RowWishes(), self.tr("Gap {0}").format(self._gap().id))
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
        if self._section is None or self._section[0] is not span:
            mesh = self.bench.bed_mesh()
            assert mesh is not None
            wall = self._shown.wall if self._shown is not None else None
            self._section = (span, span_section(joined([mesh, wall.solid]) if wall is not None else mesh, span))
        proof = next((p for r, p in self.bench.proved() if r.wishes is wishes), self.bench.results.proof)
        fates = fates_of(proof.survival) if plan is not None and proof is not None else ()
        if len(fates) != (plan.teeth if plan is not None else 0):
            fates = ()  # the proof of an earlier plan
        self.drawing.set_drawing(
            elevation_model(span, plan, wishes, job.setup, section=self._section[1], survival=fates, title=title)
        )

    def _gap(self) -> object | None:
        found = self.bench.results.inspection
        gaps = self.bench.open_gaps() or (list(found.gaps) if found is not None else [])
        return gaps[min(self.bench.view.chosen_spot, len(gaps) - 1)] if gaps else None

    def _gap_span(self) -> Span | None:
        gap = self._gap()
        return None if gap is None else gap.span

    def set_theme(self, theme: Theme) -> None:
        """Repaint in another theme."""
        self.drawing.update()
