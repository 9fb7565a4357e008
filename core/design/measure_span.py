"""How a span is measured: from a picked edge (and a ledge, when one was picked) to stations along the gap."""

from __future__ import annotations

import numpy as np

from core.design.ledge import (
    LEDGE_JUMP,
    TOOTH_RISE,
    WIDEST_TOOTH,
    best_stretch,
    ledge_profile,
)
from core.design.probe import CLOSED_GAP, INSET, REACH, STEP, Look, Probe, gap_way
from core.design.setup import PrintSetup
from core.design.span import EdgeKind, Span, Stations
from core.errors import SpanProblem
from core.geometry.mesh import F64, I64, Bool, Mesh
from core.geometry.polyline import Polyline

# Lengths in mm; all from memory unless a source is named.
#: From one look across to the next a ledge rises or falls by less than this (about 45° at STEP).
LEDGE_STEP = 0.11


def measure_span(
    mesh: Mesh,
    edge: Polyline,
    setup: PrintSetup,
    *,
    ledge: Polyline | None = None,
    gap_direction: tuple[float, float, float] | None = None,
) -> Span:
    """The span under (or beside) an edge. ``mesh``, ``edge`` and ``ledge`` in bed mm.

    Without a ledge the first surface met from the edge against ``gap_direction`` (default straight up, from the ledge
    to the edge) is taken. With a picked ledge that lies beside the edge rather than below, the gap is sideways.
    Raises SpanProblem with the reason when there is no span.
    """
    up = np.array(gap_direction if gap_direction is not None else gap_way(mesh, edge, ledge))
    probe = Probe.of(mesh, edge, up / np.linalg.norm(up), ledge)
    look = probe.look(setup)
    floor, tooth = ledge_profile(probe, look, setup)
    first, last = best_stretch(probe, look, floor, setup)
    return _assemble(probe, look, floor, tooth, (first, last), setup)


def _assemble(probe: Probe, look: Look, floor: F64, tooth: Bool, ends: tuple[int, int], setup: PrintSetup) -> Span:
    """The span between two stations, with its ends found exactly and its strip measured at every station."""
    first, last = ends
    whole = probe.edge.closed and first == 0 and last == len(probe.s) - 1
    lo, hi = _strip(probe, look, floor, setup)
    tooth = tooth | _stands_in(probe, look, lo, hi, floor, setup)
    free = np.isfinite(lo) & ~tooth
    clear = free & ~_beside(tooth, probe.edge.closed)  # the foot of a flank rises too little to be noticed
    free = clear if clear[first : last + 1].any() else free
    free[:first] = free[last + 1 :] = False
    if not free.any():
        raise SpanProblem("The gap is filled all along the edge.", "There is no room left for teeth.")
    raw = lo, hi
    lo, hi = (np.interp(probe.s, probe.s[free], a[free]) for a in raw)
    s0 = 0.0 if first == 0 else _end(probe, floor, lo, hi, first, -1)
    s1 = float(probe.s[-1]) if last == len(probe.s) - 1 else _end(probe, floor, lo, hi, last, +1)
    within = free.copy()
    for station, end in ((first, s0), (last, s1)):
        within[station] &= station in (0, len(probe.s) - 1) or abs(probe.s[station] - end) > 2 * INSET
    if within.any():  # a station on the very end of the ledge sees it, or a part of it, by rounding only
        free = within
        lo, hi = (np.interp(probe.s, probe.s[free], a[free]) for a in raw)
    stations, kind = _stations(probe, free, lo, hi, floor, look, (s0, s1), setup)
    if float(np.quantile(stations.width, 0.1)) < 0.5 * setup.line_width:
        raise SpanProblem(
            f"Ledge and edge share only {float(np.median(stations.width)):.2f} mm across, less than a line.",
            "Pick a wider ledge.",
        )
    if float(np.median(stations.edge.min(axis=1) - stations.ledge.max(axis=1))) <= CLOSED_GAP:
        raise SpanProblem("The gap could not be measured.", "Pick another edge or ledge.")
    occupied = _runs(probe.s, tooth, s0, s1)
    reaches = (first == 0, last == len(probe.s) - 1)
    return Span(probe.direction, kind, probe.frame, whole, stations, occupied, reaches, float(probe.s[-1]), s0)


