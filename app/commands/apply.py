"""``snapcomb apply``: a saved job run again, on its own mesh or on a newer revision of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from app.commands.options import Choice, Json, Out, Replace
from app.commands.output import progress_bar
from app.commands.revising import print_revision, revision_json, say_rows
from app.commands.status import NEEDS_A_PERSON
from app.commands.writing import report, vet_mesh_ending, vet_output, write

if TYPE_CHECKING:
    from app.commands.output import Progress
    from core.diagnose.found import Inspection
    from core.job.job import Job

#: A revision of more facets is not inspected: that would take longer than everything else.
MOST_INSPECTED = 250_000


def apply(
    job: Annotated[Path, Parameter(metavar="JOB", help="A saved job.")],
    /,
    *,
    output: Annotated[Out, Parameter(help="The mesh to write; its ending says the format.")],
    to: Annotated[
        Path | None, Parameter(metavar="FILE", help="A newer revision of the job's mesh, or where that mesh is now.")
    ] = None,
    replace: Replace = False,
    json: Json = False,
    choice: Choice = None,
) -> int:
    """Run a saved job again, write the patched mesh and print what was added.

    On a newer revision every row is found again by its edge, also where the part was moved, cut into other triangles
    or written in another unit. What changed is told; what could be in several places is left out, never guessed.

    Exit status: 0 done, 1 a row could not be added, changed or is in doubt, or the proof stops at a finding, 3 job or
    mesh cannot be read.
    """
    vet_mesh_ending(output)
    vet_output(output, [job])
    if to is not None:
        vet_output(output, [to], replace=replace)
    from core.job.fit import run_rows
    from core.job.job_file import load_job
    from core.job.pipeline import Pipeline
    from core.job.revision_file import on_revision

    pipeline = Pipeline()
    with progress_bar(job.name) as progress:
        progress(0.1, "Reading job and mesh")
        named = None if to is None else on_revision(job, to, choice, pipeline)
        loaded, revision = (load_job(job), None) if named is None else (named.job, named.revision)
        found = _inspected(loaded, always=revision is None, progress=progress)
        fitted = run_rows(loaded, pipeline, lambda f, t: progress(0.5 + 0.2 * f, t), found=found)
        progress(0.7, "Writing and reading back")
        written = write(fitted, output, pipeline, only_teeth=False, replace=replace, choice=choice)
    if revision is None:
        return report(fitted, written, json=json)
    if not json:
        print_revision(revision)
    say_rows(revision)
    status = report(fitted, written, json=json, more={"revision": revision_json(revision)})
    return NEEDS_A_PERSON if revision.needs_a_person else status


def _inspected(job: Job, *, always: bool, progress: Progress) -> Inspection | None:
    """What an inspection finds, so that the designer's rows count in the proof; for large revisions it is left out."""
    if not job.rows or not (always or len(job.part.mesh.triangles) <= MOST_INSPECTED):
        return None
    from core.diagnose.inspection import inspect_part

    return inspect_part(
        job.part, job.pose, job.limits, dismissed=job.dismissed, piece_overrides=job.pieces,
        progress=lambda f, t: progress(0.2 + 0.3 * f, t),
    )  # fmt: skip
