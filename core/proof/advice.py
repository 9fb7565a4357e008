"""Advice: the same row made to hold better, or to snap off more easily, within all limits, and what that changes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

from core.design.learned import UNTAUGHT, Learned
from core.design.plan import INSET_ACROSS, RowPlan, RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.span import Span
from core.errors import PlanRefused
from core.proof.snap import Necks, RowSnap, fingers_limit, snap_row
from core.proof.survival import STEP, holding_width

Aim = Literal["hold", "snap"]
#: Stretches of edge, mm of arc length, that teeth which are there hold already.
Standing = tuple[tuple[float, float], ...]
#: Holding better: tips and teeth a third stronger, bridges a quarter shorter, never shorter than 2 mm. From memory.
MORE, CLOSER, CLOSEST = 1.3, 0.75, 2.0
#: Snapping more easily: forces brought down to this share where the limits allow. From memory.
LESS: Final = 0.6


@dataclass(frozen=True, eq=False)
class Advice:
    """Wishes that serve the aim, the plan they give, the forces before and after, and the changes in words."""

    wishes: RowWishes
    plan: RowPlan
    before: RowSnap
    after: RowSnap
    changes: tuple[str, ...]


def advise(
    span: Span,
    wishes: RowWishes,
    setup: PrintSetup,
    aim: Aim,
    *,
    standing: Standing = (),
    learned: Learned = UNTAUGHT,
    beside: float = 0.0,
) -> Advice:
    """Better figures for a row that can be planned as ``wishes`` have it. Raises PlanRefused when that cannot be.

    ``beside`` is the rocking force, N, that other rows of the same piece take already.

    No tip or thickness goes below what prints, no bridge above its limit, no tooth beyond ledge and edge. Whatever the
    person set and the aim does not need stays.
    """
    now = plan_row(span, wishes, setup, standing, learned)
    limit = learned.clear_bridge or setup.clear_bridge
    least = holding_width(learned.least_printable or setup.least_printable)
    wanted = _hold(span, now, least) if aim == "hold" else _snap(now, least, limit)
    tried = _planned(span, wishes, wanted, setup, standing, learned)
    if aim == "hold":
        tried = _within_fingers(span, wishes, wanted, tried, setup, standing, learned, beside)
    new_wishes, plan = tried
    before, after = (_snap_of(span, p, setup, learned) for p in (now, plan))
    return Advice(new_wishes, plan, before, after, _changes(now, plan))


def _hold(span: Span, now: RowPlan, least: float) -> dict[str, float]:
    room = math.floor((span.width - 2 * INSET_ACROSS) / STEP + 1e-9) * STEP
    return {
        "tip": min(max(now.tip, _up(min(now.tip, 2 * least) * MORE), least), now.foot),
        "thickness": max(now.thickness, min(_up(now.thickness * MORE), room)),
        "clear_bridge": max(min(now.clear_bridge, now.clear_limit) * CLOSER, min(CLOSEST, now.clear_bridge)),
    }


def _snap(now: RowPlan, least: float, limit: float) -> dict[str, float]:
    """Thinner first: the force goes with the thickness squared, with the tip only once."""
    thinner = max(min(least, now.thickness), _down(now.thickness * math.sqrt(LESS)))
    left = LESS * (now.thickness / thinner) ** 2
    tip = now.tip if left >= 1 else max(min(least, now.tip), _down(now.tip * left))
    return {"tip": tip, "thickness": thinner, "clear_bridge": max(limit, now.clear_bridge if now.teeth < 3 else limit)}


def _planned(
    span: Span, wishes: RowWishes, wanted: dict[str, float], setup: PrintSetup, standing: Standing, learned: Learned
) -> tuple[RowWishes, RowPlan]:
    """The wishes with the figures wanted. Count and pitch follow from the bridge; if that is refused they stay."""
    rounded = {n: round(v, 6) for n, v in wanted.items()}
    free = replace(wishes, teeth=None, pitch=None, moved=(), left_out=(), **rounded)  # type: ignore[arg-type]
    try:
        return free, plan_row(span, free, setup, standing, learned)
    except PlanRefused:
        kept = replace(wishes, tip=rounded["tip"], thickness=rounded["thickness"])
        return kept, plan_row(span, kept, setup, standing, learned)


def _within_fingers(
    span: Span, wishes: RowWishes, wanted: dict[str, float], tried: tuple[RowWishes, RowPlan], setup: PrintSetup,
    standing: Standing, learned: Learned, beside: float,
) -> tuple[RowWishes, RowPlan]:  # fmt: skip
    """The stronger row, given up step by step where it would no longer come off by hand."""
    limit = fingers_limit(learned) - beside
    now = plan_row(span, wishes, setup, standing, learned)
    for field, back in (("thickness", now.thickness), ("tip", min(now.tip, wanted["tip"]))):
        if _snap_of(span, tried[1], setup, learned).sideways.high <= limit:
            break
        wanted = wanted | {field: back}
        tried = _planned(span, wishes, wanted, setup, standing, learned)
    return tried


def _snap_of(span: Span, plan: RowPlan, setup: PrintSetup, learned: Learned) -> RowSnap:
    return snap_row(Necks(span.direction, plan.teeth, plan.tip, plan.thickness, plan.height), setup, learned)


def _changes(old: RowPlan, new: RowPlan) -> tuple[str, ...]:
    out = [
        f"{word}: {a:.2f} mm, now {b:.2f} mm."
        for word, a, b in (
            ("Tip", old.tip, new.tip), ("Thickness", old.thickness, new.thickness),
            ("Longest clear bridge", old.clear_bridge, new.clear_bridge),
        )
        if abs(a - b) > 1e-6
    ]  # fmt: skip
    if old.teeth != new.teeth:
        out.insert(0, f"Teeth: {old.teeth}, now {new.teeth}.")
    return tuple(out) or ("The row is at the limits already: nothing changes.",)


def _up(mm: float) -> float:
    return math.ceil(mm / STEP - 1e-9) * STEP


def _down(mm: float) -> float:
    return math.floor(mm / STEP + 1e-9) * STEP
