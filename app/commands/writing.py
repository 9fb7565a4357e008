"""What ``fit`` and ``apply`` share: outputs that never swallow an input, writing, and telling what was added."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.output import heading, print_json, say, table
from app.commands.reading import MESH_SUFFIXES
from app.commands.status import DONE, NEEDS_A_PERSON, UsageError

if TYPE_CHECKING:
    from core.job.fit import Fitted
    from core.job.hand_over import HandedOver
    from core.job.pipeline import Pipeline


def vet_output(output: Path, inputs: Sequence[Path], *, replace: bool = False) -> None:
    """An output that is an input is a slip, unless replacing was asked for. Raises UsageError."""
    if replace:
        return
    for other in inputs:
        if _same(output, other):
            raise UsageError(f"The output “{output}” is the input.", "Choose another name, or add --replace.")


def _same(a: Path, b: Path) -> bool:
    try:
        return a.samefile(b)
    except OSError:
        return a.absolute() == b.absolute()


def vet_mesh_ending(output: Path) -> None:
    """Meshes are written in the format of their ending. Raises UsageError for one that is not written."""
    if output.suffix.lower() not in MESH_SUFFIXES:
        raise UsageError(
            f"“{output.name}” does not end like a mesh that Snapcomb writes.",
            "Use .stl or .3mf, or the ending of the original.",
        )


def write(
    fitted: Fitted, output: Path, pipeline: Pipeline, *, only_teeth: bool, replace: bool, choice: str | None
) -> HandedOver | None:
    """Write the patched mesh or the teeth alone; None when there is nothing to add. Raises what writing raises.

    Of several objects of a 3MF that the teeth touch, the nearest gets them unless one is named; it is said which.
    """
    from core.job.hand_over import hand_over

    if not fitted.job.adds:
        return None
    what = "teeth" if only_teeth else "part"
    words = choice if choice and "object:" in choice else f"{choice}+nearest" if choice else "nearest"
    return hand_over(fitted.job, output, pipeline, what=what, replace=replace, choice=words)


def report(
    fitted: Fitted, written: HandedOver | None, *, json: bool, more: Mapping[str, Any] | None = None
) -> int:
    """Print what was added, in JSON with ``more`` beside it, and return the exit status."""
    from core.job.fit import fitted_json

    data = {**fitted_json(fitted), **(more or {})}
    if json:
        print_json(data)
    else:
        _print(data, fitted)
    for skipped in fitted.skipped:
        say(f"{_place(skipped.gap)} got no row. {skipped.why}")
    if written is not None:
        kept = ", every original facet as it was" if written.lossless else ""
        say(f"Wrote {written.path} ({written.triangles:,} triangles{kept}).")
        for note in written.notes:
            say(note)
    elif not fitted.skipped and more is None:
        say("No gap lacks teeth, so nothing was written.")
    else:
        say("No row could be added, so nothing was written.")
    return NEEDS_A_PERSON if fitted.needs_a_person else DONE


def _print(data: dict[str, Any], fitted: Fitted) -> None:
    columns = ("gap", "teeth", "pitch mm", "foot mm", "tip mm", "thick mm", "high mm", "grams", "pull N", "sideways N")
    table(columns, [_row(one) for one in data["added"]])
    for one, added in zip(data["added"], fitted.added, strict=True):
        for text in added.words:
            print(f"{_place(added.gap)}: {text}")
        for text in _about_wall(one.get("wall")):
            print(f"{_place(added.gap)}: {text}")
        for finding in one["findings"]:
            print(f"{_place(added.gap)}, {finding['level']}: {finding['text']}")
    if data["added"]:
        heading("Forces are estimates within a factor of about two. Wear eye protection when you snap teeth off.")


def _place(name: str) -> str:
    """How a gap or a weak spot is called."""
    return f"Weak spot {name}" if name.startswith("w") else f"Gap {name or '?'}"


def _about_wall(wall: dict[str, Any] | None) -> list[str]:
    """A wall in sentences: its size, what it costs, how it comes out, and what is to be known about it."""
    if wall is None:
        return []
    size = " × ".join(f"{wall[n]:.1f}" for n in ("length_mm", "height_mm", "thickness_mm"))
    share = wall["share_of_block"]
    less = "" if share is None else f" All walls and teeth here take {share:.0%} of what a solid block would."
    out = [f"A wall of {size} mm is built, {wall['mass_g']:.2f} g and about {wall['minutes']:.0f} minutes.{less}"]
    ways = [w for w in wall["comes_out"] if w["bearing_deg"] is not None]
    if len(ways) == 1:
        tool = {"fingers": "by hand", "pliers": "with pliers"}.get(ways[0]["with"], "where a tool reaches it")
        out.append(f"Once its teeth are broken it slides out towards {ways[0]['bearing_deg']:.0f}° from +X, {tool}.")
    return out + list(wall["notes"])


def _row(one: dict[str, Any]) -> tuple[str, ...]:
    row, snap = one["row"], one["snap_n"]
    figures = (row[n] for n in ("pitch_mm", "foot_mm", "tip_mm", "thickness_mm", "height_mm"))
    forces = (f"{low:.0f} to {high:.0f}" for low, high in (snap["pull"], snap["sideways"]))
    place = str(one["gap"] or one.get("weak_spot") or "")
    return (place, str(row["teeth"]), *(f"{f:.2f}" for f in figures), f"{one['mass_g']:.3f}", *forces)
