"""How a job is laid down in its file, format version 3: inputs only, in plain words, lengths in mm.

The records are kept apart from the classes that the program works with, so that a change in the program never changes
the format unnoticed. Whoever changes a record raises the version and writes a migration in ``job_file``.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Literal

from core.design.bond import Bond
from core.design.plan import Across, RowWishes, Shape
from core.design.shapes import vet_shape
from core.design.span import Direction
from core.design.wall import LEAST_CLEARANCE, WallWishes
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose
from core.job.job import Job, Pick, PostPick, Row
from core.job.repair_record import RepairRecord, repair_records
from core.job.setup_record import (
    LessonRecord,
    OutcomeRecord,
    Record,
    SetupRecord,
    lesson_of,
    lesson_record,
    outcome_of,
    outcome_record,
    setup_of,
    setup_record,
)
from core.units import UnitName

Triple = tuple[float, float, float]
Square4 = tuple[tuple[float, float, float, float], ...]
Square3 = tuple[Triple, ...]


class LandmarkRecord(Record, frozen=True, omit_defaults=True):
    """A feature edge of the mesh, file mm, with the outward normals left and right of each of its straight runs."""

    points: tuple[Triple, ...]
    left: tuple[Triple, ...]
    right: tuple[Triple, ...]
    closed: bool = False


class SourceRecord(Record, frozen=True):
    """The mesh the job was made on. ``relative`` is its place seen from the job file, ``absolute`` on the machine.

    ``choice`` is the word with which a question of the reader was answered. By its ``landmarks`` the mesh is known
    again in a newer revision, also when it itself is gone.
    """

    name: str
    size: int
    sha256: str
    unit: UnitName
    relative: str = ""
    absolute: str = ""
    choice: str | None = None
    landmarks: tuple[LandmarkRecord, ...] = ()


class LineRecord(Record, frozen=True):
    """A picked line, file mm. A closed one does not repeat its first point."""

    points: tuple[Triple, ...]
    closed: bool = False


class WishesRecord(Record, frozen=True, omit_defaults=True):
    """What the person set for a row. What is not named is automatic."""

    shape: Shape = "straight"
    teeth: int | None = None
    pitch_mm: float | None = None
    foot_mm: float | None = None
    tip_mm: float | None = None
    thickness_mm: float | None = None
    sink_ledge_mm: float | None = None
    sink_part_mm: float | None = None
    air_layers: int | None = None
    across: Across | None = None
    clear_bridge_mm: float | None = None
    end_clearance_mm: float | None = None
    start_mm: float = 0.0
    stop_mm: float = 0.0
    left_out: tuple[int, ...] = ()
    moved: tuple[tuple[int, float], ...] = ()


class WallRecord(Record, frozen=True, omit_defaults=True):
    """What the person set for a sacrificial wall. What is not named is automatic."""

    lines: int | None = None
    gap_mm: float | None = None
    foot_width_mm: float | None = None
    foot_height_mm: float | None = None
    windows: bool | None = None
    ribs: bool | None = None
    breaks: int | None = None
    clearance_mm: float = LEAST_CLEARANCE
    shift_mm: float | None = None
    room_mm: float | None = None


class FiguresRecord(Record, frozen=True):
    """What a row looked like when the job was saved, to compare with a newer revision of the mesh; mm."""

    direction: Direction
    length_mm: float
    gap_mm: tuple[float, float]


class RowRecord(Record, frozen=True):
    """A row: the edge and ledge it was picked on (file mm) and what was set for it.

    ``gap_direction`` (file frame, from ledge to edge) is there where the gap runs sideways and no ledge was picked.
    ``wall`` is there where a sacrificial wall is built for the row, ``seen`` where its span was known.
    """

    number: int
    edge: LineRecord
    ledge: LineRecord | None = None
    gap_direction: Triple | None = None
    gap: str = ""
    set: WishesRecord = WishesRecord()
    wall: WallRecord | None = None
    seen: FiguresRecord | None = None


class PostRecord(Record, frozen=True, omit_defaults=True):
    """A single post under a picked point, file mm."""

    number: int
    at: Triple
    set: WallRecord = WallRecord()
    gap: str = ""


class PieceRecord(Record, frozen=True):
    """A corrected guess whether a piece is thrown away."""

    piece: str
    sacrificial: bool


class SeenRecord(Record, frozen=True):
    """How a row of this job went."""

    row: int
    seen: OutcomeRecord


class JobRecord(Record, frozen=True):
    """The whole file. ``pose`` carries file mm to the bed, ``working_axes`` bed to the axes of looking.

    ``repairs`` are done to the mesh, in their order, before anything else.
    """

    format: Literal["snapcomb.job"]
    version: Literal[3]
    written_by: str
    source: SourceRecord
    repairs: tuple[RepairRecord, ...]
    pose: Square4
    working_axes: Square3 | None
    setup: SetupRecord
    rows: tuple[RowRecord, ...]
    draft: RowRecord | None
    bond: Bond
    dismissed: tuple[str, ...]
    pieces: tuple[PieceRecord, ...]
    notes: tuple[str, ...]
    lessons: tuple[LessonRecord, ...]
    outcomes: tuple[SeenRecord, ...]
    posts: tuple[PostRecord, ...] = ()


_WISHES = {f.name: f.name for f in fields(RowWishes)} | {
    name: f"{name}_mm"
    for name in ("pitch", "foot", "tip", "thickness", "sink_ledge", "sink_part", "clear_bridge", "end_clearance",
                 "start", "stop")
}  # fmt: skip


_WALL = {f.name: f.name for f in fields(WallWishes)} | {
    name: f"{name}_mm" for name in ("gap", "foot_width", "foot_height", "clearance", "shift", "room")
}


def job_record(job: Job, source: SourceRecord, written_by: str) -> JobRecord:
    """The record of a job whose mesh is described by ``source``."""
    return JobRecord(
        format="snapcomb.job",
        version=3,
        written_by=written_by,
        source=source,
        repairs=repair_records(job.part),
        pose=_rows_of(job.pose.numbers, 4),  # type: ignore[arg-type]
        working_axes=None if job.working is None else _rows_of(job.working, 3),  # type: ignore[arg-type]
        setup=setup_record(job.setup),
        rows=tuple(_row_record(row) for row in job.rows),
        draft=None if job.draft is None else _row_record(job.draft),
        bond=job.bond,
        dismissed=job.dismissed,
        pieces=tuple(PieceRecord(piece, sacrificial) for piece, sacrificial in job.pieces),
        notes=job.notes,
        lessons=tuple(lesson_record(lesson) for lesson in job.lessons),
        outcomes=tuple(SeenRecord(number, outcome_record(seen)) for number, seen in job.outcomes),
        posts=tuple(PostRecord(p.number, p.at, _wall_record(p.wishes), p.gap) for p in job.posts),
    )


def job_of(record: JobRecord, part: Part) -> Job:
    """The job that a record tells of, on its mesh. Raises BadValue for figures that make no sense."""
    axes = record.working_axes
    return Job(
        part=part,
        pose=Pose(tuple(x for row in record.pose for x in row)),
        setup=setup_of(record.setup),
        working=None if axes is None else tuple(x for row in axes for x in row),
        rows=tuple(_row_of(row) for row in record.rows),
        draft=None if record.draft is None else _row_of(record.draft),
        bond=record.bond,
        dismissed=record.dismissed,
        pieces=tuple((p.piece, p.sacrificial) for p in record.pieces),
        notes=record.notes,
        lessons=tuple(lesson_of(lesson) for lesson in record.lessons),
        outcomes=tuple((o.row, outcome_of(o.seen)) for o in record.outcomes),
        posts=tuple(PostPick(p.number, p.at, _wall_of(p.set), p.gap) for p in record.posts),
    )


def _rows_of(numbers: tuple[float, ...], width: int) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(x) + 0.0 for x in numbers[i : i + width]) for i in range(0, len(numbers), width))


def _row_record(row: Row) -> RowRecord:
    pick, wishes = row.pick, row.wishes
    return RowRecord(
        number=row.number,
        edge=LineRecord(pick.edge.points, pick.edge.closed),
        ledge=None if pick.ledge is None else LineRecord(pick.ledge.points, pick.ledge.closed),
        gap_direction=pick.gap_direction,
        gap=pick.gap,
        set=_what_was_set(wishes),
        wall=None if row.wall is None else _wall_record(row.wall),
    )


def _wall_record(wishes: WallWishes) -> WallRecord:
    return WallRecord(**{there: getattr(wishes, here) for here, there in _WALL.items()})


def _what_was_set(wishes: RowWishes) -> WishesRecord:
    """Only what differs from the default, so that the file shows at a glance what the person decided."""
    usual = RowWishes()
    names = [(here, there) for here, there in _WISHES.items() if getattr(wishes, here) != getattr(usual, here)]
    return WishesRecord(**{there: getattr(wishes, here) for here, there in names})


def _row_of(record: RowRecord) -> Row:
    line, ledge = record.edge, record.ledge
    pick = Pick(
        Polyline(line.points, line.closed),
        None if ledge is None else Polyline(ledge.points, ledge.closed),
        record.gap_direction,
        record.gap,
    )
    wishes = RowWishes(**{here: getattr(record.set, there) for here, there in _WISHES.items()})
    vet_shape(wishes.shape)
    return Row(record.number, pick, wishes, None if record.wall is None else _wall_of(record.wall))


def _wall_of(record: WallRecord) -> WallWishes:
    return WallWishes(**{here: getattr(record, there) for here, there in _WALL.items()})
