"""The printed job sheet as plain data: what was decided, what follows from it, and what to mind. Nothing is drawn here.

The order is that of the work: part, pose, weak spots, span, teeth, proof, hand over.
"""

from __future__ import annotations

import datetime
import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import numpy as np

from core.design.materials import Material
from core.design.setup import FIGURES, PrintSetup
from core.diagnose.found import Inspection, ListedSpot
from core.errors import BadValue, UnreadableFile
from core.job.fit import Fitted
from core.job.job import Job
from core.job.sheet_lists import CAUTIONS, handing_over, pose_words, removal
from core.job.sheet_row import FILAMENT, Fact, SheetRow, sheet_row
from core.proof.findings import most_severe

State = Literal["Done", "Look", "To do"]
#: A row lies in a gap of the inspection when the middles of their edges are this near, mm: half a usual pitch.
SAME_GAP: Final = 2.5
#: What is said of a spot that nothing is done about.
OPEN: Final = "left as it is"
#: What a file says of who made it and under which terms, by the names that formats and people use for it.
CREDITS: Final = ("title", "designer", "author", "copyright", "license", "licence", "licenseterms", "rating")
#: Bytes read at a time for a checksum.
_BLOCK: Final = 1 << 20

KINDS: Final = {
    "island": "starts in mid-air", "cantilever": "held on one side", "bridge": "hangs between two holds",
    "slope": "leans out too far",
}  # fmt: skip


@dataclass(frozen=True)
class FileMark:
    """A file by name, size in bytes and SHA-256, and what it is to the job."""

    role: str
    name: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Step:
    """A line of the job: its number, name, live figure and state."""

    number: int
    name: str
    figure: str
    state: State


@dataclass(frozen=True)
class SpotLine:
    """A weak spot and what is done about it. Lengths mm, infinite where nothing holds it at all."""

    id: str
    what: str
    height: float
    length: float
    reach: float
    severity: float
    answer: str


@dataclass(frozen=True)
class SetupFigure:
    """A figure of the print setup: a length in ``mm``, or ``text`` for everything else."""

    name: str
    mm: float | None
    text: str = ""


