"""Fitting rows to gaps without a window: which gaps, which wishes, what came of each.

A gap that cannot have a row never stops the others; it is told together with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from core.design.plan import RowWishes
from core.design.post_spots import is_small, posts_for_spot
from core.design.span import Span
from core.design.wall import WallWishes
from core.design.wall_area import block_volume, lines_for_spot
from core.diagnose.found import Inspection, ListedSpot
from core.diagnose.gaps import Gap
from core.errors import BadValue, SnapcombError, SpanProblem
from core.job.holding import Diagnosed, company, on_wall
from core.job.job import Job, Pick, PostPick, Row, add_posts, add_rows, add_walls
from core.job.like import like_row
from core.job.pipeline import Pipeline, RowDesign
from core.job.wall_facts import wall_json
from core.proof.prove import Proof, prove_row, row_json

Progress = Callable[[float, str], None]


@dataclass(frozen=True, eq=False)
class Added:
    """A row that can stand, worked out and proved. ``gap`` is the inspection's id of its gap, or ""."""

    gap: str
    design: RowDesign
    proof: Proof
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Skipped:
    """A gap that got no row, and why, in a sentence."""

    gap: str
    why: str


@dataclass(frozen=True, eq=False)
class Fitted:
    """The job with its new rows, and what became of every gap that was asked for.

    ``blocks`` holds for weak spots that walls were built for the volume (mm³) of a solid block below them.
    """

    job: Job
    added: tuple[Added, ...]
    skipped: tuple[Skipped, ...]
    blocks: tuple[tuple[str, float], ...] = ()

    @property
    def needs_a_person(self) -> bool:
        """Whether a gap got no row or the proof stops at a finding."""
        return bool(self.skipped) or any(f.level == "stop" for a in self.added for f in a.proof.findings)


def gap_pick(job: Job, gap_id: str, span: Span) -> Pick:
    """A pick that stands for a gap of the inspection, kept in file mm so that it can be measured again elsewhere."""
    back = job.pose.inverse.matrix
    direction = None
    if span.direction == "side":
        x, y, z = job.pose.inverse.turn(span.to_bed @ np.array([0.0, 0.0, 1.0]))
        direction = (float(x), float(y), float(z))
    return Pick(span.edge_line.moved(back), None, direction, gap_id)


def fit_rows(
    job: Job,
    inspection: Inspection,
    pipeline: Pipeline,
    *,
    gaps: Sequence[str] | None = None,
    wishes: RowWishes | None = None,
    like: str | None = None,
    walls: WallWishes | None = None,
    progress: Progress = lambda _fraction, _text: None,
) -> Fitted:
    """Rows at the gaps with these ids, or at all that lack teeth.

    They are sized by ``wishes`` and, where those say nothing, like the row that stands there under the id ``like``.
    With ``walls`` weak spots that have no ledge get sacrificial walls with rows on them; ``gaps`` may name them, too.
    Raises BadValue for a gap or a row that the inspection does not have.
    """
    spots = [] if walls is None else bare_spots(inspection, gaps)
    named = None if gaps is None else [n for n in gaps if walls is None or all(s.id != n.lower() for s in spots)]
    chosen = (
        [g for g in inspection.gaps if not g.enough] if named is None else [_gap(inspection, name) for name in named]
    )
    wanted = wishes or RowWishes()
    asked: list[tuple[Gap, Pick, RowWishes, tuple[str, ...]]] = []
    for gap in chosen:
        pick = gap_pick(job, gap.id, gap.span)
        sized, words = _sized(inspection, like, _span(job, pick, gap, pipeline), wanted, job)
        asked.append((gap, pick, sized, words))
    trial = add_rows(job, tuple((pick, sized) for _, pick, sized, _ in asked))
    built, none = walls_for_spots(trial, spots, pipeline, walls or WallWishes(), wanted)
    new = built.rows[len(job.rows) :]
    job = replace(job, posts=built.posts)
    said = [words for *_, words in asked] + [()] * (len(new) - len(asked))
    done = _worked_out(job, new, said, pipeline, progress, inspection)
    if walls is not None:
        done = _posts_instead(done, inspection, pipeline, walls)
    blocks = tuple((s.id, block_volume(s, job.limits)) for s in spots)
    return replace(done, skipped=(*done.skipped, *none), blocks=blocks)


