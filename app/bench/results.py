"""From the job to what follows from it: what is asked of the workers, and what can be shown at once."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from app.bench.mending import Mending
from app.bench.state import LASTING, SETTLE, Proved, Results, View
from app.store import Store
from app.work.runner import Runner
from core.design.learned import Learned
from core.design.setup import PrintSetup
from core.design.span import Span
from core.diagnose.edge_index import EdgeIndex
from core.diagnose.inspection import Inspection
from core.errors import PlanRefused, SnapcombError
from core.geometry.mesh import Mesh
from core.job.holding import Known
from core.job.job import Job, Pick, Row
from core.job.pipeline import Pipeline, RowDesign, WallDesign
from core.proof.findings import Finding, worst_first
from core.proof.learn import Lesson, learned_from
from core.proof.prove import Proof


class BenchResults(QObject):
    """The job in the store, with everything that is worked out from it. The hand comes in with the subclasses."""

    refreshed = Signal()
    said = Signal(str, str, object)
    progressed = Signal(str, float, str)
    part_shown = Signal()
    #: The edges that can be picked are known for the part in another pose, or mended.
    edges_found = Signal()
    mode_changed = Signal(str)
    written = Signal(object)
    choice_needed = Signal(object, object)
    #: A job file whose mesh is not there, or is another one; and the problem.
    mesh_wanted = Signal(Path, object)
    spot_chosen = Signal(object)
    place_shown = Signal(object)
    layer_shown = Signal()
    setup_changed = Signal()

    def __init__(self, store: Store, runner: Runner, setup: PrintSetup | None = None) -> None:
        super().__init__()
        self.store, self.runner = store, runner
        self.pipeline = Pipeline()
        self.view, self.results = View(), Results()
        self.setup = setup or PrintSetup()
        #: What was printed before: goes into every new job.
        self.lessons: tuple[Lesson, ...] = ()
        self._settle = QTimer(self, singleShot=True, interval=SETTLE)
        self._settle.timeout.connect(self._work)
        store.changed.connect(self._changed)
        self.mending = Mending(store, runner, lambda text: self.said.emit("attention", text, ()))
        self._last_design: RowDesign | None = None
        self.opened_job: Path | None = None

    @property
    def job(self) -> Job | None:
        """The job in hand."""
        return self.store.job

    def _changed(self, old: Job | None, new: Job | None) -> None:
        self.results.trouble.pop("wish", None)
        if new is None:
            self._last_design = None
            self.refreshed.emit()
            return
        if old is None or old.part is not new.part or old.pose != new.pose:
            self._new_pose(new, fresh=old is None or old.part is not new.part)
        if new.draft is None:
            self.view.accepted = False
            self._last_design = None
        self._take_proof(new)
        advice = self.results.advice
        if advice is not None and (new.draft is None or new.draft.wishes != advice.wishes):
            self.results.advice = None
        if old is not None and old.rows != new.rows:
            self.results.handed = None
        self._settle.start()
        self.refreshed.emit()

    def _new_pose(self, job: Job, fresh: bool) -> None:
        self.view.waiting = None
        self.runner.cancel("edges")  # those of another part would be taken for this one's
        if fresh and self.results.edges is not None and self.results.edges.graph.topology is job.part.topology:
            return
        self.results.edges = None
        self.runner.post("edges", "edges", job.part, job.pose, then=self._edges_found)

    def _edges_found(self, edges: EdgeIndex) -> None:
        job = self.job
        if job is None:
            return
        job.part.__dict__["topology"] = edges.graph.topology
        self.results.edges = edges
        self.edges_found.emit()
        self.refreshed.emit()

    def _work(self) -> None:
        """After a moment's quiet: ask for what is not known yet."""
        job = self.job
        if job is None:
            return
        rows = [r for r in job.all_rows if r.wall is None]
        unknown = tuple(r.pick for r in rows if not self.pipeline.span_known(job, r.pick))
        walls = tuple(r for r in job.all_rows if r.wall is not None and not self.pipeline.wall_known(job, r))
        if walls:
            self.runner.post(
                "walls_of_rows", "walls_of_rows", job, walls, then=lambda found: self._walls_built(job, found)
            )
        if unknown:
            self.runner.post("span", "measure", job, unknown, then=lambda found: self._measured(job, found))
        if self._inspection_stale(job):
            self.results.inspection = None if self._moved(job) else self.results.inspection
            self.runner.post(
                "inspect", "inspect", job,
                then=lambda found: self._inspected(job, found),
                fail=lambda problem: self.said.emit("attention", str(problem), ()),
                progress=lambda f, t: self.progressed.emit("inspect", f, t),
            )  # fmt: skip
            self.results.inspected = job
        self._prove(job)
        if not self.store.dragging:  # in a drag all of it is drawn already, and the hand is waiting
            self.refreshed.emit()

    def _moved(self, job: Job) -> bool:
        last = self.results.inspected
        return last is None or last.part is not job.part or last.pose != job.pose

    def _inspection_stale(self, job: Job) -> bool:
        last = self.results.inspected
        return self._moved(job) or (last is not None and (last.limits, last.dismissed, last.pieces) != (
            job.limits, job.dismissed, job.pieces))  # fmt: skip

    def _measured(self, job: Job, found: list[tuple[Pick, Span | SnapcombError]]) -> None:
        for pick, span in found:
            self.pipeline.keep_span(job, pick, span)
        if self.job is not None:
            self._prove(self.job)
        self.refreshed.emit()

    def _inspected(self, job: Job, found: Inspection) -> None:
        self.results.inspection = found
        self.view.chosen_spot = 0
        if self.job is not None:
            self._prove(self.job)
        self.refreshed.emit()

    def _prove(self, job: Job) -> None:
        """Ask for the proof of the row in hand, or of one that is not proved yet; one at a time."""
        row = next((r for r in self.rows_to_prove(job) if self._unproved(job, r)), None)
        if row is None:
            self._take_proof(job)
            return
        found = self.results.inspection
        known = None if found is None else Known(found.rows, found.split)
        key = self._proof_key(job, row)
        self.runner.post(
            "proof", "prove", job, row, known,
            then=lambda proof: self._proved(Proved(row, key, proof)),
            fail=lambda _: self._proved(Proved(row, key, None)),
        )  # fmt: skip

    def rows_to_prove(self, job: Job) -> list[Row]:
        """The rows of a job that can be proved at once, the one in hand first, then those added last."""
        rows = ([job.draft] if job.draft else []) + list(reversed(job.rows))
        return [r for r in rows if r.wall is not None or self.pipeline.span_known(job, r.pick)]

    def _proof_key(self, job: Job, row: Row) -> tuple[object, ...]:
        """What the proof of a row follows from."""
        others = tuple(r for r in job.rows if r.number != row.number)
        return (job.part.mesh, job.pose, job.setup, job.lessons, row, others, self.results.inspection)

    def _unproved(self, job: Job, row: Row) -> bool:
        kept = self.results.proofs.get(row.number)
        return kept is None or kept.key != self._proof_key(job, row)

    def _proved(self, done: Proved) -> None:
        self.results.proofs[done.row.number] = done
        if self.job is not None:
            self._take_proof(self.job)
            if not self.runner.busy("proof"):
                self._prove(self.job)
        self.refreshed.emit()

    def _take_proof(self, job: Job) -> None:
        """The proof to show for the row in hand, kept from before until the new one is there."""
        row = next(iter(self.rows_to_prove(job)), None)
        self.results.proof = None if row is None else self._kept_proof(row)

    def _kept_proof(self, row: Row) -> Proof | None:
        kept = self.results.proofs.get(row.number)
        return kept.proof if kept is not None and kept.row.pick == row.pick else None

    def open_findings(self) -> list[tuple[Row, Finding]]:
        """What the proof of the job's rows warns of, gravest first."""
        found = [(f, row) for row, proof in self.proved() for f in proof.findings if f.level != "note"]
        owner = {id(f): row for f, row in found}
        return [(owner[id(f)], f) for f in worst_first(f for f, _ in found)]

    def proved(self) -> list[tuple[Row, Proof]]:
        """The row in hand with its proof or, with none in hand, every added row that has one."""
        job = self.job
        if job is None:
            return []
        rows = [job.draft] if job.draft else list(job.rows)
        return [(r, proof) for r in rows if (proof := self._kept_proof(r)) is not None]

    def bed_mesh(self) -> Mesh | None:
        """The part in its print pose."""
        return None if self.job is None else self.pipeline.bed_mesh(self.job)

    def draft_span(self) -> Span | None:
        """The span in hand, when it is known."""
        job = self.job
        if job is None or job.draft is None or not self._measured_already(job, job.draft):
            return None
        try:
            span = self.worked_out(job, job.draft).span if job.draft.wall else self.pipeline.span(job, job.draft.pick)
        except SnapcombError as problem:
            self.results.trouble["span"] = str(problem)
            return None
        self.results.trouble.pop("span", None)
        return span

    def draft_design(self) -> RowDesign | None:
        """The row in hand worked out; None when it cannot be, and then the reason stands in ``results.trouble``."""
        job = self.job
        self.results.trouble = {k: v for k, v in self.results.trouble.items() if k in LASTING}
        if job is None or job.draft is None or not self._measured_already(job, job.draft):
            return None
        try:
            return self.worked_out(job, job.draft)
        except PlanRefused as problem:
            self.results.trouble[problem.field or "plan"] = str(problem)
        except SnapcombError as problem:
            self.results.trouble["span"] = str(problem)
        return None

    def _measured_already(self, job: Job, row: Row) -> bool:
        """Whether a row in hand can be worked out at once, be it only as a sketch."""
        if row.wall is None:
            return self.pipeline.span_known(job, row.pick)
        last = self._last_design
        return self.pipeline.wall_known(job, row) or (
            last is not None and last.wall is not None and last.row.pick == row.pick
        )

    def worked_out(self, job: Job, row: Row) -> RowDesign:
        """The row in hand; on a wall that is still being built, a sketch of it. Raises as the pipeline does."""
        if row.wall is not None and not self.pipeline.wall_known(job, row):
            assert self._last_design is not None
            return self.pipeline.sketch(job, row, self._last_design)
        design = self.pipeline.design(job, row)
        self._last_design = design if row == job.draft else self._last_design
        return design

    def row_design(self, row: Row) -> RowDesign | SnapcombError | None:
        """An added row worked out, the reason why it cannot be, or None while it is being measured."""
        job = self.job
        if job is None:
            return None
        known = self.pipeline.wall_known(job, row) if row.wall else self.pipeline.span_known(job, row.pick)
        if not known:
            return None
        try:
            return self.pipeline.design(job, row)
        except SnapcombError as problem:
            return problem

    def _walls_built(self, job: Job, found: list[tuple[Row, tuple[WallDesign, Span] | SnapcombError]]) -> None:
        for row, wall in found:
            self.pipeline.keep_wall(job, row, wall)
        if self.job is not None:
            self._prove(self.job)
        self.refreshed.emit()

    def learned(self) -> Learned:
        """What was printed before teaches about the setup in hand."""
        return self.job.learned if self.job is not None else learned_from(self.lessons, self.setup)
