"""Where a wall runs: how far across from the edge, over which stretch, and how high it is along its axis.

Bed frame, mm. The axis is a parallel of the edge in plan; it is moved away from what stands beside it where the
underside leaves room for that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from core.design.span import thinned
from core.design.wall import LEAST_BRACED, LEAST_HEIGHT, NARROW_STRIP
from core.design.wall_look import COVER_RISE, ON_BED, STEP, WallLook
from core.errors import SpanProblem
from core.geometry.mesh import F64, Bool
from core.geometry.parallel import cut, parallel
from core.geometry.polyline import Polyline

# Lengths in mm; from memory unless a source is named.
#: A wall under the rim of a wide underside keeps this far inside it, so that no two faces lie in one plane.
INSET: Final = 0.05
#: The faces of a wall reach this near to both rims of a narrow strip, so that no line of it hangs all along.
STRIP_RIM: Final = 0.3
#: Spacing of the heights that are felt along the axis, and how true the profile is kept.
FEEL, TRUE = 0.35, 0.005
#: Heights are felt from so far below the edge: lower than an underside that sinks inward, higher than any floor below a
#: wall worth building.
FEEL_BELOW: Final = 0.7
#: A rise of the underside steeper than 45° by this much is a step.
STEP_UP: Final = 0.4
#: A sharper turn of the axis is a corner, degrees: windows keep away from it, for they would widen on its outer side.
CORNER_DEG: Final = 15.0
#: A bend by more than this is kept as a corner of the plan, degrees.
BEND_DEG: Final = 2.0
#: Steps of the look beyond the ends.
END_STEP: Final = 0.1
#: Points across the thickness, and across the thickness with its clearance.
_ACROSS: Final = 5
#: A stretch shorter than this carries no tooth.
LEAST_RUN: Final = 2.0


@dataclass(frozen=True, eq=False)
class Profile:
    """A wall's axis (plan, z = 0) with its heights: ``s`` (k,), ``under`` the underside above, ``floor_low`` and
    ``floor_high`` what is below across the thickness, ``ground`` the highest below its core, on which it would stand;
    all (k,) mm."""

    axis: Polyline
    s: F64
    under: F64
    floor_low: F64
    floor_high: F64
    ground: F64


def wall_shift(look: WallLook, thickness: float, clearance: float, gap: float, flat: float, free: float) -> float:
    """How far across from the edge the middle of the wall lies, mm, inward.

    In the middle of a narrow strip, flush with the rim of a wide one, but where that would come too near to something
    beside it, as little farther as is needed. ``flat`` is how much the underside may rise to count as strip, ``free``
    how far it may hang over beyond the wall.
    """
    lo, hi = _usual(look, flat)
    cover_lo, cover_hi = _usual(look, COVER_RISE)
    half = thickness / 2
    flush = min(max(0.0, lo + half + INSET), hi - half - INSET)
    aim = (lo + hi) / 2 if hi - lo <= thickness + 2 * free else flush
    first, last = cover_lo + half, cover_hi - half
    if hi - lo <= NARROW_STRIP:
        first, last = hi - STRIP_RIM - half, lo + STRIP_RIM + half
    if last < first:
        return (cover_lo + cover_hi) / 2
    aim = min(max(aim, first), last)
    trials = np.r_[aim, np.arange(first, last + 1e-9, 0.1)]
    core = np.array([float(_blocked(look, t, core_half(thickness) + clearance, gap).mean()) for t in trials])
    whole = np.array([float(_blocked(look, t, half + clearance, gap).mean()) for t in trials])
    cost = core + 0.1 * whole + 1e-3 * np.abs(trials - aim)
    return float(trials[int(np.argmin(cost))])


def _usual(look: WallLook, rise: float) -> tuple[float, float]:
    """Interval across in which the underside usually lies within ``rise`` of the edge, mm.

    An end within a step of the edge is the edge itself.
    """
    los, his = (e[np.isfinite(e)] for e in look.shared(rise))
    if not len(los):
        return 0.0, 0.0
    lo, hi = float(np.median(los)), float(np.median(his))
    return (0.0 if abs(lo) < 1.5 * STEP else lo), (0.0 if abs(hi) < 1.5 * STEP else hi)


def core_half(thickness: float) -> float:
    """Half of what must be left of a wall beside something: it may be cut back to the thickness of a braced one, mm."""
    return min(thickness, LEAST_BRACED) / 2


def usable(look: WallLook, shift: float, thickness: float, clearance: float, gap: float) -> Bool:
    """Stations (k,) of the look at which a wall with its middle at ``shift`` has room and something to hold."""
    inside = np.abs(look.v - shift) <= max(thickness / 2, 0.3)
    covered = (look.rise[:, inside] <= COVER_RISE).any(axis=1)
    return covered & ~_blocked(look, shift, core_half(thickness) + clearance, gap)


def _blocked(look: WallLook, shift: float, half: float, gap: float) -> Bool:
    """Stations (k,) where material, or too little height, within ``half`` of ``shift`` leaves no room for the wall."""
    inside = np.abs(look.v - shift) <= half + 1e-6
    room = look.z[:, None] - gap - np.maximum(look.floor[:, inside], 0.0)
    with np.errstate(invalid="ignore"):
        return np.asarray(~(room >= LEAST_HEIGHT).all(axis=1))


def runs(look: WallLook, good: Bool, clearance: float, ends: tuple[float, float]) -> list[tuple[float, float]]:
    """Stretches (a, b) of the edge, arc length in plan, that a wall can serve; b beyond the length around a start.

    Beside a stretch that is blocked a clearance is kept; ``ends`` (mm) is taken off at the two ends of an open edge.
    """
    length = look.plan.length
    found = _runs(look, good, clearance)
    if look.plan.closed:
        return found
    found = [(max(a, ends[0]), min(b, length - ends[1])) for a, b in found]
    return [(a, b) for a, b in found if b - a >= min(LEAST_RUN, length)]


def end_room(look: WallLook, shift: float, half: float, gap: float, clearance: float) -> tuple[float, float]:
    """How much a wall must stop short of the two ends of an open edge, mm, to keep clear of what stands beyond."""
    if look.plan.closed:
        return 0.0, 0.0
    v = np.linspace(shift - half, shift + half, 2 * _ACROSS + 1)
    d = np.r_[np.arange(END_STEP / 2, clearance, END_STEP), clearance]
    out = []
    for i, sign in ((0, -1.0), (-1, 1.0)):
        way = np.array([look.across[i, 1], -look.across[i, 0]]) * look.side * sign
        points = look.axis[i] + look.across[i] * v[:, None] + way * d[:, None, None]
        floor, _ = look.columns.air_around(points.reshape(-1, 2), look.z[i] - gap)
        own, _ = look.columns.air_around(look.axis[i][None] + look.across[i] * shift, look.z[i] - gap)
        rise = np.nan_to_num(floor, nan=np.inf).reshape(len(d), -1) - max(float(np.nan_to_num(own[0])), 0.0)
        bad = (rise > ON_BED + d[:, None]).any(axis=1)
        out.append(clearance + END_STEP - float(d[int(np.argmax(bad))]) if bad.any() else 0.0)
    return out[0], out[1]


def _runs(look: WallLook, good: Bool, clearance: float) -> list[tuple[float, float]]:
    step = float(look.s[1])
    back = int(np.ceil(clearance / step))
    n = len(look.s) - 1 if look.plan.closed else len(look.s)
    ok = good[:n]
    if ok.all():
        return [(0.0, look.plan.length)]
    wide = _spread(~ok, back, look.plan.closed)
    ok = ok & ~wide
    if not ok.any():
        return []
    shift = int(np.argmin(ok)) if look.plan.closed else 0
    turned = np.roll(ok, -shift)
    ends = np.flatnonzero(np.diff(np.r_[0, turned.astype(np.int8), 0]))
    out = [(float((a + shift) * step), float((b - 1 + shift) * step)) for a, b in ends.reshape(-1, 2)]
    return [(a, b) for a, b in out if b - a >= min(LEAST_RUN, look.plan.length / 2)]


def _spread(bad: Bool, by: int, closed: bool) -> Bool:
    """What is bad, and ``by`` stations to both sides of it."""
    if by == 0:
        return bad
    from scipy.ndimage import maximum_filter1d  # noqa: PLC0415 - a tenth of the window's start

    out = maximum_filter1d(bad.astype(np.int8), 2 * by + 1, mode="wrap" if closed else "constant")
    return np.asarray(out > 0)


@lru_cache(maxsize=32)
def profile(look: WallLook, run: tuple[float, float], shift: float, thickness: float, clearance: float) -> Profile:
    """Feel the heights above and below the axis of a wall for a stretch of the edge; kept while other figures change.

    Raises SpanProblem when the underside is not there, PlanRefused when the edge is bent too tightly.
    """
    axis = parallel(cut(look.plan, *run), shift * look.side)
    count = int(np.clip(axis.length / FEEL, 8, 2000))
    s = np.unique(np.r_[np.linspace(0, axis.length, count + 1), corners(axis, BEND_DEG)])
    at = s if axis.closed else np.clip(s, 1e-4, axis.length - 1e-4)
    points, left = axis.at(at)[:, :2], _left_of(axis, at)
    level = _edge_height(look, points) - FEEL_BELOW
    under, low, high = _feel(look, points, left, level, thickness / 2)
    _, _, ground = _feel(look, points, left, level, core_half(thickness))
    known = np.isfinite(under)
    if not known.any():
        raise SpanProblem("Nothing hangs over the wall.", "Move the wall under the part.")
    under = np.interp(s, s[known], under[known])
    return Profile(axis, s, _without_steps(s, under, clearance, axis.closed), low, high, ground)


def _left_of(axis: Polyline, s: F64) -> F64:
    way = axis.directions(s)[:, :2]
    return np.column_stack([-way[:, 1], way[:, 0]])


def _edge_height(look: WallLook, points: F64) -> F64:
    """Height of the edge beside plan points (k, 2), (k,) mm."""
    return np.asarray(look.z[look.places.query(points)[1]])


def _feel(look: WallLook, points: F64, left: F64, level: F64, half: float) -> tuple[F64, F64, F64]:
    """Lowest underside, lowest and highest floor (k,) across ``half`` mm to both sides; NaN underside for none."""
    v = np.linspace(-half, half, _ACROSS)
    where = (points[:, None] + left[:, None] * v[None, :, None]).reshape(-1, 2)
    floor, ceiling = look.columns.air_around(where, np.repeat(level, len(v)))
    floor, ceiling = floor.reshape(-1, len(v)), ceiling.reshape(-1, len(v))
    ceiling = np.where(ceiling <= level[:, None] + FEEL_BELOW + COVER_RISE, ceiling, np.inf)
    under = np.nan_to_num(ceiling, nan=np.inf).min(axis=1)
    floor = np.maximum(np.nan_to_num(floor, nan=0.0, neginf=0.0), 0.0)
    floor = np.where(floor < ON_BED, 0.0, floor)
    return np.where(np.isfinite(under), under, np.nan), floor.min(axis=1), floor.max(axis=1)


def corners(axis: Polyline, least: float = CORNER_DEG) -> F64:
    """Arc lengths (c,) at which a line turns by more than ``least`` degrees in plan, mm."""
    step = np.diff(axis.ring[:, :2], axis=0)
    way = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs((np.diff(way) + np.pi) % (2 * np.pi) - np.pi)
    out = axis.stations[1:-1][turn > np.deg2rad(least)]
    if axis.closed and abs((way[0] - way[-1] + np.pi) % (2 * np.pi) - np.pi) > np.deg2rad(least):
        out = np.r_[0.0, out]
    return np.asarray(out)


def _without_steps(s: F64, z: F64, clearance: float, closed: bool) -> F64:
    """The underside lowered beside a step, so that the wall below the high side keeps its clearance from the low."""
    step = float(np.median(np.diff(s)))
    size = 2 * int(np.ceil(clearance / max(step, 1e-6))) + 1
    from scipy.ndimage import minimum_filter1d  # noqa: PLC0415 - as above

    low = minimum_filter1d(z, size, mode="wrap" if closed else "nearest")
    return np.where(z - low > STEP_UP + clearance, low, z)


def stations(found: Profile, gap: float, extra: F64) -> tuple[F64, F64]:
    """Arc lengths (k,) that the wall needs, and its top at them (k,): bends of the plan, of the top, and ``extra``."""
    top = found.under - gap
    points = found.axis.at(found.s)[:, :2]
    if found.axis.closed:
        points[-1] = points[0]
    rows = thinned(np.column_stack([points, top, found.s]), TRUE)
    s: F64 = np.unique(np.round(np.concatenate([rows[:, 3], extra]), 7))
    s = s[np.r_[True, np.diff(s) > 1e-4]]
    return s.astype(np.float64), np.interp(s, found.s, top)
