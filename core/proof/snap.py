"""How a row lets go: straight pull, shear and rocking, for one tooth, a row, and everything that holds a piece.

Every force is a range and an estimate. Low: the weakest bond that was published, on the area as drawn (zero when the
tip does not print). High: solid material on the area as bonded, which is never narrower than a line. No measured
removal force for such teeth was found in print; a coupon result replaces the strengths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from core.design.learned import UNTAUGHT, Learned
from core.design.materials import Range
from core.design.setup import PrintSetup
from core.design.span import Direction

#: Shear strength over tensile strength of a ductile solid: 1/√3 (von Mises 1913).
SHEAR_SHARE: Final = 1 / math.sqrt(3)
#: Rocking force up to which a piece comes off with bare fingers, and up to which with pliers, N. From memory:
#: well below the 50 to 80 N that adults pinch at most between thumb and finger; pliers double it a few times.
FINGERS_N: Final = 40.0
PLIERS_N: Final = 150.0
FORCE_SOURCE: Final = "from memory; a coupon result replaces it"

How = Literal["fingers", "pliers", "knife"]


@dataclass(frozen=True)
class Force:
    """A force between ``low`` and ``high``, N (or a moment, N·mm)."""

    low: float
    high: float

    def __add__(self, other: Force) -> Force:
        return Force(self.low + other.low, self.high + other.high)

    def times(self, factor: float) -> Force:
        """The force ``factor`` times over."""
        return Force(self.low * factor, self.high * factor)

    def as_list(self) -> list[float]:
        """Low and high, N, rounded to what an estimate deserves."""
        return [round(self.low, 2), round(self.high, 2)]


NOTHING: Final = Force(0.0, 0.0)


@dataclass(frozen=True)
class Necks:
    """What a row's hold depends on, for new rows and for the designer's own alike. Lengths mm.

    ``tip`` along the edge, ``thickness`` across it, ``height`` from ledge to edge. ``lost`` tells that the last layers
    of the tips do not print. ``name`` is what the person calls the row.
    """

    direction: Direction
    teeth: int
    tip: float
    thickness: float
    height: float
    lost: bool = False
    name: str = "the row"


@dataclass(frozen=True)
class RowSnap:
    """How one row lets go. Forces N for the whole row; ``moment`` N·mm of one neck; ``scar`` mm² left on the part.

    ``sideways`` pushes across the edge at the ledge, ``along`` pushes along it.
    """

    necks: Necks
    pull: Force
    shear: Force
    sideways: Force
    along: Force
    moment: Force
    scar: float
    how: How

    @property
    def per_tooth(self) -> tuple[Force, Force]:
        """Pull and sideways force of one tooth, N."""
        share = 1 / max(self.necks.teeth, 1)
        return self.pull.times(share), self.sideways.times(share)


@dataclass(frozen=True)
class PieceSnap:
    """A sacrificial piece with every row that holds it: forces summed, N, and the order of removal in sentences."""

    rows: tuple[RowSnap, ...]
    pull: Force
    sideways: Force
    how: How
    order: tuple[str, ...]


def neck_pull(tip: float, thickness: float, strength: float) -> float:
    """Force that tears a neck straight off, N: σ w t. Lengths mm, strength MPa (nominal stress, plain statics)."""
    return strength * tip * thickness


def neck_shear(tip: float, thickness: float, strength: float) -> float:
    """Force that shears a neck, N: σ/√3 · w t (von Mises)."""
    return SHEAR_SHARE * neck_pull(tip, thickness, strength)


def neck_moment(width: float, depth: float, strength: float) -> float:
    """Bending moment that breaks a neck, N·mm: σ b d² / 6, ``depth`` along the push (Roark, Table A.1)."""
    return strength * width * depth**2 / 6


def neck_sideways(width: float, depth: float, arm: float, strength: float) -> float:
    """Push at ``arm`` mm from the neck that breaks it, N: by bending, or by shear where that takes less."""
    shear = neck_shear(width, depth, strength)
    return min(neck_moment(width, depth, strength) / arm, shear) if arm > 0 else shear


def strengths(setup: PrintSetup, direction: Direction, learned: Learned = UNTAUGHT) -> Range:
    """Lowest and highest strength of a neck, MPa.

    An upright tooth breaks between its layers, a side tooth within them: there a strand may run across the neck (solid
    material) or end at a weld to its neighbour (the bare interface). A measured range replaces both.
    """
    if learned.strength is not None:
        return learned.strength
    m = setup.filament
    weak = m.across_layers.low if direction == "up" else m.across_layers.high
    source = f"{m.across_layers.source}; solid: {m.in_plane.source}"
    return Range(weak, max(m.in_plane.high, weak), source)


def snap_row(necks: Necks, setup: PrintSetup, learned: Learned = UNTAUGHT) -> RowSnap:
    """The forces that take one row off. What a coupon has taught replaces strengths and the limit for fingers."""
    s = strengths(setup, necks.direction, learned)
    low, high = (0.0 if necks.lost else s.low), s.high
    w, t = necks.tip, necks.thickness
    wide, thick = max(w, setup.line_width), max(t, setup.line_width)
    arm, n = necks.height, necks.teeth
    sideways = Force(neck_sideways(w, t, arm, low), neck_sideways(wide, thick, arm, high)).times(n)
    return RowSnap(
        necks=necks,
        pull=Force(neck_pull(w, t, low), neck_pull(wide, thick, high)).times(n),
        shear=Force(neck_shear(w, t, low), neck_shear(wide, thick, high)).times(n),
        sideways=sideways,
        along=Force(neck_sideways(t, w, arm, low), neck_sideways(thick, wide, arm, high)).times(n),
        moment=Force(neck_moment(w, t, low), neck_moment(wide, thick, high)),
        scar=n * wide * thick,
        how=how_it_goes(sideways, setup, learned),
    )


def how_it_goes(sideways: Force, setup: PrintSetup, learned: Learned = UNTAUGHT) -> How:
    """By fingers, by pliers, or with a knife; soft material is always cut."""
    fingers = fingers_limit(learned)
    if setup.filament.cut or sideways.high > max(PLIERS_N, fingers):
        return "knife"
    return "fingers" if sideways.high <= fingers else "pliers"


def fingers_limit(learned: Learned = UNTAUGHT) -> float:
    """Rocking force up to which fingers do, N."""
    return FINGERS_N if learned.fingers is None else learned.fingers


def snap_piece(rows: Sequence[Necks], setup: PrintSetup, learned: Learned = UNTAUGHT) -> PieceSnap:
    """All rows that hold a piece, the designer's among them. No rows: nothing holds it."""
    snaps = tuple(snap_row(r, setup, learned) for r in rows)
    pull = sum((s.pull for s in snaps), NOTHING)
    sideways = sum((s.sideways for s in snaps), NOTHING)
    return PieceSnap(snaps, pull, sideways, how_it_goes(sideways, setup, learned), removal_order(snaps, setup))


