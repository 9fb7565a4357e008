"""Builds the elevation's model from the span, wishes, plan and section: pure, and quick enough for a drag."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from app.panels.elevation.model import Bridge, DrawnTooth, ElevationModel, Fate, Layers, Survival
from app.panels.elevation.section import Profile, SpanSection, StandingTooth, plain_section
from core.design.plan import RowPlan, RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.span import Span, thinned
from core.design.tooth import flank
from core.errors import PlanRefused
from core.geometry.mesh import F64

#: Lines are drawn without points that lie within this of the chord, mm: a twentieth of what a screen can show.
LINE_TOLERANCE = 0.005


def elevation_model(
    span: Span,
    plan: RowPlan | None,
    wishes: RowWishes,
    setup: PrintSetup,
    *,
    section: SpanSection | None = None,
    standing: Sequence[tuple[float, float]] = (),
    survival: Sequence[Survival | Fate] | Mapping[int, Survival | Fate] = (),
    title: str = "",
    cut: float = 0.0,
) -> ElevationModel:
    """The drawing of a row in its span.

    ``section`` is the sorted cut (``span_section``); without it solid is assumed above and below. ``standing`` are tip
    stretches (s, mm) of teeth that are there, ``survival`` what becomes of every planned tooth, in order (or by tooth
    number). A closed span is cut open at s = ``cut``. Pure; well under a millisecond a tooth.
    """
    cut = cut % span.length if span.closed and not (wishes.start or wishes.stop) else 0.0
    whole = section if section is not None else plain_section(span, standing)
    profile, drawn = Profile.of(span), whole
    if cut:
        profile, drawn = _turned_profile(profile, cut), turned_section(whole, cut, span.length)
    profile = replace(profile, edge=_thin(profile.edge), ledge=_thin(profile.ledge))
    turn = _Turn(cut, span.length, span.closed)
    teeth = _teeth(span, plan, wishes, setup, profile, turn, _fates(plan, survival))
    out = _left_out(span, plan, wishes, setup, profile, turn, tuple(standing))
    return ElevationModel(
        title=title,
        direction=span.direction,
        closed=span.closed,
        cut=cut,
        length=span.length,
        stops=(wishes.start, span.length - wishes.stop),
        profile=profile,
        section=drawn,
        teeth=teeth,
        left_out=out,
        bridges=_bridges(teeth, drawn.standing, span, plan.clear_limit if plan else setup.clear_bridge),
        layers=_layers(span, setup, profile, turn),
        wishes=wishes,
        plan=plan,
        gap=span.gap_range,
        line_width=setup.line_width,
        row_free=not (standing or span.occupied),
    )


@dataclass(frozen=True)
class _Turn:
    cut: float
    length: float
    closed: bool

    def u(self, s: float) -> float:
        return (s - self.cut) % self.length if self.closed else s


def _thin(line: F64) -> F64:
    return thinned(line, LINE_TOLERANCE)


def _turned_profile(profile: Profile, cut: float) -> Profile:
    """The lines of a closed span counted from the cut."""

    def turned(line: F64) -> F64:
        inner = line[:-1]
        u = (inner[:, 0] - cut) % profile.length
        order = np.argsort(u)
        at_cut = float(np.interp(cut, line[:, 0], line[:, 1]))
        return np.vstack([[0.0, at_cut], np.column_stack([u, inner[:, 1]])[order], [profile.length, at_cut]])

    return replace(profile, edge=turned(profile.edge), ledge=turned(profile.ledge))


def turned_section(section: SpanSection, cut: float, length: float) -> SpanSection:
    """A closed span's section counted from the cut: what lies before it follows at the end."""

    def both(rings: tuple[F64, ...]) -> tuple[F64, ...]:
        moved = [ring + np.array([shift, 0.0]) for ring in rings for shift in (-cut, length - cut)]
        return tuple(r for r in moved if r[:, 0].max() > 0 and r[:, 0].min() < length)

    teeth = [
        StandingTooth(t.outline + np.array([d, 0.0]), (t.foot[0] + d, t.foot[1] + d), (t.tip[0] + d, t.tip[1] + d))
        for t in section.standing
        for d in (-cut, length - cut)
        if 0 <= (t.tip[0] + t.tip[1]) / 2 + d < length
    ]
    teeth.sort(key=lambda t: t.tip[0])
    return SpanSection(both(section.above), both(section.below), both(section.lines), tuple(teeth), (0.0, length))


