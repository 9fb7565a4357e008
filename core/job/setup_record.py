"""Setups, materials and what was learned from prints, as they are laid down in a file: plain words, lengths in mm.

They stand in a job file and on the person's own shelf of setups alike. Whoever changes a record raises the version of
the job file and writes a migration in ``job_file``.
"""

from __future__ import annotations

import msgspec

from core.design.materials import Material, Range
from core.design.setup import FIGURES, PrintSetup, Walls
from core.design.span import Direction
from core.proof.learn import CameOff, Lesson, Outcome, Scar, Tried
from core.proof.snap import Necks


class Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A record refuses fields that it does not know, so that a slip of the pen in a hand-edited file is said."""


class RangeRecord(Record, frozen=True):
    """A figure known within limits, and where it comes from."""

    low: float
    high: float
    source: str


class MaterialRecord(Record, frozen=True):
    """A material with the person's own figures."""

    name: str
    density_g_cm3: float
    density_source: str
    in_plane_mpa: RangeRecord
    across_layers_mpa: RangeRecord
    stiffness_gpa: RangeRecord
    clear_bridge_mm: RangeRecord
    cut: bool


class SetupRecord(Record, frozen=True, omit_defaults=True):
    """Printer, material and limits; the angle is measured from vertical."""

    nozzle_mm: float
    line_width_mm: float
    layer_height_mm: float
    first_layer_mm: float
    walls: Walls
    air_layers: int
    material: str
    overhang_deg: float
    free_overhang_mm: float
    clear_bridge_mm: float
    longest_tooth_mm: float
    own_material: MaterialRecord | None = None


class OutcomeRecord(Record, frozen=True, omit_defaults=True):
    """What a person saw at a printed row."""

    printed: bool = True
    held: bool | None = True
    came_off: CameOff = "untried"
    pulled_n: float | None = None
    scar: Scar = "untold"


class TriedRecord(Record, frozen=True):
    """A row that was printed before, and how it went."""

    name: str
    direction: Direction
    teeth: int
    tip_mm: float
    thickness_mm: float
    height_mm: float
    clear_bridge_mm: float
    seen: OutcomeRecord


class LessonRecord(Record, frozen=True):
    """Rows that were printed in one setup, under the name that is shown beside the limits that follow from them."""

    source: str
    setup: SetupRecord
    tried: tuple[TriedRecord, ...]


_SETUP = {f.name: f.name for f in FIGURES} | {
    "nozzle": "nozzle_mm", "line_width": "line_width_mm", "layer_height": "layer_height_mm",
    "first_layer": "first_layer_mm", "overhang": "overhang_deg", "free_overhang": "free_overhang_mm",
    "clear_bridge": "clear_bridge_mm", "longest_tooth": "longest_tooth_mm",
}  # fmt: skip


def setup_record(setup: PrintSetup) -> SetupRecord:
    """The record of a setup."""
    own = None if setup.own is None else material_record(setup.own)
    return SetupRecord(**{there: getattr(setup, here) for here, there in _SETUP.items()}, own_material=own)


def setup_of(record: SetupRecord) -> PrintSetup:
    """The setup that a record tells of. Raises BadValue for figures that make no sense."""
    own = None if record.own_material is None else material_of(record.own_material)
    return PrintSetup(**{here: getattr(record, there) for here, there in _SETUP.items()}, own=own)


def material_record(material: Material) -> MaterialRecord:
    """The record of a material."""
    ranges = (material.in_plane, material.across_layers, material.stiffness, material.clear_bridge)
    plane, layers, stiff, bridge = (RangeRecord(r.low, r.high, r.source) for r in ranges)
    return MaterialRecord(
        material.name, material.density, material.density_source, plane, layers, stiff, bridge, material.cut
    )


def material_of(record: MaterialRecord) -> Material:
    """The material that a record tells of."""
    ranges = (record.in_plane_mpa, record.across_layers_mpa, record.stiffness_gpa, record.clear_bridge_mm)
    plane, layers, stiff, bridge = (Range(r.low, r.high, r.source) for r in ranges)
    return Material(
        record.name, record.density_g_cm3, record.density_source, plane, layers, stiff, bridge, record.cut
    )


def lesson_record(lesson: Lesson) -> LessonRecord:
    """The record of a lesson."""
    return LessonRecord(lesson.source, setup_record(lesson.setup), tuple(_tried_record(t) for t in lesson.tried))


def lesson_of(record: LessonRecord) -> Lesson:
    """The lesson that a record tells of. Raises BadValue for figures that make no sense."""
    return Lesson(record.source, setup_of(record.setup), tuple(_tried_of(t) for t in record.tried))


def _tried_record(tried: Tried) -> TriedRecord:
    n = tried.necks
    return TriedRecord(
        n.name, n.direction, n.teeth, n.tip, n.thickness, n.height, tried.clear_bridge, outcome_record(tried.outcome)
    )


def _tried_of(record: TriedRecord) -> Tried:
    r = record
    necks = Necks(r.direction, r.teeth, r.tip_mm, r.thickness_mm, r.height_mm, name=r.name)
    return Tried(necks, r.clear_bridge_mm, outcome_of(r.seen))


def outcome_record(seen: Outcome) -> OutcomeRecord:
    """The record of how a row went in print."""
    return OutcomeRecord(seen.printed, seen.held, seen.came_off, seen.pulled, seen.scar)


def outcome_of(record: OutcomeRecord) -> Outcome:
    """The outcome that a record tells of."""
    return Outcome(record.printed, record.held, record.came_off, record.pulled_n, record.scar)
