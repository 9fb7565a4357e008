"""From a job to everything that follows from it, each stage computed once for its inputs.

The cache is disposable: throw it away and the same results come again. ``counts`` tells how often each stage really
ran, which the tests use to see that changing one value recomputes only what depends on it.
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import TypeVar, cast

import numpy as np

from core.design.measure_span import measure_span
from core.design.plan import RowPlan, plan_row
from core.design.plan_wall import plan_on_look
from core.design.post import Post, post_at
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.tooth import Teeth, row_solids
from core.design.wall import WallPlan, WallWishes
from core.design.wall_body import wall_sketch, wall_solid
from core.design.wall_look import WallLook, look_for_wall
from core.design.wall_row import plan_row_on_wall, span_below, span_on_wall
from core.errors import SnapcombError
from core.geometry.mesh import Mesh, joined
from core.geometry.polyline import Polyline
from core.geometry.skin import added_to, one_surface
from core.job.job import Job, Pick, PostPick, Row

T = TypeVar("T")
#: Results kept; a span or a plan is small, and a moved mesh is the only large one.
KEPT = 400


@dataclass(frozen=True, eq=False)
class WallDesign:
    """A wall worked out: its plan and its solid (bed mm)."""

    plan: WallPlan
    solid: Mesh


@dataclass(frozen=True, eq=False)
class RowDesign:
    """A row worked out: its span, its plan, its teeth (bed mm) and the wall that was built for it, if any."""

    row: Row
    span: Span
    plan: RowPlan
    teeth: Teeth
    wall: WallDesign | None = None

    def solids(self) -> list[Mesh]:
        """What is added to the part: the wall, then the teeth, one mesh each (bed mm)."""
        return [*([self.wall.solid] if self.wall else []), *self.teeth.each()]


class Pipeline:
    """Stages with a cache keyed by their inputs. Not shared between threads."""

    def __init__(self) -> None:
        self._cache: OrderedDict[Hashable, object] = OrderedDict()
        self.counts: Counter[str] = Counter()

    def _once(self, stage: str, key: Hashable, make: Callable[[], T]) -> T:
        full = (stage, key)
        if full in self._cache:
            self._cache.move_to_end(full)
            kept = self._cache[full]
        else:
            self.counts[stage] += 1
            try:
                kept = make()
            except SnapcombError as problem:
                kept = problem
            self._cache[full] = kept
            while len(self._cache) > KEPT:
                self._cache.popitem(last=False)
        if isinstance(kept, SnapcombError):
            raise kept.with_traceback(None)
        return cast(T, kept)

    def bed_mesh(self, job: Job) -> Mesh:
        """The part in its print pose, bed mm."""
        return self._once("bed_mesh", (job.part.mesh, job.pose), lambda: job.part.mesh.moved(job.pose.matrix))

    def span(self, job: Job, pick: Pick) -> Span:
        """The span of a pick. Raises SpanProblem."""
        return self._once("span", self._span_key(job, pick), lambda: self._measure(job, pick))

    def keep_span(self, job: Job, pick: Pick, found: Span | SnapcombError) -> None:
        """Put in a span (or the reason why there is none) that was measured elsewhere."""
        self._cache["span", self._span_key(job, pick)] = found

    def span_known(self, job: Job, pick: Pick) -> bool:
        """Whether the span of a pick can be had at once."""
        return ("span", self._span_key(job, pick)) in self._cache

    def _span_key(self, job: Job, pick: Pick) -> Hashable:
        return (job.part.mesh, job.pose, replace(pick, gap=""), span_setup(job.setup))

    def _measure(self, job: Job, pick: Pick) -> Span:
        def on_bed(line: Polyline) -> Polyline:
            return line.moved(job.pose.matrix)

        direction = None
        if pick.gap_direction is not None and pick.ledge is None:
            x, y, z = job.pose.turn(np.array(pick.gap_direction))
            direction = (float(x), float(y), float(z))
        return measure_span(
            self.bed_mesh(job),
            on_bed(pick.edge),
            job.setup,
            ledge=None if pick.ledge is None else on_bed(pick.ledge),
            gap_direction=direction,
        )

    def wall_plan(self, job: Job, row: Row) -> WallPlan:
        """The plan of the wall below a row. Raises SpanProblem or PlanRefused."""
        look, wishes = self._wall_look(job, row.pick), row.wall or WallWishes()
        return self._once("wall_plan", self._wall_key(job, row), lambda: plan_on_look(look, job.setup, wishes))

    def _wall_key(self, job: Job, row: Row) -> Hashable:
        return (job.part.mesh, job.pose, row.pick.edge, row.wall, job.setup)

    def _wall_look(self, job: Job, pick: Pick) -> WallLook:
        key = (job.part.mesh, job.pose, pick.edge)
        return self._once(
            "wall_look", key, lambda: look_for_wall(self.bed_mesh(job), pick.edge.moved(job.pose.matrix))
        )

    def wall(self, job: Job, row: Row) -> WallDesign:
        """The wall below a row. Raises SpanProblem, PlanRefused or MeshProblem."""
        return self._once("wall", self._wall_key(job, row), lambda: self._build_wall(job, row))

    def _build_wall(self, job: Job, row: Row) -> WallDesign:
        plan = self.wall_plan(job, row)
        return WallDesign(plan, wall_solid(self.bed_mesh(job), plan))

    def wall_known(self, job: Job, row: Row) -> bool:
        """Whether the wall below a row, with the span above it, can be had at once."""
        return ("wall_span", self._wall_key(job, row)) in self._cache

    def keep_wall(self, job: Job, row: Row, found: tuple[WallDesign, Span] | SnapcombError) -> None:
        """Put in a wall with the span above it (or the reason why there is none) that was worked out elsewhere."""
        wall, span = (found, found) if isinstance(found, SnapcombError) else found
        key = self._wall_key(job, row)
        self._cache["wall", key], self._cache["wall_span", key] = wall, span

    def sketch(self, job: Job, row: Row, last: RowDesign) -> RowDesign:
        """A row on a wall as good as it can be had while a figure is being changed: the wall is not cut back from the
        part, and the span is the ``last`` one that was measured for this edge. Raises SpanProblem and PlanRefused.
        """
        assert last.wall is not None
        plan = self.wall_plan(job, row)
        key, deeper = self._wall_key(job, row), plan.gap - last.wall.plan.gap
        wall = self._once("sketch", key, lambda: WallDesign(plan, wall_sketch(plan)))
        span = self._once(
            "sketch_span", (key, last.span), lambda: span_below(last.span, deeper)
        )
        figures = plan_row_on_wall(span, row.wishes, job.setup, learned=job.learned)
        return RowDesign(row, span, figures, row_solids(span, figures), wall)

    def row_span(self, job: Job, row: Row) -> Span:
        """The span of a row: that of its pick, or the one above the wall that is built for it."""
        if row.wall is None:
            return self.span(job, row.pick)
        return self._once("wall_span", self._wall_key(job, row), lambda: self._measure_on_wall(job, row))

    def _measure_on_wall(self, job: Job, row: Row) -> Span:
        wall = self.wall(job, row)
        return span_on_wall(self.bed_mesh(job), wall.plan, wall.solid, job.setup)

    def mesh_below(self, job: Job, row: Row) -> Mesh:
        """What a row stands on and holds: the part, with the wall that is built for it (bed mm)."""
        if row.wall is None:
            return self.bed_mesh(job)
        wall = self.wall(job, row)
        return self._once("with_wall", wall, lambda: joined([self.bed_mesh(job), wall.solid]))

    def plan(self, job: Job, row: Row) -> RowPlan:
        """The plan of a row. Raises SpanProblem or PlanRefused."""
        span = self.row_span(job, row)
        rule = plan_row if row.wall is None else plan_row_on_wall
        key = (span, row.wishes, job.setup, job.learned, rule)
        return self._once("plan", key, lambda: rule(span, row.wishes, job.setup, learned=job.learned))

    def design(self, job: Job, row: Row) -> RowDesign:
        """Span, plan and teeth of a row, and its wall. Raises SpanProblem, PlanRefused or MeshProblem."""
        wall = None if row.wall is None else self.wall(job, row)
        span, plan = self.row_span(job, row), self.plan(job, row)
        teeth = self._once("teeth", (span, plan), lambda: row_solids(span, plan))
        return RowDesign(row, span, plan, teeth, wall)

    def added(self, job: Job) -> tuple[RowDesign, ...]:
        """Every added row worked out. Raises when one of them no longer can be."""
        return tuple(self.design(job, row) for row in job.rows)

    def post(self, job: Job, pick: PostPick) -> Post:
        """A single post worked out, bed mm. Raises SpanProblem and PlanRefused."""
        key = (job.part.mesh, job.pose, job.setup, pick.at, pick.wishes)
        return self._once(
            "post", key, lambda: post_at(self.bed_mesh(job), job.pose.apply(np.array(pick.at)), job.setup, pick.wishes)
        )

    def teeth_in_file(self, job: Job) -> list[Mesh]:
        """The teeth of all added rows, the walls built for them and the single posts, one mesh each, file mm."""
        back = job.pose.inverse.matrix
        solids = [solid for d in self.added(job) for solid in d.solids()]
        return [solid.moved(back) for solid in (*solids, *(self.post(job, p).solid for p in job.posts))]

    def bonded_part(self, job: Job) -> Mesh:
        """The part with all added rows, joined the way the job says, file mm. Raises NotASolid."""
        key = (job.part.mesh, job.pose, job.setup, job.learned, job.rows, job.posts, job.bond)
        return self._once("bond", key, lambda: self._bonded(job))

    def _bonded(self, job: Job) -> Mesh:
        part, teeth = job.part, self.teeth_in_file(job)
        if job.bond == "shells" or not teeth:
            return joined([part.mesh, *teeth])
        surface = self._once("surface", part.mesh, lambda: one_surface(part.mesh, part.topology))
        return added_to(surface, teeth, part.mm_per_unit)

    def all_teeth(self, job: Job) -> Mesh:
        """All added teeth and walls in one mesh, file mm."""
        return joined(self.teeth_in_file(job))


def span_setup(setup: PrintSetup) -> tuple[float, ...]:
    """The figures of the setup that a span depends on, so that changing the material does not measure it again."""
    return (setup.layer_height, setup.line_width, setup.least_printable, setup.longest_tooth)
