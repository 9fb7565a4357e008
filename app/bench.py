"""The bench: from what the hand does to edits of the job, and from the job to what the panels show.

The job lives in the store, results live in the pipeline and here, and both can be thrown away. Nothing here draws.
Slow work is posted to the runner; its replies are put where the next repaint finds them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from app.store import Store
from app.work.runner import Runner
from core.design.learned import Learned
from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.design.span import Span
from core.diagnose.edge_index import EdgeIndex
from core.diagnose.inspection import Inspection
from core.diagnose.rows_present import RowPresent
from core.errors import NeedsChoice, PlanRefused, SnapcombError
from core.geometry.chains import Chain
from core.geometry.mesh import F64, Mesh
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose, as_filed, seat_on_face, turn_about_vertical, turn_over, working_axes
from core.job import job as edits
from core.job.fit import gap_pick
from core.job.hand_over import HandedOver
from core.job.holding import Known
from core.job.job import Frame, Job, Pick, Row
from core.job.like import like_row
from core.job.pipeline import Pipeline, RowDesign
from core.job.propose import face_as_ledge
from core.proof.advice import Advice, Aim, advise
from core.proof.findings import Finding, worst_first
from core.proof.learn import Lesson, learned_from, with_lesson
from core.proof.prove import Proof
from core.units import UnitName

Mode = Literal["pick", "ledge", "measure", "seat", "axes"]
#: Troubles that stand until the next edit or click, not only until the next look at the row in hand.
LASTING = ("pick", "setup", "wish", "wish_field")
#: Quiet time before slow work starts again after an edit, ms.
SETTLE = 120


@dataclass
class View:
    """What is looked at and how; never undone, never saved in a job."""

    mode: Mode = "pick"
    unit: UnitName = "millimeter"
    accepted: bool = False
    waiting: Polyline | None = None
    chosen_spot: int = 0
    layer: int | None = None
    measured: list[F64] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Proved:
    """A row as it was proved, what the proof follows from, and the proof, None where there can be none."""

    row: Row
    key: object
    proof: Proof | None


@dataclass
class Results:
    """What follows from the job, as far as it is known yet."""

    edges: EdgeIndex | None = None
    inspection: Inspection | None = None
    inspected: Job | None = None
    #: The proof of the row in hand or, with none in hand, of the row added last.
    proof: Proof | None = None
    proofs: dict[int, Proved] = field(default_factory=dict)
    advice: Advice | None = None
    handed: HandedOver | None = None
    #: What is wrong with the pick or the wishes in hand: where it was made, and the sentence.
    trouble: dict[str, str] = field(default_factory=dict)


class Bench(QObject):
    """One job being worked on."""

    refreshed = Signal()
    said = Signal(str, str, object)
    progressed = Signal(str, float, str)
    part_shown = Signal()
    mode_changed = Signal(str)
    written = Signal(object)
    choice_needed = Signal(object, object)
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
        self._last_design: RowDesign | None = None
        self.opened_job: Path | None = None
        self.built: dict[tuple[object, ...], RowDesign | SnapcombError] = {}

    # Opening

    @property
    def job(self) -> Job | None:
        """The job in hand."""
        return self.store.job

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
            else:
                self.said.emit("attention", str(problem), ())

        def opened(reply: tuple[Job, EdgeIndex, bool]) -> None:
            job, edges, from_job = reply
            self.opened_job = path if from_job and not unsaved else None
            if not from_job and self.lessons:
                job = replace(job, lessons=self.lessons)
            self._opened(job, edges, unsaved)
            if then is not None:
                then(self)

        self.progressed.emit("open", 0.0, self.tr("Reading {0}").format(path.name))
        self.runner.post(
            "open", "open", path, unit, choice, self.setup,
            then=opened, fail=failed, progress=lambda f, t: self.progressed.emit("open", f, t),
        )  # fmt: skip

    def _opened(self, job: Job, edges: EdgeIndex, unsaved: bool) -> None:
        self.runner.cancel("inspect")
        self.view = View(unit=self.view.unit)
        self.results = Results(edges=edges)
        self.setup = job.setup
        job.part.__dict__["topology"] = edges.graph.topology
        self.store.open(job, unsaved=unsaved)
        self.part_shown.emit()

    def close(self) -> None:
        """Put the job away."""
        self.runner.cancel("inspect")
        self.view, self.results = View(unit=self.view.unit), Results()
        self.store.open(None)

    # From the job to results

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
        self.part_shown.emit()
        self.refreshed.emit()

    def _work(self) -> None:
        """After a moment's quiet: ask for what is not known yet."""
        job = self.job
        if job is None:
            return
        rows = [r for r in job.all_rows if r.wall is None]
        unknown = tuple(r.pick for r in rows if not self.pipeline.span_known(job, r.pick))
        walls = tuple(r for r in job.rows if r.wall is not None and self._built_key(job, r) not in self.built)
        if walls:
            self.runner.post("walls", "designs", job, walls, then=lambda found: self._walls_built(job, found))
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

    # What can be shown at once

    def bed_mesh(self) -> Mesh | None:
        """The part in its print pose."""
        return None if self.job is None else self.pipeline.bed_mesh(self.job)

    def draft_span(self) -> Span | None:
        """The span in hand, when it is known."""
        job = self.job
        if job is None or job.draft is None or not self.pipeline.span_known(job, job.draft.pick):
            return None
        try:
            span = self.pipeline.span(job, job.draft.pick)
        except SnapcombError as problem:
            self.results.trouble["span"] = str(problem)
            return None
        self.results.trouble.pop("span", None)
        return span

    def draft_design(self) -> RowDesign | None:
        """The row in hand worked out; None when it cannot be, and then the reason stands in ``results.trouble``."""
        job = self.job
        self.results.trouble = {k: v for k, v in self.results.trouble.items() if k in LASTING}
        if job is None or job.draft is None or self.draft_span() is None:
            return None
        try:
            self._last_design = self.pipeline.design(job, job.draft)
        except PlanRefused as problem:
            self.results.trouble[problem.field or "plan"] = str(problem)
            return None
        except SnapcombError as problem:
            self.results.trouble["span"] = str(problem)
            return None
        return self._last_design

    def row_design(self, row: Row) -> RowDesign | SnapcombError | None:
        """An added row worked out, the reason why it cannot be, or None while it is being measured."""
        job = self.job
        if job is not None and row.wall is not None:
            return self.built.get(self._built_key(job, row))
        if job is None or not self.pipeline.span_known(job, row.pick):
            return None
        try:
            return self.pipeline.design(job, row)
        except SnapcombError as problem:
            return problem

    @staticmethod
    def _built_key(job: Job, row: Row) -> tuple[object, ...]:
        """What a row on a wall follows from."""
        return (job.part.mesh, job.pose, job.setup, row)

    def _walls_built(self, job: Job, found: list[tuple[Row, RowDesign | SnapcombError]]) -> None:
        for row, design in found:
            self.built[self._built_key(job, row)] = design
        self.refreshed.emit()

    def build_walls(self, key: str) -> None:
        """Build sacrificial walls with rows below a weak spot that has no ledge."""
        job, found = self.job, self.results.inspection
        spot = next((s for s in found.weak_spots if s.key == key), None) if found is not None else None
        if job is None or spot is None:
            return

        def planned(rows: tuple[Row, ...]) -> None:
            wanted = tuple((r.pick, r.wishes, r.wall) for r in rows if r.wall is not None)
            if self.job is not None and self.job.part is job.part and self.job.pose == job.pose and wanted:
                self.store.apply(self.tr("Build walls"), lambda j: edits.add_walls(edits.drop_draft(j), wanted))

        self.progressed.emit("walls", 0.0, self.tr("Planning walls"))
        self.runner.post(
            "walls", "walls", job, spot, then=planned, fail=lambda p: self.said.emit("attention", str(p), ())
        )

    # What the hand does

    def set_mode(self, mode: Mode) -> None:
        """What the next click in the view does."""
        self.view.mode = mode
        self.view.measured = []
        self.mode_changed.emit(mode)
        self.refreshed.emit()

    def edge_polyline(self, feature: int) -> Polyline | None:
        """The chain through a feature edge, bed mm."""
        mesh, edges = self.bed_mesh(), self.results.edges
        if mesh is None or edges is None or not 0 <= feature < len(edges.edges):
            return None
        return edges.chain(feature).polyline(mesh.vertices)

    def click_edge(self, feature: int, as_ledge: bool | None = None) -> None:
        """A click on an edge: the overhang edge first, then another ledge."""
        job, edges = self.job, self.results.edges
        if job is None or edges is None:
            return
        chain = edges.chain(feature).polyline(job.part.mesh.vertices)
        edge = self._edge_in_hand()
        if as_ledge or (as_ledge is None and self.view.mode == "ledge" and edge is not None):
            assert edge is not None
            self._propose(edge, chain)
            return
        self._propose(chain, None, self._normals_at(feature))

    def click_face(self, triangle: int, point: F64) -> None:
        """A click on a face while a ledge is wanted, or while the part is to be seated or lined up."""
        job, mesh, mode = self.job, self.bed_mesh(), self.view.mode
        if job is None or mesh is None or not 0 <= triangle < len(mesh.triangles):
            return
        normal = mesh.normals[triangle]
        if mode == "seat":
            self.set_mode("pick")
            self.repose(self.tr("Seat on this face"), seat_on_face(job.part.mesh, job.pose, normal))
        elif mode == "axes":
            self.set_mode("pick")
            self.line_up(normal)
        elif (edge := self._edge_in_hand()) is not None and mode == "ledge":
            ledge = face_as_ledge(edge.moved(job.pose.matrix), point, normal)
            self._propose(edge, ledge.moved(job.pose.inverse.matrix))

    def _edge_in_hand(self) -> Polyline | None:
        if self.view.waiting is not None:
            return self.view.waiting
        return self.job.draft.pick.edge if self.job is not None and self.job.draft is not None else None

    def _normals_at(self, feature: int) -> F64:
        mesh, edges = self.bed_mesh(), self.results.edges
        assert mesh is not None
        assert edges is not None
        pair = edges.graph.topology.edge_triangles[edges.graph.ids[feature]]
        return mesh.normals[pair[pair >= 0]]

    def _propose(self, edge: Polyline, ledge: Polyline | None, normals: F64 | None = None) -> None:
        job = self.job
        assert job is not None
        self.view.waiting = edge
        self.results.trouble.pop("pick", None)
        self.runner.post(
            "span", "propose", job, edge, normals if normals is not None else np.zeros((0, 3)), ledge,
            then=lambda found: self._proposed(job, ledge is not None, *found), fail=self._not_proposed,
        )  # fmt: skip
        self.refreshed.emit()

    def _proposed(self, job: Job, by_hand: bool, pick: Pick, span: Span) -> None:
        if self.job is None or self.job.part is not job.part or self.job.pose != job.pose:
            return
        self.pipeline.keep_span(self.job, pick, span)
        self.view.waiting = None
        label = self.tr("Choose the ledge") if by_hand else self.tr("Pick an edge")
        self.store.apply(label, lambda j: edits.pick_edge(j, pick))
        self.set_mode("pick" if by_hand else "ledge")

    def _not_proposed(self, problem: SnapcombError) -> None:
        self.results.trouble["pick"] = str(problem)
        self.view.mode = "ledge" if self.view.waiting is not None else "pick"
        self.mode_changed.emit(self.view.mode)
        self.said.emit("attention", str(problem), ())
        self.refreshed.emit()

    def take_gap(self, gap_id: str) -> None:
        """Take a gap that the inspection found as the span in hand."""
        found, job = self.results.inspection, self.job
        if found is None or job is None:
            return
        gap = next((g for g in found.gaps if g.id == gap_id), None)
        if gap is None:
            return
        pick = gap_pick(job, gap.id, gap.span)
        self.pipeline.keep_span(job, pick, gap.span)
        self.store.apply(self.tr("Take gap {0}").format(gap_id), lambda j: edits.pick_edge(j, pick))
        self.view.accepted = True
        self.set_mode("pick")

    def take_all(self) -> None:
        """Add a row at every gap that lacks teeth and can have them."""
        found, job = self.results.inspection, self.job
        if found is None or job is None:
            return
        taken = []
        for gap in found.gaps:
            pick = gap_pick(job, gap.id, gap.span)
            if not gap.enough and not any(r.pick.gap == gap.id for r in job.rows):
                self.pipeline.keep_span(job, pick, gap.span)
                taken.append((pick, RowWishes()))
        if taken:
            self.store.apply(self.tr("Take all gaps"), lambda j: edits.add_rows(edits.drop_draft(j), tuple(taken)))

    def accept(self) -> None:
        """Enter with an edge in hand: accept the proposed ledge; again, add the row."""
        job = self.job
        if job is None or job.draft is None:
            return
        if not self.view.accepted:
            self.view.accepted = True
            self.set_mode("pick")
        else:
            self.add_row()

    def open_gaps(self) -> list[object]:
        """Gaps that lack teeth and are not treated by a row of this job."""
        found, job = self.results.inspection, self.job
        if found is None or job is None:
            return []
        treated = {r.pick.gap for r in job.all_rows}
        return [g for g in found.gaps if not g.enough and g.id not in treated]

    def step_back(self) -> None:
        """Esc: give up the mode, then the edge in hand."""
        if self.view.mode in ("measure", "seat", "axes") or self.view.measured:
            self.set_mode("pick")
        elif self.view.waiting is not None:
            self.view.waiting = None
            self.results.trouble.pop("pick", None)
            self.set_mode("pick")
        elif self.job is not None and self.job.draft is not None:
            self.store.apply(self.tr("Let the edge go"), edits.drop_draft)
            self.set_mode("pick")

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
        whole = finding.remedy.field in ("teeth", "air_layers")
        value = round(finding.remedy.value) if whole else finding.remedy.value
        wishes = replace(row.wishes, **{finding.remedy.field: value})
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

    def learned(self) -> Learned:
        """What was printed before teaches about the setup in hand."""
        return self.job.learned if self.job is not None else learned_from(self.lessons, self.setup)

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

    def choose_spot(self, index: int, entry: object) -> None:
        """The list moved on to another entry: the view flies there."""
        self.view.chosen_spot = index
        self.spot_chosen.emit(entry)

    def dismiss(self, key: str) -> None:
        """A weak spot is fine as it is, or after all not."""
        self.change(self.tr("Fine as it is"), lambda job: edits.dismiss(job, key))

    def possible(self, wishes: RowWishes) -> bool:
        """Whether wishes can be kept; if not, the reason is put where it was made."""
        job = self.job
        if job is None or job.draft is None:
            return False
        trial = edits.wish(job, wishes)
        assert trial.draft is not None
        try:
            if self.pipeline.span_known(job, job.draft.pick):
                self.pipeline.plan(trial, trial.draft)
        except PlanRefused as problem:
            self.results.trouble["wish"] = str(problem)
            self.results.trouble["wish_field"] = problem.field
            return False
        except SnapcombError:
            return True
        self.results.trouble.pop("wish", None)
        return True

    def add_row(self) -> bool:
        """Add the row in hand to the part. False, and nothing changes, when it cannot be planned."""
        design = self.draft_design()
        if design is None:
            return False
        name = self.tr("Add {0} teeth").format(design.plan.teeth)
        self.store.apply(name, edits.add_row)
        return True

    def extend_edge(self, at_end: bool) -> None:
        """Carry the edge in hand on past the corner at its start or end."""
        job, edges = self.job, self.results.edges
        edge = self._edge_in_hand()
        if job is None or edges is None or edge is None:
            return
        points = job.part.mesh.vertices
        near = [int(np.argmin(np.abs(points - p).sum(axis=1))) for p in edge.array]
        if np.abs(points[near] - edge.array).max() > 1e-6:
            self.said.emit("note", self.tr("This edge was worked out, not picked; pick its edge to carry it on."), ())
            return
        longer = edges.graph.extend(Chain(tuple(near), edge.closed), at_end)
        if len(longer.vertices) == len(near):
            self.said.emit("note", self.tr("The edge does not go on there."), ())
            return
        self._propose(longer.polyline(points), None)

    def exchange(self) -> None:
        """Edge and ledge exchanged."""
        job = self.job
        if job is None or job.draft is None or job.draft.pick.ledge is None:
            return
        pick = job.draft.pick
        assert pick.ledge is not None
        self._propose(pick.ledge, pick.edge)

    def repose(self, label: str, pose: Pose) -> None:
        """Another print pose. Rows stay where they are on the part."""
        self.set_mode("pick")
        self.store.apply(label, lambda j: j if pose == j.pose else replace(j, pose=pose))

    def pose_as_filed(self) -> None:
        """Back to the pose as filed."""
        if self.job is not None:
            self.repose(self.tr("Pose as filed"), as_filed(self.job.part.mesh))

    def turn_over(self) -> None:
        """Upside down."""
        if self.job is not None:
            self.repose(self.tr("Turn over"), turn_over(self.job.part.mesh, self.job.pose))

    def turn(self, degrees: float) -> None:
        """Turned about the vertical."""
        if self.job is not None:
            label = self.tr("Turn by {0:g}°").format(degrees)
            self.repose(label, turn_about_vertical(self.job.part.mesh, self.job.pose, degrees))

    def line_up(self, front: F64) -> None:
        """Working axes: look at the part with this direction (bed frame) to the front."""
        flat = np.array([front[0], front[1], 0.0])
        facing = flat if np.linalg.norm(flat) > 0.2 else front
        axes = tuple(float(x) for x in working_axes(facing).ravel())
        self.store.apply(self.tr("Working axes"), lambda j: replace(j, working=axes))

    def line_up_edge(self, feature: int) -> None:
        """Working axes: this edge runs across the view."""
        line = self.edge_polyline(feature)
        if line is None:
            return
        along = line.array[-1] - line.array[0]
        if np.hypot(along[0], along[1]) > 1e-9:
            self.line_up(np.array([along[1], -along[0], 0.0]))

    def drop_axes(self) -> None:
        """Look along the axes of the bed again."""
        self.store.apply(self.tr("Drop working axes"), lambda j: replace(j, working=None))

    def change(self, label: str, edit: Callable[[Job], Job]) -> None:
        """Any other edit."""
        try:
            self.store.apply(label, edit)
        except SnapcombError as problem:
            self.said.emit("attention", str(problem), ())

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
                self.choice_needed.emit(problem, lambda word: self.hand_over(path, frame, what, replace_it, word))
            else:
                self.said.emit("attention", str(problem), ())

        self.progressed.emit("write", 0.0, self.tr("Writing {0}").format(path.name))
        self.runner.post(
            "write", "write", job, path, frame, what, replace_it, choice,
            then=self._written, fail=failed, progress=lambda f, t: self.progressed.emit("write", f, t),
        )  # fmt: skip

    def _written(self, done: HandedOver) -> None:
        self.results.handed = done
        self.store.mark_saved()
        self.written.emit(done)
        self.refreshed.emit()
