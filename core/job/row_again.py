"""One row of a job found again on a newer revision of its part, or the reason why it is not.

The edge decides: where it is now, whether that is beyond doubt, and then whether the row still stands there.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from core.design.span import Direction, Span
from core.errors import SnapcombError
from core.geometry.columns import Columns
from core.geometry.landmarks import Landmarks
from core.geometry.mesh import F64, Mesh
from core.geometry.polyline import Polyline
from core.geometry.register import Motion
from core.geometry.relocate import COVERED, IN_PLACE, RESIDUAL, Found, find_again, near_equal, raised
from core.job.job import Job, Pick, Row
from core.job.pipeline import Pipeline

Status = Literal["matched", "moved", "changed", "gone", "ambiguous"]
#: Lengths and gaps that differ by less are the same, mm: half a usual layer and half a line.
SAME_GAP, SAME_LENGTH = 0.1, 0.2
#: Places that are looked at more closely, and what a gap counts that differs by a millimetre, mm of way. From memory.
MOST_PLACES, GAP_COUNTS = 5, 2.0
#: A row of which less is left, as a share of its length, is gone: what is there is another place. From memory.
LEAST_LEFT: Final = 0.4
#: Two lines are one when no point of either is farther from the other, mm.
SAME_LINE: Final = 0.5


@dataclass(frozen=True)
class Figures:
    """The figures of a row's span: length, least and greatest gap, mm."""

    direction: Direction
    length: float
    low: float
    high: float

    @classmethod
    def of(cls, span: Span) -> Figures:
        """The figures of a span."""
        return cls(span.direction, span.length, *span.gap_range)


@dataclass(frozen=True, eq=False)
class RowFound:
    """What became of a row. ``way`` mm that it moved beside the part's own motion, ``raised`` mm of it in the way of
    the gap; ``residual`` mm of how far the edge found strays from one place. ``before`` and ``after`` are None where
    there is no span. ``choices`` are the places of an ambiguous row, file mm of the new part, for a person to choose
    from. ``kind`` says whether it is a row at all, or a single post."""

    number: int
    status: Status
    words: str
    way: float = 0.0
    residual: float = 0.0
    before: Figures | None = None
    after: Figures | None = None
    raised: float = 0.0
    choices: tuple[Pick, ...] = ()
    kind: Literal["row", "post"] = "row"

    @property
    def kept(self) -> bool:
        """Whether the row is in the new job."""
        return self.status in ("matched", "moved", "changed")


def neighbours_of(job: Job, row: Row) -> list[int]:
    """Rows that were built for the same spot."""
    return [r.number for r in job.rows if r.number != row.number and r.pick.gap and r.pick.gap == row.pick.gap]


