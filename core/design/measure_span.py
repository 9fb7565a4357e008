"""How a span is measured: from a picked edge (and a ledge, when one was picked) to stations along the gap."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import grey_opening

from core.design.setup import PrintSetup
from core.design.span import Direction, EdgeKind, Span, Stations, local_mesh
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, I64, Bool, Mesh
from core.geometry.polyline import Polyline
from core.geometry.pose import placed, rotation_between

# Lengths in mm; all from memory unless a source is named.
#: How far to either side of the edge the strip and the ledge are looked for.
REACH = 4.0
#: Step of the first look across; ends found by it are then refined by halving.
STEP = 0.1
#: Air thinner than this under the edge is a closed gap.
CLOSED_GAP = 0.03
#: Two neighbouring stations whose ledges differ by more than this, beyond a slope of 45°, lie on different ledges.
LEDGE_JUMP = 0.4
#: Something narrower than this along the edge that rises from the ledge is a tooth; wider is a change of the ledge.
WIDEST_TOOTH = 6.0
#: What rises from the ledge by less than this is the ledge itself.
TOOTH_RISE = 0.05
#: A line across is taken up by the part, and not by teeth, when this share of the stations finds it filled.
MOSTLY = 0.7
#: From one look across to the next a ledge rises or falls by less than this (about 45° at STEP).
LEDGE_STEP = 0.11
#: A ledge may be this much off the picked one.
HINT_TOLERANCE = 0.3
#: A corner of the mesh this near to the edge lies on it.
ON_EDGE = 1e-3
#: A face looks towards the ledge when its normal is within 60° of the way there.
LEAST_FACING = 0.5
#: A station this little inside the end of an edge stands for the end.
INSET = 1e-4


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
    up = np.array(gap_direction if gap_direction is not None else _direction(mesh, edge, ledge))
    probe = _Probe.of(mesh, edge, up / np.linalg.norm(up), ledge)
    look = probe.look(setup)
    floor, tooth = _ledge_profile(probe, look, setup)
    first, last = _best_stretch(probe, look, floor, setup)
    return _assemble(probe, look, floor, tooth, (first, last), setup)


def _direction(mesh: Mesh, edge: Polyline, ledge: Polyline | None) -> F64:
    """Up, unless the picked ledge lies beside the edge: then the horizontal way from the ledge to the edge.

    That way is square to the face at the edge which looks towards the ledge, so it makes no difference which edge of a
    fin was picked.
    """
    up = np.array([0.0, 0.0, 1.0])
    if ledge is None:
        return up
    if edge.points == ledge.points or edge.points == ledge.points[::-1]:
        raise SpanProblem("Edge and ledge are the same edge.", "Pick another edge as the ledge.")
    along = edge.array[-1] - edge.array[0]
    middle = edge.at(edge.length / 2)[0]
    samples = ledge.at(np.linspace(0, ledge.length, 200))
    offset = middle - samples[int(np.argmin(np.linalg.norm(samples - middle, axis=1)))]
    flat = np.array([offset[0], offset[1], 0.0])
    steep = abs(along[2]) > np.hypot(along[0], along[1])
    if steep and np.linalg.norm(flat) > 1e-6 and not edge.closed:
        square = flat - along * (flat @ along) / max(float(along @ along), 1e-12)
        square = square if np.linalg.norm(square) > 1e-6 else flat
        return _square_to_face(mesh, edge, square / np.linalg.norm(square))
    if offset[2] < -CLOSED_GAP:
        raise SpanProblem(
            "The ledge lies above the edge: the two seem to be exchanged.",
            "Pick the overhang edge first, then the ledge.",
        )
    return up


def _square_to_face(mesh: Mesh, edge: Polyline, way: F64) -> F64:
    """Against the outward normal of the face at the edge that opposes ``way`` most; ``way`` itself when none does."""
    longest = int(np.argmax(np.diff(edge.stations)))
    a, b = edge.ring[longest], edge.ring[longest + 1]
    t = np.clip((mesh.vertices - a) @ (b - a) / float((b - a) @ (b - a)), 0, 1)
    on_edge = ((mesh.vertices - a - t[:, None] * (b - a)) ** 2).sum(axis=1) < ON_EDGE**2
    beside = np.flatnonzero(on_edge[mesh.triangles].sum(axis=1) >= 2)
    normals = mesh.normals[beside]
    facing = -(normals @ way)
    if not len(facing) or facing.max() < LEAST_FACING:
        return way
    best = -normals[int(np.argmax(facing))]
    flat = np.array([best[0], best[1], 0.0])
    return np.asarray(flat / np.linalg.norm(flat))


@dataclass(frozen=True, eq=False)
class _Look:
    """What vertical lines found at k stations × n offsets across: floor and ceiling (k, n), NaN inside material."""

    v: F64
    floor: F64
    ceiling: F64


@dataclass(frozen=True, eq=False)
class _Probe:
    """The edge in the gap frame, with lines ready to be dropped beside it."""

    frame: F64
    direction: Direction
    edge: Polyline
    s: F64
    axis: F64
    across: F64
    z: F64
    columns: Columns
    hint: F64 | None

    @classmethod
    def of(cls, mesh: Mesh, edge: Polyline, up: F64, ledge: Polyline | None) -> _Probe:
        frame = _gap_frame(edge, up)
        line = edge.moved(frame)
        plan = Polyline.of(line.array * [1, 1, 0], line.closed)
        if plan.length < 10 * INSET:
            raise SpanProblem("The edge is a point in plan.", "Pick an edge that runs along the gap.")
        count = int(np.clip(plan.length / 0.25, 16, 900))
        s = np.linspace(0, plan.length, count + 1)
        at = s if line.closed else np.clip(s, INSET, plan.length - INSET)
        axis = plan.at(at)[:, :2]
        across = _across(plan, at)
        z = np.interp(at, plan.stations, line.ring[:, 2])
        margin = REACH + 0.5
        low, high = axis.min(axis=0) - margin, axis.max(axis=0) + margin
        columns = Columns.over(local_mesh(mesh, frame, low, high), low, high)
        hint = None if ledge is None else _hint_heights(ledge.moved(frame), axis)
        probe = cls(frame, "up" if up[2] > 0.99 else "side", line, s, axis, across, z, columns, hint)
        return probe.facing_inward()

    def facing_inward(self) -> _Probe:
        """The same probe with +v on the side where the part has more underside."""
        few = slice(None, None, max(1, len(self.s) // 40))
        weight = 0.0
        for v in (0.15, 0.4, 0.8):
            for sign in (1, -1):
                _, ceiling = self.air(few, np.full(len(self.s[few]), sign * v))
                weight += sign * float(np.sum(np.isfinite(ceiling) & (ceiling - self.z[few] < v + 0.05)))
        return self if weight >= 0 else _Probe(**{**self.__dict__, "across": -self.across})

    def air(self, which: slice | F64, v: F64) -> tuple[F64, F64]:
        """Floor and ceiling of the air just below the edge at stations ``which``, ``v`` across."""
        points = self.axis[which] + self.across[which] * v[:, None]
        return self.columns.air_around(points, self.z[which] - CLOSED_GAP)

    def look(self, setup: PrintSetup) -> _Look:
        """The first look: every station, every step across."""
        n = round(REACH / STEP)
        v = np.asarray(np.arange(-n, n + 1) * STEP, np.float64)
        v[n] = 0.0
        v = np.sort(np.r_[v, -2 * INSET, 2 * INSET])
        k = len(self.s)
        points = (self.axis[:, None] + self.across[:, None] * v[None, :, None]).reshape(-1, 2)
        floor, ceiling = self.columns.air_around(points, np.repeat(self.z - CLOSED_GAP, len(v)))
        return _Look(v, floor.reshape(k, -1), ceiling.reshape(k, -1))


def _gap_frame(edge: Polyline, up: F64) -> F64:
    """(4, 4) rotation that carries ``up`` to +Z and lays the chord of the edge along X, so the search box is narrow."""
    rotation = np.eye(3) if up[2] > 1 - 1e-12 else rotation_between(up, [0, 0, 1])
    chord = rotation @ (edge.array[-1] - edge.array[0])
    if not edge.closed and np.hypot(chord[0], chord[1]) > 1e-9:
        c, s = chord[:2] / np.hypot(chord[0], chord[1])
        rotation = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) @ rotation
    return placed(rotation, np.zeros(3))


def _across(plan: Polyline, s: F64) -> F64:
    """Unit vectors (k, 2) square to the edge in plan, smoothed over half a millimetre so that facets do not kink it."""
    half = min(0.5, plan.length / 8)
    step = (plan.at(s + half) - plan.at(s - half))[:, :2]
    if not plan.closed:
        step = (plan.at(np.minimum(s + half, plan.length)) - plan.at(np.maximum(s - half, 0)))[:, :2]
    step /= np.maximum(np.linalg.norm(step, axis=1, keepdims=True), 1e-12)
    return np.column_stack([-step[:, 1], step[:, 0]])


def _hint_heights(ledge: Polyline, axis: F64) -> F64:
    """Height of the picked ledge beside every station, (k,)."""
    count = int(np.clip(ledge.length / 0.2, 8, 2000))
    samples = ledge.at(np.linspace(0, ledge.length, count))
    distance = np.linalg.norm(samples[None, :, :2] - axis[:, None], axis=2)
    return np.asarray(samples[np.argmin(distance, axis=1), 2])


def _contact(probe: _Probe, look: _Look, setup: PrintSetup) -> Bool:
    """Where the part hangs close above the edge's height: within a layer of it, or within a line of a sharp edge."""
    with np.errstate(invalid="ignore"):
        rise = look.ceiling - probe.z[:, None]
        flat: Bool = rise <= setup.layer_height + 1e-6
        beside: Bool = np.isfinite(look.ceiling) & (np.abs(look.v) <= setup.line_width + 1e-9)
        return flat | (beside & (rise <= 3 * setup.line_width))


