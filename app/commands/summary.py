"""Many inspections in one table, the worst file first: for the eye and as CSV (RFC 4180) for a spreadsheet."""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from core.errors import SnapcombError

Data = dict[str, Any]
#: What became of one file: its path, and its inspection or what is wrong with it.
Outcome = tuple[Path, Data | SnapcombError]

FILE_COLUMNS = ("file", "weak spots", "severity", "worst", "at height mm", "gaps that lack teeth")
CSV_COLUMNS = (
    "file", "path", "triangles", "unit", "watertight", "weak_spots", "severity", "worst_kind", "worst_z_mm",
    "worst_length_mm", "gaps", "gaps_that_lack_teeth", "rows_present", "problem",
)  # fmt: skip


def worst_first(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """The files by their worst spot, files that could not be read last; by name where they are alike."""
    def place(outcome: Outcome) -> tuple[bool, float, str]:
        path, found = outcome
        unread = isinstance(found, SnapcombError)
        return unread, 0.0 if isinstance(found, SnapcombError) else -_severity(found), str(path)

    return sorted(outcomes, key=place)


def file_line(outcome: Outcome) -> tuple[str, ...]:
    """A file in the table for the eye."""
    path, found = outcome
    if isinstance(found, SnapcombError):
        return (path.name, "", "not read", "", "", "")
    spot, lacking = _worst(found), _lacking(found)
    severity = "none" if spot is None else f"{spot['severity']:.2f}"
    kind, height = ("", "") if spot is None else (spot["kind"], f"{spot['z_mm']:.2f}")
    return (found["file"]["name"], str(len(found["weak_spots"])), severity, kind, height, str(lacking or ""))


def print_csv(outcomes: Sequence[Outcome]) -> None:
    """One line a file; figures with a point, lengths mm, severity 0 to 1 and empty for a file with nothing weak."""
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for path, found in outcomes:
        writer.writerow(_safe(cell) for cell in _csv_line(path, found))


def _csv_line(path: Path, found: Data | SnapcombError) -> tuple[object, ...]:
    if isinstance(found, SnapcombError):
        return (path.name, path, *[""] * (len(CSV_COLUMNS) - 3), found)
    file, spot = found["file"], _worst(found)
    worst = ("", "", "", "") if spot is None else (
        f"{spot['severity']:.4f}", spot["kind"], f"{spot['z_mm']:.3f}", f"{spot['length_mm']:.3f}")  # fmt: skip
    return (
        file["name"], path, file["triangles"], file["unit"], "yes" if file["watertight"] else "no",
        len(found["weak_spots"]), *worst, len(found["gaps"]), _lacking(found), len(found["rows"]), "",
    )  # fmt: skip


def _safe(cell: object) -> str:
    """A cell in one line that no spreadsheet takes for a formula."""
    text = "".join(c if c.isprintable() else " " for c in str(cell))
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") else text


def _worst(found: Data) -> Data | None:
    return max(found["weak_spots"], key=lambda spot: spot["severity"], default=None)


def _severity(found: Data) -> float:
    spot = _worst(found)
    return -1.0 if spot is None else float(spot["severity"])


def _lacking(found: Data) -> int:
    return sum(not gap["enough"] for gap in found["gaps"])
