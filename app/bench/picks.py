"""What the hand does to part and gaps: picking edges and ledges, taking gaps, walls, poses and working axes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from app.bench.results import BenchResults
from app.bench.state import Mode
from core.design.plan import RowWishes
from core.design.span import Span
from core.errors import SnapcombError
from core.geometry.chains import Chain
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline, end_to_end
from core.geometry.pose import Pose, as_filed, seat_on_face, turn_about_vertical, turn_over, working_axes
from core.job import job as edits
from core.job.fit import gap_pick
from core.job.job import Job, Pick
from core.job.propose import face_as_ledge
from core.job.treated import treated_by

#: Ends of edges that lie this near to each other meet, mm.
MEET = 0.05


class BenchPicks(BenchResults):
    """Clicks and choices, each an edit of the job."""

    def set_mode(self, mode: Mode) -> None:
        """What the next click in the view does."""
        self.view.mode = mode
        self.view.measured, self.view.points = [], []
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

    def join_edge(self, feature: int) -> None:
        """A click with Shift: the edge is joined to the one in hand where the two meet, into one row."""
        job, edges, edge = self.job, self.results.edges, self._edge_in_hand()
        if job is None or edges is None:
            return
        if edge is None:
            self.click_edge(feature)
            return
        line = end_to_end(edge, edges.chain(feature).polyline(job.part.mesh.vertices), MEET)
        if line is None:
            self.said.emit("note", self.tr("This edge does not meet the one in hand. Give it a row of its own."), ())
        elif job.draft is not None and job.draft.wall is not None:
            wall, pick = job.draft.wall, Pick(line)
            self.store.apply(self.tr("Join an edge"), lambda j: edits.wish_wall(edits.pick_edge(j, pick), wall))
        else:
            self._propose(line, None)

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
        number = found.gaps.index(gap) + 1  # as it stands in the view and the elevation
        self.store.apply(self.tr("Take gap {0}").format(number), lambda j: edits.pick_edge(j, pick))
        self.view.accepted = True
        self.set_mode("pick")

    def take_all(self) -> None:
        """Add a row at every gap that lacks teeth and can have them."""
        found, job = self.results.inspection, self.job
        if found is None or job is None:
            return
        treated = treated_by(replace(job, draft=None), found)
        open_gaps = [gap for gap in found.gaps if not gap.enough and gap.id not in treated]
        taken = [(gap_pick(job, gap.id, gap.span), RowWishes()) for gap in open_gaps]
        if taken:
            self.store.apply(self.tr("Take all gaps"), lambda j: edits.add_rows(edits.drop_draft(j), tuple(taken)))

    def open_gaps(self) -> list[object]:
        """Gaps that lack teeth and are not treated by a row of this job."""
        found, job = self.results.inspection, self.job
        if found is None or job is None:
            return []
        treated = treated_by(job, found)
        return [g for g in found.gaps if not g.enough and g.id not in treated]

    def accept(self) -> None:
        """Enter with an edge in hand: accept the proposed ledge; again, add the row."""
        job = self.job
        if job is not None and self.view.mode == "points":
            self.finish_points()
            return
        if job is None or job.draft is None:
            return
        if not self.view.accepted:
            self.view.accepted = True
            self.set_mode("pick")
        else:
            self.add_row()

    def finish_points(self) -> None:
        """Build below the points that were picked."""

    def step_back(self) -> None:
        """Esc: give up the mode, then the edge in hand."""
        if self.view.mode in ("measure", "seat", "axes", "points") or self.view.measured:
            self.set_mode("pick")
        elif self.view.waiting is not None:
            self.view.waiting = None
            self.results.trouble.pop("pick", None)
            self.set_mode("pick")
        elif self.job is not None and self.job.draft is not None:
            self.store.apply(self.tr("Let the edge go"), edits.drop_draft)
            self.set_mode("pick")

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

    def choose_spot(self, index: int, entry: object) -> None:
        """The list moved on to another entry: the view flies there."""
        self.view.chosen_spot = index
        self.spot_chosen.emit(entry)

    def dismiss(self, key: str) -> None:
        """A weak spot is fine as it is, or after all not."""
        self.change(self.tr("Fine as it is"), lambda job: edits.dismiss(job, key))

    def change(self, label: str, edit: Callable[[Job], Job]) -> None:
        """Any other edit."""
        try:
            self.store.apply(label, edit)
        except SnapcombError as problem:
            self.said.emit("attention", str(problem), ())

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

    def add_row(self) -> bool:
        """Add the row in hand to the part. False, and nothing changes, when it cannot be planned."""
        design = self.draft_design()
        if design is None:
            return False
        name = self.tr("Add {0} teeth").format(design.plan.teeth)
        self.store.apply(name, edits.add_row)
        return True
