"""Which ledge lies under an edge, what stands on it, and where along the edge it runs."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from core.design.probe import CLOSED_GAP, Look, Probe
from core.design.setup import PrintSetup
from core.errors import SpanProblem
from core.geometry.mesh import F64, Bool

# Lengths in mm; all from memory unless a source is named.
#: Two neighbouring stations whose ledges differ by more than this, beyond a slope of 45°, lie on different ledges.
LEDGE_JUMP = 0.4
#: Something narrower than this along the edge that rises from the ledge is a tooth; wider is a change of the ledge.
WIDEST_TOOTH = 6.0
#: What rises from the ledge by less than this is the ledge itself.
TOOTH_RISE = 0.05
#: A line across is taken up by the part, and not by teeth, when this share of the stations finds it filled.
MOSTLY = 0.7
#: A ledge may be this much off the picked one.
HINT_TOLERANCE = 0.3


def contact_of(probe: Probe, look: Look, setup: PrintSetup) -> Bool:
    """Where the part hangs close above the edge's height: within a layer of it, or within a line of a sharp edge."""
    with np.errstate(invalid="ignore"):
        rise = look.ceiling - probe.z[:, None]
        flat: Bool = rise <= setup.layer_height + 1e-6
        beside: Bool = np.isfinite(look.ceiling) & (np.abs(look.v) <= setup.line_width + 1e-9)
        return flat | (beside & (rise <= 3 * setup.line_width))


def ledge_profile(probe: Probe, look: Look, setup: PrintSetup) -> tuple[F64, Bool]:
    """Height of the ledge at every station (k,), NaN where there is none, and where a tooth stands on it (k,)."""
    contact = contact_of(probe, look, setup)
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
    from scipy.ndimage import grey_opening  # noqa: PLC0415 - a tenth of the window's start

    opened = grey_opening(np.clip(rest, -1e6, 1e6), size=(window,), mode="wrap" if probe.edge.closed else "nearest")
    nominal = np.where(np.abs(opened) < 1e5, opened + np.polyval(trend, probe.s), np.nan)
    tooth = (np.clip(rest, -1e6, 1e6) - opened > TOOTH_RISE) & np.isfinite(nominal)
    return np.where(tooth | ~known, nominal, raw), tooth


def _blocked(look: Look, setup: PrintSetup) -> Bool:
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


def _explain_no_ledge(probe: Probe, look: Look, contact: Bool, setup: PrintSetup) -> None:
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


def best_stretch(probe: Probe, look: Look, floor: F64, setup: PrintSetup) -> tuple[int, int]:
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
    below = [g for g in gaps if g > CLOSED_GAP]
    if not below:  # what was taken for the ledge is carried on to heights above the edge
        raise SpanProblem("The gap could not be measured.", "Pick another edge or ledge.")
    sane = [r for r, g in zip(runs, gaps, strict=True) if CLOSED_GAP < g <= 3 * min(below) + 1.0]
    return max(sane, key=lambda r: r[1] - r[0])
