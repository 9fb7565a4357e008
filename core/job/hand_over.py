"""Writing the result: where the original sat, or on the bed, patched losslessly wherever that is possible."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from core.errors import BadValue, MeshProblem
from core.files.formats import added_suffixes
from core.files.write import WRITTEN, write_part, write_patched
from core.job.job import Frame, Job
from core.job.pipeline import Pipeline

What = Literal["part", "teeth"]


@dataclass(frozen=True)
class HandedOver:
    """What was written: ``path``, triangles in it, whether every original record was kept as it was, what to say."""

    path: Path
    triangles: int
    lossless: bool
    notes: tuple[str, ...] = ()


def suggested_path(job: Job, suffix: str = "") -> Path:
    """A name beside the original that says what was done to it.

    Its ending is that of the original where that can be patched or written anew, else ".3mf", which keeps every digit.
    """
    source = job.part.source
    folder = source.path.parent if source else Path.cwd()
    kept = f".{source.format}" if source else ".stl"
    can = kept in WRITTEN if job.part.repairs else kept not in added_suffixes()
    ending = suffix or (kept if can else ".3mf")
    return folder / f"{Path(job.part.name).stem}_with_teeth{ending}"


def hand_over(
    job: Job,
    path: Path,
    pipeline: Pipeline | None = None,
    *,
    frame: Frame = "file",
    what: What = "part",
    replace: bool = False,
    choice: str | None = None,
) -> HandedOver:
    """Write the patched part (or the teeth alone) and read it back before saying so.

    Lapped shells at the file position in the file's own format keep every original record, unless the mesh was
    repaired: then the whole part is written anew. Raises BadValue when
    there is nothing to write, NotASolid when one skin is impossible, NeedsChoice when the format asks something,
    and WriteFailed.
    """
    pipe = pipeline or Pipeline()
    if not job.adds:
        raise BadValue("No row has been added yet.", "Add a row of teeth first.")
    if what == "part" and _can_patch(job, path, frame):
        teeth = pipe.all_teeth(job)
        done = write_patched(job.part, teeth, path, replace=replace, choice=choice)
        return HandedOver(path, len(job.part.mesh.triangles) + len(teeth.triangles), True, done.notes)
    mesh = pipe.bonded_part(job) if what == "part" else pipe.all_teeth(job)
    if frame == "bed":
        mesh = mesh.moved(job.pose.matrix)
    if not np.isfinite(mesh.vertices).all() or not len(mesh.triangles):
        raise MeshProblem("There is nothing to write.", "Add a row of teeth first.")
    original = job.part.source.path if job.part.source else None
    done = write_part(mesh, path, unit=job.part.unit, name=job.part.name, replace=replace, source=original)
    return HandedOver(path, len(mesh.triangles), False, done.notes)


def _can_patch(job: Job, path: Path, frame: Frame) -> bool:
    source = job.part.source
    return (
        source is not None
        and not job.part.repairs
        and job.bond == "shells"
        and frame == "file"
        and path.suffix.lower().lstrip(".") == source.format
        and path.suffix.lower() not in added_suffixes()
    )