@dataclass(frozen=True, eq=False)
class Carry:
    """What is needed to find rows again: both jobs, the landmarks of both parts in the old file's frame, how far to
    look, and the motions old → new that do equally well. ``figures`` are those of the rows where the old part itself
    is gone."""

    job: Job
    base: Job
    old: Landmarks
    here: Landmarks
    reach: float
    motions: Sequence[Motion]
    pipeline: Pipeline
    figures: Mapping[int, Figures] | None = None

    @property
    def whole(self) -> bool:
        """Whether the old part itself is there to be measured."""
        return self.figures is None

    def before(self, row: Row) -> Figures | None:
        """What a row looked like on the old part, as far as that is known."""
        return figures_of(self.job, row, self.pipeline) if self.figures is None else self.figures.get(row.number)

    def edge_found(self, row: Row) -> list[Found] | None:
        """Where the edge of a row may be; None when it follows no edge of the part."""
        return find_again(row.pick.edge, self.gap(row), self.old, self.here, reach=self.reach)

    def gap(self, row: Row) -> F64:
        """The unit vector from ledge to edge in the old file."""
        up = np.array([0.0, 0.0, 1.0])
        if row.wall is None and self.whole:
            with contextlib.suppress(SnapcombError):
                return self.job.pose.inverse.turn(self.pipeline.span(self.job, row.pick).to_bed @ up)
        if row.pick.gap_direction is not None:
            return np.asarray(np.array(row.pick.gap_direction) / np.linalg.norm(row.pick.gap_direction))
        return self.job.pose.inverse.turn(self._from_ledge(row.pick) if row.wall is None else up)

    def _from_ledge(self, pick: Pick) -> F64:
        """Up, or for an upright edge with a ledge beside it the level way from there to the edge; bed frame."""
        up = np.array([0.0, 0.0, 1.0])
        edge = pick.edge.moved(self.job.pose.matrix)
        rise = edge.array[-1] - edge.array[0]
        if pick.ledge is None or edge.closed or abs(rise[2]) <= np.hypot(rise[0], rise[1]):
            return up
        middle = edge.at(edge.length / 2)[0]
        ledge = pick.ledge.moved(self.job.pose.matrix)
        points = ledge.at(np.linspace(0, ledge.length, 200))
        way = (middle - points[int(np.argmin(np.linalg.norm(points - middle, axis=1)))]) * [1, 1, 0]
        return np.asarray(way / np.linalg.norm(way)) if np.linalg.norm(way) > 1e-6 else up

    def under(self, row: Row, neighbours: Sequence[RowFound]) -> list[Found]:
        """The place of a row below a plain underside: where that is now, by what its neighbours say."""
        gap = self.gap(row)
        if abs(self.job.pose.turn(gap)[2] - 1) > 1e-6:
            return []
        went = [n.raised for n in neighbours if n.kept]
        for by in dict.fromkeys([0.0, round(float(np.median(went)), 4) if went else 0.0]):
            line = raised(row.pick.edge, gap, by)
            on_bed = line.moved(self.motions[0].matrix).moved(self.base.pose.matrix)
            share, residual = _below_underside(self.pipeline.bed_mesh(self.base), on_bed)
            if share >= COVERED:
                return [Found(line, np.array([0.0, by]), share, residual, np.zeros(2))]
        return []

    def row(self, row: Row, found: list[Found]) -> tuple[Row | None, RowFound]:
        """One row on the new part, or None, and what became of it."""
        motion, before = self.motions[0], self.before(row)
        if _elsewhere(row.pick.edge, self.motions):
            elsewhere = tuple(_pick_moved(row.pick, row.pick.edge, m) for m in self.motions)
            text = f"the part fits in {len(self.motions)} ways that put this row in different places"
            return None, RowFound(row.number, "ambiguous", text, before=before, choices=elsewhere)
        likely = self.likely(row, found, before)
        if not likely:
            return None, RowFound(row.number, "gone", "no edge like its own is left there", before=before)
        if len(likely) > 1:
            picks = tuple(_pick_moved(row.pick, f.line, motion) for f in likely)
            text = f"{len(likely)} edges are as likely: {' or '.join(_way_words(f, before) for f in likely)}"
            return None, RowFound(row.number, "ambiguous", text, before=before, choices=picks)
        return self.stood_up(row, likely[0], before)

    def likely(self, row: Row, found: Sequence[Found], before: Figures | None) -> list[Found]:
        """The places that the gap speaks for, too: one with no ledge below is none if another has one."""
        if len(found) < 2 or found[0].way <= IN_PLACE or row.wall is not None:
            return near_equal(found)
        rows = [(f, self.stood(row, f, None)) for f in found[:MOST_PLACES]]
        seen = [(f, figures_of(self.base, again, self.pipeline)) for f, again in rows]
        there = [(f, after) for f, after in seen if after is not None] or seen
        costs = [f.cost + GAP_COUNTS * _other_gap(before, after) for f, after in there]
        return near_equal([f for f, _ in there], costs)

    def stood(self, row: Row, found: Found, ledge: Found | None) -> Row:
        """The row on an edge that was found, in the new file."""
        below = None if ledge is None else ledge.line
        return replace(row, pick=_pick_moved(row.pick, found.line, self.motions[0], below))

    def stood_up(self, row: Row, found: Found, before: Figures | None) -> tuple[Row | None, RowFound]:
        """The row on its new edge, measured there, and how it differs."""
        ledge = self.ledge(row)
        again = self.stood(row, found, ledge)
        try:
            after = _measured(self.base, again, self.pipeline)
        except SnapcombError as problem:
            words = f"its edge is there, but {problem.what[0].lower()}{problem.what[1:]}".rstrip(".")
            return None, RowFound(row.number, "gone", words, found.way, found.residual, before)
        if before is not None and after.length < LEAST_LEFT * before.length:
            words = f"its edge is there, but only {after.length:.2f} of {before.length:.2f} mm still face a ledge"
            return None, RowFound(row.number, "gone", words, found.way, found.residual, before, after)
        lost = row.pick.ledge is not None and ledge is None
        status, words = _told(found, self.motions[0], before, after, lost)
        up = float(found.offset[1])
        return again, RowFound(row.number, status, words, found.way, found.residual, before, after, up)

    def ledge(self, row: Row) -> Found | None:
        """The picked ledge in the new part, where one was picked and is found without doubt."""
        if row.pick.ledge is None:
            return None
        likely = near_equal(find_again(row.pick.ledge, self.gap(row), self.old, self.here, reach=self.reach) or [])
        return likely[0] if len(likely) == 1 else None


