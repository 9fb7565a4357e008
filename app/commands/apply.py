"""``snapcomb apply``: a saved job run again on its own mesh."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from app.commands.options import Choice, Json, Out, Replace
from app.commands.output import progress_bar
from app.commands.writing import report, vet_mesh_ending, vet_output, write
from core.errors import RefusedFile


def apply(
    job: Annotated[Path, Parameter(metavar="JOB", help="A saved job.")],
    /,
    *,
    output: Annotated[Out, Parameter(help="The mesh to write; its ending says the format.")],
    to: Annotated[Path | None, Parameter(metavar="FILE", help="Where the job's mesh is, if not where it was.")] = None,
    replace: Replace = False,
    json: Json = False,
    choice: Choice = None,
) -> int:
    """Run a saved job again on its own mesh, write the patched mesh and print what was added.

    Exit status: 0 done, 1 a row could not be added or the proof stops at a finding, 3 job or mesh cannot be read.
    """
    vet_mesh_ending(output)
    vet_output(output, [job])
    if to is not None:
        vet_output(output, [to], replace=replace)
    from core.diagnose.inspection import inspect_part
    from core.job.fit import run_rows
    from core.job.job_file import MeshDiffers, load_job
    from core.job.pipeline import Pipeline

    pipeline = Pipeline()
    with progress_bar(job.name) as progress:
        progress(0.1, "Reading job and mesh")
        try:
            loaded = load_job(job, to)
        except MeshDiffers as problem:
            if to is None:
                raise
            raise RefusedFile(
                f"{problem.what} Fitting a job to a newer revision of its mesh is not possible in this version.",
                "Give the original mesh, or fit the new one with “snapcomb fit”.",
            ) from problem
        found = inspect_part(
            loaded.part, loaded.pose, loaded.limits, dismissed=loaded.dismissed, piece_overrides=loaded.pieces,
            progress=lambda f, t: progress(0.2 + 0.3 * f, t),
        )  # fmt: skip
        fitted = run_rows(loaded, pipeline, lambda f, t: progress(0.5 + 0.2 * f, t), found=found)
        progress(0.7, "Writing and reading back")
        written = write(fitted, output, pipeline, only_teeth=False, replace=replace, choice=choice)
    return report(fitted, written, json=json)
