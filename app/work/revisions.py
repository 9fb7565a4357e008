"""Worker tasks that carry a job over to a newer revision of its mesh."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from app.work.context import Context
from core.diagnose.edge_index import EdgeIndex, edge_index
from core.files.read import read_part
from core.job.job import Job
from core.job.repair_record import mended_again
from core.job.revision import Revision, carried_over
from core.job.revision_file import on_revision


@dataclass(frozen=True, eq=False)
class Carried:
    """A job on a mesh that was named: ``old`` is what was carried over, ``revision`` None on its very own mesh; with
    the edges of the new part that can be picked."""

    job: Job
    old: Job
    revision: Revision | None
    edges: EdgeIndex


def carry_job(context: Context, job: Job, path: Path, choice: str | None) -> Carried:
    """A job that is open, carried over to the mesh in a file."""
    context.progress(0.1, "Reading the newer file")
    part = mended_again(read_part(path, job.part.unit, choice=choice), job.part.repairs)
    context.check()
    context.progress(0.4, "Finding its rows again")
    revision = carried_over(job, part, context.pipeline)
    return _with_edges(context, revision.job, job, revision)


def carry_file(context: Context, file: Path, path: Path, choice: str | None) -> Carried:
    """A job file on the mesh in a file, whether that is its own or a newer revision."""
    context.progress(0.1, "Reading job and mesh")
    named = on_revision(file, path, choice, context.pipeline)
    return _with_edges(context, named.job, named.old, named.revision)


def _with_edges(context: Context, job: Job, old: Job, revision: Revision | None) -> Carried:
    context.check()
    context.progress(0.8, "Finding edges")
    _ = job.part.topology.shell_count  # travels with the edges, so that the window need not work it out
    return Carried(job, old, revision, edge_index(job.part, job.pose))
