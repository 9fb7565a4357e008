"""A job carried over to a newer revision of its mesh: every row found again, or said not to be.

The part is registered as a whole first, then each edge is looked for by itself, so that a moved part and a changed one
are told apart. Nothing is chosen silently: what could be one of several places is named and left out.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Final, get_args

import numpy as np
from scipy.spatial import cKDTree

from core.geometry.landmarks import Landmarks
from core.geometry.mesh import F64
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose, as_filed, seated
from core.geometry.register import Motion, Target, registered
from core.geometry.relocate import COVERED
from core.job.job import Job, Row
from core.job.pipeline import Pipeline
from core.job.posts_again import posts_again, posts_gone
from core.job.repair_record import repair_notes
from core.job.row_again import Carry, Figures, RowFound, neighbours_of
from core.units import MM_PER, UnitName

#: How far a row is looked for, as a share of the part's size, and within which limits, mm. From memory.
REACH, REACH_LEAST, REACH_MOST = 0.12, 6.0, 25.0
#: A unit is thinkable when the new part then is not larger or smaller than this, as a ratio.
LIKE_SIZE: Final = 1.5
#: What lies this near to a row's edge tells where the row is, mm: edge and ledge of a usual gap. From memory.
ABOUT: Final = 3.0
#: Rotations whose numbers differ by less are the same.
SAME_TURN: Final = 1e-6
_SPOT_KEY: Final = re.compile(r"^(\w+)@([-\d.e]+),([-\d.e]+),([-\d.e]+)(#\d+)?$")


@dataclass(frozen=True, eq=False)
class Revision:
    """The job on the new part with the rows that were found, what became of each, and how the part moved."""

    job: Job
    rows: tuple[RowFound, ...]
    motion: Motion | None
    notes: tuple[str, ...]

    @property
    def needs_a_person(self) -> bool:
        """Whether a row is not simply where it was."""
        return any(r.status not in ("matched", "moved") for r in self.rows)


@dataclass(frozen=True, eq=False)
class Remembered:
    """What a job file knows of its part when that itself is gone: landmarks (file mm), and figures by row number."""

    landmarks: Landmarks
    figures: Mapping[int, Figures]


def carried_over(job: Job, part: Part, pipeline: Pipeline, remembered: Remembered | None = None) -> Revision:
    """The job carried over to ``part``, a newer revision of its own part.

    Where the old part is gone, ``remembered`` stands for it; the job may then lie on any part, which is not looked at.
    """
    old = job.part.landmarks if remembered is None else remembered.landmarks
    part, motions, words = _placed(job.part.unit, old, part)
    if not motions:
        lost = "too little of the part is found again to say where it was"
        gone = tuple(RowFound(r.number, "gone", lost) for r in job.rows)
        return Revision(_fresh(job, part, None), (*gone, *posts_gone(job, lost)), None, words)
    motions = _borne_out(job, motions, old, part)
    motion = motions[0]
    here = part.landmarks.moved(Pose.of(motion.matrix).inverse.matrix)
    reach = float(np.clip(REACH * old.size, REACH_LEAST, REACH_MOST))
    base = _fresh(job, part, motion)
    ctx = Carry(job, base, old, here, reach, motions, pipeline, None if remembered is None else remembered.figures)
    told: dict[int, tuple[Row | None, RowFound]] = {}
    free = []  # rows that follow no edge of the part go where their neighbours went
    for row in job.rows:
        found = ctx.edge_found(row)
        if found is None:
            free.append(row)
        else:
            told[row.number] = ctx.row(row, found)
    for row in free:
        told[row.number] = ctx.row(row, ctx.under(row, [told[n][1] for n in neighbours_of(job, row) if n in told]))
    posts = posts_again(job, base, motions, pipeline)
    found_rows = (*(told[r.number][1] for r in job.rows), *(found for _, found in posts))
    rows = [again for r in job.rows if (again := told[r.number][0]) is not None]
    notes = (*words, *_motion_words(motion), *_let_go(job), *repair_notes(part))
    kept = {r.number for r in rows}
    outcomes = tuple(o for o in job.outcomes if o[0] in kept)
    standing = tuple(post for post, _ in posts if post is not None)
    return Revision(replace(base, rows=tuple(rows), posts=standing, outcomes=outcomes), found_rows, motion, notes)


def settled(
    revision: Revision, old: Job, places: Mapping[int, int] | None = None, left_out: Collection[int] = ()
) -> Job:
    """The new job as a person decided. ``old`` is the job that was carried over.

    ``places`` tells, by number of row, which of its ``choices`` an ambiguous row takes; those that are not named stay
    out, and so do the rows ``left_out``. Rows keep their numbers and their order.
    """
    kept = {r.number: r for r in revision.job.rows if r.number not in left_out}
    wanted = {r.number: r.choices for r in revision.rows if r.choices}
    for number, place in (places or {}).items():
        row = next(r for r in old.rows if r.number == number)
        kept[number] = replace(row, pick=wanted[number][place])
    rows = tuple(kept[r.number] for r in old.rows if r.number in kept)
    outcomes = tuple(o for o in revision.job.outcomes if o[0] in kept)
    posts = tuple(post for post in revision.job.posts if post.number not in left_out)
    return replace(revision.job, rows=rows, posts=posts, outcomes=outcomes)


# The part as a whole


def _placed(unit: UnitName, old: Landmarks, part: Part) -> tuple[Part, list[Motion], tuple[str, ...]]:
    """The new part in the unit that makes it like the old one, and the motions old → new that do equally well."""
    units = [part.unit] if part.unit_stated else _thinkable(unit, old, part)
    for name in units:
        candidate = part.in_unit(name)
        motions = registered(old, candidate.landmarks)
        if motions:
            said = () if part.unit_stated or name == unit else (f"The new file was read in {name}, by its size.",)
            return candidate, motions, said
    return part.in_unit(unit) if not part.unit_stated else part, [], ()


def _borne_out(job: Job, motions: list[Motion], old: Landmarks, part: Part) -> list[Motion]:
    """Of motions that bring the whole part onto the new one equally well, those that bring the rows' edges there, too.

    A part may fit in many ways but for the very edge that a row stands below, so the landmarks about every row are
    looked at by themselves. Rows about which none of the ways finds enough decide nothing, and where no way serves
    all the others, all are left.
    """
    about = [_about(row.pick.edge, old) for row in job.rows]
    about = [samples for samples in about if len(samples[0])]
    if len(motions) < 2 or not about:
        return motions
    target = Target.of(part.landmarks)
    share = np.array([[_found_again(m, *samples, target) for samples in about] for m in motions])
    telling = share.max(axis=0) >= COVERED
    kept = [m for m, row in zip(motions, share, strict=True) if (row[telling] >= COVERED).all()]
    return kept or motions


def _about(line: Polyline, old: Landmarks) -> tuple[F64, F64]:
    """Points along the landmarks within ABOUT of a line, and their directions, each (k, 3), file mm of the old part."""
    samples = old.samples(1.0)
    points = line.at(np.linspace(0, line.length, max(int(line.length), 8) + 1))
    near, _ = cKDTree(points).query(samples.points, distance_upper_bound=ABOUT)
    kept = np.isfinite(near)
    return samples.points[kept], samples.along[kept]


def _found_again(motion: Motion, points: F64, along: F64, target: Target) -> float:
    """The share of these points that a motion brings onto landmarks."""
    turn = motion.matrix[:3, :3].T
    good, _, _ = target.met(points @ turn + motion.matrix[:3, 3], along @ turn)
    return float(good.mean())


def _thinkable(unit: UnitName, old: Landmarks, part: Part) -> list[UnitName]:
    """Units in which the new part is about as large as the old one, the likeliest first; the old one's own at least."""
    low, high = part.mesh.bounds
    size = float(np.linalg.norm(high - low)) / part.mm_per_unit
    off = {name: abs(np.log(max(size * MM_PER[name], 1e-12) / max(old.size, 1e-12))) for name in get_args(UnitName)}
    near = sorted((name for name in off if off[name] <= np.log(LIKE_SIZE)), key=lambda n: (off[n], n != unit))
    return near or [unit]


