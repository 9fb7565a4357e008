"""The row plan: how many teeth, how wide, how far apart. Numbers only; the solids are made from it elsewhere.

Every figure is either set by the person, and then kept, or automatic, and then follows by the rules written here.
A wish that cannot be kept is refused together with the figure that stands in its way.
"""

from __future__ import annotations

import math

import numpy as np

from core.design.learned import UNTAUGHT, Learned
from core.design.places import by_hand, longest_clear, place, runs
from core.design.row import (
    AUTOMATIC,
    END_CLEARANCE,
    FOOT_LINES,
    INSET_ACROSS,
    KERF,
    LEAST_FOOT_AIR,
    SHAPES,
    SINK_LEDGE_LAYERS,
    SINK_PART_LAYERS,
    THICKNESS_LINES,
    TIP_LINES,
    Across,
    RowPlan,
    RowWishes,
    Shape,
)
from core.design.setup import PrintSetup
from core.design.span import Span
from core.errors import PlanRefused
from core.geometry.mesh import F64

#: The row's own words and figures are had from here, too.
__all__ = [
    "AUTOMATIC", "END_CLEARANCE", "FOOT_LINES", "INSET_ACROSS", "KERF", "LEAST_FOOT_AIR", "SHAPES", "SINK_PART_LAYERS",
    "Across", "RowPlan", "RowWishes", "Shape", "across_range", "automatic_tip", "plan_row",
]  # fmt: skip


def plan_row(
    span: Span, wishes: RowWishes, setup: PrintSetup, standing: tuple[tuple[float, float], ...] = (),
    learned: Learned = UNTAUGHT,
) -> RowPlan:
    """Plan a row along a span. ``standing`` are tip intervals (mm of arc length) of teeth that are there already.

    What was ``learned`` of the printer goes before the setup's own limits. Raises PlanRefused, with the field and the
    limiting figure, for a wish that cannot be kept.
    """
    tip, foot, thickness = _section(span, wishes, setup, learned)
    limit = wishes.clear_bridge or learned.clear_bridge or setup.clear_bridge
    clearance = _end_clearance(span, wishes, setup)
    beside = max((foot - tip) / 2, thickness if span.corners else 0.0) + LEAST_FOOT_AIR / 2
    stretches = runs(span, wishes, standing, clearance, beside)
    centres, pitch, foot = place(span, wishes, stretches, tip, foot, limit, setup)
    planned = len(centres)
    numbers, centres = by_hand(span, wishes, centres, tip)
    at = span.at(centres)
    air = (setup.air_layers if wishes.air_layers is None else wishes.air_layers) * setup.layer_height
    heights = at.gap
    if len(heights) and air >= float(heights.min()) + float(at.reach.min()):
        raise PlanRefused(
            f"Empty layers of {air:.2f} mm leave nothing of a gap of {float(heights.min()):.2f} mm.",
            "Leave fewer layers empty.", "air_layers", float(heights.min() // setup.layer_height),
        )  # fmt: skip
    across = wishes.across or ("centred" if span.kind == "ridge" else "flush")
    return RowPlan(
        shape=wishes.shape,
        centres=centres,
        numbers=numbers,
        across_range=across_range(at.lo, at.hi, thickness, across),
        heights=heights,
        pitch=pitch,
        foot=foot,
        tip=tip,
        thickness=thickness,
        sink_ledge=_sink(wishes.sink_ledge, SINK_LEDGE_LAYERS * setup.layer_height, "sink_ledge"),
        sink_part=_sink(wishes.sink_part, SINK_PART_LAYERS * setup.layer_height, "sink_part"),
        air=air,
        across=across,
        clear_bridge=longest_clear(span, centres, tip, standing, wishes),
        clear_limit=limit,
        end_clearance=clearance,
        automatic=frozenset(n for n in AUTOMATIC if getattr(wishes, n) is None),
        trimmed=(wishes.start, wishes.stop),
        left_out=planned - len(centres),
    )


def automatic_tip(setup: PrintSetup, learned: Learned = UNTAUGHT) -> float:
    """Just above one line, or what was seen to print where that is wider, in steps of 0.05 mm."""
    least = max(TIP_LINES * setup.line_width, learned.least_printable or 0.0)
    return math.ceil(least / 0.05 - 1e-9) * 0.05


def _section(
    span: Span, wishes: RowWishes, setup: PrintSetup, learned: Learned = UNTAUGHT
) -> tuple[float, float, float]:
    """Tip, foot and thickness."""
    _positive(wishes)
    tip = automatic_tip(setup, learned) if wishes.tip is None else wishes.tip
    if wishes.tip is None and wishes.foot is not None:
        tip = min(tip, wishes.foot)
    foot = wishes.foot
    if wishes.shape == "post":
        if wishes.foot is not None and wishes.tip is None:
            tip = wishes.foot
        foot = tip
    elif foot is None:
        foot = max(tip, math.ceil(FOOT_LINES * setup.line_width / 0.1 - 1e-9) * 0.1)
    if tip > foot + 1e-9:
        raise PlanRefused(
            f"A tip of {tip:.2f} mm is wider than its foot of {foot:.2f} mm and would overhang.",
            f"Make the foot at least {tip:.2f} mm, or the tip narrower.", "tip", foot,
        )  # fmt: skip
    room = span.width - 2 * INSET_ACROSS
    if wishes.thickness is not None:
        if wishes.thickness > room + 2 * INSET_ACROSS + 1e-6:
            raise PlanRefused(
                f"Ledge and edge share {span.width:.2f} mm across; a tooth {wishes.thickness:.2f} mm thick "
                "would stand beside them.",
                f"Make it {max(room, 0):.2f} mm or thinner.", "thickness", room,
            )  # fmt: skip
        return tip, foot, wishes.thickness
    wanted = math.ceil(max(THICKNESS_LINES * setup.line_width, learned.least_printable or 0.0) / 0.1 - 1e-9) * 0.1
    return tip, foot, max(min(wanted, room), 0.05)


def _positive(wishes: RowWishes) -> None:
    for name in ("teeth", "pitch", "foot", "tip", "thickness", "clear_bridge"):
        value = getattr(wishes, name)
        if value is not None and not (math.isfinite(value) and value > 0):
            raise PlanRefused(
                f"The {name.replace('_', ' ')} must be more than zero.", "Type a larger figure.", name, 0.0
            )


def _sink(wish: float | None, usual: float, name: str) -> float:
    if wish is not None and not 0 <= wish <= 5:
        raise PlanRefused("A sink lies between 0 and 5 mm.", "Type a figure in that range.", name, 5.0)
    return usual if wish is None else wish


def _end_clearance(span: Span, wishes: RowWishes, setup: PrintSetup) -> float:
    if wishes.end_clearance is not None:
        return max(wishes.end_clearance, 0.0)
    return min(END_CLEARANCE, max(setup.line_width, 0.1 * span.length))


def across_range(lo: F64, hi: F64, thickness: float, across: Across) -> F64:
    """Where each tooth stands across the strip, (n, 2): inside it, at the outer side or in the middle."""
    width = np.minimum(thickness, hi - lo)
    start = lo + np.minimum(INSET_ACROSS, hi - lo - width) if across == "flush" else (lo + hi - width) / 2
    return np.column_stack([start, start + width])