def removal_order(snaps: Sequence[RowSnap], setup: PrintSetup) -> tuple[str, ...]:
    """Where to start and which way to rock: the row that gives most easily first, so that the next one can be bent."""
    if not snaps:
        return ()
    first, *rest = sorted(snaps, key=lambda s: s.sideways.high)
    out = [f"Start with {first.necks.name}: {_motion(first, setup)}"]
    out += [f"Then {s.necks.name}: {_motion(s, setup)}" for s in rest]
    if len(snaps) > 1 and len({s.necks.direction for s in snaps}) > 1:
        out.append("Upright and side rows hold the piece both ways, so free one row wholly before you rock the other.")
    return tuple(out)


def _motion(snap: RowSnap, setup: PrintSetup) -> str:
    teeth, force = _count(snap.necks.teeth), f"about {snap.sideways.low:.0f} to {snap.sideways.high:.0f} N"
    if setup.filament.cut:
        return f"{teeth}, cut each at its tip with a thin blade; this material stretches and does not snap."
    way = (
        "rock the piece across the edge, to and fro, from one end to the other"
        if snap.necks.direction == "up"
        else "rock the fin about its upright edge, away from the part and back, from the top down"
    )
    tool = {"fingers": "by hand", "pliers": "with pliers held at the foot", "knife": "after cutting every second tip"}
    return f"{teeth}, {way}, {tool[snap.how]} ({force} for all at once)."


def _count(teeth: int) -> str:
    return "1 tooth" if teeth == 1 else f"{teeth} teeth"