def _fresh(job: Job, part: Part, motion: Motion | None) -> Job:
    """The job on the new part without its rows: its print pose is kept, however the new file turns the part."""
    turn = np.eye(3) if motion is None else motion.matrix[:3, :3]
    rotation = job.pose.matrix[:3, :3] @ turn.T
    filed = np.abs(rotation - np.eye(3)).max() < SAME_TURN and not job.pose.matrix[:2, 3].any()
    pose = as_filed(part.mesh) if filed else seated(part.mesh, rotation)
    dismissed = job.dismissed if motion is None or motion.still else tuple(_spot(k, motion) for k in job.dismissed)
    bare = replace(job, rows=(), posts=(), draft=None, pieces=(), outcomes=())
    return replace(bare, part=part, pose=pose, dismissed=dismissed)


def _spot(key: str, motion: Motion) -> str:
    """The lasting name of a weak spot where it is now: its kind and its place in the file."""
    match = _SPOT_KEY.match(key)
    if match is None:
        return key
    kind, *place, twin = match.groups()
    x = motion.matrix[:3, :3] @ np.array([float(p) for p in place]) + motion.matrix[:3, 3]
    there = ",".join(f"{round(float(c) * 2) / 2 + 0.0:g}" for c in x)
    return f"{kind}@{there}{twin or ''}"


def _motion_words(motion: Motion) -> tuple[str, ...]:
    share = f"{100 * motion.share:.0f} % of its edges are found again within {motion.residual:.2f} mm"
    if motion.still:
        return (f"The part lies where it lay; {share}.",)
    turn = np.degrees(np.arccos(np.clip((np.trace(motion.matrix[:3, :3]) - 1) / 2, -1, 1)))
    x, y, z = motion.matrix[:3, 3]
    turned = f"turned by {turn:.1f}° and " if turn > 0.05 else ""
    return (f"The part lies elsewhere in its file, {turned}shifted by ({x:.2f}, {y:.2f}, {z:.2f}) mm; {share}. "
            "The job keeps its print pose.",)  # fmt: skip


def _let_go(job: Job) -> tuple[str, ...]:
    out = []
    if job.draft is not None:
        out.append("The row in hand was let go: it had not been added.")
    if job.pieces:
        out.append("What you said about pieces was let go: they are counted anew.")
    return tuple(out)
