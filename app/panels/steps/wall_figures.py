"""The figures of the sacrificial wall in hand. Every one is automatic until the person sets it."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout

from app.bench import Bench
from app.look.tokens import Space
from app.panels.steps.body import Body, length_box
from app.panels.widgets import Choice, CountBox, LinkButton, Segmented
from core.design.wall import WallPlan
from core.job.pipeline import WallDesign

#: Figures that are counts.
WHOLE = ("lines", "breaks")


class WallFigures(Body):
    """Thickness in lines, gap, foot, clearance, break lines, windows and ribs of the wall in hand."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self.column.setContentsMargins(0, Space.S, 0, Space.S)

    def build(self) -> None:
        assert isinstance(self.column, QVBoxLayout)
        self.facts = self.label(role="ink")
        self.boxes = {
            "lines": CountBox(self.tr("Wall, in lines"), least=1, most=40, returnable=True),
            "gap": length_box(self.tr("Gap on top")),
            "foot_width": length_box(self.tr("Foot flange")),
            "clearance": length_box(self.tr("Air to the part"), returnable=False),
        }
        self.grid(*self.boxes.values())
        self.windows = self._either("windows", self.tr("Windows"), self.tr("With windows"), self.tr("No windows"))
        self.more = LinkButton(self.tr("More of the wall"))
        self.more.clicked.connect(self._unfold)
        self.row(self.more, stretch=True)
        self.extra = {
            "breaks": CountBox(self.tr("Break lines"), least=0, most=50, returnable=True),
            "foot_height": length_box(self.tr("Foot height")),
            "shift": length_box(self.tr("Shift across")),
        }
        self.grid(*self.extra.values())
        self.ribs = self._either("ribs", self.tr("Ribs"), self.tr("With ribs"), self.tr("No ribs"))
        self.notes = self.label()
        self._open = False
        for name, box in self._every().items():
            box.edited.connect(lambda value, n=name: self._set(n, value))
            box.returned_to_auto.connect(lambda n=name: self._set(n, None))
            box.live.connect(lambda value, n=name: self._try(n, value))
            box.given_up.connect(lambda: self.bench.store.end_drag(commit=False))

    def _every(self) -> dict[str, object]:
        return self.boxes | self.extra

    def _either(self, name: str, what: str, yes: str, no: str) -> Segmented:
        """A choice of two with a third that leaves it to the program."""
        made = Segmented([Choice("auto", self.tr("By rule")), Choice("yes", yes), Choice("no", no)], what)
        words = {"auto": None, "yes": True, "no": False}
        made.chosen.connect(lambda key: self.bench.wish_wall(what, **{name: words[key]}))
        self.column.addWidget(made)
        return made

    def _set(self, name: str, value: float | None) -> None:
        self.bench.store.end_drag(commit=False)
        label = self.tr("Wall: {0}").format(self._every()[name].accessibleName().lower())
        self.bench.wish_wall(label, **{name: round(value) if name in WHOLE and value is not None else value})

    def _try(self, name: str, value: float) -> None:
        self.bench.preview_wall(self.tr("Set a figure"), **{name: round(value) if name in WHOLE else value})

    def _unfold(self) -> None:
        self._open = not self._open
        self.refresh()

    def refresh(self) -> None:
        job = self.bench.job
        wishes = job.draft.wall if job is not None and job.draft is not None else None
        self.setVisible(wishes is not None)
        if wishes is None:
            return
        for widget in (*self.extra.values(), self.ribs):
            widget.setVisible(self._open)
        self.more.setText(self.tr("Less of the wall") if self._open else self.tr("More of the wall"))
        choices = {None: "auto", True: "yes", False: "no"}
        self.windows.set_current(choices[wishes.windows])
        self.ribs.set_current(choices[wishes.ribs])
        trouble = self.bench.results.trouble
        field, sentence = trouble.get("wish_field", ""), trouble.get("wish", "")
        for name, box in self._every().items():
            box.set_error(sentence or trouble.get(name, "") if name in (field, *trouble) else "")
            if hasattr(box, "set_unit"):
                box.set_unit(self.bench.view.unit)
        design = self.bench.draft_design()
        if design is not None and design.wall is not None:
            self._show(design.wall, wishes.shift)
        else:
            self.facts.setText(self.tr("Building the wall…"))
            self.notes.setText("")

    def _show(self, wall: WallDesign, shift: float | None) -> None:
        plan = wall.plan
        shown = {
            "lines": plan.lines, "gap": plan.gap, "foot_width": plan.foot_width, "clearance": plan.clearance,
            "breaks": len(plan.breaks), "foot_height": plan.foot_height, "shift": shift,
        }  # fmt: skip
        for name, value in shown.items():
            self._every()[name].set_value(value, automatic=name in plan.automatic)
        self.facts.setText(self._facts(wall, plan))
        self.notes.setText("\n".join(plan.notes))
        self.notes.setVisible(bool(plan.notes))

    def _facts(self, wall: WallDesign, plan: WallPlan) -> str:
        stands = {"bed": self.tr("on the bed"), "part": self.tr("on the part"), "both": self.tr("on bed and part")}
        size = self.tr("Wall {0} high, {1} long, {2} thick, {3}").format(
            self.mm(plan.height, unit=False), self.mm(plan.length, unit=False), self.mm(plan.thickness),
            stands[plan.base],
        )  # fmt: skip
        assert self.bench.job is not None
        mass = max(wall.solid.volume, 0.0) * self.bench.job.setup.filament.density / 1000
        return "\n".join((size, self.tr("{0} g, {1} windows").format(f"{mass:.2f}", len(plan.windows))))