def _posts_instead(done: Fitted, inspection: Inspection, pipeline: Pipeline, walls: WallWishes) -> Fitted:
    """Posts below small weak spots whose gap or wall could carry no row."""
    spot_of = {s.id: s for s in inspection.weak_spots}
    spot_of |= {g.id: spot_of[g.weak_spot] for g in inspection.gaps if g.weak_spot in spot_of}
    job, left = done.job, []
    for skipped in done.skipped:
        spot = spot_of.get(skipped.gap)
        small = spot is not None and is_small(spot, job.setup)
        propped = _propped(job, spot, pipeline, walls) if spot is not None and small else None
        left += [skipped] if propped is None else []
        job = propped or job
    return replace(done, job=job, skipped=tuple(left))


def bare_spots(inspection: Inspection, names: Sequence[str] | None) -> list[ListedSpot]:
    """Weak spots without a ledge below: those named by their ids, or all that nobody called fine as they are."""
    served = {g.weak_spot for g in inspection.gaps}
    if names is not None:
        return [s for s in inspection.weak_spots if s.id in {n.lower() for n in names}]
    return [s for s in inspection.weak_spots if s.id not in served and not s.dismissed]


def walls_for_spots(
    job: Job, spots: Sequence[ListedSpot], pipeline: Pipeline, walls: WallWishes, wishes: RowWishes
) -> tuple[Job, tuple[Skipped, ...]]:
    """The job with the rows and walls that the spots need, and the spots that can have none."""
    skipped = []
    back = job.pose.inverse.matrix
    for spot in spots:
        small = is_small(spot, job.setup)
        if small and spot.kind == "island" and (propped := _propped(job, spot, pipeline, walls)) is not None:
            job = propped
            continue
        try:
            lines = lines_for_spot(pipeline.bed_mesh(job), spot, job.setup, walls)
        except SnapcombError as problem:
            propped = _propped(job, spot, pipeline, walls) if small else None
            skipped += [] if propped is not None else [Skipped(spot.id, str(problem))]
            job = propped or job
            continue
        rows = tuple((Pick(n.edge.moved(back), gap=spot.id), _over(n.row, wishes), n.wall) for n in lines)
        job = add_walls(job, rows)
    return job, tuple(skipped)


def _propped(job: Job, spot: ListedSpot, pipeline: Pipeline, walls: WallWishes) -> Job | None:
    """The job with single posts below a small spot; None where none can stand."""
    try:
        posts = posts_for_spot(pipeline.bed_mesh(job), spot, job.setup, walls)
    except SnapcombError:
        return None
    points = job.pose.inverse.apply(np.array([p.at for p in posts]))
    return add_posts(job, tuple(((float(x), float(y), float(z)), spot.id) for x, y, z in points), walls)


def _over(sized: RowWishes, wishes: RowWishes) -> RowWishes:
    """What was asked for, over what was sized."""
    usual = RowWishes()
    return replace(sized, **{n: v for n, v in vars(wishes).items() if v != getattr(usual, n)})


def run_rows(
    job: Job,
    pipeline: Pipeline,
    progress: Progress = lambda _fraction, _text: None,
    *,
    found: Diagnosed | None = None,
) -> Fitted:
    """The rows of a saved job worked out again on its mesh; those that cannot stand are left out and told.

    ``found`` is what an inspection of the part found, so that the designer's rows count in the proof.
    """
    return _worked_out(replace(job, rows=()), job.rows, [()] * len(job.rows), pipeline, progress, found)


def fitted_json(fitted: Fitted) -> dict[str, object]:
    """What was added and what was skipped, as the commands print it; ``posts`` where there are any. File mm."""
    posts = [_post_json(pick, fitted) for pick in fitted.job.posts]
    return {
        "added": [_added_json(one, fitted) for one in fitted.added],
        "skipped": [{"gap": s.gap or None, "why": s.why} for s in fitted.skipped],
    } | ({"posts": posts} if posts else {})


def _post_json(pick: PostPick, fitted: Fitted) -> dict[str, object]:
    post = Pipeline().post(fitted.job, pick)
    return {
        "name": f"post {pick.number}", "weak_spot": pick.gap or None, "at": [round(x, 3) for x in pick.at],
        "height_mm": round(post.height, 3), "tip_mm": round(post.tip, 3), "stands_on": post.base,
        "volume_mm3": round(post.solid.volume, 3),
    }  # fmt: skip