def _beside(mask: Bool, closed: bool) -> Bool:
    """Stations next to one of the mask, (k,)."""
    before, after = np.roll(mask, 1), np.roll(mask, -1)
    if not closed:
        before[0] = after[-1] = False
    return before | after


def _strip(probe: Probe, look: Look, floor: F64, setup: PrintSetup) -> tuple[F64, F64]:
    """Usable interval across at every station (k,), refined by halving; NaN where there is none."""
    good = _facing(probe, look.floor, look.ceiling, look.v[None, :], floor, setup)
    first, last = np.full(len(good), -1), np.full(len(good), -1)
    middle = int(np.argmin(np.abs(look.v)))
    for i in np.flatnonzero(good.any(axis=1)):
        first[i], last[i] = _run_on_ledge(good[i], look.floor[i], floor[i], middle)
    rows = np.flatnonzero(first >= 0)
    out = []
    for ends, sign in ((first[rows], -1), (last[rows], +1)):
        inside, here = look.v[ends], look.floor[rows, ends]
        outside = inside + sign * STEP
        for _ in range(6):
            half = (inside + outside) / 2
            f, c = probe.columns.air_around(
                probe.axis[rows] + probe.across[rows] * half[:, None], probe.z[rows] - CLOSED_GAP
            )
            ok = _facing(probe, f[:, None], c[:, None], half[:, None], floor, setup, rows)[:, 0]
            with np.errstate(invalid="ignore"):
                ok &= np.abs(f - here) <= LEDGE_STEP
            inside, outside = np.where(ok, half, inside), np.where(ok, outside, half)
        found = np.full(len(good), np.nan)
        found[rows] = np.where(np.abs(inside) < 3 * INSET, 0.0, inside)
        out.append(found)
    return out[0], out[1]


