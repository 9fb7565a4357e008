"""Planning a wall: from an edge and what was wished for to the figures of the whole wall. Bed frame, mm."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from core.design.plan import automatic_tip
from core.design.setup import PrintSetup
from core.design.wall import (
    MOST_HEIGHT,
    SLENDER_NOTE,
    SLENDER_WARN,
    Base,
    Foot,
    Rib,
    WallPlan,
    WallWishes,
    Window,
    gable_slope,
    vet,
    wall_clearance,
    wall_foot,
    wall_gap,
    wall_lines,
)
from core.design.wall_axis import Profile, corners, end_room, profile, runs, stations, usable, wall_shift
from core.design.wall_layout import BAR, SLIT, break_lines, break_places, feet, needs_ribs, rib, rib_places, windows
from core.design.wall_look import ON_BED, WallLook, look_for_wall
from core.errors import SpanProblem
from core.geometry.mesh import F64, Bool, Mesh, frozen
from core.geometry.parallel import cut
from core.geometry.polyline import Polyline

#: A plan that bulges from its chord by this many thicknesses braces itself; from memory.
BULGE: Final = 5.0
#: Room beside a wall is felt in these steps, mm, up to the deepest rib.
_ROOM: Final = np.arange(1.0, 9.01, 0.5)
#: Figures that follow by rule when they are not wished for.
AUTOMATIC: Final = ("lines", "gap", "foot_width", "foot_height", "windows", "ribs", "breaks", "shift")


def plan_wall(mesh: Mesh, edge: Polyline, setup: PrintSetup, wishes: WallWishes | None = None) -> WallPlan:
    """Plan a wall on ``mesh`` for ``edge`` (both bed mm): the longest stretch that can stand.

    Raises SpanProblem when none can, PlanRefused for a wish that cannot be kept.
    """
    return plan_on_look(look_for_wall(mesh, edge), setup, wishes)


def plan_on_look(look: WallLook, setup: PrintSetup, wishes: WallWishes | None = None) -> WallPlan:
    """The same on a look that is known already, as while a figure is being changed."""
    wanted = wishes or WallWishes()
    place = _place(look, setup, wanted)
    return _filled(look, setup, wanted, max(place, key=lambda r: r[1] - r[0]))


def plan_all_on_look(look: WallLook, setup: PrintSetup, wishes: WallWishes | None = None) -> list[WallPlan]:
    """One wall for every stretch of the edge that can have one, longest first."""
    wanted = wishes or WallWishes()
    place = sorted(_place(look, setup, wanted), key=lambda r: r[0] - r[1])
    return [_filled(look, setup, wanted, run) for run in place]


def _place(look: WallLook, setup: PrintSetup, wishes: WallWishes) -> list[tuple[float, float]]:
    """The stretches of the edge that a wall can serve. Raises SpanProblem when there is none."""
    shift, thickness, gap, clearance = _across(look, setup, wishes)
    good = usable(look, shift, thickness, clearance, gap)
    found = runs(look, good, clearance, end_room(look, shift, thickness / 2, gap, clearance))
    if not found:
        raise SpanProblem(
            "There is no room for a wall below this edge: the part stands in the way, or too low over what is below.",
            "Lower the gap or the clearance, or pick another edge.",
        )
    return found


def _across(look: WallLook, setup: PrintSetup, wishes: WallWishes) -> tuple[float, float, float, float]:
    """Shift, thickness, gap and clearance, mm."""
    vet(wishes)
    gap, clearance = wall_gap(wishes, setup), wall_clearance(wishes)
    braced = wishes.ribs is True or look.plan.closed or _bulge(look.plan) > BULGE * setup.line_width * 2
    thickness = wall_lines(wishes, setup, strip_width(look, setup), braced=braced) * setup.line_width
    if wishes.shift is not None:
        return wishes.shift, thickness, gap, clearance
    shift = wall_shift(look, thickness, clearance, gap, setup.layer_height + 1e-6, setup.free_overhang)
    return shift, thickness, gap, clearance


def strip_width(look: WallLook, setup: PrintSetup) -> float:
    """Width of the flat strip at the edge, mm, as far as the look goes."""
    lo, hi = look.shared(setup.layer_height + 1e-6)
    return float(np.nanmedian(hi - lo)) if np.isfinite(lo).any() else 0.0


def _bulge(plan: Polyline) -> float:
    """How far an open line departs from its chord in plan, mm."""
    chord = plan.array[-1] - plan.array[0]
    size = float(np.linalg.norm(chord))
    away = plan.array - plan.array[0]
    if size < 1e-9:
        return float(np.linalg.norm(away, axis=1).max())
    return float(np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0]).max() / size)


def _filled(look: WallLook, setup: PrintSetup, wishes: WallWishes, run: tuple[float, float]) -> WallPlan:
    """All figures of the wall for one stretch of the edge."""
    shift, thickness, gap, clearance = _across(look, setup, wishes)
    felt = profile(look, run, shift, thickness, clearance)
    axis = felt.axis
    curved = axis.closed or _bulge(axis) > BULGE * thickness
    standing: Bool = np.asarray(felt.ground > ON_BED)
    stand = _feet(felt, standing, setup)
    height = float((felt.under - gap - np.where(standing, felt.floor_high, 0.0)).max())
    if height > MOST_HEIGHT:
        raise SpanProblem(
            f"A wall below this edge would be {height:.0f} mm high; none above {MOST_HEIGHT:g} mm is built.",
            "Look whether the unit of the file is right, or turn the part.",
        )
    width, high = wall_foot(wishes, setup, height, thickness, straight=not curved)
    low = float((felt.under - gap).min())
    high = min(high, low / 2)
    width = 0.0 if standing.all() else width
    braced = curved or bool(standing.any())
    ribs, words = _ribs(look, felt, wishes, height, thickness, clearance, setup, braced=braced)
    breaks, openings = _openings(felt, wishes, ribs, high, gap, setup)
    s, bottom, top = _lines(felt, gap, stand, breaks + openings, setup)
    for array in (s, bottom, top):
        frozen(array)
    return WallPlan(
        edge=look.edge, axis=Polyline.of(_on(axis, s), axis.closed), s=s, bottom=bottom, top=top,
        lines=round(thickness / setup.line_width), thickness=thickness, gap=gap, clearance=clearance,
        foot_width=width, foot_height=high, base=_base(standing), windows=openings, breaks=breaks, ribs=ribs,
        feet=stand, covered=run, notes=(*words, *_notes(look, run, height / thickness, bool(ribs) or curved, stand)),
        automatic=frozenset(n for n in AUTOMATIC if getattr(wishes, n) is None),
    )  # fmt: skip


def _on(axis: Polyline, s: F64) -> F64:
    points = axis.at(s)
    return points[:-1] if axis.closed else points


def served_edge(wall: WallPlan) -> Polyline:
    """The stretch of its edge that a wall serves, bed mm."""
    return cut(wall.edge, *wall.covered)


def _base(standing: Bool) -> Base:
    return "part" if standing.all() else "both" if standing.any() else "bed"


def _feet(felt: Profile, standing: Bool, setup: PrintSetup) -> tuple[Foot, ...]:
    """Feet on the part below, over every stretch that has it within the clearance."""
    out: list[Foot] = []
    on_part = (felt.floor_low > ON_BED) & standing
    ends = np.flatnonzero(np.diff(np.r_[0, on_part.astype(np.int8), 0]))
    for a, b in ends.reshape(-1, 2):
        start, stop = float(felt.s[a]), float(felt.s[b - 1])
        if stop - start > automatic_tip(setup):
            out += feet(start, stop, automatic_tip(setup), lambda s: np.interp(s, felt.s, felt.floor_low))
    return tuple(out)


def _ribs(
    look: WallLook, felt: Profile, wishes: WallWishes, height: float, thickness: float, clearance: float,
    setup: PrintSetup, *, braced: bool,
) -> tuple[tuple[Rib, ...], tuple[str, ...]]:  # fmt: skip
    """Ribs where they are needed and have room, and a sentence when they are needed and have none."""
    if not needs_ribs(height, thickness, braced, wishes.ribs):
        return (), ()
    width = max(2, round(0.8 / setup.line_width)) * setup.line_width
    found = []
    for s in rib_places(felt.axis.length, height, felt.axis.closed):
        tall = float(np.interp(s, felt.s, felt.under)) - wall_gap(wishes, setup)
        room = {way: _room(look, felt, float(s), way, thickness, width, clearance) for way in (1, -1)}
        room = room if wishes.room is None else {way: min(x, wishes.room) for way, x in room.items()}
        way = look.side if room[look.side] >= min(room[-look.side], 4.0) else -look.side
        brace = rib(float(s), way, room[way], tall, width)
        found += [brace] if brace else []
    words = () if found else ("There is no room for ribs beside the wall.",)
    return tuple(found), words


def _room(look: WallLook, felt: Profile, s: float, way: int, thickness: float, width: float, clearance: float) -> float:
    """How far beside the wall's face nothing stands below the underside, mm."""
    point, along = felt.axis.at(s)[0, :2], felt.axis.directions(s)[0, :2]
    left = np.array([-along[1], along[0]]) * way
    out = thickness / 2 + _ROOM
    points = point + left * out[:, None, None] + along * np.array([-1, 0, 1])[None, :, None] * (width / 2 + clearance)
    level = float(np.interp(s, felt.s, felt.under)) - 0.3
    floor, _ = look.columns.air_around(points.reshape(-1, 2), level)
    # Beyond the rim the level may lie in material that only begins there; only what stands below counts.
    free: Bool = np.asarray((np.nan_to_num(floor, nan=np.inf, neginf=0.0).reshape(-1, 3) <= ON_BED).all(axis=1))
    count = int(np.argmin(free)) if not free.all() else len(free)
    return float(_ROOM[count - 1]) - clearance if count else 0.0


