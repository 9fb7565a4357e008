"""From figures to findings: will the edge hold, will the wall stand, and will it all come off again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from core.geometry.mesh import F64
from core.proof.case import MEMORY, PRACTICE, Case
from core.proof.findings import Finding, Level, Remedy
from core.proof.hold import BRIDGE_WARN, SLENDER_NOTE, SLENDER_WARN, TIP_WARN, Hold
from core.proof.snap import FORCE_SOURCE, PLIERS_N, SHEAR_SHARE, Necks, RowSnap, fingers_limit, how_it_goes, snap_piece
from core.proof.survival import STEP, holding_width

#: A free end of edge longer than this many times the free overhang is a warning; from memory.
FREE_WARN: Final = 3.0
_PUT_BACK: Final = Remedy("Put back the teeth left out", "left_out", 0.0)
_STRENGTH_ORDER: Final = ("fingers", "pliers", "knife")


def holding(case: Case, found: Hold, topple: float | None) -> list[Finding]:
    """Bridges, free ends, the wall below, and the stand of the piece (lean in degrees at which it falls, if known)."""
    return [*_bridges(case, found), *_free_ends(case, found), *_wall(case, found), *_topple(case, topple)]


def _limit(case: Case) -> tuple[float, str]:
    learned = case.near.learned
    if learned.clear_bridge is not None:
        return learned.clear_bridge, learned.source
    return case.near.setup.clear_bridge, MEMORY


def _bridges(case: Case, found: Hold) -> list[Finding]:
    """The longest bridge left: up to the limit nothing, from there to 10 mm a note, beyond a warning.

    An upright edge stands on itself layer by layer: nothing bridges between side teeth.
    """
    limit, source = _limit(case)
    longest = found.longest
    if longest <= limit + 1e-3 or case.near.span.direction == "side":
        return []
    between = found.clear >= longest - 1e-9
    low, high = found.sag_left
    sag = "no visible sag" if high == 0 else f"{low:g} to {high:g} mm of sag"
    where = "between two tips" if between else "from the end of the row to what holds the edge there"
    text = (
        f"A bridge of {longest:.2f} mm is left {where}, longer than your limit of {limit:.2f} mm. "
        f"Practice sees {sag} at that length."
    )
    level: Level = "warn" if longest > max(BRIDGE_WARN, limit) else "note"
    remedy = _more_teeth(case, limit) if between else _to_the_end(case, first=_first_end(found))
    return [Finding("clear_bridge", level, text, longest, limit, source, _middle_of_bridge(case, found), remedy)]


def _first_end(found: Hold) -> bool:
    """Whether it is the start of the edge that hangs longer."""
    start, end = (0.0 if e is None else e for e in found.ends)
    return start >= end


def _to_the_end(case: Case, *, first: bool) -> Remedy | None:
    """The row carried on over what was trimmed off the span."""
    if case.plan.left_out:
        return _PUT_BACK
    if case.plan.trimmed[0 if first else 1] <= 0:
        return None
    if first:
        return Remedy("Begin at the start of the span", "start", 0.0)
    return Remedy("Go on to the end of the span", "stop", 0.0)


def _more_teeth(case: Case, limit: float) -> Remedy | None:
    """As many teeth as bring the bridges of an evenly spaced row within the limit; first those that were left out."""
    plan, span = case.plan, case.near.span
    if plan.left_out:
        return _PUT_BACK
    if plan.teeth < 2 or span.occupied:
        return None
    if span.closed:
        need = math.ceil(span.length / (limit + plan.tip) - 1e-9)
    else:
        need = math.ceil(float(np.ptp(plan.centres)) / (limit + plan.tip) - 1e-9) + 1
    return Remedy(f"Plan {need} teeth", "teeth", need) if need > plan.teeth else None


def _middle_of_bridge(case: Case, found: Hold) -> tuple[float, float, float]:
    centres = np.sort(case.plan.centres)
    if found.clear < found.longest - 1e-9:
        first = found.ends[0] is not None and found.ends[0] >= found.longest - 1e-9
        return case.spot(0.0 if first else case.near.span.length)
    if len(centres) < 2:
        return case.place(0)
    i = int(np.argmax(np.diff(centres)))
    return case.spot(float(centres[i : i + 2].mean()))


def _free_ends(case: Case, found: Hold) -> list[Finding]:
    """Edge beyond the last tip that nothing holds: a cantilever along the edge."""
    at_end = case.near.span.length
    limit, longest = case.near.setup.free_overhang, max(found.free_ends)
    if longest <= limit + case.near.setup.line_width:
        return []
    first = found.free_ends[0] >= longest
    text = (
        f"The {'start' if first else 'end'} of the edge hangs free for {longest:.2f} mm beyond the last tip; "
        f"{limit:.2g} mm still prints."
    )
    level: Level = "warn" if longest > FREE_WARN * limit else "note"
    source = "Mazlan et al. 2020, JAITA: 0.5 to 1.5 mm still prints"
    place, remedy = case.spot(0.0 if first else at_end), _to_the_end(case, first=first)
    return [Finding("free_end", level, text, longest, limit, source, place, remedy)]


def _wall(case: Case, found: Hold) -> list[Finding]:
    wall = found.wall
    if wall is None or wall.slenderness <= SLENDER_NOTE:
        return []
    grave = wall.slenderness > SLENDER_WARN and wall.long_and_free
    which = "The wall below" if case.near.span.direction == "up" else "The fin beside the edge"
    text = (
        f"{which} is {wall.height:.1f} mm high, {wall.thickness:.1f} mm thick and runs {wall.free_length:.0f} "
        f"mm without a brace (height over thickness {wall.slenderness:.0f}). "
        + ("A nozzle that catches it may knock it over: brace it or make it thicker." if grave
           else "It should stand if it is printed slowly.")
    )  # fmt: skip
    limit = SLENDER_WARN if grave else SLENDER_NOTE
    level: Level = "warn" if grave else "note"
    return [Finding("wall_slender", level, text, wall.slenderness, limit, PRACTICE, case.spot(wall.at))]


def _topple(case: Case, lean: float | None) -> list[Finding]:
    if lean is None or lean >= TIP_WARN:
        return []
    text = f"The piece that carries the row falls at a lean of {max(lean, 0):.0f}°: give it a wider foot."
    return [Finding("tips_over", "warn", text, lean, TIP_WARN, MEMORY, case.place(0))]


def letting_go(case: Case, snap: RowSnap, standing: Sequence[Necks], roof: F64) -> list[Finding]:
    """How the row comes off, alone and with the rows that hold its piece. ``roof`` (n,): part above the tips, mm."""
    return [*_hard(case, snap), *_cut(case), *_weak_edge(case, roof), *_locked(case, snap, standing)]


def _hard(case: Case, snap: RowSnap) -> list[Finding]:
    limit = fingers_limit(case.near.learned)
    if case.near.setup.filament.cut or snap.sideways.high <= limit:
        return []
    knife = snap.how == "knife"
    text = (
        f"Rocking the whole row off takes about {snap.sideways.low:.0f} to {snap.sideways.high:.0f} N, a straight pull "
        f"{snap.pull.low:.0f} to {snap.pull.high:.0f} N: "
        + ("cut every second tip first." if knife else "take pliers, or rock it off from one end.")
    )  # fmt: skip
    remedy = _easier(case, limit / snap.sideways.high)
    level: Level = "warn" if knife else "note"
    source = case.near.learned.source if case.near.learned.fingers is not None else FORCE_SOURCE
    bound = PLIERS_N if knife else limit
    return [Finding("hard_to_snap", level, text, snap.sideways.high, bound, source, case.place(0), remedy)]


def _easier(case: Case, share: float) -> Remedy | None:
    """Thinner teeth (the force goes with their thickness squared), else narrower tips (it goes with the tip)."""
    plan, least = case.plan, holding_width(case.near.least)
    thinner = math.floor(plan.thickness * math.sqrt(share) / STEP + 1e-9) * STEP
    if thinner >= least - 1e-9:
        return Remedy(f"Make them {thinner:.2f} mm thick", "thickness", round(thinner, 6))
    narrower = math.floor(plan.tip * share / STEP + 1e-9) * STEP
    if narrower >= least - 1e-9 and plan.shape != "post":
        return Remedy(f"Make the tips {narrower:.2f} mm", "tip", round(narrower, 6))
    return None


def _cut(case: Case) -> list[Finding]:
    setup = case.near.setup
    if not setup.filament.cut:
        return []
    text = f"{setup.filament.name} teeth stretch instead of snapping: cut them at the tip with a thin blade."
    return [Finding("cut_not_snap", "note", text, 0.0, 0.0, setup.filament.in_plane.source, case.place(0))]


def _weak_edge(case: Case, roof: F64) -> list[Finding]:
    """Where pulling a tooth would punch a plug out of the part rather than break the neck.

    The plug shears along its rim: 2 (w + t) · d · σ/√3 against σ w t of the neck (plain statics, von Mises).
    """
    plan = case.plan
    need = plan.tip * plan.thickness / (2 * (plan.tip + plan.thickness) * SHEAR_SHARE)
    thinnest = float(roof.min(initial=np.inf))
    if thinnest >= need:
        return []
    text = (
        f"Above the tips the part is only {thinnest:.2f} mm thick, and weaker than the teeth ({need:.2f} mm would "
        "match them): the edge may tear when they are pulled. Rock them off, or make the tips smaller."
    )
    source = "calculated from the shear strength"
    remedy = case.without(roof < need)
    return [Finding("edge_weaker", "warn", text, thinnest, need, source, case.worst(-roof), remedy)]


def _locked(case: Case, snap: RowSnap, standing: Sequence[Necks]) -> list[Finding]:
    """A piece that the designer's rows let go of easily and that the new row holds fast."""
    if not standing:
        return []
    setup, learned = case.near.setup, case.near.learned
    before = snap_piece(standing, setup, learned)
    together = before.sideways + snap.sideways
    after = how_it_goes(together, setup, learned)
    other_way = any(n.direction != snap.necks.direction for n in standing)
    harder = _STRENGTH_ORDER.index(after) > _STRENGTH_ORDER.index(before.how)
    if not harder and not other_way:
        return []
    text = (
        f"The rows that are there hold their piece with about {before.sideways.low:.0f} to {before.sideways.high:.0f} "
        f"N; with this one it is {together.low:.0f} to {together.high:.0f} N. "
    )
    text += "This row holds it in another direction: free one row wholly before the other. " if other_way else ""
    text += f"It used to come off by {_tool(before.how)}, now it needs {_tool(after)}." if harder else ""
    limit = fingers_limit(learned)
    level: Level = "warn" if harder and after == "knife" else "note"
    share = (limit - before.sideways.high) / max(snap.sideways.high, 1e-9)
    remedy = _easier(case, share) if harder and 0 < share < 1 else None
    source = learned.source if learned.fingers is not None else FORCE_SOURCE
    return [Finding("locked_in", level, text.strip(), together.high, limit, source, case.place(0), remedy)]


def _tool(how: str) -> str:
    return {"fingers": "fingers", "pliers": "pliers", "knife": "a knife"}[how]