def _stands_in(probe: Probe, look: Look, lo: F64, hi: F64, floor: F64, setup: PrintSetup) -> Bool:
    """Stations (k,) at which something stands in the strip that its neighbours leave free."""
    good = _facing(probe, look.floor, look.ceiling, look.v[None, :], floor, setup)
    usual_lo, usual_hi = _widest_beside(probe, lo, hi)
    margin = 0.1 * (usual_hi - usual_lo)
    inside = (look.v > (usual_lo + margin)[:, None]) & (look.v < (usual_hi - margin)[:, None])
    if not inside.any():
        return np.zeros(len(lo), np.bool_)
    above = look.floor - floor[:, None]
    usual = np.sort(np.where(good & inside, above, np.inf), axis=0)[len(above) // 10]
    with np.errstate(invalid="ignore"):
        raised = above > np.where(np.isfinite(usual), usual, 0.6 * np.abs(look.v)) + TOOTH_RISE
    out: Bool = np.asarray(((np.isnan(look.floor) | raised) & inside).any(axis=1))
    return out


def _widest_beside(probe: Probe, lo: F64, hi: F64) -> tuple[F64, F64]:
    """The strip at the widest station within a tooth's width of each, (k,) twice.

    That is the strip which no tooth narrows, even where teeth and their feet take up most of the edge.
    """
    width = np.where(np.isfinite(lo) & np.isfinite(hi), hi - lo, -np.inf)
    k, half = len(width), max(1, int(WIDEST_TOOTH / max(probe.s[1], 1e-9)))
    around = np.arange(k)[:, None] + np.arange(-half, half + 1)
    around = around % k if probe.edge.closed else np.clip(around, 0, k - 1)
    best = around[np.arange(k), np.argmax(width[around], axis=1)]
    return lo[best], hi[best]


def _facing(
    probe: Probe, f: F64, c: F64, v: F64, floor: F64, setup: PrintSetup, rows: I64 | slice = slice(None)
) -> Bool:
    """Where the strip hangs over this very ledge: floor near the profile, ceiling within a layer of the edge."""
    with np.errstate(invalid="ignore"):
        on_ledge = np.abs(f - floor[rows][:, None]) <= 0.05 + 0.6 * np.abs(v)
        rise = c - probe.z[rows][:, None]
        near = (rise <= setup.layer_height + 1e-6) | (
            (np.abs(v) <= setup.line_width + 1e-9) & (rise <= 3 * setup.line_width)
        )
        return on_ledge & near & np.isfinite(c)


def _run_on_ledge(good: Bool, f: F64, floor: float, middle: int) -> tuple[int, int]:
    """First and last index of the run nearest to ``middle`` that has the ledge in it; (−1, −1) when none has.

    A run breaks where the surface below steps up or down: what lies beside the ledge is not the ledge.
    """
    with np.errstate(invalid="ignore"):
        apart = ~(np.abs(np.diff(f)) <= LEDGE_STEP)
    starts = np.flatnonzero(good & np.r_[True, ~good[:-1] | apart])
    stops = np.flatnonzero(good & np.r_[~good[1:] | apart, True])
    on = np.r_[0, np.cumsum(good & (np.abs(np.where(good, f, np.inf) - floor) <= TOOTH_RISE))]
    has = on[stops + 1] > on[starts]
    if not has.any():
        return -1, -1
    starts, stops = starts[has], stops[has]
    away = np.maximum(np.maximum(starts - middle, middle - stops), 0)
    best = int(np.lexsort((-(stops - starts), away))[0])
    return int(starts[best]), int(stops[best])


def _end(probe: Probe, floor: F64, lo: F64, hi: F64, index: int, step: int) -> float:
    """Where exactly the ledge ends between a good station and the bad one after it, mm."""
    other = index + step
    inside, outside = float(probe.s[index]), float(probe.s[other])
    v = (lo[index] + hi[index]) / 2
    plan = Polyline.of(probe.edge.array * [1, 1, 0], probe.edge.closed)
    for _ in range(12):
        half = (inside + outside) / 2
        point = plan.at(half)[0, :2] + probe.across[index] * v
        z = float(np.interp(half, plan.stations, probe.edge.ring[:, 2]))
        f, c = probe.columns.air_around(point[None], [z - CLOSED_GAP])
        ok = np.isfinite(c[0]) and abs(f[0] - floor[index]) <= LEDGE_JUMP
        inside, outside = (half, outside) if ok else (inside, half)
    return inside


def _runs(s: F64, mask: Bool, s0: float, s1: float) -> tuple[tuple[float, float], ...]:
    """Stretches (a, b) of the mask in arc length, counted from s0 and cut at s1."""
    ends = np.flatnonzero(np.diff(np.r_[0, mask.astype(np.int8), 0]))
    out = []
    for a, b in zip(ends[::2], ends[1::2] - 1, strict=True):
        half = s[1] / 2
        lo, hi = max(float(s[a]) - half, s0), min(float(s[b]) + half, s1)
        if hi > lo:
            out.append((float(lo - s0), float(hi - s0)))
    return tuple(out)


def _stations(
    probe: Probe, free: Bool, lo: F64, hi: F64, floor: F64, look: Look, ends: tuple[float, float], setup: PrintSetup
) -> tuple[Stations, EdgeKind]:
    """Stations from end to end, with edge and ledge heights at both sides of the strip."""
    edge, ledge = _heights(probe, free, lo, hi)
    kind, reach, half = _kind(probe, look, free, setup)
    if kind == "ridge":
        middle = (lo + hi) / 2
        edge = np.repeat(np.minimum(probe.z, edge.min(axis=1))[:, None], 2, axis=1)
        lo, hi = np.maximum(lo, -half), np.minimum(hi, half)
        lo, hi = np.minimum(lo, middle), np.maximum(hi, middle)
    inner = (probe.s > ends[0] + 1e-9) & (probe.s < ends[1] - 1e-9)
    s = np.r_[ends[0], probe.s[inner], ends[1]]
    plan = Polyline.of(probe.edge.array * [1, 1, 0], probe.edge.closed)
    axis = plan.at(np.clip(s, 0, plan.length - (1e-9 if plan.closed else 0)))[:, :2]

    def follow(values: F64) -> F64:
        if values.ndim == 1:
            return np.asarray(np.interp(s, probe.s, values))
        return np.column_stack([np.interp(s, probe.s, values[:, i]) for i in range(values.shape[1])])

    across = follow(probe.across)
    length = np.linalg.norm(across, axis=1, keepdims=True)
    nearest = probe.across[np.clip(np.searchsorted(probe.s, s), 0, len(probe.s) - 1)]
    across = np.where(length > 1e-6, across / np.maximum(length, 1e-6), nearest)  # an edge that doubles back
    return Stations(
        s - ends[0], axis, across, follow(lo), follow(hi), follow(edge), follow(ledge), np.full(len(s), reach)
    ), kind


def _heights(probe: Probe, free: Bool, lo: F64, hi: F64) -> tuple[F64, F64]:
    """Edge and ledge heights at ``lo`` and ``hi``, (k, 2) each, carried on over stations where a tooth stands."""
    rows = np.flatnonzero(free)
    width = hi[rows] - lo[rows]
    samples = []
    for t in (0.1, 0.9):
        v = lo[rows] + t * width
        samples.append(
            probe.columns.air_around(probe.axis[rows] + probe.across[rows] * v[:, None], probe.z[rows] - CLOSED_GAP)
        )
    out = []
    for which in (1, 0):
        near, far = samples[0][which], samples[1][which]
        with np.errstate(invalid="ignore"):
            slope = (far - near) / 0.8
            pair = np.column_stack([near - 0.1 * slope, far + 0.1 * slope])
        good = np.isfinite(pair).all(axis=1)
        if not good.any():
            raise SpanProblem("The gap could not be measured.", "Pick another edge or ledge.")
        base = probe.z if which else np.zeros_like(probe.z)
        relative = pair - base[rows][:, None]
        sides = [_carried_on(probe.s, probe.s[rows[good]], relative[good, i], probe.edge.closed) for i in range(2)]
        out.append(np.column_stack(sides) + base[:, None])
    return out[0], out[1]


def _carried_on(s: F64, known: F64, z: F64, closed: bool) -> F64:
    """Heights at ``s`` from those at the ``known`` stations; before the first and after the last as they run there."""
    if closed or len(known) < 4:
        return np.interp(s, known, z)
    out = np.interp(s, known, z)
    for end, mask in ((slice(0, 4), s < known[0]), (slice(-4, None), s > known[-1])):
        if mask.any():
            slope, offset = np.polyfit(known[end], z[end], 1)
            steady = np.ptp(z[end] - slope * known[end]) < TOOTH_RISE and abs(slope) < 1
            if steady:
                out[mask] = slope * s[mask] + offset
    return out


def _kind(probe: Probe, look: Look, free: Bool, setup: PrintSetup) -> tuple[EdgeKind, float, float]:
    """What sort of edge it is, how far above it the part becomes printable, and half the width of a ridge's strip."""
    rows = np.flatnonzero(free)
    rise = look.ceiling[rows] - probe.z[rows][:, None]
    with np.errstate(invalid="ignore"):
        flat = np.where(rise <= setup.layer_height + 1e-6, 1, 0)
    step = np.gradient(look.v)
    width = float(np.median((flat * step).sum(axis=1)))

    def slope(sign: int) -> float:
        column = int(np.argmin(np.abs(look.v - sign * 0.3)))
        there = rise[:, column][np.isfinite(rise[:, column])]
        return float(np.median(there)) / 0.3 if len(there) > len(rows) / 2 else np.inf

    left, right = slope(-1), slope(+1)
    if min(left, right) > 0.25 and max(left, right) < 12 and width < 3 * setup.line_width:
        reach = setup.least_printable / (1 / left + 1 / right)
        return "ridge", float(reach), setup.line_width
    return ("strip" if width < REACH else "outer"), 0.0, 0.0
