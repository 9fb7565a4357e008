"""The whole bench: files, wishes, setup and handing over on top of picks and results."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from app.bench.state import Results, View
from app.bench.walls import BenchWalls
from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.diagnose.edge_index import EdgeIndex
from core.diagnose.rows_present import RowPresent
from core.errors import NeedsChoice, PlanRefused, SnapcombError
from core.job import job as edits
from core.job.hand_over import HandedOver
from core.job.job import Frame, Job
from core.job.job_file import MeshDiffers, MeshNotFound
from core.job.like import like_row
from core.job.pipeline import Pipeline
from core.proof.advice import Aim, advise
from core.proof.findings import Finding
from core.proof.learn import Lesson, with_lesson
from core.units import UnitName


class Bench(BenchWalls):
    """One job being worked on."""

    def open(
        self,
        path: Path,
        unit: UnitName | None = None,
        choice: str | None = None,
        *,
        unsaved: bool = False,
        then: Callable[[Bench], None] | None = None,
    ) -> None:
        """Read a mesh or a job file in the background. The job in hand stays until it has been read.

        ``unsaved`` is for a job that is in no file of the person's; ``then`` is called once it is open.
        """

        def failed(problem: SnapcombError) -> None:
            if isinstance(problem, NeedsChoice):
                self.choice_needed.emit(problem, lambda word: self.open(path, unit, word, unsaved=unsaved, then=then))
            elif isinstance(problem, MeshNotFound | MeshDiffers):
                self.mesh_wanted.emit(path, problem)
            else:
                self.said.emit("attention", str(problem), ())

        def opened(reply: tuple[Job, EdgeIndex, bool]) -> None:
            job, edges, from_job = reply
            self.opened_job = path if from_job and not unsaved else None
            if not from_job and self.lessons:
                job = replace(job, lessons=self.lessons)
            self.begin(job, edges, unsaved=unsaved)
            if then is not None:
                then(self)

        self.progressed.emit("open", 0.0, self.tr("Reading {0}").format(path.name))
        self.runner.post(
            "open", "open", path, unit, choice, self.setup,
            then=opened, fail=failed, progress=lambda f, t: self.progressed.emit("open", f, t),
        )  # fmt: skip

    def begin(self, job: Job, edges: EdgeIndex, *, unsaved: bool = False) -> None:
        """Begin with a job that has been read, with the edges of its part that can be picked."""
        self.runner.cancel("inspect")
        self.pipeline = Pipeline()  # what was worked out for another part only takes memory
        self.view = View(unit=self.view.unit)
        self.results = Results(edges=edges)
        self.setup = job.setup
        job.part.__dict__["topology"] = edges.graph.topology
        self.store.open(job, unsaved=unsaved)
        self.part_shown.emit()

    def go_on_with(self, label: str, job: Job, edges: EdgeIndex) -> None:
        """Go on with the same job on another part, as one step that can be undone."""
        self.runner.cancel("inspect")
        job.part.__dict__["topology"] = edges.graph.topology
        self.view = View(unit=self.view.unit)
        self.results = Results(edges=edges)
        self.store.apply(label, lambda _: job)
        self.part_shown.emit()

    def close(self) -> None:
        """Put the job away."""
        self.runner.cancel("inspect")
        self.view, self.results, self.pipeline = View(unit=self.view.unit), Results(), Pipeline()
        self.store.open(None)

    def wish(self, label: str, **figures: object) -> None:
        """Set figures of the row in hand; None makes one automatic again. An impossible wish changes nothing."""
        job = self.job
        if job is None or job.draft is None:
            return
        self.set_wishes(label, replace(job.draft.wishes, **figures))

    def set_wishes(self, label: str, wishes: RowWishes) -> None:
        """Set all wishes of the row in hand at once. An impossible one changes nothing and says why."""
        if not self.possible(wishes):
            self.refreshed.emit()
            return
        self.store.apply(label, lambda j: edits.wish(j, wishes))

    def preview_wish(self, label: str, name: str, figure: object) -> None:
        """Show a figure that is still being typed or dragged; ``wish`` keeps it, ``store.end_drag`` gives it up."""
        job = self.job
        if job is None or job.draft is None:
            return
        self.preview_wishes(label, replace(job.draft.wishes, **{name: figure}))

    def preview_wishes(self, label: str, wishes: RowWishes) -> None:
        """Show wishes that are not kept yet, as far as they are possible."""
        if self.possible(wishes):
            self.store.begin_drag(label)
            self.store.preview(lambda j: edits.wish(j, wishes))

    def size_like(self, standing: RowPresent) -> None:
        """Size the row in hand like one that is there; what does not carry over is said."""
        job = self.job
        if job is None or job.draft is None:
            return
        wishes, words = like_row(standing, job.draft.wishes, self.draft_span(), job.setup)
        self.set_wishes(self.tr("Size like the teeth that are there"), wishes)
        if words:
            self.said.emit("note", " ".join(words), ())

    def worst_finding(self) -> Finding | None:
        """The gravest finding about the row in hand that wants a look."""
        proof, job = self.results.proof, self.job
        if proof is None or job is None or job.draft is None:
            return None
        return next((f for f in proof.findings if f.level != "note"), None)

    def remedy(self, code: str, number: int | None = None) -> None:
        """Do what a finding proposes about the row in hand, or about an added one, which is then in hand."""
        row, proof = next(((r, p) for r, p in self.proved() if number in (None, r.number)), (None, None))
        finding = next((f for f in proof.findings if f.code == code and f.remedy), None) if proof else None
        if finding is None or finding.remedy is None or row is None or self.job is None:
            return
        wishes = replace(row.wishes, **finding.remedy.wish)
        if row is self.job.draft:
            self.set_wishes(finding.remedy.text, wishes)
        else:
            self.change(finding.remedy.text, lambda j: edits.wish(edits.take_in_hand(j, row.number), wishes))

    def advise(self, aim: Aim) -> None:
        """Set the row in hand so that it holds better, or snaps off more easily; what changed is shown."""
        job, span = self.job, self.draft_span()
        if job is None or job.draft is None or span is None:
            return
        proof = self._kept_proof(job.draft)
        beside = 0.0 if proof is None else proof.piece.sideways.high - proof.snap.sideways.high
        try:
            advice = advise(span, job.draft.wishes, job.setup, aim, learned=job.learned, beside=beside)
        except PlanRefused as problem:
            self.said.emit("attention", str(problem), ())
            return
        self.set_wishes(self.tr("Hold better") if aim == "hold" else self.tr("Snap easier"), advice.wishes)
        self.results.advice = advice
        self.refreshed.emit()

    def show_place(self, place: tuple[float, float, float]) -> None:
        """The view flies to a place of the part, bed mm."""
        self.place_shown.emit(np.array(place))

    def choose_layer(self, number: int | None) -> None:
        """Look at one layer of the print, from 0 at the bed, or at none."""
        if number != self.view.layer:
            self.view.layer = number
            self.layer_shown.emit()

    def teach(self, label: str, lesson: Lesson) -> None:
        """Learn from rows that were printed, in the job in hand and from now on."""
        self.lessons = with_lesson(self.lessons, lesson)
        self.store.apply(label, lambda j: replace(j, lessons=with_lesson(j.lessons, lesson)))
        self.setup_changed.emit()
        self.refreshed.emit()

    def forget(self, label: str, lesson: Lesson) -> None:
        """Learn no more from these rows."""
        self.teach(label, replace(lesson, tried=()))

    def use_setup(self, label: str, setup: PrintSetup, lessons: tuple[Lesson, ...]) -> None:
        """Work with another setup, and with what was printed in it."""
        self.setup, self.lessons = setup, lessons
        self.results.trouble.pop("setup", None)
        self.store.apply(label, lambda j: replace(j, setup=setup, lessons=lessons))
        self.setup_changed.emit()
        self.refreshed.emit()

    def possible(self, wishes: RowWishes) -> bool:
        """Whether wishes can be kept; if not, the reason is put where it was made."""
        job = self.job
        if job is None or job.draft is None:
            return False
        trial = edits.wish(job, wishes)
        assert trial.draft is not None
        try:
            if self._measured_already(trial, trial.draft):
                self.worked_out(trial, trial.draft)
        except PlanRefused as problem:
            self.results.trouble["wish"] = str(problem)
            self.results.trouble["wish_field"] = problem.field
            return False
        except SnapcombError:
            return True
        self.results.trouble.pop("wish", None)
        return True

    def set_setup(self, label: str, **figures: object) -> bool:
        """Change the print setup. False and a sentence when a figure is out of range."""
        job = self.job
        try:
            self.setup = replace(job.setup if job else self.setup, **figures)
        except SnapcombError as problem:
            self.results.trouble["setup"] = str(problem)
            self.refreshed.emit()
            return False
        self.results.trouble.pop("setup", None)
        self.store.apply(label, lambda j: replace(j, setup=self.setup))
        self.setup_changed.emit()
        return True

    def hand_over(
        self, path: Path, frame: Frame = "file", what: str = "part", replace_it: bool = False, choice: str | None = None
    ) -> None:
        """Write the result in the background; the row in hand is added first."""
        if self.job is not None and self.job.draft is not None and not self.add_row():
            self.said.emit("attention", self.tr("The row in hand cannot be planned; let it go or mend it first."), ())
            return
        job = self.job
        if job is None:
            return

        def failed(problem: SnapcombError) -> None:
            if isinstance(problem, NeedsChoice):
                told = f"{choice}+" if choice else ""
                self.choice_needed.emit(
                    problem, lambda word: self.hand_over(path, frame, what, replace_it, told + word)
                )
            else:
                self.said.emit("attention", str(problem), ())

        self.progressed.emit("write", 0.0, self.tr("Writing {0}").format(path.name))
        self.runner.post(
            "write", "write", job, path, frame, what, replace_it, choice,
            then=lambda done: self._written(job, done), fail=failed,
            progress=lambda f, t: self.progressed.emit("write", f, t),
        )  # fmt: skip

    def _written(self, job: Job, done: HandedOver) -> None:
        """What was edited, or begun, while the file was being written is not in it."""
        if self.job is job:
            self.results.handed = done
            self.store.mark_saved()
        self.written.emit(done)
        self.refreshed.emit()
