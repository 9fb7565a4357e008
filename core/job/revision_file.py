"""A job file run on another mesh than its own: read, told apart from its own mesh, and carried over."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from core.files.read import read_part
from core.job.job import Job
from core.job.job_file import MeshDiffers, MeshNotFound, load_job, read_record
from core.job.job_record import job_of
from core.job.landmark_record import figures_in, landmarks_of
from core.job.pipeline import Pipeline
from core.job.repair_record import mended_again, repairs_of
from core.job.revision import Remembered, Revision, carried_over


@dataclass(frozen=True, eq=False)
class OnRevision:
    """A job on a mesh that a person named. ``revision`` is None on its very own mesh, and ``old`` is then the job;
    else ``old`` is what was carried over."""

    job: Job
    old: Job
    revision: Revision | None


def on_revision(path: Path, to: Path, choice: str | None, pipeline: Pipeline) -> OnRevision:
    """The job of a file on the mesh ``to``: on its very own mesh without more ado, else carried over.

    The job's old mesh is taken from its place; where it is not there any more, what the job file remembers of it
    stands for it. Raises what reading either raises, and RefusedFile where nothing is known of the old mesh.
    """
    try:
        job = load_job(path, to)
        return OnRevision(job, job, None)
    except MeshDiffers:
        record = read_record(path)
    part = mended_again(read_part(to, record.source.unit, choice=choice), repairs_of(record.repairs))
    landmarks = landmarks_of(record.source.landmarks)
    try:
        old, remembered = load_job(path), None
        if landmarks is not None:  # those of this very mesh, so that they need not be found again
            old.part.__dict__["landmarks"] = landmarks
    except (MeshNotFound, MeshDiffers):
        if landmarks is None:
            raise
        old, remembered = job_of(record, part), Remembered(landmarks, figures_in(record.rows))
    revision = carried_over(old, part, pipeline, remembered)
    return OnRevision(revision.job, old, revision)
