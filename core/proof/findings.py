"""Findings: what the proof has to say about a row, each with figure, limit, source and, where one exists, a cure.

Nothing here forbids anything: a person may hand over in spite of every finding; it is said what stays open.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

Level = Literal["note", "warn", "stop"]
LEVELS: Final[tuple[Level, ...]] = ("note", "warn", "stop")

#: Stable words for scripts, each with the heading a person reads. A word that is out is never given another meaning.
CODES: Final[dict[str, str]] = {
    "tip_thinner_than_line": "Tips thinner than a line",
    "tooth_thinner_than_line": "Teeth thinner than a line",
    "no_path": "Nothing holds the edge",
    "edge_in_air": "The edge starts in the air",
    "steep_underside": "Underside of the side teeth too flat",
    "clear_bridge": "Long clear bridge",
    "free_end": "End of the edge hangs free",
    "past_end_of_edge": "Past the end of the edge",
    "off_ledge": "Off the ledge",
    "outside_part": "Beside the part",
    "blocks_hole": "In the way of a hole",
    "too_close": "Too close to something it must not fuse with",
    "hard_to_snap": "Hard to snap",
    "cut_not_snap": "Cut instead of snap",
    "edge_weaker": "Edge weaker than the teeth",
    "locked_in": "Piece locked in",
    "wall_slender": "Slender wall",
    "tips_over": "Tips over easily",
}


#: Wishes that are counts.
COUNTS: Final = ("teeth", "air_layers")


class Remedy(NamedTuple):
    """A cure by one click: what the button says, which wish of the row it sets, and to what (mm, or a count).

    ``left_out`` takes ``numbers``, all teeth that are left out then; without any, every tooth is put back.
    """

    text: str
    field: str
    value: float
    numbers: tuple[int, ...] = ()

    @property
    def wish(self) -> dict[str, float | tuple[int, ...]]:
        """The figure that it sets among the wishes of a row."""
        if self.field == "left_out":
            return {self.field: self.numbers}
        return {self.field: round(self.value) if self.field in COUNTS else self.value}


@dataclass(frozen=True)
class Finding:
    """One thing that a person should know about a row.

    ``figure`` and ``limit`` are in the unit that ``text`` names (mm, N, layers or a plain ratio). ``source`` tells
    where the limit comes from. ``place`` is the spot to look at, bed mm.
    """

    code: str
    level: Level
    text: str
    figure: float
    limit: float
    source: str
    place: tuple[float, float, float] | None = None
    remedy: Remedy | None = None

    @property
    def heading(self) -> str:
        """The few words above the text."""
        return CODES[self.code]

    def as_json(self) -> dict[str, object]:
        """The finding as the commands print it: place and remedy are for the window only."""
        return {
            "code": self.code, "level": self.level, "text": self.text,
            "figure": round(self.figure, 4), "limit": round(self.limit, 4), "source": self.source,
        }  # fmt: skip


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops before warnings before notes; within a level in the order of the table of codes."""
    order = list(CODES)
    return tuple(sorted(findings, key=lambda f: (-LEVELS.index(f.level), order.index(f.code))))


def most_severe(findings: Iterable[Finding]) -> Level | None:
    """The gravest level among the findings, None when there is none."""
    found = {f.level for f in findings}
    return next((level for level in reversed(LEVELS) if level in found), None)
