"""What the job sheet says of a wall that was built for a row: its dimensions, what it weighs and how it comes out."""

from __future__ import annotations

from typing import Final, NamedTuple

from core.design.coupon import print_minutes
from core.design.setup import PrintSetup
from core.design.wall_reach import sentences, ways_out
from core.geometry.mesh import Mesh
from core.job.pipeline import WallDesign

BASES: Final = {"bed": "the bed", "part": "the part", "both": "bed and part"}


class WallTold(NamedTuple):
    """A wall in words and figures: lengths (name, mm, by rule or set), other facts, sentences, and what it costs."""

    lengths: tuple[tuple[str, float, bool], ...]
    facts: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    volume: float
    seconds: float


def wall_told(wall: WallDesign, part: Mesh, setup: PrintSetup) -> WallTold:
    """The wall as the sheet tells it. ``part`` in bed mm, volume mm³, seconds of printing estimated."""
    plan, volume = wall.plan, wall.solid.volume
    minutes = print_minutes(wall.solid, setup)
    lengths = (
        ("Wall, length", plan.length, True),
        ("Wall, height", plan.height, True),
        ("Wall, thickness", plan.thickness, "lines" in plan.automatic),
        ("Wall, clear of the part", plan.clearance, True),
        ("Wall, foot beside it", plan.foot_width, "foot_width" in plan.automatic),
        ("Wall, foot height", plan.foot_height, "foot_height" in plan.automatic),
    )
    mass = volume * setup.filament.density / 1000
    facts = (
        ("Wall stands on", BASES[plan.base]),
        ("Wall has", _counts((plan.windows, "window"), (plan.ribs, "rib"), (plan.breaks, "break line"))),
        ("Wall adds", f"{volume:.0f} mm³, {mass:.2f} g, about {max(round(minutes), 1)} min"),
    )
    ways = ways_out(part, plan)
    out = tuple(
        f"{'The wall' if len(ways) == 1 else f'Piece {n} of the wall'} comes out level, with {w.tool}."
        for n, w in enumerate(ways, start=1)
        if w.free and w.tool != "none"
    )
    return WallTold(lengths, facts, (*plan.notes, *sentences(ways), *out), volume, minutes * 60)


def _counts(*things: tuple[tuple[object, ...], str]) -> str:
    """How many there are of each, those there are none of left out."""
    said = [f"{len(them)} {name}{'s' if len(them) != 1 else ''}" for them, name in things if them]
    return ", ".join(said) or "neither windows nor ribs"
