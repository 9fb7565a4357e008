"""What the hand does to sacrificial walls: built below a weak spot or an edge, and changed figure by figure."""

from __future__ import annotations

from dataclasses import replace

from app.bench.picks import BenchPicks
from core.design.wall import WallWishes
from core.errors import PlanRefused, SnapcombError
from core.job import job as edits
from core.job.job import Job, Pick, Row


class BenchWalls(BenchPicks):
    """Walls, each with the row on its top."""

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