def _ledge_profile(probe: _Probe, look: _Look, setup: PrintSetup) -> tuple[F64, Bool]:
    """Height of the ledge at every station (k,), NaN where there is none, and where a tooth stands on it (k,)."""
    contact = _contact(probe, look, setup)
    with np.errstate(invalid="ignore"):
        facing = contact & np.isfinite(look.floor) & (probe.z[:, None] - look.floor <= setup.longest_tooth)
        if probe.hint is not None:
            facing &= np.abs(look.floor - probe.hint[:, None]) <= HINT_TOLERANCE
    raw = np.max(np.where(facing, look.floor, -np.inf), axis=1)
    blocked = _blocked(look, setup)
    known = np.isfinite(raw)
    if not known.any():
        _explain_no_ledge(probe, look, contact, setup)
    trend = _lower_line(probe.s[known], raw[known])
    rest = np.where(known, raw - np.polyval(trend, probe.s), -np.inf)
    rest[blocked & (rest < -TOOTH_RISE)] = np.inf  # beside a tooth one looks past the ledge, at what lies further down
    window = max(3, int(WIDEST_TOOTH / max(probe.s[1], 1e-9)) | 1)
    window = min(window, max(3, (len(rest) // 2) | 1))
    opened = grey_opening(np.clip(rest, -1e6, 1e6), size=(window,), mode="wrap" if probe.edge.closed else "nearest")
    nominal = np.where(np.abs(opened) < 1e5, opened + np.polyval(trend, probe.s), np.nan)
    tooth = (np.clip(rest, -1e6, 1e6) - opened > TOOTH_RISE) & np.isfinite(nominal)
    return np.where(tooth | ~known, nominal, raw), tooth


def _blocked(look: _Look, setup: PrintSetup) -> Bool:
    """Stations (k,) at which material fills the gap close to the edge, where most other stations see air."""
    inside = np.isnan(look.floor[:, np.abs(look.v) < 2 * setup.line_width])
    out: Bool = (inside & (inside.mean(axis=0) < MOSTLY)).any(axis=1)
    return out


def _lower_line(s: F64, z: F64) -> F64:
    """The straight line that most stations lie on, taken from pairs of them; (2,) polynomial coefficients."""
    picks = np.unique(np.linspace(0, len(s) - 1, min(len(s), 24)).astype(int))
    best, score = np.array([0.0, float(np.median(z))]), -1
    for i in picks:
        for j in picks[picks > i]:
            slope = (z[j] - z[i]) / (s[j] - s[i])
            count = int((np.abs(z - z[i] - slope * (s - s[i])) < 0.02).sum())
            if count > score:
                best, score = np.array([slope, z[i] - slope * s[i]]), count
    return best


def _explain_no_ledge(probe: _Probe, look: _Look, contact: Bool, setup: PrintSetup) -> None:
    """Raise the SpanProblem that says why no ledge was found."""
    near = np.abs(look.v) <= 2 * setup.line_width
    if np.isnan(look.floor[:, near]).mean() > 0.6:
        raise SpanProblem(
            "The edge rests on what lies below it: there is no gap to fill.", "Pick an edge that hangs free."
        )
    if not contact.any():
        raise SpanProblem(
            "This edge has nothing hanging above it: it is not the lower edge of an overhang.",
            "Pick the lower edge that starts in mid-air.",
        )
    with np.errstate(invalid="ignore"):
        distance = np.where(contact & np.isfinite(look.floor), probe.z[:, None] - look.floor, np.inf).min()
    if probe.hint is not None and np.isfinite(distance):
        raise SpanProblem(
            "The ledge that you picked does not face this edge.", "Pick a ledge straight below the edge, or beside it."
        )
    if np.isfinite(distance):
        raise SpanProblem(
            f"The gap is {distance:.1f} mm, longer than a sane tooth ({setup.longest_tooth:g} mm).",
            "Build a sacrificial wall below the edge, or raise the longest tooth in the setup.",
        )
    raise SpanProblem("Nothing lies below this edge but the bed.", "Build a sacrificial wall there first.")


def _best_stretch(probe: _Probe, look: _Look, floor: F64, setup: PrintSetup) -> tuple[int, int]:
    """First and last station of the stretch to use: the longest ledge among those nearest to the edge."""
    ok = np.isfinite(floor)
    if not ok.any():
        raise SpanProblem("The gap is filled all along the edge.", "There is no room left for teeth.")
    jump = np.abs(np.diff(floor)) > LEDGE_JUMP + np.diff(probe.s)
    ends = np.flatnonzero(np.diff(np.r_[0, ok.astype(np.int8), 0]))
    runs: list[tuple[int, int]] = []
    for a, b in zip(ends[::2], ends[1::2] - 1, strict=True):
        cuts = [a, *(np.flatnonzero(jump[a:b]) + a + 1), b + 1]
        runs += [(int(p), int(q) - 1) for p, q in pairwise(cuts) if q - p > 1]
    if not runs:
        raise SpanProblem("The ledge faces this edge at a single point only.", "Pick a ledge that runs along the edge.")
    gaps = [float(np.median((probe.z - floor)[a : b + 1])) for a, b in runs]
    sane = [r for r, g in zip(runs, gaps, strict=True) if g <= 3 * min(gaps) + 1.0]
    return max(sane, key=lambda r: r[1] - r[0])


def _assemble(
    probe: _Probe, look: _Look, floor: F64, tooth: Bool, ends: tuple[int, int], setup: PrintSetup
) -> Span:
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
    lo, hi = (np.interp(probe.s, probe.s[free], a[free]) for a in (lo, hi))
    s0 = 0.0 if first == 0 else _end(probe, floor, lo, hi, first, -1)
    s1 = float(probe.s[-1]) if last == len(probe.s) - 1 else _end(probe, floor, lo, hi, last, +1)
    stations, kind = _stations(probe, free, lo, hi, floor, look, (s0, s1), setup)
    if float(np.quantile(stations.width, 0.1)) < 0.5 * setup.line_width:
        raise SpanProblem(
            f"Ledge and edge share only {float(np.median(stations.width)):.2f} mm across, less than a line.",
            "Pick a wider ledge.",
        )
    occupied = _runs(probe.s, tooth, s0, s1)
    reaches = (first == 0, last == len(probe.s) - 1)
    return Span(
        probe.direction, kind, probe.frame, whole, stations, occupied, reaches, float(probe.s[-1]), s0
    )


def _beside(mask: Bool, closed: bool) -> Bool:
    """Stations next to one of the mask, (k,)."""
    before, after = np.roll(mask, 1), np.roll(mask, -1)
    if not closed:
        before[0] = after[-1] = False
    return before | after


def _strip(probe: _Probe, look: _Look, floor: F64, setup: PrintSetup) -> tuple[F64, F64]:
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


def _stands_in(probe: _Probe, look: _Look, lo: F64, hi: F64, floor: F64, setup: PrintSetup) -> Bool:
    """Stations (k,) at which something stands in the strip that its neighbours leave free."""
    good = _facing(probe, look.floor, look.ceiling, look.v[None, :], floor, setup)
    usual_lo, usual_hi = np.nanmedian(lo), np.nanmedian(hi)
    margin = 0.1 * (usual_hi - usual_lo)
    inside = (look.v > usual_lo + margin) & (look.v < usual_hi - margin)
    if not inside.any():
        return np.zeros(len(lo), np.bool_)
    above = look.floor - floor[:, None]
    usual = np.full(len(look.v), np.nan)
    usual[inside] = np.sort(np.where(good, above, np.inf)[:, inside], axis=0)[len(above) // 10]
    with np.errstate(invalid="ignore"):
        raised = above > np.where(np.isfinite(usual), usual, 0.6 * np.abs(look.v)) + TOOTH_RISE
    out: Bool = np.asarray((np.isnan(look.floor) | raised)[:, inside].any(axis=1))
    return out


def _facing(
    probe: _Probe, f: F64, c: F64, v: F64, floor: F64, setup: PrintSetup, rows: I64 | slice = slice(None)
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


def _end(probe: _Probe, floor: F64, lo: F64, hi: F64, index: int, step: int) -> float:
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
    probe: _Probe, free: Bool, lo: F64, hi: F64, floor: F64, look: _Look, ends: tuple[float, float], setup: PrintSetup
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
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return Stations(
        s - ends[0], axis, across, follow(lo), follow(hi), follow(edge), follow(ledge), np.full(len(s), reach)
    ), kind


def _heights(probe: _Probe, free: Bool, lo: F64, hi: F64) -> tuple[F64, F64]:
    """Edge and ledge heights at ``lo`` and ``hi``, (k, 2) each, carried on over stations where a tooth stands."""
    rows = np.flatnonzero(free)
    width = hi[rows] - lo[rows]
    samples = []
    for t in (0.1, 0.9):
        v = lo[rows] + t * width
        samples.append(
            probe.columns.air_around(
                probe.axis[rows] + probe.across[rows] * v[:, None], probe.z[rows] - CLOSED_GAP
            )
        )
    out = []
    for which in (1, 0):
        near, far = samples[0][which], samples[1][which]
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


def _kind(probe: _Probe, look: _Look, free: Bool, setup: PrintSetup) -> tuple[EdgeKind, float, float]:
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