def _below_underside(mesh: Mesh, line: Polyline) -> tuple[float, float]:
    """The share of a line (bed mm) that lies on an underside of ``mesh``, and how far it is off there, mm."""
    points = line.at((np.arange(40) + 0.5) * line.length / 40)
    columns = Columns.over(mesh, points[:, :2].min(axis=0) - 1, points[:, :2].max(axis=0) + 1)
    _, ceiling = columns.air_around(points[:, :2], points[:, 2] - 2 * RESIDUAL)
    off = ceiling - points[:, 2]
    on = np.isfinite(off) & (np.abs(off) <= RESIDUAL)
    return float(on.mean()), float(np.sqrt((off[on] ** 2).mean())) if on.any() else 0.0


def _pick_moved(pick: Pick, edge: Polyline, motion: Motion, ledge: Polyline | None = None) -> Pick:
    """What was picked, on these lines of the old file, carried into the new one."""
    direction = None
    if pick.gap_direction is not None:
        x, y, z = motion.matrix[:3, :3] @ np.array(pick.gap_direction)
        direction = (float(x), float(y), float(z))
    if not motion.still:
        edge, ledge = edge.moved(motion.matrix), None if ledge is None else ledge.moved(motion.matrix)
    return Pick(edge, ledge, direction, pick.gap)


def _elsewhere(line: Polyline, motions: Sequence[Motion]) -> bool:
    """Whether the motions bring a line to more than one place."""
    lines = tuple(line.moved(m.matrix) for m in motions)
    return any(_distance(lines[0], other) > SAME_LINE for other in lines[1:])


def _distance(a: Polyline, b: Polyline) -> float:
    """The Hausdorff distance of two lines, mm, by points every half millimetre."""
    p, q = (line.at(np.linspace(0, line.length, max(16, int(line.length / 0.5)))) for line in (a, b))
    apart = np.linalg.norm(p[:, None] - q[None], axis=2)
    return float(max(apart.min(axis=1).max(), apart.min(axis=0).max()))


def _other_gap(before: Figures | None, after: Figures | None) -> float:
    """How much a gap differs, mm; nothing where either is not known."""
    if before is None or after is None:
        return 0.0
    return max(abs(after.low - before.low), abs(after.high - before.high))


def figures_of(job: Job, row: Row, pipeline: Pipeline) -> Figures | None:
    """The figures of a row on its job's part; None where the row cannot stand."""
    try:
        return _measured(job, row, pipeline)
    except SnapcombError:
        return None


def _measured(job: Job, row: Row, pipeline: Pipeline) -> Figures:
    """The figures of a row. Raises what measuring or building its wall raises."""
    return Figures.of(pipeline.row_span(job, row))


def _told(
    found: Found, motion: Motion, before: Figures | None, after: Figures, lost_ledge: bool
) -> tuple[Status, str]:
    """What became of a row that stands again, and the words for it."""
    out = []
    if before is not None and abs(after.length - before.length) > SAME_LENGTH:
        out.append(f"its span is {after.length:.2f} mm long, was {before.length:.2f}")
    elif before is None and abs(float(found.ends.sum())) > SAME_LENGTH:
        longer = float(found.ends.sum())
        out.append(f"its edge is {abs(longer):.2f} mm {'longer' if longer > 0 else 'shorter'}")
    if before is not None and max(abs(after.low - before.low), abs(after.high - before.high)) > SAME_GAP:
        out.append(f"its gap is {_span(after)} mm, was {_span(before)}")
    if lost_ledge:
        out.append("its picked ledge is not found again, so the nearest one is taken")
    changed = bool(out)
    if found.way > IN_PLACE:
        out.insert(0, f"its edge went {_way_words(found, before)}")
    if changed:
        return "changed", "; ".join(out)
    if before is None:
        out.append("what its gap was is not known")
        return "changed", "; ".join(out)
    if out or not motion.still:
        return "moved", "; ".join(out) or "moved with the part"
    return "matched", "where it was"


def _span(f: Figures) -> str:
    low, high = f"{f.low:.2f}", f"{f.high:.2f}"
    return low if low == high else f"{low} to {high}"


def _way_words(found: Found, before: Figures | None) -> str:
    """How far an edge went, in the words of its gap."""
    across, along = (float(x) for x in found.offset)
    side = before is not None and before.direction == "side"
    further, nearer = ("off the fin", "towards the fin") if side else ("up", "down")
    parts = [f"{abs(along):.2f} mm {further if along > 0 else nearer}"] if abs(along) > IN_PLACE else []
    parts += [f"{abs(across):.2f} mm across"] if abs(across) > IN_PLACE else []
    return " and ".join(parts) or "nowhere"
