"""Line 5: the row in hand. Every figure is automatic until the person sets it."""

from __future__ import annotations

from app.panels.steps.body import Body, length_box, show_trouble
from app.panels.steps.shape_icon import shape_icon
from app.panels.widgets import Choice, CountBox, LinkButton, Segmented, State, VerbButton
from core.design.plan import RowPlan, RowWishes
from core.design.shapes import added_shapes
from core.job.job import drop_draft


class TeethStep(Body):
    """Shape, count, pitch, foot, tip, thickness and the rest; add the row, or clear it."""

    def build(self) -> None:
        self.hint = self.label(self.tr("Pick an overhang edge, or take a gap from the weak spots."))
        shapes = (
            ("straight", self.tr("Straight")),
            ("arc_tip", self.tr("Arc at tip")),
            ("arc_ledge", self.tr("Arc at ledge")),
            ("rake", self.tr("Rake")),
            ("post", self.tr("Post")),
        )
        strip = [Choice(key, words, f"tooth_{key}") for key, words in shapes]
        strip += [Choice(shape.name, shape.words, shape_icon(shape)) for shape in added_shapes()]
        self.shape = Segmented(strip, self.tr("Shape of the teeth"))
        self.shape.chosen.connect(lambda key: self.bench.wish(self.tr("Tooth shape"), shape=key))
        self.column.addWidget(self.shape)
        self.boxes = {
            "teeth": CountBox(self.tr("Teeth"), least=1, most=2000, returnable=True),
            "pitch": length_box(self.tr("Pitch")),
            "foot": length_box(self.tr("Foot")),
            "tip": length_box(self.tr("Tip")),
            "thickness": length_box(self.tr("Thickness")),
            "air_layers": CountBox(self.tr("Air layers"), least=0, most=5),
        }
        self.grid(*self.boxes.values())
        self.facts = self.label()
        self.more = LinkButton(self.tr("More figures"))
        self.more.clicked.connect(self._unfold)
        self.like = LinkButton("")
        self.like.clicked.connect(self._size_like)
        self.row(self.more, stretch=True)
        self.row(self.like, stretch=True)
        self.extra = {
            "sink_ledge": length_box(self.tr("Sink into ledge")),
            "sink_part": length_box(self.tr("Sink into part")),
            "clear_bridge": length_box(self.tr("Longest clear bridge")),
            "end_clearance": length_box(self.tr("End clearance")),
        }
        self.grid(*self.extra.values())
        self.across = Segmented(
            [Choice("flush", self.tr("Flush, inward")), Choice("centred", self.tr("Centred"))],
            self.tr("Across the edge"),
        )
        self.across.chosen.connect(lambda key: self.bench.wish(self.tr("Across the edge"), across=key))
        self.across_line = self.row(self.across, stretch=True)
        self.trouble = self.banner()
        self.trouble.chosen.connect(self._remedy)
        self.add = VerbButton(self.tr("Add the row"), primary=True)
        self.add.clicked.connect(self.bench.add_row)
        self.clear = VerbButton(self.tr("Clear the row"))
        self.clear.clicked.connect(lambda: self.bench.change(self.tr("Clear the row"), drop_draft))
        line = self.row(self.add, self.clear)
        line.set_stretch(0, 3)
        line.set_stretch(1, 2)
        self._open = False
        for name, box in (*self.boxes.items(), *self.extra.items()):
            box.edited.connect(lambda value, n=name: self._set(n, value))
            box.returned_to_auto.connect(lambda n=name: self._set(n, None))
            box.live.connect(lambda value, n=name: self._try(n, value))
            box.given_up.connect(lambda: self.bench.store.end_drag(commit=False))

    def _set(self, name: str, value: float | None) -> None:
        self.bench.store.end_drag(commit=False)
        whole = value is not None and name in ("teeth", "air_layers")
        label = self.tr("Set {0}").format((self.boxes | self.extra)[name].accessibleName().lower())
        self.bench.wish(label, **{name: round(value) if whole and value is not None else value})

    def _try(self, name: str, value: float) -> None:
        """Show the row with a figure that is still being typed; nothing is kept of it."""
        job = self.bench.job
        if job is None or job.draft is None:
            return
        figure = round(value) if name in ("teeth", "air_layers") else value
        self.bench.preview_wish(self.tr("Set a figure"), name, figure)

    def _unfold(self) -> None:
        self._open = not self._open
        self.refresh()

    def _size_like(self) -> None:
        self.bench.size_like(self._like_row())

    def _like_row(self) -> object | None:
        found = self.bench.results.inspection
        rows = getattr(found, "rows", ()) if found is not None else ()
        return max(rows, key=lambda r: (r.direction == "up", r.teeth), default=None)

    def _remedy(self, word: str) -> None:
        self.bench.remedy(word)

    def refresh(self) -> None:
        job = self.bench.job
        draft = job.draft if job else None
        design = self.bench.draft_design()
        trouble = self.bench.results.trouble
        self._show(draft is not None)
        if draft is None:
            return
        self.shape.set_current(draft.wishes.shape)
        for box in (*self.boxes.values(), *self.extra.values()):
            if hasattr(box, "set_unit"):
                box.set_unit(self.bench.view.unit)
        if design is not None:
            self._figures(design.plan, draft.wishes)
        field, sentence = trouble.get("wish_field", ""), trouble.get("wish", "")
        boxes = self.boxes | self.extra
        for name, box in boxes.items():
            box.set_error(sentence if name == field else "")
        plan_trouble = next((trouble[n] for n in (*boxes, "plan", "moved", "left_out", "start") if n in trouble), "")
        loose = sentence if sentence and field not in boxes and field != "start" else ""
        finding = self.bench.worst_finding()
        steps: tuple[tuple[str, str], ...] = ()
        if not (plan_trouble or loose) and finding is not None and finding.remedy is not None:
            steps = ((finding.code, finding.remedy.text),)
        show_trouble(self.trouble, plan_trouble or loose or (finding.text if finding is not None else ""), steps)
        self.add.setEnabled(design is not None)

    def _show(self, visible: bool) -> None:
        self.hint.setVisible(not visible)
        for widget in (self.shape, *self.boxes.values(), self.facts, self.more, self.add, self.clear):
            widget.setVisible(visible)
        for widget in (*self.extra.values(), self.across):
            widget.setVisible(visible and self._open)
        self.more.setText(self.tr("Fewer figures") if self._open else self.tr("More figures"))
        row = self._like_row()
        self.like.setVisible(visible and row is not None)
        if row is not None:
            self.like.setText(self.tr("Size them like the {0} teeth there").format(row.teeth))
        self.trouble.setVisible(visible and self.trouble.isVisible())

    def _figures(self, plan: RowPlan, wishes: RowWishes) -> None:
        setup = self.bench.job.setup if self.bench.job else self.bench.setup
        count = wishes.teeth or plan.teeth + len(wishes.left_out)
        air = setup.air_layers if wishes.air_layers is None else wishes.air_layers
        shown: dict[str, float] = {
            "teeth": count, "pitch": plan.pitch, "foot": plan.foot, "tip": plan.tip, "thickness": plan.thickness,
            "air_layers": air, "sink_ledge": plan.sink_ledge, "sink_part": plan.sink_part,
            "clear_bridge": plan.clear_limit, "end_clearance": plan.end_clearance,
        }  # fmt: skip
        for name, value in shown.items():
            (self.boxes | self.extra)[name].set_value(value, automatic=name in plan.automatic)
        self.across.set_current(plan.across)
        self.facts.setText(
            self.tr("Clear bridge {0}, longest you allow {1}\nSinks {2} into the ledge, {3} into the part").format(
                self.mm(plan.clear_bridge), self.mm(plan.clear_limit, unit=False),
                self.mm(plan.sink_ledge, unit=False), self.mm(plan.sink_part, unit=False))
        )  # fmt: skip
        design = self.bench.draft_design()
        built = design is not None and design.wall is not None
        words = self.tr("Add the wall with {0} teeth") if built else self.tr("Add {0} teeth")
        self.add.setText(self.tr("Add 1 tooth") if plan.teeth == 1 and not built else words.format(plan.teeth))

    def figure(self) -> str:
        design = self.bench.draft_design()
        if design is not None:
            pitch = self.mm(design.plan.pitch, unit=False)
            return self.tr("{0}, pitch {1}").format(design.plan.teeth, pitch)
        rows = self.bench.job.rows if self.bench.job else ()
        if not rows:
            return ""
        return self.tr("1 row added") if len(rows) == 1 else self.tr("{0} rows added").format(len(rows))

    def state(self) -> State:
        job = self.bench.job
        if job is None:
            return State.TODO
        if job.draft is not None:
            return State.LOOK if self.bench.results.trouble or self.bench.worst_finding() else State.TODO
        return State.DONE if job.rows else State.TODO