def _openings(
    felt: Profile, wishes: WallWishes, ribs: tuple[Rib, ...], foot: float, gap: float, setup: PrintSetup
) -> tuple[tuple[Window, ...], tuple[Window, ...]]:
    """Break lines and windows."""
    axis = felt.axis

    def top(s: F64) -> F64:
        return np.interp(s, felt.s, felt.under) - gap

    def bottom(s: F64) -> F64:
        return np.interp(s, felt.s, np.where(felt.ground > ON_BED, felt.ground + 1.5, 0.0))

    on_bed = felt.ground <= ON_BED
    places = break_places(axis.length, axis.closed, wishes.breaks) if on_bed.all() else ()
    slits = break_lines(tuple(_beside_ribs(places, ribs)), foot, top)
    if wishes.windows is False:
        return slits, ()
    bars = [(r.at, r.thickness + 1.0) for r in ribs] + [((w.start + w.stop) / 2, SLIT + 2 * BAR) for w in slits]
    bars += [(s, 2 * BAR) for s in corners(axis)]
    return slits, windows(axis.length, axis.closed, bars, foot, bottom, top, gable_slope(setup))


def _beside_ribs(places: tuple[float, ...], ribs: tuple[Rib, ...]) -> list[float]:
    """Break lines moved off the ribs."""
    out = []
    for s in places:
        near = [r for r in ribs if abs(r.at - s) < r.thickness / 2 + SLIT / 2 + BAR]
        out.append(near[0].at + near[0].thickness / 2 + SLIT / 2 + BAR if near else s)
    return out


