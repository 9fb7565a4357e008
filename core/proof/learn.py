"""What a coupon, a trial piece or a finished print teaches: the person's own printer in place of our figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from core.design.coupon import CouponPlan
from core.design.learned import UNTAUGHT, Learned
from core.design.materials import Range
from core.design.setup import PrintSetup
from core.errors import BadValue
from core.proof.snap import FINGERS_N, Necks, snap_row

CameOff = Literal["fingers", "pliers", "knife", "stuck", "untried"]
Scar = Literal["clean", "stubs", "torn", "untold"]
#: How far a single weighing may be off either way; from memory.
WEIGHING: Final = 0.2
#: Ways of coming off that took more than fingers.
_HARDER: Final = ("pliers", "knife", "stuck")
#: Names of lessons that are all told beside a limit; of more, the latest.
_NAMED: Final = 2


@dataclass(frozen=True)
class Outcome:
    """What a person saw at one row. ``pulled`` is the straight pull that tore the whole row off, N, when weighed.

    ``printed``: every tip was there. ``held``: the edge above stayed straight, None when nobody looked. ``came_off`` is
    what it took, "stuck" when it would not come off at all. ``scar`` is what was left on the edge; it is noted, no
    figure follows from it.
    """

    printed: bool = True
    held: bool | None = True
    came_off: CameOff = "untried"
    pulled: float | None = None
    scar: Scar = "untold"

    def __post_init__(self) -> None:
        if self.pulled is not None and not 0 < self.pulled < 1e5:
            raise BadValue(f"A pull of {self.pulled} N cannot be.", "Give the reading of a scale in newtons.")


@dataclass(frozen=True)
class Tried:
    """A row that was printed, and how it went. ``clear_bridge`` mm is the longest stretch it left open."""

    necks: Necks
    clear_bridge: float
    outcome: Outcome


@dataclass(frozen=True)
class Lesson:
    """What was printed in a ``setup``, row by row, and how it went. ``source`` is how it is named beside a limit."""

    source: str
    setup: PrintSetup
    tried: tuple[Tried, ...]


def alike(a: PrintSetup, b: PrintSetup) -> bool:
    """Whether what was seen in one setup holds in the other: nozzle, line, layer, walls and material are the same."""
    return all(
        getattr(a, name) == getattr(b, name)
        for name in ("nozzle", "line_width", "layer_height", "walls", "material")
    )


def with_lesson(lessons: Sequence[Lesson], lesson: Lesson) -> tuple[Lesson, ...]:
    """The lessons with this one in place of its namesake; one without rows takes its namesake away."""
    others = tuple(old for old in lessons if old.source != lesson.source)
    return (*others, lesson) if lesson.tried else others


def learned_from(lessons: Sequence[Lesson], setup: PrintSetup) -> Learned:
    """What the lessons teach about a setup; those of other printers and filaments say nothing about it."""
    mine = [lesson for lesson in lessons if lesson.tried and alike(lesson.setup, setup)]
    if not mine:
        return UNTAUGHT
    names = list(dict.fromkeys(lesson.source for lesson in mine))
    source = " and ".join(names[-_NAMED:])
    return learn([t for lesson in mine for t in lesson.tried], setup, source)


def tried_rows(plan: CouponPlan, outcomes: Sequence[tuple[int, Outcome]]) -> list[Tried]:
    """Rows of a coupon by their engraved number, with what was seen. Raises BadValue for a number that is not there."""
    rows = {r.number: r for r in plan.rows}
    for number, _ in outcomes:
        if number not in rows:
            raise BadValue(f"The coupon has no row {number}.", f"Its rows are 1 to {len(rows)}.")
    return [
        Tried(Necks("up", r.teeth, r.tip, r.thickness, r.height, name=f"row {number}"), r.clear_bridge, seen)
        for number, seen in outcomes
        for r in (rows[number],)
    ]


def learn(tried: Sequence[Tried], setup: PrintSetup, source: str = "your coupon") -> Learned:
    """The figures that follow from rows that were tried in ``setup``; None for those about which nothing was seen."""
    strength = _strength(tried, source)
    fingers = _fingers(tried, setup, Learned(strength=strength))
    return Learned(_least(tried), _bridge(tried), strength, fingers, source)


def _least(tried: Sequence[Tried]) -> float | None:
    """The smallest width that printed above the largest that did not (scored like ISO/ASTM 52902:2023 features)."""
    width = [(min(t.necks.tip, t.necks.thickness), t.outcome.printed) for t in tried]
    failed = max((w for w, good in width if not good), default=0.0)
    return min((w for w, good in width if good and w > failed), default=None)


def _bridge(tried: Sequence[Tried]) -> float | None:
    """The longest bridge that held below the shortest that did not; rows whose tips are missing tell nothing."""
    seen = [(t.clear_bridge, t.outcome.held) for t in tried if t.outcome.printed and t.outcome.held is not None]
    failed = min((b for b, good in seen if not good), default=float("inf"))
    return max((b for b, good in seen if good and b < failed), default=None)


def _fingers(tried: Sequence[Tried], setup: PrintSetup, weighed: Learned) -> float | None:
    """The greatest rocking force that still went by hand, N, as worked out here, with the strength where weighed."""
    force = [(snap_row(t.necks, setup, weighed).sideways.high, t.outcome.came_off) for t in tried]
    harder = min((f for f, how in force if how in _HARDER), default=float("inf"))
    by_hand = [f for f, how in force if how == "fingers" and f < harder]
    if not by_hand:
        return None if harder == float("inf") else min(FINGERS_N, 0.9 * harder)
    most = max(by_hand)
    return max(most, min(FINGERS_N, 0.9 * harder))


def _strength(tried: Sequence[Tried], source: str) -> Range | None:
    """Strength of a neck from weighed pulls, MPa: F / (n w t) (nominal stress)."""
    found = [
        t.outcome.pulled / (t.necks.teeth * t.necks.tip * t.necks.thickness)
        for t in tried
        if t.outcome.pulled is not None and t.outcome.printed
    ]
    if not found:
        return None
    return Range((1 - WEIGHING) * min(found), (1 + WEIGHING) * max(found), source)
