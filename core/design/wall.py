"""Sacrificial walls: what can be wished for, the rules by which the rest follows, and what a planned wall consists of.

A wall stands below an overhang edge that has no ledge, carries the teeth of a row on its top, and is broken off after
the print. It is planned as numbers along its axis; the solid is made of them in ``wall_body``.

Everything here is in the bed frame, mm. Arc length s runs along the wall's axis in plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from core.design.setup import PrintSetup
from core.errors import PlanRefused
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline

Base = Literal["bed", "part", "both"]

# Lengths in mm. Common practice, no source, unless said otherwise.
#: Least thickness of a wall that stands by itself, and of one that ribs, corners or its own curve brace.
LEAST_FREE, LEAST_BRACED = 1.2, 0.8
#: Lines in the thickness of a wall at least, so that it is printed as whole lines side by side.
LEAST_LINES: Final = 2
#: Gap from the wall's top to the edge to start from: high enough to get at the teeth, low enough to hold; from memory.
USUAL_GAP: Final = 1.2
#: Air that a wall keeps from the part; nearer to it brim and squish of the first layer weld the two.
LEAST_CLEARANCE: Final = 0.5
#: And the most that makes sense; from memory.
MOST_CLEARANCE: Final = 3.0
#: Height over thickness from which a wall gets ribs, and from which it is too slender without them.
SLENDER_NOTE, SLENDER_WARN = 15.0, 25.0
#: A wall stands firmly when it takes this much lean, degrees; a body is easily knocked over below 10°. From memory.
FIRM_LEAN: Final = 12.0
#: Narrowest and widest foot flange beside the wall, and how many layers it is high; from memory.
LEAST_FOOT, WIDEST_FOOT, FOOT_LAYERS = 1.5, 8.0, 4
#: How much steeper than the overhang limit the tops of windows are, degrees, so that rounding never crosses it.
STEEPER: Final = 5.0
#: A strip up to this wide is carried as a whole: the lines beside the teeth would hang. Teeth may be this much narrower
#: than the strip, half a line on either side; from memory.
NARROW_STRIP, STRIP_LESS = 3.2, 0.4
#: How far a wall may be moved across from its edge.
WIDEST_SHIFT: Final = 4.0
#: How figures of a wall are called in sentences.
WORDS: Final = {"breaks": "number of break lines", "shift": "shift across", "room": "room beside the wall"}
#: A wall lower than this is not worth building: what is left is a tooth.
LEAST_HEIGHT: Final = 1.0
#: A higher one is not built, mm: few printers reach farther, and a part read in the wrong unit soon asks for it. From
#: memory.
MOST_HEIGHT: Final = 300.0
#: A wall whose top climbs by one in this many stands below a slope.
STEEP_RUN: Final = 4.0
#: Longest piece that comes off in one go; longer walls get break lines. From memory: about a hand's grip.
LONGEST_PIECE: Final = 60.0


@dataclass(frozen=True)
class WallWishes:
    """What the person set for a wall; None means automatic. Lengths mm.

    ``lines`` is the thickness in whole lines, ``gap`` the height left for the teeth. ``foot_width`` is how far the
    flange reaches beyond the wall on either side (0: none). ``breaks`` is the number of break lines. ``shift`` moves
    the middle of the wall across, from the edge towards the inside of the underside. ``room`` is how far foot and ribs
    may reach out on either side: walls side by side share what lies between them.
    """

    lines: int | None = None
    gap: float | None = None
    foot_width: float | None = None
    foot_height: float | None = None
    windows: bool | None = None
    ribs: bool | None = None
    breaks: int | None = None
    clearance: float = LEAST_CLEARANCE
    shift: float | None = None
    room: float | None = None


@dataclass(frozen=True)
class Window:
    """An opening with a gabled top: from ``start`` to ``stop`` along the axis, ``low`` to ``side`` upright, the ridge
    at ``apex``; mm. A break line is a window that is hardly wider than a line."""

    start: float
    stop: float
    low: float
    side: float
    apex: float


@dataclass(frozen=True)
class Rib:
    """A brace at arc length ``at``: it reaches ``depth`` out from the face at the bed and nothing at ``height``.

    ``way`` is +1 on the left of the axis's run, −1 on its right; ``thickness`` is measured along the axis.
    """

    at: float
    way: int
    depth: float
    height: float
    thickness: float


@dataclass(frozen=True)
class Foot:
    """A foot on the part below, from ``start`` to ``stop`` along the axis; it ends at ``low``, inside the part; mm."""

    start: float
    stop: float
    low: float


@dataclass(frozen=True, eq=False)
class WallPlan:
    """A planned wall. Arrays float64, read-only, mm, bed frame.

    ``edge`` is what the wall was built for. ``axis`` is its middle line in plan, ``s`` (k,) the arc lengths of its
    points (when closed one more: the first again), ``bottom`` and ``top`` (k,) the heights there.
    ``base`` says what it stands on. ``notes`` are plain sentences for the person; ``covered`` is the stretch (mm of
    arc length) of the edge that the wall serves.
    """

    edge: Polyline
    axis: Polyline
    s: F64
    bottom: F64
    top: F64
    lines: int
    thickness: float
    gap: float
    clearance: float
    foot_width: float
    foot_height: float
    base: Base
    windows: tuple[Window, ...] = ()
    breaks: tuple[Window, ...] = ()
    ribs: tuple[Rib, ...] = ()
    feet: tuple[Foot, ...] = ()
    covered: tuple[float, float] = (0.0, 0.0)
    notes: tuple[str, ...] = ()
    automatic: frozenset[str] = field(default_factory=frozenset)

    @property
    def length(self) -> float:
        """Length of the axis, mm."""
        return float(self.s[-1])

    @property
    def closed(self) -> bool:
        """Whether the wall closes on itself."""
        return self.axis.closed

    @property
    def height(self) -> float:
        """Greatest height of the wall above what it stands on, mm."""
        return float((self.top - self.bottom).max())

    @property
    def slenderness(self) -> float:
        """Height over thickness."""
        return self.height / self.thickness

    @property
    def steep(self) -> bool:
        """Whether its top climbs more than a slope of 1 in STEEP_RUN, as below a slope."""
        run = float(np.diff(self.s).sum())
        return bool(np.ptp(self.top) > run / STEEP_RUN)

    @property
    def pieces(self) -> tuple[tuple[float, float], ...]:
        """Stretches of arc length between the break lines, mm; around the start of a closed wall beyond its length."""
        cuts = [(w.start + w.stop) / 2 for w in self.breaks]
        if self.closed:
            if not cuts:
                return ((0.0, self.length),)
            return tuple(zip(cuts, [*cuts[1:], cuts[0] + self.length], strict=True))
        return tuple(zip([0.0, *cuts], [*cuts, self.length], strict=True))

    @property
    def top_line(self) -> Polyline:
        """The middle of the top, the ledge for the teeth, bed mm."""
        return self._line(self.top)

    def _line(self, z: F64) -> Polyline:
        ring = np.column_stack([self.axis.ring[:, :2], z])
        return Polyline.of(ring[:-1] if self.closed else ring, self.closed)


def vet(wishes: WallWishes) -> None:
    """Refuse figures without sense. Raises PlanRefused with the field and its limit."""
    for name, low, high in (("breaks", 0, 50), ("shift", -WIDEST_SHIFT, WIDEST_SHIFT), ("room", 0, 100)):
        value = getattr(wishes, name)
        if value is not None and not low <= value <= high:
            raise PlanRefused(
                f"The {WORDS[name]} cannot be {value:g}.", f"Type a figure from {low:g} to {high:g}.", name,
                float(low if value < low else high),
            )  # fmt: skip


def gable_slope(setup: PrintSetup) -> float:
    """Rise over run of a self-supporting gable: the overhang limit (from vertical), or 45° if less, and steeper by
    STEEPER."""
    return 1.0 / math.tan(math.radians(max(min(setup.overhang, 45.0) - STEEPER, 5.0)))


def wall_lines(wishes: WallWishes, setup: PrintSetup, strip: float, *, braced: bool) -> int:
    """Thickness in whole lines. Raises PlanRefused for one that would not stand.

    By rule a free-standing wall; below a narrow ``strip`` (mm) so thick that its teeth can take all lines of the strip.
    """
    least = LEAST_BRACED if braced else LEAST_FREE
    fewest = max(LEAST_LINES, math.ceil(least / setup.line_width - 1e-6))
    if wishes.lines is None:
        wide = max(LEAST_FREE, strip - STRIP_LESS) if strip <= NARROW_STRIP else LEAST_FREE
        return max(LEAST_LINES, math.ceil(wide / setup.line_width - 1e-6))
    if wishes.lines < fewest:
        what = "braced" if braced else "free-standing"
        raise PlanRefused(
            f"A {what} wall of {wishes.lines * setup.line_width:.2f} mm would not stand; it needs {least:g} mm.",
            f"Make it at least {fewest} lines thick.", "lines", float(fewest),
        )  # fmt: skip
    return wishes.lines


def wall_gap(wishes: WallWishes, setup: PrintSetup) -> float:
    """Gap for the teeth, mm: whole layers, the empty ones on top of the usual. Raises PlanRefused for none."""
    if wishes.gap is None:
        return math.ceil(USUAL_GAP / setup.layer_height - 1e-6) * setup.layer_height + (
            setup.air_layers * setup.layer_height
        )
    least, most = 2 * setup.layer_height, setup.longest_tooth
    if not least - 1e-9 <= wishes.gap <= most:
        raise PlanRefused(
            f"A gap of {wishes.gap:.2f} mm leaves no sane tooth.",
            f"Type a figure from {least:.2f} to {most:g} mm.", "gap", least if wishes.gap < least else most,
        )  # fmt: skip
    return wishes.gap


def wall_clearance(wishes: WallWishes) -> float:
    """Air kept from the part, mm. Raises PlanRefused for less than keeps the two apart at the bed, or far too much."""
    if not wishes.clearance >= LEAST_CLEARANCE - 1e-9:
        raise PlanRefused(
            f"With {wishes.clearance:.2f} mm of air the first layers of wall and part would weld.",
            f"Leave {LEAST_CLEARANCE:g} mm at least.", "clearance", LEAST_CLEARANCE,
        )  # fmt: skip
    if wishes.clearance > MOST_CLEARANCE:
        raise PlanRefused(
            f"A wall that keeps {wishes.clearance:.2f} mm away from the part finds no place below it.",
            f"Leave {MOST_CLEARANCE:g} mm at most.", "clearance", MOST_CLEARANCE,
        )  # fmt: skip
    return wishes.clearance


def wall_foot(
    wishes: WallWishes, setup: PrintSetup, height: float, thickness: float, *, straight: bool
) -> tuple[float, float]:
    """Width of the flange beside the wall and its height, mm.

    A straight wall falls over its own foot: lean = atan(half the foot / height of the centre of mass), the latter taken
    at half the height, which windows and flange only lower. A curved one stands on its own plan.
    """
    for name in ("foot_width", "foot_height"):
        value = getattr(wishes, name)
        if value is not None and not 0 <= value <= 30:
            raise PlanRefused("A foot flange measures between 0 and 30 mm.", "Type a figure in that range.", name, 30.0)
    wide = math.tan(math.radians(FIRM_LEAN)) * height / 2 - thickness / 2 if straight else LEAST_FOOT
    width = min(max(wide, LEAST_FOOT), WIDEST_FOOT) if wishes.foot_width is None else wishes.foot_width
    width = width if wishes.room is None else min(width, max(wishes.room, 0.0))
    high = setup.first_layer + (FOOT_LAYERS - 1) * setup.layer_height
    return width, (high if wishes.foot_height is None else wishes.foot_height)
