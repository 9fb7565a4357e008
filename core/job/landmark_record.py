"""The landmarks of a job's mesh as its file keeps them: few enough to stay readable, enough to find every row again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from msgspec.structs import replace

from core.geometry.landmarks import Landmarks
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline
from core.job.job import Job
from core.job.job_record import FiguresRecord, JobRecord, LandmarkRecord, RowRecord, Triple
from core.job.pipeline import Pipeline
from core.job.row_again import Figures, figures_of

#: Straight runs that are kept; chains this near to the line of a row come first, then those about its gap, mm.
MOST_RUNS: Final = 450
NEAR: Final = (2.7, 6.0)
#: Points at which a line is looked around, at most.
MOST_POINTS: Final = 2000
#: Places kept of coordinates (mm) and of directions: finer than a landmark is looked for.
_PLACES, _WAYS = 3, 3


def landmark_records(job: Job) -> tuple[LandmarkRecord, ...]:
    """The landmarks of the job's part, those about its rows first."""
    lines = [p for row in job.all_rows for p in (row.pick.edge, row.pick.ledge) if p is not None]
    near = [_points(line) for line in lines]
    kept = job.part.landmarks.few(near, NEAR, MOST_RUNS)
    out = []
    for chain, closed in enumerate(kept.closed):
        mine = kept.chain == chain
        points = kept.line(chain)
        sides = kept.normals[mine]
        out.append(LandmarkRecord(
            _triples(points[:-1] if closed else points, _PLACES), _triples(sides[:, 0], _WAYS),
            _triples(sides[:, 1], _WAYS), bool(closed),
        ))  # fmt: skip
    return tuple(out)


def _points(line: Polyline) -> F64:
    """Points along a line about a millimetre apart, (k, 3)."""
    count = min(int(line.length), MOST_POINTS)
    return line.at(np.linspace(0, line.length, count)) if count > len(line.points) else line.array


def landmarks_of(records: tuple[LandmarkRecord, ...]) -> Landmarks | None:
    """The landmarks that a file keeps, file mm; None where it keeps none or they do not go together."""
    ends, normals, chain, closed = [], [], [], []
    for number, record in enumerate(records):
        points = np.array([*record.points, *(record.points[:1] if record.closed else ())], np.float64)
        sides = np.stack([np.array(record.left, np.float64), np.array(record.right, np.float64)], axis=1)
        if len(points) != len(sides) + 1 or len(points) < 2:
            return None
        ends.append(np.stack([points[:-1], points[1:]], axis=1))
        normals.append(sides)
        chain.append(np.full(len(sides), number, np.int64))
        closed.append(record.closed)
    if not ends:
        return None
    return Landmarks(np.concatenate(ends), np.concatenate(normals), np.concatenate(chain), np.array(closed, np.bool_))


def with_figures(record: JobRecord, figures: Mapping[int, Figures]) -> JobRecord:
    """The record with what its rows look like, where that is known."""
    if not figures:
        return record
    rows = (replace(r, seen=_figures_record(figures[r.number])) if r.number in figures else r for r in record.rows)
    return replace(record, rows=tuple(rows))


def known_figures(job: Job, pipeline: Pipeline) -> dict[int, Figures]:
    """The figures of the rows that the pipeline can tell without measuring anew."""
    known = {r.number: figures_of(job, r, pipeline) for r in job.rows if r.wall or pipeline.span_known(job, r.pick)}
    return {number: f for number, f in known.items() if f is not None}


def figures_in(rows: tuple[RowRecord, ...]) -> dict[int, Figures]:
    """What the rows of a file looked like, by their numbers."""
    return {r.number: Figures(r.seen.direction, r.seen.length_mm, *r.seen.gap_mm) for r in rows if r.seen is not None}


def _figures_record(f: Figures) -> FiguresRecord:
    return FiguresRecord(f.direction, round(f.length, 4), (round(f.low, 4), round(f.high, 4)))


def _triples(rows: F64, places: int) -> tuple[Triple, ...]:
    return tuple((x, y, z) for x, y, z in (np.round(rows, places) + 0.0).tolist())
