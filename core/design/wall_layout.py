"""How the face of a wall is divided: ribs, break lines, windows between them, and feet where it stands on the part.

All of it is drawn unrolled: s along the axis, z up, mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from core.design.wall import LONGEST_PIECE, SLENDER_NOTE, Foot, Rib, Window
from core.geometry.mesh import F64

# Lengths in mm; from memory unless a source is named.
#: Material left beside windows, above and below them; the beam on top carries the teeth.
BAR, BEAM, SILL = 1.6, 2.0, 0.8
#: Widest and narrowest window, and the highest: higher openings are divided by a beam.
WIDEST, NARROWEST, HIGHEST = 8.0, 2.4, 22.0
#: Upright part that a window has at least, so that it is more than a gable.
LEAST_SIDE: Final = 0.6
#: A closed wall shorter than this comes off in one: it stands below the rim of a hole.
SMALL_RING: Final = 40.0
#: A break line is this wide, more than a line so that it stays open, and leaves this much of the top to be snapped.
SLIT, SLIT_BEAM = 0.6, 1.0
#: Ribs: distance along the wall in heights of it, depth as a share of the height and its bounds, and how far below the
#: top they end, so that they don't widen the ledge.
RIB_EVERY, RIB_SHARE, RIB_MOST, RIB_BELOW = 1.5, 0.2, 8.0, 1.5
#: A rib less deep than this braces nothing.
RIB_LEAST: Final = 1.5
#: Pitch of the feet on a part below, and how far they reach into it.
FOOT_PITCH, FOOT_SINK = 3.0, 0.1

#: Something that is asked at arc lengths (n,) and answers in mm (n,).
Heights = Callable[[F64], F64]


def break_places(length: float, closed: bool, wish: int | None) -> tuple[float, ...]:
    """Arc lengths of the break lines: by rule, so many that no piece is longer than a hand's grip.

    A large closed wall goes round something as a rule and cannot be pulled out in one: it falls into two at least.
    """
    if closed:
        usual = max(2, math.ceil(length / LONGEST_PIECE)) if length >= SMALL_RING else 0
        count = usual if wish is None else wish
        return tuple(length * (i + 0.5) / count for i in range(count))
    pieces = math.ceil(length / LONGEST_PIECE) if wish is None else wish + 1
    return tuple(length * i / pieces for i in range(1, pieces))


def break_lines(places: tuple[float, ...], foot: float, top: Heights) -> tuple[Window, ...]:
    """Narrow slits from the foot almost to the top; none where the wall is too low for one."""
    out = []
    for s in places:
        high = float(top(np.array([s - SLIT / 2, s, s + SLIT / 2])).min()) - SLIT_BEAM
        low = max(foot, 0.4)
        if high - low >= 1.0:
            out.append(Window(s - SLIT / 2, s + SLIT / 2, low, high - SLIT / 2, high))
    return tuple(out)


def rib_places(length: float, height: float, closed: bool) -> F64:
    """Arc lengths of the ribs, evenly and not at the very ends."""
    count = max(2, math.ceil(length / (RIB_EVERY * height)) + (0 if closed else 1))
    if closed:
        return (np.arange(count) + 0.5) * length / count
    inset = min(BAR, length / 4)
    return np.linspace(inset, length - inset, count)


def rib(at: float, way: int, room: float, height: float, thickness: float) -> Rib | None:
    """A rib as deep as the height asks for and the ``room`` beside the wall allows; None where that is nothing."""
    depth = min(max(RIB_SHARE * height, RIB_LEAST), RIB_MOST, room)
    high = height - RIB_BELOW
    return Rib(at, way, depth, high, thickness) if depth >= RIB_LEAST and high > 2 * depth else None


def needs_ribs(height: float, thickness: float, braced: bool, wish: bool | None) -> bool:
    """By rule: a straight wall more slender than SLENDER_NOTE."""
    return (height / thickness > SLENDER_NOTE and not braced) if wish is None else wish


def windows(
    length: float, closed: bool, bars: list[tuple[float, float]], foot: float, bottom: Heights, top: Heights,
    rise: float,
) -> tuple[Window, ...]:  # fmt: skip
    """Openings between the ``bars``, (middle, width) stretches of arc length that stay whole.

    ``rise`` is the rise over run of a self-supporting gable.
    """
    out: list[Window] = []
    for a, b in _between(length, closed, bars):
        out += _field(a, b, foot, bottom, top, rise)
    return tuple(out)


def _between(length: float, closed: bool, bars: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches free of bars; the ends of the wall (or the start of a closed one) are bars as well."""
    every = sorted([(0.0, 2 * BAR), *bars, (length, 2 * BAR)])
    out, at = [], 0.0
    for middle, width in every:
        if middle - width / 2 - at >= NARROWEST:
            out.append((at, middle - width / 2))
        at = max(at, middle + width / 2)
    return [(max(a, 0.0), min(b, length)) for a, b in out]


def _field(a: float, b: float, foot: float, bottom: Heights, top: Heights, rise: float) -> list[Window]:
    """The windows of one stretch, in columns side by side and one above the other."""
    s = np.linspace(a, b, 9)
    low = max(float(bottom(s).max()), foot) + SILL
    room = float(top(s).min()) - BEAM - low
    if room < LEAST_SIDE + rise * NARROWEST / 2:
        return []
    stories = max(1, math.ceil((room + BAR) / (HIGHEST + BAR)))
    high = (room - (stories - 1) * BAR) / stories
    widest = min(WIDEST, 2 * (high - LEAST_SIDE) / rise)
    count = math.ceil((b - a + BAR) / (widest + BAR) - 1e-9)
    width = (b - a - (count - 1) * BAR) / count
    if width < NARROWEST or high < LEAST_SIDE + rise * width / 2:
        return []
    out = []
    for i in range(count):
        start = a + i * (width + BAR)
        ceiling = float(top(np.linspace(start, start + width, 9)).min()) - BEAM
        tall = (ceiling - low - (stories - 1) * BAR) / stories
        for j in range(stories):
            z = low + j * (tall + BAR)
            out.append(Window(start, start + width, z, z + tall - rise * width / 2, z + tall))
    return out


def feet(start: float, stop: float, tip: float, floor_low: Heights) -> tuple[Foot, ...]:
    """Feet on the part below between two arc lengths, near to each other so that the arches between them are low."""
    count = max(1, math.ceil((stop - start - tip) / FOOT_PITCH)) + 1 if stop - start > 2 * tip else 1
    middles = np.linspace(start + tip / 2, stop - tip / 2, count) if count > 1 else np.array([(start + stop) / 2])
    lows = [float(floor_low(m + np.linspace(-tip / 2, tip / 2, 3)).min()) - FOOT_SINK for m in middles]
    return tuple(Foot(float(m) - tip / 2, float(m) + tip / 2, z) for m, z in zip(middles, lows, strict=True))
