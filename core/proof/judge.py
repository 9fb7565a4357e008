"""From figures to findings: will the row print, and does it stand clear of everything else."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from core.design.plan import END_CLEARANCE
from core.geometry.mesh import F64, Bool
from core.proof.case import CALCULATED, MEMORY, PRACTICE, Case
from core.proof.clearance import Clearance
from core.proof.findings import Finding, Level, Remedy
from core.proof.near import ROUNDING
from core.proof.survival import STEP, Survival, holding_width

#: One lost layer is everyday, two or more leave the edge in the air.
LOST_WARN: Final = 2
#: Shares of a foot without ledge, or of a tip without part, from which it is said, and from which the tooth is no use.
BESIDE_WARN, BESIDE_STOP = 0.1, 0.5


def layers_of(count: int) -> str:
    """“1 layer”, “2 layers”."""
    return "1 layer" if count == 1 else f"{count} layers"


def printing(case: Case, survival: Survival) -> list[Finding]:
    """Whether every tooth prints, from the ledge to the edge."""
    out = _thin_teeth(case, survival) or _thin_tips(case, survival)
    return [*out, *_no_path(case, survival), *_air(case), *_underside(case)]


def _thickness(case: Case) -> F64:
    return np.asarray(np.ptp(case.plan.across_range, axis=1))


def _thin_teeth(case: Case, survival: Survival) -> list[Finding]:
    """Teeth thinner than a line across the edge lose every layer."""
    thick, least = _thickness(case), case.near.least
    thin = thick < least - ROUNDING
    if not thin.any():
        return []
    need, room = holding_width(least), case.near.span.width
    wide_enough = need <= room and case.plan.thickness < need - ROUNDING
    remedy = Remedy(f"Make them {need:.2f} mm thick", "thickness", need) if wide_enough else case.without(thin)
    here = room if need > room else float(thick.min())
    cure = f"{need:.2f} mm would print." if wide_enough else f"ledge and edge share only {here:.2f} mm."
    text = (
        f"Teeth {thick.min():.2f} mm thick ({case.of_all(thin)}) are thinner than your line of {least:.2f} mm "
        f"and do not print; {cure}"
    )
    return [
        Finding("tooth_thinner_than_line", "stop" if thin.all() else "warn", text, float(thick.min()), least,
                _least_source(case), case.worst(-thick), remedy)
    ]  # fmt: skip


def _thin_tips(case: Case, survival: Survival) -> list[Finding]:
    """Tips that lose layers: one is everyday practice, two or more leave the edge in the air."""
    worst = survival.worst
    if worst < 1:
        return []
    level: Level = "warn" if worst >= LOST_WARN else "note"
    each = np.maximum(survival.lost, survival.lost_worst).astype(np.float64)
    remedy, cure = _wider_tip(case)
    text = f"{_what_is_lost(case, survival)} {cure}"
    return [
        Finding("tip_thinner_than_line", level, text, float(worst), float(LOST_WARN - 1), _least_source(case),
                case.worst(each), remedy)
    ]  # fmt: skip


def _what_is_lost(case: Case, survival: Survival) -> str:
    now, worst, h = int(survival.lost.max()), survival.worst, case.near.setup.layer_height
    least = case.near.least
    if case.near.span.direction == "side":
        return f"In the worst layer phase {layers_of(worst)} of a tip {case.plan.tip:.2f} mm high will not print."
    if now <= 0:
        return (
            f"As this pose falls on the layers every tip prints; shifted by part of a layer, the last "
            f"{layers_of(worst) if worst > 1 else 'layer'} would be thinner than your line of {least:.2f} mm."
        )
    which = case.of_all(survival.lost > 0)
    last = "last layer" if now == 1 else f"last {now} layers"
    more = f" ({worst} in the worst layer phase)" if worst > now else ""
    air = int(survival.air.max()) * h
    verb = "is" if now == 1 else "are"
    return (
        f"The {last} of {which} {verb} thinner than your line of {least:.2f} mm{more}: "
        f"the edge starts {air:.2g} mm in the air."
    )


def _wider_tip(case: Case) -> tuple[Remedy | None, str]:
    """The tip that would hold, as a remedy and in words."""
    plan, need = case.plan, holding_width(case.near.least)
    if case.near.span.direction == "side":
        need = max(need, math.ceil(case.near.setup.layer_height / STEP - 1e-9) * STEP)
    if need <= plan.tip + 1e-9:
        need = round(plan.tip + STEP, 6)  # at a ridge the flanks go on narrowing above the edge
    field = "tip" if plan.foot >= need - 1e-9 and plan.shape != "post" else "foot"
    words = f"A {field} of {need:.2f} mm would hold it."
    return Remedy(f"Make the {field} {need:.2f} mm", field, need), words


def _no_path(case: Case, survival: Survival) -> list[Finding]:
    """Teeth for which no ledge or no edge was found among the layers."""
    nothing = (survival.lost < 0) & ~survival.connected
    if not nothing.any():
        return []
    text = (
        f"No printed path joins ledge and edge at {case.of_all(nothing)}: the ledge or the edge itself does not print "
        "there. Move or leave out those teeth."
    )
    level: Level = "stop" if nothing.all() else "warn"
    place, remedy = case.worst(nothing.astype(float)), case.without(nothing)
    return [Finding("no_path", level, text, float(nothing.sum()), 0.0, CALCULATED, place, remedy)]


def _air(case: Case) -> list[Finding]:
    """Layers left empty on wish: one is breakaway practice, two leave the edge in the air."""
    count = round(case.plan.air / case.near.setup.layer_height)
    if count < LOST_WARN:
        return []
    text = (
        f"{layers_of(count)} are left empty below the edge, so it starts {case.plan.air:.2g} mm in the air. "
        "One empty layer is the most that still carries."
    )
    remedy = Remedy("Leave one layer empty", "air_layers", 1)
    return [Finding("edge_in_air", "warn", text, float(count), 1.0, PRACTICE, case.place(0), remedy)]


def _underside(case: Case) -> list[Finding]:
    """Side teeth grow away from the fin layer by layer: too fast, and their undersides sag until the tip touches."""
    plan, setup = case.plan, case.near.setup
    if case.near.span.direction == "up" or plan.height <= setup.free_overhang:
        return []
    rise = plan.foot - plan.tip if plan.shape == "rake" else (plan.foot - plan.tip) / 2
    angle = math.degrees(math.atan2(plan.height, max(rise, 1e-9)))
    if angle <= setup.overhang:
        return []
    need = plan.tip + 2 * plan.height / math.tan(math.radians(setup.overhang))
    fits = need <= plan.pitch and plan.shape != "post"
    text = (
        f"The undersides of the side teeth lean {angle:.0f}° from vertical and reach {plan.height:.2f} mm over air; "
        f"your limits are {setup.overhang:.0f}° and {setup.free_overhang:.2g} mm. They may droop a little before the "
        "tip touches."
    )
    remedy = Remedy(f"Make the foot {_up(need):.2f} mm", "foot", _up(need)) if fits else None
    level: Level = "warn" if plan.height > setup.clear_bridge else "note"
    return [Finding("steep_underside", level, text, angle, setup.overhang, PRACTICE, case.place(0), remedy)]


def standing_clear(case: Case, found: Clearance) -> list[Finding]:
    """Whether every tooth stands on the ledge, under the part, and away from everything else."""
    return [*_ends(case, found), *_feet(case, found), *_tips(case, found), *_neighbours(case, found)]


def _ends(case: Case, found: Clearance) -> list[Finding]:
    line, least = case.near.setup.line_width, float(found.from_end.min(initial=np.inf))
    if least >= line - 1e-6:
        return []
    remedy = Remedy(f"Keep {END_CLEARANCE:.2g} mm from the ends", "end_clearance", END_CLEARANCE)
    past = least < -ROUNDING
    text = (
        f"A tip stands {-least:.2f} mm past the end of the edge." if past
        else f"A tip stands {least:.2f} mm from the end of the edge, closer than a line ({line:.2f} mm)."
    )  # fmt: skip
    level: Level = "stop" if past else "note"
    return [Finding("past_end_of_edge", level, text, least, line, PRACTICE, case.worst(-found.from_end), remedy)]


def _feet(case: Case, found: Clearance) -> list[Finding]:
    worst = float(found.off_ledge.max())
    if worst <= BESIDE_WARN:
        return []
    over = found.off_ledge > BESIDE_WARN
    remedy = _onto_the_ledge(case, found, over)
    text = f"The foot of {case.of_all(over)} hangs over the ledge, by up to {100 * worst:.0f} % of its area."
    level: Level = "stop" if worst > BESIDE_STOP else "warn"
    return [Finding("off_ledge", level, text, worst, BESIDE_WARN, MEMORY, case.worst(found.off_ledge), remedy)]


def _onto_the_ledge(case: Case, found: Clearance, over: Bool) -> Remedy | None:
    """Teeth that miss the ledge left out, the row begun farther in, or the teeth made thinner."""
    plan = case.plan
    if (found.off_ledge[over] > BESIDE_STOP).all():
        return case.without(over)
    room = _down(case.near.span.width)
    if not found.off_ledge_along and room < plan.thickness:
        return Remedy(f"Make them {room:.2f} mm thick", "thickness", room)
    need = _up((plan.foot - plan.tip) / 2)
    return Remedy(f"Keep {need:.2f} mm from the ends", "end_clearance", need) if need > plan.end_clearance else None


def _tips(case: Case, found: Clearance) -> list[Finding]:
    worst = float(found.outside.max())
    if worst <= BESIDE_WARN:
        return []
    over = found.outside > BESIDE_WARN
    text = f"The tip of {case.of_all(over)} stands beside the part, with up to {100 * worst:.0f} % of its area."
    level: Level = "stop" if worst > BESIDE_STOP else "warn"
    place, remedy = case.worst(found.outside), case.without(over)
    return [Finding("outside_part", level, text, worst, BESIDE_WARN, MEMORY, place, remedy)]


def _neighbours(case: Case, found: Clearance) -> list[Finding]:
    """Walls and other teeth nearer than a line: what is printed so near fuses."""
    line = case.near.setup.line_width
    out = []
    for distance, what, cure in (
        (found.to_part, "a wall of the part", _away_from_wall), (found.to_teeth, "another tooth", _apart),
    ):  # fmt: skip
        near = distance < line - 1e-3
        if not near.any():
            continue
        least = float(distance.min())
        how = "stands in" if least <= 0 else f"comes within {least:.2f} mm of"
        text = (
            f"{_first_up(case.of_all(near))} {how} {what}; nearer than a line ({line:.2f} mm) they fuse "
            "and will not come off there."
        )
        remedy = cure(case, near, least)
        out.append(Finding("too_close", "warn", text, least, line, PRACTICE, case.worst(-distance), remedy))
    return out


def _away_from_wall(case: Case, near: Bool, least: float) -> Remedy | None:
    """The row begun farther in, when it is its ends that come near a wall; else without the teeth that do."""
    if case.near.span.closed or near[1:-1].any() or case.plan.teeth < 3:
        return case.without(near)
    need = _up(case.plan.end_clearance + case.near.setup.line_width - max(least, 0.0))
    return Remedy(f"Keep {need:.2f} mm from the ends", "end_clearance", need)


def _apart(case: Case, near: Bool, least: float) -> Remedy | None:
    """Fewer teeth, when it is the row's own tips that stand too near to each other."""
    plan, line = case.plan, case.near.setup.line_width
    if plan.teeth < 3 or plan.pitch - plan.tip > line - 1e-3:
        return None
    fewer = int(np.ptp(plan.centres) / (plan.tip + line) + 1e-9) + 1
    return Remedy(f"Plan {fewer} teeth", "teeth", fewer) if 2 <= fewer < plan.teeth else None


def _least_source(case: Case) -> str:
    if case.near.learned.least_printable is not None:
        return case.near.learned.source
    return f"{MEMORY}: {case.near.setup.walls}-width walls"


def _first_up(text: str) -> str:
    return text[0].upper() + text[1:]


def _up(mm: float) -> float:
    return round(math.ceil(mm / STEP - 1e-9) * STEP, 6)


def _down(mm: float) -> float:
    return round(math.floor(mm / STEP + 1e-9) * STEP, 6)
