"""From a pulled handle to the wishes that follow: pure, on the drawing as it was when the pull began. All mm."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

from app.panels.elevation.handles import Handle
from app.panels.elevation.model import DrawnTooth, ElevationModel
from core.design.plan import LEAST_FOOT_AIR, RowWishes
from core.errors import BadValue

SnapWord = Literal["middle", "equal", "between", "line", "feet", "layer", "end", "auto"]
#: Steps of a drag with Shift, and the finest that is written down, mm.
STEP: Final = 0.10
FINEST = 0.01
#: A shift smaller than this is none, mm.
NO_SHIFT = 0.005
#: The narrowest tip and the shortest span that a drag leaves, mm.
LEAST_TIP, LEAST_SPAN = 0.1, 1.0


@dataclass(frozen=True)
class Snap:
    """A place that a drag caught on."""

    u: float
    word: SnapWord


@dataclass(frozen=True, eq=False)
class Grip:
    """A handle in hand: the drawing when it was taken, and how far beside its own place it was taken, u."""

    handle: Handle
    model: ElevationModel
    offset: float

    @classmethod
    def take(cls, model: ElevationModel, handle: Handle, u: float) -> Grip:
        return cls(handle, model, u - place_of(model, handle))


@dataclass(frozen=True)
class Manner:
    """How a drag is held: ``catch`` is how near (mm) it snaps, 0 when suspended; ``stepped`` keeps to steps;
    ``pitch`` pulls the whole row along."""

    catch: float = 0.0
    stepped: bool = False
    pitch: bool = False


def place_of(model: ElevationModel, handle: Handle) -> float:
    """Where a handle is, u."""
    if handle.kind in ("start", "stop"):
        return model.stops[0 if handle.kind == "start" else 1]
    tooth = model.tooth(handle.number)
    if tooth is None:
        return 0.0
    sides = {
        "foot_left": tooth.foot[0],
        "foot_right": tooth.foot[1],
        "tip_left": tooth.tip[0],
        "tip_right": tooth.tip[1],
    }
    return sides.get(handle.kind, tooth.centre)


def dragged(grip: Grip, u: float, manner: Manner) -> tuple[RowWishes, Snap | None]:
    """The wishes when the pointer is at ``u``, and what the handle caught on."""
    place = u - grip.offset
    kind = grip.handle.kind
    if kind in ("start", "stop"):
        return _stop(grip, place, manner)
    tooth = grip.model.tooth(grip.handle.number)
    if tooth is None or grip.model.plan is None:
        return grip.model.wishes, None
    if kind == "tooth":
        return _pitch(grip.model, tooth, place, manner) if manner.pitch else _move(grip.model, tooth, place, manner)
    return _width(grip.model, tooth, kind, place, manner)


def _rounded(value: float, stepped: bool) -> float:
    step = STEP if stepped else FINEST
    return round(round(value / step) * step, 6)


def _caught(place: float, snaps: list[Snap], manner: Manner) -> Snap | None:
    """The nearest place to catch on, when one is near enough."""
    near = [s for s in snaps if abs(s.u - place) <= manner.catch] if manner.catch > 0 and not manner.stepped else []
    return min(near, key=lambda s: abs(s.u - place)) if near else None


def _layer_snaps(model: ElevationModel, place: float) -> list[Snap]:
    """The nearest layer boundary, where layers cross the span."""
    if model.layers.axis != "u" or not model.layers.numbers:
        return []
    nearest = min(model.layers.at.tolist(), key=lambda a: abs(a - place))
    return [Snap(nearest, "layer")]


def _stop(grip: Grip, place: float, manner: Manner) -> tuple[RowWishes, Snap | None]:
    model, first = grip.model, grip.handle.kind == "start"
    own = 0.0 if first else model.length
    snaps = [Snap(own, "end"), *_layer_snaps(model, place)]
    if model.closed:
        snaps = snaps[:1]
    snap = _caught(place, snaps, manner)
    at = snap.u if snap else place
    other = model.stops[1 if first else 0]
    if first:
        trim = min(max(_rounded(at, manner.stepped), 0.0), max(other - LEAST_SPAN, 0.0))
        return replace(model.wishes, start=trim), snap
    trim = min(max(_rounded(model.length - at, manner.stepped), 0.0), max(model.length - other - LEAST_SPAN, 0.0))
    return replace(model.wishes, stop=trim), snap


def moved_to(model: ElevationModel, number: int, shift: float) -> RowWishes:
    """The wishes with one tooth shifted from its planned place, mm."""
    rest = tuple(m for m in model.wishes.moved if m[0] != number)
    if abs(shift) < NO_SHIFT:
        return replace(model.wishes, moved=rest)
    return replace(model.wishes, moved=tuple(sorted((*rest, (number, round(shift, 6))))))


def _room(model: ElevationModel, tooth: DrawnTooth) -> tuple[float, float]:
    """How far a tooth can go: feet do not overlap, and its tip stays on the edge, u."""
    foot, tip = tooth.foot[1] - tooth.foot[0], tooth.tip[1] - tooth.tip[0]
    low, high = tip / 2, model.length - tip / 2
    for other in model.teeth:
        if other.number != tooth.number:
            low, high = _pushed(low, high, tooth.centre, other.centre - foot, other.centre + foot)
    for there in model.section.standing:
        low, high = _pushed(low, high, tooth.centre, there.foot[0] - foot / 2, there.foot[1] + foot / 2)
    return min(low, tooth.centre), max(high, tooth.centre)


def _pushed(low: float, high: float, at: float, left: float, right: float) -> tuple[float, float]:
    """Limits narrowed by an obstacle from ``left`` to ``right``."""
    if (left + right) / 2 < at:
        return max(low, right), high
    return low, min(high, left)


def move_snaps(model: ElevationModel, tooth: DrawnTooth) -> list[Snap]:
    """Where a moved tooth catches: its own place in the row, midway between its neighbours, the middle of the span."""
    snaps = [Snap(tooth.base, "equal")]
    left, right = model.neighbours(tooth.number)
    if left is not None and right is not None:
        snaps.append(Snap((left.start + right.stop) / 2, "between"))
    if not model.closed:
        snaps.append(Snap((model.stops[0] + model.stops[1]) / 2, "middle"))
    return snaps


def _move(model: ElevationModel, tooth: DrawnTooth, place: float, manner: Manner) -> tuple[RowWishes, Snap | None]:
    snaps = [*move_snaps(model, tooth), *_layer_snaps(model, place)]
    low, high = _room(model, tooth)
    snap = _caught(place, [s for s in snaps if low <= s.u <= high], manner)
    at = min(max(snap.u if snap else place, low), high)
    shift = at - tooth.base if snap else _rounded(at - tooth.base, manner.stepped)
    shift = min(max(shift, low - tooth.base), high - tooth.base)
    return moved_to(model, tooth.number, shift), snap


def pitch_free(model: ElevationModel) -> bool:
    """Whether the row has a pitch of its own: not where it only fills in between teeth that are there."""
    return model.plan is not None and model.row_free and len(model.teeth) > 1


def _row_length(model: ElevationModel) -> float:
    """Longest distance from the first centre to the last that the end clearances allow, mm."""
    assert model.plan is not None
    return model.stops[1] - model.stops[0] - 2 * model.plan.end_clearance - model.plan.tip


def _pitch(model: ElevationModel, tooth: DrawnTooth, place: float, manner: Manner) -> tuple[RowWishes, Snap | None]:
    """Stretch or squeeze the row about its middle by one of its teeth."""
    plan = model.plan
    if plan is None or not pitch_free(model):
        return model.wishes, None
    if model.closed:
        return _closed_pitch(model, tooth, place)
    count = max(plan.numbers) + 1 if model.wishes.teeth is None else model.wishes.teeth
    count = max(count, len(model.teeth) + len(model.wishes.left_out))
    step = tooth.number - (count - 1) / 2
    if abs(step) < 0.25:
        return model.wishes, None
    middle = (model.stops[0] + model.stops[1]) / 2
    most = _row_length(model) / (count - 1)
    least = max(plan.tip + LEAST_FOOT_AIR, model.wishes.foot or 0.0)
    pitch = (place - tooth.moved - middle) / step
    snap = _caught(pitch * step + middle, [Snap(most * step + middle, "end")], manner)
    pitch = most if snap else _rounded(pitch, manner.stepped)
    pitch = min(max(pitch, min(least, most)), most)
    return replace(model.wishes, pitch=pitch, teeth=count), snap


def _closed_pitch(model: ElevationModel, tooth: DrawnTooth, place: float) -> tuple[RowWishes, Snap | None]:
    """A closed row always closes on itself, so only its count can follow: from the distance to the tooth before."""
    assert model.plan is not None
    before = tooth.centre - model.plan.pitch
    wanted = max(place - before, model.plan.foot + LEAST_FOOT_AIR)
    return replace(model.wishes, pitch=None, teeth=max(round(model.length / wanted), 1)), None


def _width(
    model: ElevationModel, tooth: DrawnTooth, kind: str, place: float, manner: Manner
) -> tuple[RowWishes, Snap | None]:
    """Foot or tip of the whole row from one corner; the other corner follows on the other side."""
    plan = model.plan
    assert plan is not None
    rake = plan.shape == "rake" and kind.startswith("tip")
    width = place - tooth.foot[0] if rake else 2 * abs(place - tooth.centre) * _outward(tooth, kind, place)
    foot = kind.startswith("foot")
    least, most = (plan.tip, _most_foot(model)) if foot else (LEAST_TIP, plan.foot)
    if plan.shape == "post":
        least, most = LEAST_TIP, _most_foot(model)
    word: SnapWord = "line" if not foot else "auto"
    target = model.line_width if not foot else 4.5 * model.line_width
    catch = replace(manner, catch=2 * manner.catch)
    snap = _caught(width, [Snap(target, word)], catch)
    width = min(max(snap.u if snap else _rounded(width, manner.stepped), least), most)
    return replace(model.wishes, **{"foot" if foot else "tip": width}), snap


def _outward(tooth: DrawnTooth, kind: str, place: float) -> float:
    """1 while the corner is on its own side of the middle, 0 once it was pulled across."""
    return 1.0 if (place > tooth.centre) == kind.endswith("right") else 0.0


def _most_foot(model: ElevationModel) -> float:
    """The widest foot that leaves neighbours apart, mm."""
    assert model.plan is not None
    if len(model.teeth) < 2:
        return model.length
    return max(model.plan.pitch - LEAST_FOOT_AIR, model.plan.tip)


def nudged(model: ElevationModel, handle: Handle, by: float) -> RowWishes:
    """The wishes when a tooth or an end stop is pushed along by a key, mm."""
    grip = Grip(handle, model, 0.0)
    return dragged(grip, place_of(model, handle) + by, Manner())[0]


def left_out(model: ElevationModel, number: int) -> RowWishes:
    """The wishes without one tooth. Raises BadValue when it is the last one."""
    if len(model.teeth) <= 1:
        raise BadValue("This is the last tooth of the row.", "Clear the row instead.")
    return replace(model.wishes, left_out=tuple(sorted({*model.wishes.left_out, number})))


def put_back(model: ElevationModel, number: int) -> RowWishes:
    """The wishes with a tooth that had been left out."""
    return replace(model.wishes, left_out=tuple(n for n in model.wishes.left_out if n != number))


def nearest_left_out(model: ElevationModel, u: float) -> int | None:
    """The left-out tooth whose place is nearest."""
    out = model.left_out
    return min(out, key=lambda t: abs(t.centre - u)).number if out else None


def counted(model: ElevationModel, by: int) -> RowWishes:
    """The wishes with more or fewer teeth; the pitch follows. Raises BadValue below one tooth."""
    now = model.wishes.teeth or len(model.teeth) + len(model.wishes.left_out)
    if now + by < 1:
        raise BadValue("A row has one tooth at least.", "Clear the row instead.")
    kept = tuple(n for n in model.wishes.left_out if n < now + by)
    moved = tuple(m for m in model.wishes.moved if m[0] < now + by)
    return replace(model.wishes, teeth=now + by, pitch=None, left_out=kept, moved=moved)


def typed(model: ElevationModel, key: str, value: float, number: int | None = None) -> RowWishes:
    """The wishes when a dimension was given a figure (mm). Raises BadValue when it cannot be that."""
    wishes, plan = model.wishes, model.plan
    if not (math.isfinite(value) and (value > 0 or key in ("end_left", "end_right", "shift"))):
        raise BadValue("The figure must be more than zero.", "Type a larger one.")
    if key == "length":
        return _typed_length(model, value)
    if plan is None:
        return wishes
    if key in ("end_left", "end_right"):
        return replace(wishes, end_clearance=value, pitch=None)
    if key in ("clear", "pitch"):
        return _typed_pitch(model, value + plan.tip if key == "clear" else value)
    if key in ("foot", "tip"):
        return replace(wishes, **{key: value})
    return _typed_shift(model, key, value, number)


def _typed_length(model: ElevationModel, value: float) -> RowWishes:
    stop = model.length - model.stops[0] - value
    if stop < -1e-6:
        room = model.length - model.stops[0]
        raise BadValue(f"The span is {room:.2f} mm long from its start stop.", f"Type {room:.2f} mm or less.")
    return replace(model.wishes, stop=max(round(stop, 6), 0.0))


def _typed_pitch(model: ElevationModel, pitch: float) -> RowWishes:
    """A pitch that was typed stays; the count that the person set stays only where it still fits."""
    if model.closed:
        return replace(model.wishes, pitch=None, teeth=max(round(model.length / pitch), 1))
    teeth = model.wishes.teeth
    if teeth is not None and (teeth - 1) * pitch > _row_length(model) + 1e-6:
        teeth = None
    return replace(model.wishes, pitch=pitch, teeth=teeth)


def _typed_shift(model: ElevationModel, key: str, value: float, number: int | None) -> RowWishes:
    tooth = model.tooth(number)
    if tooth is None:
        return model.wishes
    if key == "shift":
        return moved_to(model, tooth.number, value)
    left, right = model.neighbours(tooth.number)
    bridge = left if key == "clear_left" else right
    if bridge is None:
        return model.wishes
    by = value - bridge.clear if key == "clear_left" else bridge.clear - value
    return moved_to(model, tooth.number, tooth.moved + by)