def _fates(
    plan: RowPlan | None, survival: Sequence[Survival | Fate] | Mapping[int, Survival | Fate]
) -> dict[int, Survival]:
    if plan is None:
        return {}
    pairs = survival.items() if isinstance(survival, Mapping) else zip(plan.numbers, survival, strict=False)
    return {n: v if isinstance(v, Survival) else Survival(v) for n, v in pairs}


def _teeth(
    span: Span, plan: RowPlan | None, wishes: RowWishes, setup: PrintSetup, profile: Profile, turn: _Turn,
    fates: Mapping[int, Survival],
) -> tuple[DrawnTooth, ...]:  # fmt: skip
    if plan is None:
        return ()
    shifts = dict(wishes.moved)
    reach = span.at(plan.centres).reach
    places = [turn.u(float(centre)) for centre in plan.centres]
    form = _Form(plan, profile, places)
    drawn = []
    for i, (number, u) in enumerate(zip(plan.numbers, places, strict=True)):
        fate = fates.get(number, Survival())
        outline, foot, tip = form.outline(i, max(plan.air - float(reach[i]), 0.0))
        lost = _lost_from(outline, fate, setup)
        drawn.append(DrawnTooth(number, u, u - shifts.get(number, 0.0), outline, foot, tip, fate, lost))
    return tuple(sorted(drawn, key=lambda t: t.centre))


class _Form:
    """The outlines of teeth at ``places`` (u, mm). Heights and slopes of all are read off the lines at once."""

    def __init__(self, plan: RowPlan, profile: Profile, places: Sequence[float]) -> None:
        self._plan, self._places = plan, np.array(places, np.float64)
        self._gaps = profile.edge_at(self._places) - profile.ledge_at(self._places)
        self._flanks: dict[float, tuple[F64, F64]] = {}
        side = max(plan.foot, plan.tip) / 2
        self._rise = {step: self._read(profile, step) for step in {side, self._step_right(side)}}
        self._side = side

    def _step_right(self, side: float) -> float:
        """How far the right flank of a raking tooth reaches from the middle; the same as the left one for others."""
        plan = self._plan
        return max(plan.foot / 2, abs(plan.tip - plan.foot / 2)) if plan.shape == "rake" else side

    def _read(self, profile: Profile, step: float) -> F64:
        """Height and slope of ledge and edge under every tooth, (n, 4)."""
        u = self._places
        columns = []
        for line in (profile.ledge_at, profile.edge_at):
            columns += [line(u), (line(u + step) - line(u - step)) / (2 * step)]
        return np.column_stack(columns)

    def _flank(self, gap: float) -> tuple[F64, F64]:
        key = round(gap, 9)
        if key not in self._flanks:
            self._flanks[key] = flank(self._plan.shape, self._plan.foot, self._plan.tip, gap)
        return self._flanks[key]

    def outline(self, i: int, short: float) -> tuple[F64, tuple[float, float], tuple[float, float]]:
        """Outline, foot and tip of one tooth between ledge and edge; ``short`` mm are left empty below the edge."""
        plan, u, gap = self._plan, float(self._places[i]), float(self._gaps[i])
        rake = plan.shape == "rake"
        foot = (u - plan.foot / 2, u + plan.foot / 2)
        tip = (foot[0], foot[0] + plan.tip) if rake else (u - plan.tip / 2, u + plan.tip / 2)
        y, half = self._flank(gap)
        if short > 0:
            top = max(gap - short, 0.0)
            y, half = np.r_[y[y < top], top], np.r_[half[y < top], np.interp(top, y, half)]
        left = np.full(len(y), foot[0]) if rake else u - half
        share = y / max(gap, 1e-9)
        sides = [
            _raised(at, share, u, self._rise[step][i])
            for at, step in ((left, self._side), (left + 2 * half, self._step_right(self._side)))
        ]
        return np.vstack([sides[0], sides[1][::-1]]), foot, tip


