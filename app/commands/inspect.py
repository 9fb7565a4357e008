"""``snapcomb inspect``: what will sag, the gaps, the rows that are there and the rows each gap would get."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from cyclopts import Parameter

from app.commands.many import Task, inspect_many, usual_processes
from app.commands.options import Choice, Json, SetupOptions, Unit, Up
from app.commands.output import heading, print_json, say, table
from app.commands.reading import mesh_files
from app.commands.status import DONE, NEEDS_A_PERSON, REFUSED, UsageError
from app.commands.summary import FILE_COLUMNS, Outcome, file_line, print_csv, worst_first
from core.errors import SnapcombError

Data = dict[str, Any]

#: Shells of a piece that are named; a noisy piece has thousands.
MOST_SHELLS = 8
SPOT_COLUMNS = ("weak spot", "kind", "height mm", "length mm", "reach mm", "severity")
GAP_COLUMNS = ("gap", "weak spot", "way", "gap mm", "length mm", "teeth there", "teeth to add")
ROW_COLUMNS = ("row", "gap", "way", "teeth", "pitch mm", "foot mm", "tip mm", "thick mm", "high mm")


def inspect(
    *files: Annotated[Path, Parameter(metavar="FILE", required=True, help="Mesh files, or folders of them.")],
    json: Json = False,
    csv: Annotated[
        bool, Parameter(negative=(), help="One line a file as CSV, the worst file first, instead of tables.")
    ] = False,
    unit: Unit = None,
    up: Up = "file",
    choice: Choice = None,
    processes: Annotated[
        int | None,
        Parameter(
            metavar="COUNT",
            show_default=lambda _value: "as many as processors",
            help="Processes that share the work when there are several files.",
        ),
    ] = None,
    options: SetupOptions = SetupOptions(),  # noqa: B008  (frozen)
) -> int:
    """Say what will sag, which gaps there are, which rows stand there already, and what row each gap would get.

    Exit status: 0 nothing weak is left untreated, 1 there are weak spots or a file could not be read, 3 none could.
    """
    setup, paths = options.setup(), mesh_files(files)
    if json and csv:
        raise UsageError("Results are either JSON or CSV.", "Leave --json or --csv away.")
    if processes is not None and processes < 1:
        raise UsageError("At least one process is needed.", "Leave --processes away, or give 1 or more.")
    tasks = [Task(path, setup, unit, up, choice) for path in paths]
    outcomes: list[Outcome] = []
    for path, one in zip(paths, inspect_many(tasks, processes or usual_processes()), strict=True):
        outcomes.append((path, one))
        if isinstance(one, SnapcombError):
            if len(paths) == 1:
                raise one
            say(str(one))
    found = [one for _, one in outcomes if not isinstance(one, SnapcombError)]
    if csv:
        print_csv(worst_first(outcomes))
    elif json:
        print_json(found if len(paths) > 1 else found[0])
    else:
        print_all(found, outcomes)
    if not found:
        return REFUSED
    return NEEDS_A_PERSON if len(found) < len(paths) or any(one["weak_spots"] for one in found) else DONE


def print_all(found: list[Data], outcomes: list[Outcome]) -> None:
    """Every inspection, and after several of them the worst file first in one table."""
    for one in found:
        print_inspection(one)
    if len(outcomes) > 1:
        heading("Worst first")
        table(FILE_COLUMNS, [file_line(outcome) for outcome in worst_first(outcomes)])


def print_inspection(one: Data) -> None:
    """One inspection for people: what is weak first, then where teeth can stand."""
    file = one["file"]
    closed = "watertight" if file["watertight"] else "not watertight"
    shells = "1 shell" if file["shells"] == 1 else f"{file['shells']:,} shells"
    heading(f"{file['name']}: {file['triangles']:,} triangles, {shells}, {closed}, read in {file['unit']}")
    if one["weak_spots"]:
        table(SPOT_COLUMNS, [_spot(s) for s in one["weak_spots"]])
    else:
        print("Nothing here will sag.")
    table(GAP_COLUMNS, [_gap(one, g) for g in one["gaps"]])
    table(ROW_COLUMNS, [_row(r) for r in one["rows"]])
    for piece in one["pieces"]:
        if piece["sacrificial"]:
            print(f"Thrown away, as it seems: {_shells(piece['shells'])}, because {piece['why']}.")
    for note in one["notes"]:
        print(f"Note: {note}")


def _shells(numbers: list[int]) -> str:
    words = ", ".join(str(n) for n in numbers[:MOST_SHELLS]) + (" …" if len(numbers) > MOST_SHELLS else "")
    return f"shell {words}" if len(numbers) == 1 else f"shells {words}"


def _spot(spot: Data) -> tuple[str, ...]:
    reach = "" if spot["reach_mm"] is None else f"{spot['reach_mm']:.2f}"
    height, length = f"{spot['z_mm']:.2f}", f"{spot['length_mm']:.2f}"
    return (str(spot["id"]), spot["kind"], height, length, reach, f"{spot['severity']:.2f}")


def _gap(one: Data, gap: Data) -> tuple[str, ...]:
    low, high = gap["gap_min_mm"], gap["gap_max_mm"]
    there = next((r["teeth"] for r in one["rows"] if r["id"] == gap["row_present"]), 0)
    suggested = gap["row_suggested"]
    add = str(suggested["teeth"]) if suggested else "enough" if gap["enough"] else "none possible"
    width = f"{low:.2f}" if high - low < 0.005 else f"{low:.2f} to {high:.2f}"
    closed = " round" if gap["closed"] else ""
    return (
        str(gap["id"]), str(gap["weak_spot"] or ""), gap["direction"], width, f"{gap['length_mm']:.2f}{closed}",
        str(there or ""), add,
    )  # fmt: skip


def _row(row: Data) -> tuple[str, ...]:
    figures = (row[n] for n in ("pitch_mm", "foot_mm", "tip_mm", "thickness_mm", "height_mm"))
    return (str(row["id"]), str(row["gap"] or ""), row["direction"], str(row["teeth"]), *(f"{f:.2f}" for f in figures))