def _added_json(added: Added, fitted: Fitted) -> dict[str, object]:
    design, job = added.design, fitted.job
    gap = added.gap if design.wall is None else None
    out = row_json(added.proof, design, job.pose, gap=gap or None, name=f"new {design.row.number}")
    if design.wall is not None:
        wall = wall_json(design.wall.plan, design.wall.solid, job)
        wall["share_of_block"] = share_of_block(fitted, added.gap)
        out |= {"weak_spot": added.gap or None, "wall": wall}
    return out


def share_of_block(fitted: Fitted, spot: str) -> float | None:
    """Volume of all walls and teeth below a weak spot, as a share of a solid block below it; None when not known."""
    block = dict(fitted.blocks).get(spot)
    there = [a.design for a in fitted.added if a.gap == spot and a.design.wall is not None]
    volume = sum(solid.volume for design in there for solid in design.solids())
    return round(volume / block, 4) if block else None


def _gap(inspection: Inspection, name: str) -> Gap:
    for gap in inspection.gaps:
        if name.lower() in (gap.id.lower(), gap.id.lstrip("g")):
            return gap
    known = ", ".join(g.id for g in inspection.gaps) or "none"
    raise BadValue(f"There is no gap {name} in this part.", f"“inspect” lists them: {known}.")


def _span(job: Job, pick: Pick, gap: Gap, pipeline: Pipeline) -> Span:
    """The span measured from the pick itself, as a saved job will measure it, so that a second run gives the same."""
    try:
        return pipeline.span(job, pick)
    except SpanProblem:
        pipeline.keep_span(job, pick, gap.span)
        return gap.span


def _sized(
    inspection: Inspection, like: str | None, span: Span, wishes: RowWishes, job: Job
) -> tuple[RowWishes, tuple[str, ...]]:
    """Wishes for one gap: the pattern's figures, and over them what was asked for."""
    if like is None:
        return wishes, ()
    pattern = next((r for r in inspection.rows if like.lower() in (r.id.lower(), r.id.lstrip("r"))), None)
    if pattern is None:
        known = ", ".join(r.id for r in inspection.rows) or "none"
        raise BadValue(f"There is no row {like} in this part.", f"“inspect” lists them: {known}.")
    sized, words = like_row(pattern, RowWishes(), span, job.setup)
    usual = RowWishes()
    set_here = {n: v for n, v in vars(wishes).items() if v != getattr(usual, n)}
    if "teeth" in set_here and "pitch" not in set_here:
        set_here["pitch"] = None
    return replace(sized, **set_here), words


def _worked_out(
    job: Job, rows: Sequence[Row], words: Iterable[tuple[str, ...]], pipeline: Pipeline, progress: Progress,
    found: Diagnosed | None,
) -> Fitted:  # fmt: skip
    """Design each row, then prove each in the company of the others."""
    kept: list[tuple[RowDesign, tuple[str, ...]]] = []
    skipped = []
    for number, (row, said) in enumerate(zip(rows, words, strict=True)):
        progress(0.5 * number / len(rows), f"Planning row {number + 1} of {len(rows)}")
        try:
            kept.append((pipeline.design(job, row), said))
        except SnapcombError as problem:
            skipped.append(Skipped(row.pick.gap, str(problem)))
    done = replace(job, rows=(*job.rows, *(design.row for design, _ in kept)))
    added = []
    designs = [*pipeline.added(job), *(design for design, _ in kept)]
    for number, (design, said) in enumerate(kept):
        progress(0.5 + 0.5 * number / len(kept), f"Proving row {number + 1} of {len(kept)}")
        proof = prove_among(job, design, designs, pipeline, found)
        added.append(Added(design.row.pick.gap, design, proof, said))
    return Fitted(done, tuple(added), tuple(skipped))


def prove_among(
    job: Job, design: RowDesign, designs: Sequence[RowDesign], pipeline: Pipeline, found: Diagnosed | None
) -> Proof:
    """The proof of a row among the other rows of a job (``designs``) and, once inspected, the designer's own."""
    others = [d for d in designs if d.row.number != design.row.number]
    known = company(pipeline.bed_mesh(job), found, design, others) if design.wall is None else on_wall(design)
    return prove_row(
        pipeline.mesh_below(job, design.row), design.span, design.plan, job.setup, teeth=design.teeth,
        others=[d.teeth for d in others], standing=known.standing, beside=known.beside, piece=known.piece,
        learned=job.learned, name=f"row {design.row.number}",
    )  # fmt: skip
