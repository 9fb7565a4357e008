"""The job: everything that the person decided, and nothing that follows from it.

A job is immutable; an edit makes a new one, and undo keeps the old ones (arrays are shared, so a step costs bytes).
Picked lines are kept in file mm, so that turning the part on the bed does not lose them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from core.design.bond import Bond
from core.design.learned import Learned
from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.design.wall import WallWishes
from core.errors import BadValue
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose, as_filed
from core.proof.learn import Lesson, Outcome, learned_from
from core.units import UnitName

Frame = Literal["file", "bed"]


@dataclass(frozen=True)
class Pick:
    """A picked overhang edge and, when one was picked, its ledge; file mm.

    ``gap_direction`` (file frame, from ledge to edge) is given where the gap runs sideways and no ledge was picked.
    ``gap`` is the inspection's id of the gap that the pick was taken from, or "".
    """

    edge: Polyline
    ledge: Polyline | None = None
    gap_direction: tuple[float, float, float] | None = None
    gap: str = ""


@dataclass(frozen=True)
class Row:
    """A row of teeth: where it stands and what was wished for it. ``number`` names it for good within the job.

    With ``wall`` it stands on a sacrificial wall that is built for it; the pick then names the edge alone.
    """

    number: int
    pick: Pick
    wishes: RowWishes = field(default_factory=RowWishes)
    wall: WallWishes | None = None


@dataclass(frozen=True)
class PostPick:
    """A single post under a picked point ``at`` (file mm) of an underside. ``number`` names it among rows and posts;
    ``gap`` is the inspection's id of the weak spot that it was set for, or "".
    """

    number: int
    at: tuple[float, float, float]
    wishes: WallWishes = field(default_factory=WallWishes)
    gap: str = ""


@dataclass(frozen=True, eq=False)
class Job:
    """The whole state that undo, saving and handing over know.

    ``working`` is the rotation (nine numbers, bed → working axes) by which the part is looked at, or None.
    ``rows`` were added to the part; ``draft`` is the row in hand. ``dismissed`` names weak spots that are fine as they
    are, ``pieces`` corrects the guess which pieces are thrown away: (key of the piece, sacrificial or not).
    ``notes`` are the person's own words, kept with the job. ``lessons`` are what was printed before in this and other
    setups; ``outcomes`` tell how the rows of this job went after the print, by the number of the row. ``posts`` are
    single posts under picked points.
    """

    part: Part
    pose: Pose
    setup: PrintSetup = field(default_factory=PrintSetup)
    working: tuple[float, ...] | None = None
    rows: tuple[Row, ...] = ()
    draft: Row | None = None
    bond: Bond = "shells"
    dismissed: tuple[str, ...] = ()
    pieces: tuple[tuple[str, bool], ...] = ()
    notes: tuple[str, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    outcomes: tuple[tuple[int, Outcome], ...] = ()
    posts: tuple[PostPick, ...] = ()

    @property
    def adds(self) -> bool:
        """Whether anything is added to the part."""
        return bool(self.rows or self.posts)

    @cached_property
    def learned(self) -> Learned:
        """What the lessons teach about the setup of this job."""
        return learned_from(self.lessons, self.setup)

    @property
    def limits(self) -> PrintSetup:
        """The setup with the bridge that the person saw to hold in place of the limit, for finding what will sag."""
        bridge = self.learned.clear_bridge
        return self.setup if bridge is None else replace(self.setup, clear_bridge=min(max(bridge, 0.5), 60.0))

    @property
    def all_rows(self) -> tuple[Row, ...]:
        """Rows added and the one in hand."""
        return (*self.rows, self.draft) if self.draft else self.rows


def new_job(part: Part, setup: PrintSetup | None = None) -> Job:
    """A fresh job on a part, in the pose as filed."""
    return Job(part, as_filed(part.mesh), setup or PrintSetup())


def _next_number(job: Job) -> int:
    rows, posts = (r.number for r in job.all_rows), (p.number for p in job.posts)
    return max((*rows, *posts), default=0) + 1


def pick_edge(job: Job, pick: Pick) -> Job:
    """Take an edge in hand; the wishes of the row in hand before it are kept as far as they are about tooth form."""
    kept = job.draft.wishes if job.draft else RowWishes()
    wishes = replace(kept, teeth=None, pitch=None, start=0.0, stop=0.0, left_out=(), moved=())
    return replace(job, draft=Row(_next_number(replace(job, draft=None)), pick, wishes))


def pick_ledge(job: Job, ledge: Polyline | None) -> Job:
    """Choose the ledge for the edge in hand; None goes back to the proposed one. Raises BadValue without an edge."""
    if job.draft is None:
        raise BadValue("There is no edge in hand.", "Pick an overhang edge first.")
    pick = replace(job.draft.pick, ledge=ledge, gap_direction=None if ledge else job.draft.pick.gap_direction, gap="")
    return replace(job, draft=replace(job.draft, pick=pick, wall=None if ledge else job.draft.wall))


def wish(job: Job, wishes: RowWishes) -> Job:
    """Set the wishes of the row in hand. Raises BadValue when there is none."""
    if job.draft is None:
        raise BadValue("There is no row in hand.", "Pick an overhang edge first.")
    return replace(job, draft=replace(job.draft, wishes=wishes))


def wish_wall(job: Job, wall: WallWishes | None) -> Job:
    """Build a wall for the row in hand, or none. Raises BadValue when there is no row in hand."""
    if job.draft is None:
        raise BadValue("There is no row in hand.", "Pick an overhang edge first.")
    return replace(job, draft=replace(job.draft, wall=wall))


def drop_draft(job: Job) -> Job:
    """Let the edge in hand go."""
    return replace(job, draft=None)


def add_row(job: Job) -> Job:
    """Add the row in hand to the part. Raises BadValue when there is none."""
    if job.draft is None:
        raise BadValue("There is no row in hand.", "Pick an overhang edge first.")
    return replace(job, rows=(*job.rows, job.draft), draft=None)


def add_rows(job: Job, rows: tuple[tuple[Pick, RowWishes], ...]) -> Job:
    """Add several rows at once, for "take all"."""
    first = _next_number(job)
    return replace(job, rows=(*job.rows, *(Row(first + i, p, w) for i, (p, w) in enumerate(rows))))


def add_walls(job: Job, rows: tuple[tuple[Pick, RowWishes, WallWishes], ...]) -> Job:
    """Add several rows at once, each on a wall of its own."""
    first = _next_number(job)
    return replace(job, rows=(*job.rows, *(Row(first + i, *row) for i, row in enumerate(rows))))


def add_posts(
    job: Job, posts: tuple[tuple[tuple[float, float, float], str], ...], wishes: WallWishes | None = None
) -> Job:
    """Add single posts: each a point (file mm) and the id of the weak spot that it is for, or ""."""
    first, wanted = _next_number(job), wishes or WallWishes()
    new = tuple(PostPick(first + i, at, wanted, gap) for i, (at, gap) in enumerate(posts))
    return replace(job, posts=(*job.posts, *new))


def take_out_post(job: Job, number: int) -> Job:
    """Take a post out again. Raises BadValue when there is no such post."""
    if all(p.number != number for p in job.posts):
        raise BadValue(f"There is no post {number}.", "Choose one of the posts on the job sheet.")
    return replace(job, posts=tuple(p for p in job.posts if p.number != number))


def take_out(job: Job, number: int) -> Job:
    """Take an added row out of the part again. Raises BadValue when there is no such row."""
    if all(r.number != number for r in job.rows):
        raise BadValue(f"There is no row {number}.", "Choose one of the rows on the job sheet.")
    kept = tuple((n, seen) for n, seen in job.outcomes if n != number)
    return replace(job, rows=tuple(r for r in job.rows if r.number != number), outcomes=kept)


def take_in_hand(job: Job, number: int) -> Job:
    """Take an added row back in hand to change it. Raises BadValue when there is no such row."""
    row = next((r for r in job.rows if r.number == number), None)
    if row is None:
        raise BadValue(f"There is no row {number}.", "Choose one of the rows on the job sheet.")
    return replace(take_out(job, number), draft=row)


def read_in(job: Job, unit: UnitName) -> Job:
    """Read the file in another unit. Rows were measured in the old one, so they are let go; the turn is kept."""
    if unit == job.part.unit:
        return job
    part = job.part.in_unit(unit)
    scale = part.mm_per_unit / job.part.mm_per_unit
    matrix = job.pose.matrix.copy()
    matrix[:3, 3] *= scale
    bare = replace(job, rows=(), draft=None, dismissed=(), pieces=(), outcomes=(), posts=())
    return replace(bare, part=part, pose=Pose.of(matrix))


def dismiss(job: Job, key: str) -> Job:
    """Say that a weak spot is fine as it is (or, said again, that it is not)."""
    gone = job.dismissed
    return replace(job, dismissed=tuple(k for k in gone if k != key) if key in gone else (*gone, key))


def judge_piece(job: Job, key: str, sacrificial: bool) -> Job:
    """Correct the guess whether a piece is thrown away."""
    return replace(job, pieces=(*((k, v) for k, v in job.pieces if k != key), (key, sacrificial)))


def note_outcome(job: Job, number: int, seen: Outcome | None) -> Job:
    """Note how an added row went in print, or take the note back. Raises BadValue for a row that is not there."""
    if all(r.number != number for r in job.rows):
        raise BadValue(f"There is no row {number}.", "Choose one of the rows on the job sheet.")
    others = tuple((n, o) for n, o in job.outcomes if n != number)
    noted = others if seen is None else tuple(sorted((*others, (number, seen)), key=lambda pair: pair[0]))
    return job if noted == job.outcomes else replace(job, outcomes=noted)
