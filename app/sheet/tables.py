"""The tables of the sheet as rows of text, every length in mm and in inches; the PDF and the page share them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from core.job.sheet import FileMark, JobSheet, SetupFigure, SpotLine
from core.job.sheet_row import Pull, SheetRow
from core.proof.snap import Force
from core.units import format_length

Rows = tuple[tuple[str, ...], ...]

MEASURE_COLUMNS = ("dimension", "mm", "in", "")
PULL_COLUMNS = ("to get it off, N", "one tooth", "whole row")
OVERVIEW_COLUMNS = ("row", "", "teeth", "gap", "length", "pitch", "foot", "tip", "thick", "clear bridge")
SPOT_COLUMNS = ("spot", "what", "height mm", "length mm", "reach mm", "severity", "answer")
SETUP_COLUMNS = ("figure", "mm", "in")
FILE_COLUMNS = ("file", "name", "bytes", "SHA-256")

NOT_INSPECTED = "The part was not inspected for this sheet. “snapcomb inspect” lists its weak spots."
NO_SPOTS = "Nothing hangs that a printer of this setup could not lay down."
NOTHING_HELD = "Nothing holds a piece that could come off."


def mm(value: float) -> str:
    """A length in mm as figures."""
    return format_length(value, with_unit=False).replace("-", "−")


def inch(value: float) -> str:
    """A length in inches as figures."""
    return format_length(value, "inch", with_unit=False).replace("-", "−")


def both(low: float, high: float, unit: str) -> str:
    """One length, or two when they differ in what is shown."""
    show = mm if unit == "mm" else inch
    a, b = show(low), show(high)
    return a if a == b else f"{a} to {b}"


def measures(row: SheetRow) -> Rows:
    """Every dimension of a row."""
    return tuple((m.name, mm(m.mm), inch(m.mm), m.origin) for m in row.measures)


def newtons(force: Force) -> str:
    """A force as a range, with the digits that an estimate deserves."""
    digits = 0 if force.high >= 10 else 1
    return f"{force.low:.{digits}f} to {force.high:.{digits}f}"


def pulls(pulls: Sequence[Pull]) -> Rows:
    """The ways of getting a row off."""
    return tuple((p.name, newtons(p.tooth), newtons(p.row)) for p in pulls)


def overview(rows: Sequence[SheetRow]) -> Rows:
    """All rows at a glance, each in mm and below in inches."""
    out = []
    for row in rows:
        plan, span = row.plan, row.span
        figures = (span.length, plan.pitch, plan.foot, plan.tip, plan.thickness, plan.clear_bridge)
        for first, unit, show in (((str(row.number), "mm", str(plan.teeth)), "mm", mm), (("", "in", ""), "in", inch)):
            out.append((*first, both(*span.gap_range, unit), *(show(f) for f in figures)))
    return tuple(out)


def spots(lines: Sequence[SpotLine]) -> Rows:
    """The weak spots and what is done about each."""

    def figure(value: float) -> str:
        return mm(value) if math.isfinite(value) else "no hold"

    return tuple(
        (s.id, s.what, mm(s.height), figure(s.length), figure(s.reach), f"{s.severity:.2f}", s.answer) for s in lines
    )


def setup(figures: Sequence[SetupFigure]) -> Rows:
    """The print setup."""
    return tuple((f.name, f.text, "") if f.mm is None else (f.name, mm(f.mm), inch(f.mm)) for f in figures)


def files(marks: Sequence[FileMark]) -> Rows:
    """Names and checksums."""
    return tuple((m.role, m.name, f"{m.size:,}", m.sha256) for m in marks)


def size_words(sheet: JobSheet) -> str:
    """Length, width and height of the part in its pose, in both units."""
    return " × ".join(mm(s) for s in sheet.size) + " mm, " + " × ".join(inch(s) for s in sheet.size) + " in"


def verdict(row: SheetRow) -> str:
    """The proof of a row in a few words."""
    return row.proof.headline if row.proof.findings else "nothing to say against it: it holds and it snaps off"


def sentences(row: SheetRow) -> tuple[str, ...]:
    """The proof in sentences, without the order of removal, which is told once for all rows."""
    return (*(s for s in row.proof.sentences if s not in row.proof.piece.order), *row.words)


def order(sheet: JobSheet) -> tuple[str, ...]:
    """The order of removal."""
    return sheet.removal or (NOTHING_HELD,)