def _lines(
    felt: Profile, gap: float, stand: tuple[Foot, ...], openings: tuple[Window, ...], setup: PrintSetup
) -> tuple[F64, F64, F64]:
    """Stations with the bottom and the top of the wall at each, (k,) mm."""
    bends = [x for w in openings for x in (w.start, (w.start + w.stop) / 2, w.stop)]
    bends += [x for f in stand for x in (f.start, f.stop)]
    bends += [(a.stop + b.start) / 2 for a, b in pairwise(stand)]
    edges = np.flatnonzero(np.diff(np.asarray(felt.ground > ON_BED).astype(np.int8)))
    bends += [float(x) for i in edges for x in (felt.s[i], felt.s[i + 1])] if stand else []
    s, top = stations(felt, gap, np.array(bends, np.float64))
    return s, _bottom(felt, s, stand, gable_slope(setup)), top


def _bottom(felt: Profile, s: F64, stand: tuple[Foot, ...], rise: float) -> F64:
    """Zero on the bed; on the part the feet, and between them arches as steep as the gables of windows."""
    ground = np.interp(s, felt.s, felt.ground)
    if not stand:
        return np.zeros(len(s))
    away = np.min([np.maximum(np.maximum(f.start - s, s - f.stop), 0) for f in stand], axis=0)
    arch = np.interp(s, felt.s, felt.floor_high) + rise * away
    out = np.where(ground > ON_BED, np.maximum(arch, 0.0), 0.0)
    for f in stand:
        out = np.where((s >= f.start - 1e-6) & (s <= f.stop + 1e-6), f.low, out)
    return out


def _notes(
    look: WallLook, run: tuple[float, float], slender: float, braced: bool, stand: tuple[Foot, ...]
) -> tuple[str, ...]:
    """What the person should know about this wall."""
    out = []
    left = look.plan.length - (run[1] - run[0])
    if left > 0.5:
        out.append(f"{left:.1f} mm of the edge get no wall: the part stands in the way there, or hangs too low.")
    if slender > SLENDER_WARN and not braced:
        out.append(f"The wall is {slender:.0f} times as high as it is thick and nothing braces it: it may sway.")
    elif slender > SLENDER_NOTE:
        by = "; ribs or bends brace it" if braced else ""
        out.append(f"The wall is {slender:.0f} times as high as it is thick{by}.")
    if stand:
        out.append(f"It stands on the part with {len(stand)} small feet, which leave marks where they break off.")
    return tuple(out)
