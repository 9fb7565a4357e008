"""The row plan: how many teeth, how wide, how far apart. Numbers only; the solids are made from it elsewhere.

Every figure is either set by the person, and then kept, or automatic, and then follows by the rules written here.
A wish that cannot be kept is refused together with the figure that stands in its way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal

import numpy as np

from core.design.learned import UNTAUGHT, Learned
from core.design.setup import PrintSetup
from core.design.span import Span
from core.errors import PlanRefused
from core.geometry.mesh import F64

Shape = Literal["straight", "arc_tip", "arc_ledge", "rake", "post"]
Across = Literal["flush", "centred"]
SHAPES: tuple[Shape, ...] = ("straight", "arc_tip", "arc_ledge", "rake", "post")

# Lengths in mm. Common practice, no source, unless said otherwise.
#: Clearance that the end teeth keep from the ends of edge and ledge: one line to one millimetre.
END_CLEARANCE = 1.0
#: The foot stands on about four lines or more (calculated for standing firmly while the next layer is laid).
FOOT_LINES = 4.5
#: Tip and thickness to start from, in lines; from memory (0.4 nozzle: 0.45 and 0.9, 0.6 nozzle: 0.7 and 1.3).
TIP_LINES, THICKNESS_LINES = 1.01, 2.0
#: Sink into the ledge and into the part, in layers (from memory: one to two, and none to one).
SINK_LEDGE_LAYERS, SINK_PART_LAYERS = 1.0, 0.5
#: A tooth stays this far inside the faces beside it, so that no two faces lie in one plane.
INSET_ACROSS = 0.02
#: Air between the feet of neighbouring teeth, at least; from memory.
LEAST_FOOT_AIR = 0.2


@dataclass(frozen=True)
class RowWishes:
    """What the person set for a row; None means automatic. Lengths mm along the span, counts without unit.

    ``start`` and ``stop`` trim the span (mm from its start; from its end). ``left_out`` are tooth numbers from 0;
    ``moved`` shifts single teeth along the edge: (number, mm).
    """

    shape: Shape = "straight"
    teeth: int | None = None
    pitch: float | None = None
    foot: float | None = None
    tip: float | None = None
    thickness: float | None = None
    sink_ledge: float | None = None
    sink_part: float | None = None
    air_layers: int | None = None
    across: Across | None = None
    clear_bridge: float | None = None
    end_clearance: float | None = None
    start: float = 0.0
    stop: float = 0.0
    left_out: tuple[int, ...] = ()
    moved: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, eq=False)
class RowPlan:
    """A planned row. Arrays float64, mm: ``centres`` (n,) arc lengths, ``across_range`` (n, 2), ``heights`` (n,) gaps.

    ``numbers`` (n,) are the tooth numbers before any was left out. ``automatic`` names the figures that followed by
    rule. ``clear_bridge`` is the longest stretch of edge left between two tips, ``clear_limit`` the longest allowed.
    ``trimmed`` is what the person took off the start and the end of the span, ``left_out`` how many teeth.
    """

    shape: Shape
    centres: F64
    numbers: tuple[int, ...]
    across_range: F64
    heights: F64
    pitch: float
    foot: float
    tip: float
    thickness: float
    sink_ledge: float
    sink_part: float
    air: float
    across: Across
    clear_bridge: float
    clear_limit: float
    end_clearance: float
    automatic: frozenset[str] = field(default_factory=frozenset)
    trimmed: tuple[float, float] = (0.0, 0.0)
    left_out: int = 0

    @property
    def teeth(self) -> int:
        """How many teeth stand in the row."""
        return len(self.centres)

    @property
    def height(self) -> float:
        """Mean height from ledge to edge, mm."""
        return float(self.heights.mean()) if len(self.heights) else 0.0


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
    runs = _runs(span, wishes, standing, clearance)
    centres, pitch, foot = _place(span, wishes, runs, tip, foot, limit, setup)
    planned = len(centres)
    numbers, centres = _by_hand(span, wishes, centres, tip)
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
        across_range=_across_range(at.lo, at.hi, thickness, across),
        heights=heights,
        pitch=pitch,
        foot=foot,
        tip=tip,
        thickness=thickness,
        sink_ledge=_sink(wishes.sink_ledge, SINK_LEDGE_LAYERS * setup.layer_height, "sink_ledge"),
        sink_part=_sink(wishes.sink_part, SINK_PART_LAYERS * setup.layer_height, "sink_part"),
        air=air,
        across=across,
        clear_bridge=_longest_clear(span, centres, tip, standing, wishes),
        clear_limit=limit,
        end_clearance=clearance,
        automatic=frozenset(n for n in AUTOMATIC if getattr(wishes, n) is None),
        trimmed=(wishes.start, wishes.stop),
        left_out=planned - len(centres),
    )


AUTOMATIC = (
    "teeth", "pitch", "foot", "tip", "thickness", "sink_ledge", "sink_part", "air_layers", "across",
    "clear_bridge", "end_clearance",
)  # fmt: skip


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


@dataclass(frozen=True)
class _Run:
    """A stretch to fill: arc lengths of its ends, and whether a tooth that is there holds each of them."""

    start: float
    stop: float
    held: tuple[bool, bool]


def _runs(span: Span, wishes: RowWishes, standing: tuple[tuple[float, float], ...], clearance: float) -> list[_Run]:
    """The stretches between the trimmed ends and the teeth that are there, without the clearance at free ends."""
    first, last = wishes.start, span.length - wishes.stop
    if last - first <= 0 or wishes.start < 0 or wishes.stop < 0:
        raise PlanRefused(
            "Nothing of the span is left between its end stops.", "Move the end stops apart.", "start", span.length
        )
    if span.closed and not standing and last - first >= span.length - 1e-9:
        return [_Run(0.0, span.length, (True, True))]
    stops = [(a, b) for a, b in (standing or span.occupied) if b > first and a < last]
    edges = [(first, False), *((x, True) for ab in stops for x in ab), (last, False)]
    out = []
    for (a, held_a), (b, held_b) in zip(edges[::2], edges[1::2], strict=True):
        lo = a if held_a else a + clearance
        hi = b if held_b else b - clearance
        out.append(_Run(lo, hi, (held_a, held_b)))
    return out


def _place(
    span: Span, wishes: RowWishes, runs: list[_Run], tip: float, foot: float, limit: float, setup: PrintSetup
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
    room = pitch - LEAST_FOOT_AIR if len(centres) > 1 else span.length
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


def _free_run(run: _Run, wishes: RowWishes, tip: float, foot: float, limit: float) -> tuple[F64, float]:
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


def _between(span: Span, runs: list[_Run], wishes: RowWishes, tip: float, limit: float) -> tuple[F64, float]:
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
        if wishes.pitch is not None:
            first = (run.start + run.stop) / 2 - (count - 1) / 2 * step
        else:
            first = run.start + (step - tip if run.held[0] else 0.0) + tip / 2
        centres += [first + k * step for k in range(count)]
        steps.append(step)
    if not centres:
        raise PlanRefused(
            "The teeth that are there leave no bridge longer than allowed.", "No new teeth are needed.", "teeth", 0.0
        )
    return np.array(centres), max(steps)


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


def _end_of(run: _Run, span: Span, wishes: RowWishes) -> float:
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
    return max(1, math.ceil((length - tip) / (limit + tip) - 1e-9) + 1)


def _by_hand(span: Span, wishes: RowWishes, centres: F64, tip: float) -> tuple[tuple[int, ...], F64]:
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


def _across_range(lo: F64, hi: F64, thickness: float, across: Across) -> F64:
    """Where each tooth stands across the strip, (n, 2): inside it, at the outer side or in the middle."""
    width = np.minimum(thickness, hi - lo)
    start = lo + np.minimum(INSET_ACROSS, hi - lo - width) if across == "flush" else (lo + hi - width) / 2
    return np.column_stack([start, start + width])


def _longest_clear(
    span: Span, centres: F64, tip: float, standing: tuple[tuple[float, float], ...], wishes: RowWishes
) -> float:
    """The longest stretch of edge between two neighbouring tips, mm; ends beyond the last tip do not count."""
    tips = sorted([(c - tip / 2, c + tip / 2) for c in centres.tolist()] + list(standing))
    clear = [b[0] - a[1] for a, b in pairwise(tips)]
    if span.closed and tips:
        clear.append(tips[0][0] + span.length - tips[-1][1])
    return float(max(clear, default=0.0))
