"""What ``apply --to`` needs: the job on a newer revision of its mesh, and what became of every row, side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.output import say, table

if TYPE_CHECKING:
    from core.job.job import Job
    from core.job.pipeline import Pipeline
    from core.job.revision import Revision
    from core.job.row_again import Figures, RowFound

COLUMNS = ("row", "what became of it", "span was", "is", "gap was", "is", "off by mm")


def on_revision(path: Path, to: Path, choice: str | None, pipeline: Pipeline) -> tuple[Job, Revision | None]:
    """The job of a file on the mesh ``to``: on its very own mesh without more ado, else carried over.

    The job's old mesh is taken from its place; where it is not there any more, what the job file remembers of it
    stands for it. Raises what reading either raises, and RefusedFile where nothing is known of the old mesh.
    """
    from core.files.read import read_part
    from core.job.job_file import MeshDiffers, MeshNotFound, load_job, read_record
    from core.job.job_record import job_of
    from core.job.landmark_record import figures_in, landmarks_of
    from core.job.revision import Remembered, carried_over

    try:
        return load_job(path, to), None
    except MeshDiffers:
        record = read_record(path)
    part = read_part(to, record.source.unit, choice=choice)
    try:
        old, remembered = load_job(path), None
    except (MeshNotFound, MeshDiffers):
        landmarks = landmarks_of(record.source.landmarks)
        if landmarks is None:
            raise
        old, remembered = job_of(record, part), Remembered(landmarks, figures_in(record.rows))
    revision = carried_over(old, part, pipeline, remembered)
    return revision.job, revision


def print_revision(revision: Revision) -> None:
    """How the part moved, and every row as it was and as it is."""
    for note in revision.notes:
        print(note)
    table(COLUMNS, [_line(row) for row in revision.rows])


def say_rows(revision: Revision) -> None:
    """What needs a person, beside the results."""
    for row in revision.rows:
        if row.status not in ("matched", "moved"):
            say(f"Row {row.number} is {row.status}: {row.words}.")


def _line(row: RowFound) -> tuple[str, ...]:
    was, now = _figures(row.before), _figures(row.after)
    off = f"{row.residual:.2f}" if row.kept else ""
    return (str(row.number), f"{row.status}: {row.words}", was[0], now[0], was[1], now[1], off)


def _figures(f: Figures | None) -> tuple[str, str]:
    if f is None:
        return "", ""
    low, high = f"{f.low:.2f}", f"{f.high:.2f}"
    return f"{f.length:.2f}", low if low == high else f"{low} to {high}"


def revision_json(revision: Revision) -> dict[str, Any]:
    """The same as plain data; lengths mm, ``motion`` (old file mm → new file mm) 4 × 4 or null."""
    motion = revision.motion
    return {
        "motion": None if motion is None else [[round(float(x), 9) for x in row] for row in motion.matrix],
        "edges_found": None if motion is None else round(motion.share, 4),
        "residual_mm": None if motion is None else round(motion.residual, 4),
        "notes": list(revision.notes),
        "rows": [
            {
                "row": r.number, "status": r.status, "what": r.words, "moved_mm": round(r.way, 4),
                "residual_mm": round(r.residual, 4), "before": _plain(r.before), "after": _plain(r.after),
                "choices": [[[round(c, 4) for c in p] for p in line.points] for line in r.choices],
            }
            for r in revision.rows
        ],
    }  # fmt: skip


def _plain(f: Figures | None) -> dict[str, Any] | None:
    if f is None:
        return None
    return {
        "direction": f.direction, "length_mm": round(f.length, 4), "gap_min_mm": round(f.low, 4),
        "gap_max_mm": round(f.high, 4),
    }  # fmt: skip
