"""``snapcomb fit``: size rows of teeth, add them to the mesh, write it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from app.commands.options import Bonds, Choice, Json, Out, Replace, RowOptions, SetupOptions, Unit, Up
from app.commands.output import progress_bar
from app.commands.reading import read_job
from app.commands.status import UsageError
from app.commands.writing import report, vet_mesh_ending, vet_output, write

if TYPE_CHECKING:
    from core.design.bond import Bond
    from core.design.setup import PrintSetup
    from core.job.fit import Fitted
    from core.job.hand_over import HandedOver

Gaps = Annotated[
    list[str] | None,
    Parameter(negative="", metavar="N…", help="Gaps to treat, as “inspect” numbers them."),
]


def fit(
    file: Annotated[Path, Parameter(metavar="FILE", help="The mesh.")],
    /,
    *,
    output: Annotated[Out, Parameter(help="The mesh to write; its ending says the format.")],
    gap: Gaps = None,
    all: Annotated[bool, Parameter(negative="", help="Treat every gap that lacks teeth.")] = False,
    like: Annotated[str | None, Parameter(metavar="ROW", help="Size the rows like row ROW of “inspect”.")] = None,
    wall: Annotated[bool, Parameter(negative="", help="Build a sacrificial wall where there is no ledge.")] = False,
    only_teeth: Annotated[bool, Parameter(negative="", help="Write the teeth alone, in place.")] = False,
    job: Annotated[Path | None, Parameter(metavar="JOBFILE", help="Keep the job in this file, too.")] = None,
    bond: Bonds = "shells",
    replace: Replace = False,
    json: Json = False,
    unit: Unit = None,
    up: Up = "file",
    choice: Choice = None,
    rows: RowOptions = RowOptions(),  # noqa: B008  (frozen)
    options: SetupOptions = SetupOptions(),  # noqa: B008  (frozen)
) -> int:
    """Size rows of teeth at gaps, add them to the mesh, write it and print what was added.

    Exit status: 0 done, 1 a gap got no row or the proof stops at a finding, 2 bad usage, 3 nothing could be read.
    """
    if not gap and not all:
        raise UsageError("Say which gaps to treat.", "Use --gap N, with numbers from “snapcomb inspect”, or --all.")
    if gap and all:
        raise UsageError("--gap and --all exclude each other.", "Use one of them.")
    vet_mesh_ending(output)
    vet_output(output, [file], replace=replace)
    if job is not None:
        vet_output(job, [file, output])
    fitted, written = _fit(
        file, output, rows, options.setup(), gaps=None if all else gap, like=like, wall=wall, bond=bond,
        only_teeth=only_teeth, replace=replace, read={"unit": unit, "up": up, "choice": choice},
    )  # fmt: skip
    if job is not None and written is not None:
        from core.job.job_file import save_job
        from core.job.row_again import Figures

        save_job(fitted.job, job, figures={a.design.row.number: Figures.of(a.design.span) for a in fitted.added})
    return report(fitted, written, json=json)


def _fit(
    file: Path, output: Path, rows: RowOptions, setup: PrintSetup, *, gaps: list[str] | None, like: str | None,
    wall: bool, bond: Bond, only_teeth: bool, replace: bool, read: dict[str, Any],
) -> tuple[Fitted, HandedOver | None]:  # fmt: skip
    """Read, inspect, fit and write."""
    from dataclasses import replace as changed

    from core.design.wall import WallWishes
    from core.diagnose.inspection import inspect_part
    from core.job.fit import fit_rows
    from core.job.pipeline import Pipeline

    pipeline = Pipeline()
    with progress_bar(file.name) as progress:
        job = changed(read_job(file, setup, **read), bond=bond)
        found = inspect_part(job.part, job.pose, setup, progress=lambda f, t: progress(0.6 * f, t))
        fitted = fit_rows(
            job, found, pipeline, gaps=gaps, wishes=rows.wishes(), like=like, walls=WallWishes() if wall else None,
            progress=lambda f, t: progress(0.6 + 0.2 * f, t),
        )  # fmt: skip
        progress(0.8, "Writing and reading back")
        written = write(fitted, output, pipeline, only_teeth=only_teeth, replace=replace, choice=read["choice"])
    return fitted, written
