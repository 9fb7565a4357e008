"""Edits that take a repaired part into the job, or the part as it was filed."""

from __future__ import annotations

from dataclasses import replace

from core.geometry.part import Part
from core.job.job import Job


def take_part(job: Job, part: Part) -> Job:
    """The job on its part mended (``Part.mended``) or as filed again (``Part.unmended``).

    Rows stay: they were picked in file mm. What was said about pieces is let go where facets went or came, because
    pieces are named by their facets.
    """
    if part is job.part:
        return job
    same = len(part.mesh.triangles) == len(job.part.mesh.triangles)
    return replace(job, part=part, pieces=job.pieces if same else ())
