"""What the hand does to sacrificial walls: built below a weak spot or an edge, and changed figure by figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from app.bench.picks import BenchPicks
from core.design.post import Post
from core.design.surface_lines import line_on_surface
from core.design.wall import WallWishes
from core.errors import PlanRefused, SnapcombError
from core.geometry.mesh import F64
from core.job import job as edits
from core.job.job import Job, Pick, PostPick, Row

#: A face looks down when its outward normal points down by this much.
LEAST_DOWN: Final = 0.05


class BenchWalls(BenchPicks):
    """Walls, each with the row on its top."""

    def build_walls(self, key: str) -> None:
        """Build sacrificial walls with rows below a weak spot that has no ledge."""
        job, found = self.job, self.results.inspection
        spot = next((s for s in found.weak_spots if s.key == key), None) if found is not None else None
        if job is None or spot is None:
            return

        def planned(found: tuple[tuple[Row, ...], tuple[PostPick, ...]]) -> None:
            rows, posts = found
            wanted = tuple((r.pick, r.wishes, r.wall) for r in rows if r.wall is not None)
            points = tuple((p.at, p.gap) for p in posts)
            if self.job is not None and self.job.part is job.part and self.job.pose == job.pose and found != ((), ()):
                self.store.apply(
                    self.tr("Build walls"),
                    lambda j: edits.add_posts(edits.add_walls(edits.drop_draft(j), wanted), points),
                )

        self.progressed.emit("walls", 0.0, self.tr("Planning walls"))
        self.runner.post(
            "walls", "walls", job, spot, then=planned, fail=lambda p: self.said.emit("attention", str(p), ())
        )

    def build_wall_here(self) -> None:
        """Build a wall below the edge in hand, and take it in hand with its row."""
        edge = self._edge_in_hand()
        if self.job is None or edge is None:
            return

        def edit(job: Job) -> Job:
            return edits.wish_wall(edits.pick_edge(job, Pick(edge)), WallWishes())

        self.view.waiting = None
        self.results.trouble.pop("pick", None)
        self.view.accepted = True
        self.store.apply(self.tr("Build a wall here"), edit)
        self.set_mode("pick")

    def click_point(self, triangle: int, point: F64) -> None:
        """Take a point (bed mm) of an underside for a post or, with others, for a wall."""
        mesh = self.bed_mesh()
        if mesh is None or not 0 <= triangle < len(mesh.triangles):
            return
        if mesh.normals[triangle, 2] > -LEAST_DOWN:
            self.said.emit("note", self.tr("Pick a point on an underside, where something hangs."), ())
            return
        self.view.points = [*self.view.points, point]
        self.refreshed.emit()

    def finish_points(self) -> None:
        """Build what was picked: a post under a single point, a wall below the line through several."""
        job, mesh, points = self.job, self.bed_mesh(), self.view.points
        if job is None or mesh is None or not points:
            return
        back = job.pose.inverse
        try:
            if len(points) == 1:
                x, y, z = (float(v) for v in back.apply(points[0]))
                self.pipeline.post(job, PostPick(0, (x, y, z)))
                self.store.apply(self.tr("Set a post"), lambda j: edits.add_posts(j, (((x, y, z), ""),)))
            else:
                pick = Pick(line_on_surface(mesh, np.array(points)).moved(back.matrix))
                self.store.apply(
                    self.tr("Build a wall here"), lambda j: edits.wish_wall(edits.pick_edge(j, pick), WallWishes())
                )
                self.view.accepted = True
        except SnapcombError as problem:
            self.said.emit("attention", str(problem), ())
        self.set_mode("pick")

    def take_out_post(self, number: int) -> None:
        """Take a single post out again."""
        self.change(self.tr("Take post {0} out").format(number), lambda j: edits.take_out_post(j, number))

    def posts(self) -> list[tuple[PostPick, Post | SnapcombError]]:
        """The single posts of the job, or the reason why one cannot stand."""
        out: list[tuple[PostPick, Post | SnapcombError]] = []
        for pick in self.job.posts if self.job is not None else ():
            try:
                out.append((pick, self.pipeline.post(self.job, pick)))
            except SnapcombError as problem:
                out.append((pick, problem))
        return out

    def wish_wall(self, label: str, **figures: object) -> None:
        """Set figures of the wall in hand; None makes one automatic again. An impossible wish changes nothing."""
        wall = self._wall_in_hand()
        if wall is None:
            return
        wishes = replace(wall, **figures)
        if not self._wall_possible(wishes):
            self.refreshed.emit()
            return
        self.store.apply(label, lambda j: edits.wish_wall(j, wishes))

    def preview_wall(self, label: str, **figures: object) -> None:
        """Show the wall with figures that are still being typed or dragged; nothing is kept of them yet."""
        wall = self._wall_in_hand()
        if wall is None:
            return
        wishes = replace(wall, **figures)
        if self._wall_possible(wishes):
            self.store.begin_drag(label)
            self.store.preview(lambda j: edits.wish_wall(j, wishes))

    def _wall_in_hand(self) -> WallWishes | None:
        return None if self.job is None or self.job.draft is None else self.job.draft.wall

    def _wall_possible(self, wishes: WallWishes) -> bool:
        """Whether the wall in hand can be had so; if not, the reason is put where the wish was made."""
        assert self.job is not None
        trial = edits.wish_wall(self.job, wishes)
        assert trial.draft is not None
        trouble = self.results.trouble
        try:
            if self._measured_already(trial, trial.draft):
                self.worked_out(trial, trial.draft)
        except PlanRefused as problem:
            trouble["wish"], trouble["wish_field"] = str(problem), problem.field
            return False
        except SnapcombError as problem:
            trouble["wish"], trouble["wish_field"] = str(problem), ""
            return False
        trouble.pop("wish", None)
        return True
