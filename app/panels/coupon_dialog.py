"""Pieces to print first: the break-off coupon for the setup in hand, and a trial piece of the real edge."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QComboBox, QFileDialog, QGridLayout, QWidget

from app.bench import Bench
from app.look.current import box_height
from app.look.dialogs import file_dialog
from app.look.tokens import Space, Type
from app.panels.dialog import SheetDialog
from app.panels.outcomes_dialog import CouponResultsDialog
from app.panels.widgets import LengthBox, ThemedLabel, VerbButton
from core.design.coupon import CouponPlan
from core.design.setup import PrintSetup
from core.design.trial_piece import TrialPlan
from core.errors import SnapcombError
from core.job.job import Row

KINDS = "STL (*.stl);;3MF (*.3mf)"


class _PieceDialog(SheetDialog):
    """Asks for a place and has a piece written there in the background."""

    def __init__(self, bench: Bench, title: str, parent: QWidget | None = None) -> None:
        super().__init__(title, parent)
        self.bench = bench
        self.write_button = VerbButton(self.tr("Write it…"), primary=True)
        self.write_button.clicked.connect(self.ask)
        self.write_button.setEnabled(False)
        self.done_words = ThemedLabel("", "ink", Type.LABEL)
        self.done_words.setWordWrap(True)
        self.done_words.hide()

    def suggested(self) -> str:
        """The name that is proposed."""
        raise NotImplementedError

    def write(self, path: Path) -> None:
        """Write the piece to a file; an existing one is replaced."""
        raise NotImplementedError

    def ask(self) -> None:
        """Ask where to."""
        source = self.bench.job.part.source if self.bench.job is not None else None
        folder = str(source.path.parent) if source is not None else ""
        dialog = file_dialog(self, self.windowTitle(), folder, KINDS)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("stl")
        dialog.setLabelText(QFileDialog.DialogLabel.Accept, self.tr("Write it"))
        dialog.selectFile(self.suggested())
        if dialog.exec() and dialog.selectedFiles():
            self.write(Path(dialog.selectedFiles()[0]))

    def post(self, task: str, *args: object, then: Callable[..., None]) -> None:
        """Have something worked out; what is refused is said here."""
        self.refuse("")
        self.bench.runner.post("piece", task, *args, then=then, fail=self._failed)

    def _failed(self, problem: SnapcombError) -> None:
        self.refuse(str(problem))

    def written(self, path: Path) -> None:
        """Say where it lies."""
        self.done_words.setText(self.tr("Written: {0}").format(path))
        self.done_words.show()


class CouponDialog(_PieceDialog):
    """The coupon: what its rows are, how long it prints, what to do with it; later, what it showed."""

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(bench, bench.tr("Make a coupon"), parent)
        self.plan: CouponPlan | None = None
        self.results: CouponResultsDialog | None = None
        self.words(
            self.tr("A small piece with graded rows. Print it, see what your printer makes of it, and enter it here: "
                    "from then on limits and forces are your own.")
        )  # fmt: skip
        self.about = self.words(self.tr("Working it out…"), "ink", Type.TEXT)
        self.grid = QGridLayout()
        self.grid.setHorizontalSpacing(Space.XL)
        self.grid.setVerticalSpacing(Space.XS)
        self.column.addLayout(self.grid)
        self.lines = self.words()
        self.column.addWidget(self.done_words)
        self.enter = VerbButton(self.tr("Enter what it showed…"))
        self.enter.setEnabled(False)
        self.enter.clicked.connect(self.ask_results)
        self.foot(self.enter, self.write_button)
        self.setup = bench.job.setup if bench.job is not None else bench.setup
        self.post("plan_coupon", self.setup, then=self._show)
        self.setMinimumWidth(560)

    def _show(self, plan: CouponPlan) -> None:
        self.plan = plan
        size = " × ".join(f"{s:.0f}" for s in plan.size)
        self.about.setText(
            self.tr("{0} rows, {1} mm, about {2} minutes of printing, for {3}.").format(
                len(plan.rows), size, f"{plan.minutes:.0f}", setup_words(plan.setup)
            )
        )
        heads = (
            self.tr("Row"), self.tr("Graded"), self.tr("Teeth"), self.tr("Tip"), self.tr("Thickness"),
            self.tr("Clear bridge"),
        )  # fmt: skip
        graded = {
            "usual": self.tr("the usual row"), "tip": self.tr("tip"), "thickness": self.tr("thickness"),
            "bridge": self.tr("bridge"),
        }  # fmt: skip
        table = [heads] + [
            (str(r.number), graded.get(r.about, r.about), str(r.teeth), f"{r.tip:.2f}", f"{r.thickness:.2f}",
             f"{r.clear_bridge:.2f}")
            for r in plan.rows
        ]  # fmt: skip
        for line, cells in enumerate(table):
            for column, cell in enumerate(cells):
                self.grid.addWidget(ThemedLabel(cell, "ink" if line else "ink2", Type.LABEL), line, column)
        self.grid.setColumnStretch(len(heads), 1)
        rows = {f"Row {r.number} " for r in plan.rows}
        self.lines.setText("\n".join(w for w in plan.lines if not any(w.startswith(r) for r in rows)))
        self.write_button.setEnabled(True)
        self.enter.setEnabled(True)

    def suggested(self) -> str:
        return "coupon.stl"

    def write(self, path: Path) -> None:
        self.post("write_coupon", self.setup, path, then=self.written)

    def ask_results(self) -> None:
        """Enter what a printed coupon showed."""
        if self.plan is not None:
            self.results = CouponResultsDialog(self.bench, self.plan, self)
            self.results.show()


class TrialDialog(_PieceDialog):
    """A trial piece of the row in hand or of an added one."""

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(bench, bench.tr("Cut a trial piece"), parent)
        job = bench.job
        assert job is not None
        self.words(
            self.tr("A short stretch of the real edge with its teeth and the top of what carries them, closed and set "
                    "on the bed as the whole will print.")
        )  # fmt: skip
        self.rows = QComboBox()
        self.rows.setMinimumHeight(box_height())
        self.rows.setAccessibleName(self.tr("Row"))
        for row in job.all_rows:
            name = self.tr("Row in hand") if row is job.draft else self.tr("Row {0}").format(row.number)
            self.rows.addItem(name, row.number)
        self.rows.setCurrentIndex(self.rows.count() - 1)
        self.rows.activated.connect(lambda _: self._moved(None))
        self.middle = LengthBox(self.tr("Its middle, from the start of the span"))
        self.middle.set_unit(bench.view.unit)
        self.middle.edited.connect(self._moved)
        self.middle.returned_to_auto.connect(lambda: self._moved(None))
        self.column.addWidget(self.rows)
        self.rows.setVisible(self.rows.count() > 1)
        self.column.addWidget(self.middle)
        self.about = self.words("", "ink", Type.TEXT)
        self.column.addWidget(self.done_words)
        self.foot(self.write_button)
        self.setMinimumWidth(480)
        self._wanted: float | None = None
        self._plan()

    def row(self) -> Row | None:
        """The row that is cut."""
        job, number = self.bench.job, self.rows.currentData()
        return next((r for r in job.all_rows if r.number == number), None) if job is not None else None

    def _moved(self, middle: float | None) -> None:
        self._wanted = middle
        self._plan()

    def _plan(self) -> None:
        row = self.row()
        self.write_button.setEnabled(False)
        self.about.setText(self.tr("Working it out…"))
        if row is not None:
            self.post("plan_trial", self.bench.job, row, self._wanted, then=self._show)

    def _show(self, planned: tuple[TrialPlan, float]) -> None:
        plan, minutes = planned
        self.middle.set_value((plan.start + plan.stop) / 2, automatic=self._wanted is None)
        time = self.tr("About {0} minutes of printing.").format(max(1, round(minutes)))
        self.about.setText("\n".join((plan.lines[0], time, *plan.lines[1:])))
        self.write_button.setEnabled(True)

    def _failed(self, problem: SnapcombError) -> None:
        self.about.setText("")
        super()._failed(problem)

    def suggested(self) -> str:
        job = self.bench.job
        return f"{Path(job.part.name).stem if job is not None else 'part'}_trial_piece.stl"

    def write(self, path: Path) -> None:
        row = self.row()
        if row is not None:
            self.post("write_trial", self.bench.job, row, self._wanted, path, then=self.written)


def setup_words(setup: PrintSetup) -> str:
    """A setup in a few words."""
    sizes = (setup.nozzle, setup.line_width, setup.layer_height)
    words = QCoreApplication.translate("CouponDialog", "{0}, nozzle {1}, line {2}, layer {3} mm")
    return words.format(setup.material, *(f"{s:.2f}" for s in sizes))
