"""How the printed rows of a job went, and what a coupon taught: entered once, used from then on."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QDate, QLocale
from PySide6.QtWidgets import QCheckBox, QLineEdit, QWidget

from app.bench import Bench
from app.look.current import box_height
from app.look.tokens import Type
from app.panels.dialog import SheetDialog
from app.panels.results import Asked, ResultsTable
from app.panels.widgets import ThemedLabel, VerbButton
from core.design.coupon import CouponPlan
from core.errors import SnapcombError
from core.job.holding import necks_of_design
from core.job.job import Job, note_outcome
from core.job.pipeline import RowDesign
from core.proof.learn import Lesson, Outcome, Tried, tried_rows


class OutcomesDialog(SheetDialog):
    """After the print: how every added row of the job in hand went."""

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(bench.tr("How did it print?"), parent)
        self.bench = bench
        job = bench.job
        assert job is not None
        self.designs = [d for d in (bench.row_design(r) for r in job.rows) if isinstance(d, RowDesign)]
        self.words(self.tr("What you see here stays with the job. It can teach the program about your printer, too."))
        self.table = ResultsTable([Asked(d.row.number, self._about(d)) for d in self.designs])
        self.table.show_outcomes(job.outcomes)
        self.column.addWidget(self.table)
        self.learn = QCheckBox(self.tr("Learn from it: later limits and forces follow from what was seen"))
        self.learn.setChecked(True)
        self.column.addWidget(self.learn)
        self.words(
            self.tr("Straight pull: what a scale read when the whole row was torn off. Wear eye protection.")
        )
        keep = VerbButton(self.tr("Note it"), primary=True)
        keep.clicked.connect(self.keep)
        leave = VerbButton(self.tr("Leave it"))
        leave.clicked.connect(self.reject)
        self.foot(leave, keep)

    def _about(self, design: RowDesign) -> str:
        plan = design.plan
        return self.tr("Row {0}: {1} teeth, tip {2}, {3} thick").format(
            design.row.number, plan.teeth, f"{plan.tip:.2f}", f"{plan.thickness:.2f}"
        )

    def keep(self) -> None:
        """Note what was entered, and learn from it if wished."""
        try:
            seen = self.table.outcomes()
        except SnapcombError as problem:
            self.refuse(str(problem))
            return
        self.bench.change(self.tr("Note how it printed"), lambda job: _noted(job, self.designs, seen))
        job = self.bench.job
        if self.learn.isChecked() and job is not None:
            source = self.tr("your print of {0}").format(job.part.name)
            lesson = Lesson(source, job.setup, tuple(
                Tried(necks_of_design(d), d.plan.clear_bridge, outcome)
                for d in self.designs for number, outcome in seen if number == d.row.number))  # fmt: skip
            self.bench.teach(self.tr("Learn from the print"), lesson)
        self.accept()


def _noted(job: Job, designs: Sequence[RowDesign], seen: Sequence[tuple[int, Outcome]]) -> Job:
    known = dict(seen)
    for design in designs:
        job = note_outcome(job, design.row.number, known.get(design.row.number))
    return job


class CouponResultsDialog(SheetDialog):
    """What was seen on a printed coupon for the setup in hand."""

    def __init__(self, bench: Bench, plan: CouponPlan, parent: QWidget | None = None) -> None:
        super().__init__(bench.tr("What the coupon showed"), parent)
        self.bench, self.plan = bench, plan
        self.words(
            self.tr("For a coupon printed in this setup: nozzle {0}, line {1}, layer {2}, {3}. Rows as engraved.")
            .format(*(f"{getattr(plan.setup, n):.2f}" for n in ("nozzle", "line_width", "layer_height")),
                    plan.setup.material)
        )
        self.table = ResultsTable([Asked(r.number, self._about(plan, r.number)) for r in plan.rows])
        self.column.addWidget(self.table)
        self.words(
            self.tr("Leave alone what you did not look at. Straight pull: what a scale read as the whole row tore off.")
        )
        self.column.addWidget(ThemedLabel(self.tr("Call it"), "ink2", Type.LABEL))
        self.name = QLineEdit(self.tr("your coupon of {0}").format(_today()))
        self.name.setMinimumHeight(box_height())
        self.name.setAccessibleName(self.tr("Call it"))
        self.column.addWidget(self.name)
        keep = VerbButton(self.tr("Learn from it"), primary=True)
        keep.clicked.connect(self.keep)
        leave = VerbButton(self.tr("Leave it"))
        leave.clicked.connect(self.reject)
        self.foot(leave, keep)

    def _about(self, plan: CouponPlan, number: int) -> str:
        row = next(r for r in plan.rows if r.number == number)
        return self.tr("{0}: tip {1}, {2} thick, bridge {3}").format(
            number, f"{row.tip:.2f}", f"{row.thickness:.2f}", f"{row.clear_bridge:.1f}"
        )

    def keep(self) -> None:
        """Learn from what was entered."""
        try:
            tried = tried_rows(self.plan, self.table.outcomes())
        except SnapcombError as problem:
            self.refuse(str(problem))
            return
        if not tried:
            self.refuse(self.tr("Nothing was entered yet. Say of one row at least whether its tips were there."))
            return
        name = " ".join(self.name.text().split()) or self.tr("your coupon")
        self.bench.teach(self.tr("Learn from the coupon"), Lesson(name, self.plan.setup, tuple(tried)))
        self.accept()


def _today() -> str:
    return QLocale.c().toString(QDate.currentDate(), "d MMMM yyyy")
