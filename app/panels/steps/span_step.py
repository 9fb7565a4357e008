"""Line 4: the span between the overhang edge and its ledge."""

from __future__ import annotations

from app.panels.steps.body import Body, length_box, show_trouble
from app.panels.steps.wall_figures import WallFigures
from app.panels.widgets import LinkButton, State, VerbButton
from core.job.job import drop_draft


class SpanStep(Body):
    """Length, gap and width of the span in hand; another ledge; its two end stops."""

    def build(self) -> None:
        self.hint = self.label(self.tr("Click the lower edge that hangs free. The ledge below it is proposed."))
        self.facts = self.label(role="ink")
        self.trouble = self.banner()
        self.trouble.chosen.connect(self._step)
        self.start, self.stop = length_box(self.tr("Start stop"), returnable=False), length_box(
            self.tr("End stop"), returnable=False)  # fmt: skip
        self.start.edited.connect(lambda mm: self.bench.wish(self.tr("Move the start stop"), start=max(mm, 0.0)))
        self.stop.edited.connect(lambda mm: self.bench.wish(self.tr("Move the end stop"), stop=max(mm, 0.0)))
        self.grid(self.start, self.stop)
        self.wall = WallFigures(self.bench)
        self.column.addWidget(self.wall)
        self.accept = VerbButton(self.tr("Take this ledge"), primary=True)
        self.accept.clicked.connect(self.bench.accept)
        self.other = VerbButton(self.tr("Choose another ledge"))
        self.other.clicked.connect(lambda: self.bench.set_mode("ledge"))
        self.row(self.accept, self.other)
        self.build_wall = LinkButton(self.tr("Build a wall here"))
        self.build_wall.clicked.connect(self.bench.build_wall_here)
        self.row(self.build_wall, stretch=True)
        self.let_go = LinkButton(self.tr("Let this edge go"))
        self.let_go.clicked.connect(lambda: self.bench.change(self.tr("Let the edge go"), drop_draft))
        self.row(self.let_go, stretch=True)

    def _step(self, word: str) -> None:
        if word == "ledge":
            self.bench.set_mode("ledge")
        elif word == "wall":
            self.bench.build_wall_here()
        elif word == "exchange":
            self.bench.exchange()
        elif word == "go":
            self.bench.step_back()

    def refresh(self) -> None:
        job, view = self.bench.job, self.bench.view
        span = self.bench.draft_span()
        draft = job.draft if job else None
        trouble = self.bench.results.trouble
        self.hint.setVisible(draft is None)
        show_trouble(self.trouble, trouble.get("pick") or trouble.get("span", ""), self._steps())
        for box, value in (
            (self.start, draft.wishes.start if draft else 0.0),
            (self.stop, draft.wishes.stop if draft else 0.0),
        ):
            box.set_unit(view.unit)
            box.set_value(value)
            box.setVisible(span is not None)
        field = trouble.get("wish_field") if trouble.get("wish") else ""
        self.start.set_error(trouble.get("wish", "") if field == "start" else "")
        self.accept.setVisible(span is not None and not view.accepted)
        self.other.setVisible(draft is not None)
        self.let_go.setVisible(draft is not None)
        self.build_wall.setVisible(draft is not None and draft.wall is None)
        self.wall.refresh()
        self.facts.setVisible(span is not None)
        if span is not None:
            self.facts.setText(self._facts(span))

    def _steps(self) -> tuple[tuple[str, str], ...]:
        if self.bench.view.waiting is not None:
            return (
                ("wall", self.tr("Build a wall")), ("ledge", self.tr("Choose a ledge")), ("go", self.tr("Let it go")),
            )  # fmt: skip
        return ()

    def _facts(self, span: object) -> str:
        low, high = span.gap_range
        gap = (
            self.mm(low)
            if high - low < 0.005
            else self.tr("{0} to {1}").format(self.mm(low, unit=False), self.mm(high))
        )
        way = self.tr("upward") if span.direction == "up" else self.tr("sideways")
        kinds = {"ridge": self.tr("a ridge"), "strip": self.tr("a narrow strip"), "outer": self.tr("an outer edge")}
        lines = [
            self.tr("Gap {0}, {1}").format(gap, way),
            self.tr("Length {0} of an edge of {1}").format(self.mm(span.length), self.mm(span.edge_length)),
            self.tr("Ledge and edge share {0} across; it is {1}").format(self.mm(span.width), kinds[span.kind]),
        ]
        if span.occupied:
            lines.append(self.tr("{0} teeth stand in it already").format(len(span.occupied)))
        return "\n".join(lines)

    def figure(self) -> str:
        span = self.bench.draft_span()
        if span is None:
            busy = self.bench.runner.busy("span") or self.bench.runner.busy("walls_of_rows")
            return self.tr("measuring") if busy else ""
        low, high = span.gap_range
        gap = (
            self.mm(low, unit=False)
            if high - low < 0.005
            else f"{self.mm(low, unit=False)}–{self.mm(high, unit=False)}"
        )
        return self.tr("{0}, gap {1}").format(self.mm(span.length), gap)

    def state(self) -> State:
        trouble = self.bench.results.trouble
        if trouble.get("pick") or trouble.get("span"):
            return State.LOOK
        job = self.bench.job
        if job is None or job.draft is None:
            return State.DONE if job is not None and job.rows else State.TODO
        return State.DONE if self.bench.view.accepted else State.TODO