@dataclass(frozen=True, eq=False)
class JobSheet:
    """The whole sheet. ``spots`` is None when the part was not inspected for it."""

    name: str
    made: datetime.date
    program: str
    job: Job
    steps: tuple[Step, ...]
    part: tuple[Fact, ...]
    size: tuple[float, float, float]
    credits: tuple[Fact, ...]
    setup: tuple[SetupFigure, ...]
    material: tuple[Fact, ...]
    spots: tuple[SpotLine, ...] | None
    rows: tuple[SheetRow, ...]
    skipped: tuple[str, ...]
    added: tuple[Fact, ...]
    handing_over: tuple[str, ...]
    removal: tuple[str, ...]
    cautions: tuple[str, ...]
    files: tuple[FileMark, ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def needs_a_person(self) -> bool:
        """Whether a row could not be worked out or the proof stops at a finding."""
        return bool(self.skipped) or any(most_severe(r.proof.findings) == "stop" for r in self.rows)


def job_sheet(
    job: Job,
    fitted: Fitted,
    *,
    inspection: Inspection | None = None,
    files: Iterable[FileMark] = (),
    made: datetime.date | None = None,
    program: str = "Snapcomb",
) -> JobSheet:
    """The sheet of a job whose rows were worked out and proved as ``fitted``.

    ``inspection`` is what was found in the part in this pose, when that is known; ``files`` are told with the part's
    own file. Raises BadValue for a job without a row.
    """
    if not job.rows:
        raise BadValue("The job has no row of teeth, so there is nothing to put on a sheet.", "Add a row first.")
    part = job.part.mesh.moved(job.pose.matrix)
    rows = tuple(sheet_row(added, job, part) for added in fitted.added)
    spots = None if inspection is None else tuple(_spot(s, inspection, rows) for s in inspection.weak_spots)
    low, high = part.bounds
    return JobSheet(
        name=job.part.name,
        made=made or datetime.date.today(),
        program=program,
        job=job,
        steps=_steps(job, rows, spots),
        part=_part(job),
        size=tuple(float(x) for x in high - low),  # type: ignore[arg-type]
        credits=_credits(job),
        setup=setup_figures(job.setup),
        material=_material(job.setup.filament),
        spots=spots,
        rows=rows,
        skipped=_skipped(job, fitted, rows),
        added=_added(rows, job.setup),
        handing_over=handing_over(job, rows),
        removal=removal(rows),
        cautions=CAUTIONS,
        files=(*_own_file(job), *files),
        notes=tuple(dict.fromkeys((*job.part.notes, *(() if inspection is None else inspection.notes)))),
    )


def file_mark(path: Path, role: str) -> FileMark:
    """Size and checksum of a file. Raises UnreadableFile."""
    digest, size = hashlib.sha256(), 0
    try:
        with path.open("rb") as stream:
            while block := stream.read(_BLOCK):
                digest.update(block)
                size += len(block)
    except OSError as error:
        raise UnreadableFile(f"“{path}” cannot be read.", "Check the path.") from error
    return FileMark(role, path.name, size, digest.hexdigest())


def _own_file(job: Job) -> tuple[FileMark, ...]:
    source = job.part.source
    return () if source is None else (FileMark("The part as filed", source.path.name, source.size, source.sha256),)


def _part(job: Job) -> tuple[Fact, ...]:
    part, topology = job.part, job.part.topology
    unit = f"{part.unit}, as the file says" if part.unit_stated else f"read as {part.unit}"
    return (
        Fact("Facets", f"{len(part.mesh.triangles):,}"),
        Fact("Shells", f"{topology.shell_count}"),
        Fact("Surface", "closed" if topology.watertight else "not closed"),
        Fact("Unit of the file", unit),
        Fact("Print pose", pose_words(job)),
        Fact("Bond", "teeth as lapped shells" if job.bond == "shells" else "one skin"),
    )


def _credits(job: Job) -> tuple[Fact, ...]:
    """Who made it and under which terms: the known names first, then whatever else the file says."""
    said = [(name.strip(), " ".join(text.split())) for name, text in job.part.metadata]
    said = [(name, text) for name, text in said if text]

    def rank(name: str) -> int:
        plain = name.rsplit(":", maxsplit=1)[-1].replace(" ", "").lower()
        return CREDITS.index(plain) if plain in CREDITS else len(CREDITS)

    facts = [Fact(name, text) for name, text in sorted(said, key=lambda pair: rank(pair[0]))]
    if not any(rank(name) in range(1, 7) for name, _ in said):
        facts.append(Fact("Designer and licence", "the file says nothing of either; ask where you have it from"))
    return (*facts, *(Fact("Note", text) for text in job.notes))


def setup_figures(setup: PrintSetup) -> tuple[SetupFigure, ...]:
    """The print setup, figure by figure."""
    out = []
    for f in FIGURES:
        value, label, unit = getattr(setup, f.name), str(f.metadata["label"]), f.metadata.get("unit", "")
        if unit == "mm":
            out.append(SetupFigure(label, float(value)))
        else:
            out.append(SetupFigure(label, None, f"{value:g}{unit}" if isinstance(value, int | float) else str(value)))
    return tuple(out)


def _material(m: Material) -> tuple[Fact, ...]:
    def span(low: float, high: float) -> str:
        return f"{low:g}" if low == high else f"{low:g} to {high:g}"

    across, along = m.across_layers, m.in_plane
    return (
        Fact("Material", m.name),
        Fact("Density", f"{m.density:g} g/cm³ ({m.density_source})"),
        Fact("Strength across layers", f"{span(across.low, across.high)} MPa ({across.source})"),
        Fact("Strength within layers", f"{span(along.low, along.high)} MPa ({along.source})"),
    )


def _spot(spot: ListedSpot, found: Inspection, rows: Sequence[SheetRow]) -> SpotLine:
    return SpotLine(
        spot.id, KINDS[spot.kind], spot.z, spot.length, spot.reach, spot.severity, _answer(spot, found, rows)
    )


def _answer(spot: ListedSpot, found: Inspection, rows: Sequence[SheetRow]) -> str:
    """What is done about a spot: rows of this job, teeth that are there, or nothing."""
    gaps = [g for g in found.gaps if g.weak_spot == spot.id]
    named = {spot.id, *(g.id for g in gaps)}
    middles = [g.span.edge_line.at(g.span.edge_line.length / 2)[0] for g in gaps]
    mine = [
        r.number for r in rows
        if (r.design.wall is not None and r.design.row.pick.gap in named) or any(_near(r, m) for m in middles)
    ]  # fmt: skip
    if mine:
        return f"row{'s' if len(mine) > 1 else ''} {', '.join(str(n) for n in mine)}"
    there = next((g for g in gaps if g.enough), None)
    if there is not None:
        return f"teeth that are there already ({there.row or there.id})"
    return "fine as it is, you said" if spot.dismissed else OPEN


def _near(row: SheetRow, point: np.ndarray) -> bool:
    line = row.span.edge_line
    points = line.at(np.linspace(0, line.length, max(2, math.ceil(line.length))))
    return bool(np.linalg.norm(points - point, axis=1).min() < SAME_GAP)


def _skipped(job: Job, fitted: Fitted, rows: Sequence[SheetRow]) -> tuple[str, ...]:
    """Rows that could not be worked out, each with the reason; told in the order of the job."""
    missing = [r.number for r in job.rows if r.number not in {row.number for row in rows}]
    return tuple(f"Row {n} could not be worked out: {s.why}" for n, s in zip(missing, fitted.skipped, strict=False))


def _added(rows: Sequence[SheetRow], setup: PrintSetup) -> tuple[Fact, ...]:
    volume, walls = sum(r.volume for r in rows), sum(r.design.wall is not None for r in rows)
    mass = volume * setup.filament.density / 1000
    minutes = sum(r.seconds for r in rows) / 60
    length = volume / (math.pi / 4 * FILAMENT**2)
    return (
        Fact("Teeth added", str(sum(r.plan.teeth for r in rows))),
        *((Fact("Walls added", str(walls)),) if walls else ()),
        Fact("Material added", f"{volume:.1f} mm³, {mass:.2f} g {setup.filament.name}"),
        Fact("Filament added", f"{length:.0f} mm of {FILAMENT:g} mm"),
        Fact("Time added", f"about {max(round(minutes), 1)} min (estimate)"),
    )


def _steps(job: Job, rows: Sequence[SheetRow], spots: Sequence[SpotLine] | None) -> tuple[Step, ...]:
    topology, findings = job.part.topology, [f for r in rows for f in r.proof.findings]
    count, lacking = topology.shell_count, len(job.rows) - len(rows)
    shells = f"{count} shell{'s' if count != 1 else ''}, {'closed' if topology.watertight else 'not closed'}"
    open_spots = [s for s in spots or () if s.answer == OPEN]
    weak = "not looked for" if spots is None else f"{len(open_spots)} of {len(spots)} open" if spots else "none"
    gaps = [g for r in rows for g in r.span.gap_range]
    span = "none" if not rows else f"{sum(r.span.length for r in rows):.2f} mm, gap {_span(min(gaps), max(gaps))}"
    teeth = sum(r.plan.teeth for r in rows)
    worst = most_severe(findings)
    words = {None: "holds, snaps off", "note": "notes", "warn": "warnings", "stop": "stops"}[worst]
    return (
        Step(1, "Part", shells, "Done" if topology.watertight else "Look"),
        Step(2, "Print pose", "as filed" if "as filed," in pose_words(job) else "turned", "Done"),
        Step(3, "Weak spots", weak, "To do" if spots is None else "Look" if open_spots else "Done"),
        Step(4, "Span", span, "Look" if lacking else "Done"),
        Step(5, "Teeth", f"{teeth} in {len(rows)} row{'s' if len(rows) != 1 else ''}", "Look" if lacking else "Done"),
        Step(6, "Proof", words, "Look" if worst in ("warn", "stop") or lacking else "Done"),
        Step(7, "Hand over", "see the list", "To do"),
    )


def _span(low: float, high: float) -> str:
    return f"{low:.2f}" if high - low < SAME_GAP / 500 else f"{low:.2f} to {high:.2f}"
