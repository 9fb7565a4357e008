"""Fitting rows to gaps without a window: which gaps, which wishes, what came of each.

A gap that cannot have a row never stops the others; it is told together with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from core.design.plan import RowWishes
from core.design.span import Span
from core.diagnose.gaps import Gap
from core.diagnose.inspection import Inspection
from core.errors import BadValue, SnapcombError, SpanProblem
from core.job.holding import Diagnosed, company
from core.job.job import Job, Pick, Row, add_rows
from core.job.like import like_row
from core.job.pipeline import Pipeline, RowDesign
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
    """The job with its new rows, and what became of every gap that was asked for."""

    job: Job
    added: tuple[Added, ...]
    skipped: tuple[Skipped, ...]

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
    progress: Progress = lambda _fraction, _text: None,
) -> Fitted:
    """Rows at the gaps with these ids, or at all that lack teeth.

    They are sized by ``wishes`` and, where those say nothing, like the row that stands there under the id ``like``.
    Raises BadValue for a gap or a row that the inspection does not have.
    """
    chosen = [g for g in inspection.gaps if not g.enough] if gaps is None else [_gap(inspection, name) for name in gaps]
    wanted = wishes or RowWishes()
    asked: list[tuple[Gap, Pick, RowWishes, tuple[str, ...]]] = []
    for gap in chosen:
        pick = gap_pick(job, gap.id, gap.span)
        sized, words = _sized(inspection, like, _span(job, pick, gap, pipeline), wanted, job)
        asked.append((gap, pick, sized, words))
    trial = add_rows(job, tuple((pick, sized) for _, pick, sized, _ in asked))
    new = trial.rows[len(job.rows) :]
    return _worked_out(job, new, [words for *_, words in asked], pipeline, progress, inspection)


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
    """What was added and what was skipped, as the commands print it. Points in file mm."""
    return {
        "added": [_added_json(one, fitted.job) for one in fitted.added],
        "skipped": [{"gap": s.gap or None, "why": s.why} for s in fitted.skipped],
    }


def _added_json(added: Added, job: Job) -> dict[str, object]:
    design = added.design
    return row_json(added.proof, design, job.pose, gap=added.gap or None, name=f"new {design.row.number}")


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
    mesh = pipeline.bed_mesh(job)
    others = [d for d in designs if d.row.number != design.row.number]
    known = company(mesh, found, design, others)
    return prove_row(
        mesh, design.span, design.plan, job.setup, teeth=design.teeth, others=[d.teeth for d in others],
        standing=known.standing, beside=known.beside, piece=known.piece, learned=job.learned,
        name=f"row {design.row.number}",
    )  # fmt: skip