def _raised(at: F64, share: F64, u: float, rise: F64) -> F64:
    """Points of a flank on the drawing, following the slope of ledge and edge under the tooth as the solid does."""
    low, high = rise[0] + rise[1] * (at - u), rise[2] + rise[3] * (at - u)
    return np.column_stack([at, low + share * (high - low)])


def _lost_from(outline: F64, fate: Survival, setup: PrintSetup) -> float | None:
    if fate.fate == "prints":
        return None
    bottom, top = float(outline[:, 1].min()), float(outline[:, 1].max())
    return bottom if fate.whole else max(top - fate.layers * setup.layer_height, bottom)


def _left_out(
    span: Span, plan: RowPlan | None, wishes: RowWishes, setup: PrintSetup, profile: Profile, turn: _Turn,
    standing: tuple[tuple[float, float], ...],
) -> tuple[DrawnTooth, ...]:  # fmt: skip
    """Where the teeth that were left out would stand."""
    if plan is None or not wishes.left_out:
        return ()
    try:
        kept = replace(wishes, left_out=(), clear_bridge=plan.clear_limit, tip=plan.tip, thickness=plan.thickness)
        full = plan_row(span, kept, setup, standing)
    except PlanRefused:
        return ()
    gone = [i for i in range(full.teeth) if full.numbers[i] in wishes.left_out]
    places = [turn.u(float(full.centres[i])) for i in gone]
    form = _Form(plan, profile, places)
    return tuple(
        DrawnTooth(full.numbers[i], u, u, *form.outline(k, 0.0), Survival(), None)
        for k, (i, u) in enumerate(zip(gone, places, strict=True))
    )


def _bridges(
    teeth: tuple[DrawnTooth, ...], standing: tuple[StandingTooth, ...], span: Span, limit: float
) -> tuple[Bridge, ...]:
    """Clear stretches between neighbouring tips, left to right; in a closed span the last one runs over the cut."""
    tips: list[tuple[float, float, int | None]] = [(*t.tip, t.number) for t in teeth]
    tips = sorted([*tips, *((*t.tip, None) for t in standing)], key=lambda t: t[0])
    if span.closed and len(tips) > 1:
        a, b, number = tips[0]
        tips.append((a + span.length, b + span.length, number))
    return tuple(Bridge(a[1], b[0], b[0] - a[1] > limit + 1e-6, a[2], b[2]) for a, b in pairwise(tips))


def _layers(span: Span, setup: PrintSetup, profile: Profile, turn: _Turn) -> Layers:
    """Layer tops that cross the gap."""
    if span.direction == "up":
        low, high = float(profile.ledge[:, 1].min()), float(profile.edge[:, 1].max())
        numbers = _layer_numbers(low, high, setup)
        return Layers("z", numbers, _tops(numbers, setup), setup.first_layer, setup.layer_height)
    st = span.stations
    heights = span.bed_points(st.points(np.clip(0.0, st.lo, st.hi), st.edge.min(axis=1)))[:, 2]
    numbers = _layer_numbers(float(heights.min()), float(heights.max()), setup)
    order = np.argsort(heights, kind="stable")
    at = np.interp(_tops(numbers, setup), heights[order], st.s[order])
    return Layers("u", numbers, np.array([turn.u(s) for s in at]), setup.first_layer, setup.layer_height)


def _layer_numbers(low: float, high: float, setup: PrintSetup) -> tuple[int, ...]:
    """Numbers of the layers whose tops lie from ``low`` to ``high`` mm above the bed."""
    first = max(int(np.ceil((low - setup.first_layer) / setup.layer_height - 1e-9)), 0)
    last = int(np.floor((high - setup.first_layer) / setup.layer_height + 1e-9))
    return tuple(range(first, last + 1))


def _tops(numbers: tuple[int, ...], setup: PrintSetup) -> F64:
    return setup.first_layer + setup.layer_height * np.array(numbers, np.float64)
