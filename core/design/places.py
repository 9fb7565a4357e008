"""Where the teeth of a row stand along its span: between free ends, round a closed edge, between standing teeth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from core.design.row import LEAST_FOOT_AIR, RowWishes
from core.design.setup import PrintSetup
from core.design.span import Span
from core.errors import PlanRefused
from core.geometry.mesh import F64


@dataclass(frozen=True)
class Run:
    """A stretch to fill: arc lengths of its ends, and whether a tooth that is there holds each of them."""

    start: float
    stop: float
    held: tuple[bool, bool]


def runs(
    span: Span, wishes: RowWishes, standing: tuple[tuple[float, float], ...], clearance: float, beside: float
) -> list[Run]:
    """The stretches between the trimmed ends, the corners and the teeth that are there, without the clearance at free
    ends. No tooth stands across a corner of the edge; ``beside`` (mm) is what a tip keeps from it.
    """
    whole = _between_stops(span, wishes, standing, clearance)
    if not span.corners:
        return whole
    if whole[0].held == (True, True) and span.closed and len(whole) == 1 and not standing:
        first = span.corners[0]
        turns = [*span.corners, first + span.length]
        return [Run(a + beside, b - beside, (False, False)) for a, b in pairwise(turns)]
    return [part for run in whole for part in _at_corners(run, span.corners, beside)]


def _at_corners(run: Run, corners: tuple[float, ...], beside: float) -> list[Run]:
    """A run parted at the corners in it; nothing is left of stretches that two corners take up."""
    inside = [c for c in corners if run.start < c < run.stop]
    if not inside:
        return [run]
    starts = [run.start, *(c + beside for c in inside)]
    stops = [*(c - beside for c in inside), run.stop]
    held = [(run.held[0] and i == 0, run.held[1] and i == len(inside)) for i in range(len(inside) + 1)]
    return [Run(a, b, h) for a, b, h in zip(starts, stops, held, strict=True)]


def _between_stops(
    span: Span, wishes: RowWishes, standing: tuple[tuple[float, float], ...], clearance: float
) -> list[Run]:
    """The stretches between the trimmed ends and the teeth that are there, without the clearance at free ends."""
    first, last = wishes.start, span.length - wishes.stop
    if last - first <= 0 or wishes.start < 0 or wishes.stop < 0:
        raise PlanRefused(
            "Nothing of the span is left between its end stops.", "Move the end stops apart.", "start", span.length
        )
    if span.closed and not standing and last - first >= span.length - 1e-9:
        return [Run(0.0, span.length, (True, True))]
    stops = [(a, b) for a, b in (standing or span.occupied) if b > first and a < last]
    edges = [(first, False), *((x, True) for ab in stops for x in ab), (last, False)]
    out = []
    for (a, held_a), (b, held_b) in zip(edges[::2], edges[1::2], strict=True):
        lo = a if held_a else a + clearance
        hi = b if held_b else b - clearance
        out.append(Run(lo, hi, (held_a, held_b)))
    return out


def place(
    span: Span, wishes: RowWishes, runs: list[Run], tip: float, foot: float, limit: float, setup: PrintSetup
) -> tuple[F64, float, float]:
    """Centres, pitch and (if it is automatic and must give way) foot."""
    if span.closed and len(runs) == 1 and runs[0].held == (True, True):
        count = wishes.teeth or _count_for_pitch(wishes.pitch, span.length, closed=True)
        count = count or max(3, math.ceil(span.length / (limit + tip) - 1e-9))
        pitch = span.length / count
        centres = np.asarray((np.arange(count) + 0.5) * pitch, np.float64)
    elif len(runs) == 1 and runs[0].held == (False, False):
        centres, pitch = _free_run(runs[0], wishes, tip, foot, limit)
    else:
        centres, pitch = _between(span, runs, wishes, tip, limit)
    closest = float(np.diff(centres).min()) if span.corners and len(centres) > 1 else pitch
    room = min(pitch, closest) - LEAST_FOOT_AIR if len(centres) > 1 else span.length
    if foot > room:
        if wishes.foot is not None and foot > pitch:
            raise PlanRefused(
                f"Feet of {foot:.2f} mm overlap at a pitch of {pitch:.2f} mm.",
                f"Make the foot at most {pitch:.2f} mm, or plan fewer teeth.", "foot", pitch,
            )  # fmt: skip
        foot = foot if wishes.foot is not None else max(tip, room)
    return centres, pitch, foot


def _count_for_pitch(pitch: float | None, length: float, *, closed: bool) -> int | None:
    if pitch is None:
        return None
    return max(1, round(length / pitch) if closed else math.floor(length / pitch + 1e-9) + 1)


def _free_run(run: Run, wishes: RowWishes, tip: float, foot: float, limit: float) -> tuple[F64, float]:
    """A row between two free ends: symmetric about the middle, the outer tips at the clearance."""
    length = run.stop - run.start - tip
    if length < 0 and run.stop - run.start + 1e-9 < 0:
        raise PlanRefused("The edge is too short for a single tooth.", "Reduce the end clearance.", "teeth", 0.0)
    length = max(length, 0.0)
    middle = (run.start + run.stop) / 2
    pitch = wishes.pitch
    if wishes.teeth is not None:
        count = wishes.teeth
        if pitch is not None and (count - 1) * pitch > length + 1e-6:
            fits = math.floor(length / pitch + 1e-9) + 1
            raise PlanRefused(
                f"{count} teeth at a pitch of {pitch:.2f} mm need {(count - 1) * pitch:.2f} mm; "
                f"{length:.2f} mm are there.",
                f"At that pitch {fits} fit.", "teeth", float(fits),
            )  # fmt: skip
    elif pitch is not None:
        count = math.floor(length / pitch + 1e-9) + 1
    else:
        count = math.ceil(length / (limit + tip) - 1e-9) + 1 if length > 0 else 1
        while count > 1 and length / (count - 1) < min(foot, tip + limit) + LEAST_FOOT_AIR and length < limit:
            count -= 1
    if pitch is None:
        pitch = length / (count - 1) if count > 1 else length
    if count > 1 and pitch < tip:
        fits = math.floor(length / tip) + 1
        raise PlanRefused(
            f"{count} teeth stand closer than their tips are wide ({pitch:.2f} mm).",
            f"At most {fits} fit.", "teeth", float(fits),
        )  # fmt: skip
    return np.asarray(middle + (np.arange(count) - (count - 1) / 2) * pitch, np.float64), pitch


def _between(span: Span, runs: list[Run], wishes: RowWishes, tip: float, limit: float) -> tuple[F64, float]:
    """New teeth between those that are there: as many as wished, or so many that no clear bridge is too long."""
    lengths = np.array([run.stop - run.start for run in runs])
    if wishes.teeth is not None:
        counts = _shared_out(wishes.teeth, lengths, tip)
    elif wishes.pitch is not None:
        counts = [_count_at_pitch(x, sum(r.held), tip, wishes.pitch) for x, r in zip(lengths, runs, strict=True)]
    else:
        beyond = (_end_of(run, span, wishes) for run in runs)
        counts = [
            _count_between(x, sum(run.held), tip, limit, b) for x, run, b in zip(lengths, runs, beyond, strict=True)
        ]
    centres: list[float] = []
    steps = []
    for run, length, count in zip(runs, lengths, counts, strict=True):
        if length < tip or count == 0:
            continue
        gaps = count + sum(run.held) - 1
        step = wishes.pitch or ((length - count * tip) / gaps + tip if gaps else tip)
        _vet_run(count, step, length, tip)
        if wishes.pitch is not None or gaps == 0:
            first = (run.start + run.stop) / 2 - (count - 1) / 2 * step
        else:
            first = run.start + (step - tip if run.held[0] else 0.0) + tip / 2
        centres += [first + k * step for k in range(count)]
        steps.append(step)
    if not centres:
        raise PlanRefused(
            "The teeth that are there leave no bridge longer than allowed.", "No new teeth are needed.", "teeth", 0.0
        )
    return np.sort(np.mod(centres, span.length) if span.closed else np.array(centres)), max(steps)


def _shared_out(teeth: int, lengths: F64, tip: float) -> list[int]:
    """A wished number of teeth over runs by their length, largest remainders first."""
    usable = np.where(lengths >= tip, lengths, 0.0)
    share = teeth * usable / max(float(usable.sum()), 1e-12)
    counts = np.floor(share + 1e-9).astype(int)
    for i in np.argsort(counts - share, kind="stable")[: teeth - int(counts.sum())]:
        counts[i] += 1
    return [int(c) for c in counts]


def _count_at_pitch(length: float, held: int, tip: float, pitch: float) -> int:
    """How many teeth at a wished pitch a run of ``length`` mm takes, held at ``held`` of its ends."""
    if held == 2:
        return max(0, math.floor((length + tip) / pitch + 1e-9) - 1)
    return max(0, math.floor((length - tip) / pitch + 1e-9) + (1 if held == 0 else 0))


def _vet_run(count: int, step: float, length: float, tip: float) -> None:
    """Refuse teeth that would stand in each other or do not fit between those that are there."""
    if (count - 1) * step + tip > length + 1e-6 or (count > 1 and step < tip):
        fits = max(int(length // max(tip, 1e-9)), 0)
        raise PlanRefused(
            f"{count} teeth do not fit between those that are there: {length:.2f} mm are free.",
            f"At most {fits} fit there.", "teeth", float(fits),
        )  # fmt: skip


def _end_of(run: Run, span: Span, wishes: RowWishes) -> float:
    """How much of the edge lies beyond the free end of a run, mm."""
    return (run.start - wishes.start) if not run.held[0] else (span.length - wishes.stop - run.stop)


def _count_between(length: float, held: int, tip: float, limit: float, beyond: float) -> int:
    """How many teeth a run of ``length`` mm needs, held by standing teeth at none, one or both of its ends.

    A free end hangs from one tooth only, so it may be half as long as a bridge.
    """
    if held == 2:
        return max(0, math.ceil((length - limit) / (limit + tip) - 1e-9))
    if held == 1:
        return 0 if length + beyond <= limit / 2 else max(0, math.ceil(length / (limit + tip) - 1e-9))
    if length <= limit / 2 + tip:
        return 1
    return max(1, math.ceil((length - tip) / (limit + tip) - 1e-9) + 1)


def by_hand(span: Span, wishes: RowWishes, centres: F64, tip: float) -> tuple[tuple[int, ...], F64]:
    """Single teeth moved or left out by the person."""
    placed = centres.copy()
    for number, shift in wishes.moved:
        if 0 <= number < len(placed):
            placed[number] += shift
    if (
        not span.closed
        and len(placed)
        and (placed.min() < tip / 2 - 1e-9 or placed.max() > span.length - tip / 2 + 1e-9)
    ):
        raise PlanRefused(
            "A tooth would stand past the end of the edge.", "Keep it within the span.", "moved", span.length - tip / 2
        )
    numbers = tuple(i for i in range(len(placed)) if i not in wishes.left_out)
    if not numbers:
        raise PlanRefused("Every tooth is left out.", "Keep one at least.", "left_out", float(len(placed) - 1))
    return numbers, placed[list(numbers)]


def longest_clear(
    span: Span, centres: F64, tip: float, standing: tuple[tuple[float, float], ...], wishes: RowWishes
) -> float:
    """The longest stretch of edge between two neighbouring tips, mm; ends beyond the last tip do not count."""
    tips = sorted([(c - tip / 2, c + tip / 2) for c in centres.tolist()] + list(standing))
    clear = [b[0] - a[1] for a, b in pairwise(tips)]
    if span.closed and tips:
        clear.append(tips[0][0] + span.length - tips[-1][1])
    return float(max(clear, default=0.0))
