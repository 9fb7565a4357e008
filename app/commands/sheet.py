"""``snapcomb sheet``: the job sheet with pictures, made without a display."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from app.commands.options import Out
from app.commands.output import progress_bar, say
from app.commands.status import DONE, NEEDS_A_PERSON, program_version
from app.commands.writing import vet_output

if TYPE_CHECKING:
    from core.diagnose.found import Inspection
    from core.job.job import Job

#: Parts of more facets are not inspected for a sheet unless that is asked for: it would take longer than the sheet.
MOST_INSPECTED = 250_000


def sheet(
    job: Annotated[Path, Parameter(metavar="JOB", help="A saved job.")],
    /,
    *,
    output: Annotated[Out, Parameter(help="The sheet to write, PDF or HTML by its ending.")],
    mesh: Annotated[
        Path | None, Parameter(metavar="FILE", help="Where the job's mesh is, if not where it was.")
    ] = None,
    paper: Annotated[Literal["a4", "letter"], Parameter(help="The paper.")] = "a4",
    inspect: Annotated[
        bool | None,
        Parameter(
            show_default=lambda _value: f"up to {MOST_INSPECTED:,} facets",
            help="Look for weak spots and for rows that are there already, and list them, too.",
        ),
    ] = None,
) -> int:
    """Write the job sheet: pictures, drawings to scale, every dimension, the proof, what to mind when printing.

    Exit status: 0 done, 1 a row could not be worked out or the proof stops at a finding, 2 the job has no row,
    3 job or mesh cannot be read.
    """
    from app.sheet.make import make_sheet, vet_ending
    from core.job.job_file import load_job
    from core.job.sheet import file_mark

    vet_ending(output)
    vet_output(output, [job] if mesh is None else [job, mesh])
    with progress_bar(job.name) as progress:
        progress(0.0, "Reading job and mesh")
        loaded = load_job(job, mesh)
        found = _inspected(loaded, inspect, lambda f, t: progress(0.4 * f, t))
        made = make_sheet(
            loaded, output, inspection=found, files=[file_mark(job, "The job")], inputs=[job], paper=paper,
            program=f"Snapcomb {program_version()}", progress=lambda f, t: progress(0.4 + 0.6 * f, t),
        )  # fmt: skip
    for reason in made.skipped:
        say(reason)
    say(f"Wrote {output}.")
    return NEEDS_A_PERSON if made.needs_a_person else DONE


def _inspected(job: Job, wanted: bool | None, progress: object) -> Inspection | None:
    """What an inspection finds, when it is wanted or quick; there is no need of it for a job without rows."""
    quick = len(job.part.mesh.triangles) <= MOST_INSPECTED
    if not job.rows or not (quick if wanted is None else wanted):
        return None
    from core.diagnose.inspection import inspect_part

    return inspect_part(
        job.part, job.pose, job.limits, dismissed=job.dismissed, piece_overrides=job.pieces,
        progress=progress,  # type: ignore[arg-type]
    )  # fmt: skip
