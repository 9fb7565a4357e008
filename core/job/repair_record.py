"""The repairs of a job's mesh: as they stand in the job file, and done again on a mesh that was read."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from core.errors import MeshProblem
from core.geometry.defects import Fix
from core.geometry.part import Part
from core.geometry.repair import Repair
from core.job.setup_record import Record

_LEFT_OUT: Final = "A repair of the job was left out:"


class RepairRecord(Record, frozen=True):
    """A repair by its name; ``within`` is the distance, in numbers of the mesh file, within which "join" joins."""

    fix: Fix
    within: float = 0.0


def repair_records(part: Part) -> tuple[RepairRecord, ...]:
    """The records of a part's repairs, in the order in which they were done."""
    return tuple(RepairRecord(r.fix, r.within) for r in part.repairs)


def repairs_of(records: tuple[RepairRecord, ...]) -> tuple[Repair, ...]:
    """The repairs that records tell of. Raises BadValue for one that makes no sense."""
    return tuple(Repair(r.fix, r.within) for r in records)


def mended_again(part: Part, repairs: tuple[Repair, ...]) -> Part:
    """The part with the repairs done that can be done; of the others a note says why they were left out.

    On the file that a job was made on every one can; a newer revision may need some no more.
    """
    for repair in repairs:
        try:
            part = part.mended(repair)
        except MeshProblem as problem:
            part = replace(part, notes=(f"{_LEFT_OUT} {problem.what}", *part.notes))
    return part


def repair_notes(part: Part) -> tuple[str, ...]:
    """What the part's notes tell of repairs, those that were left out first."""
    left_out = (note for note in part.notes if note.startswith(_LEFT_OUT))
    return (*left_out, *part.notes[len(part.notes) - len(part.repairs) :])
