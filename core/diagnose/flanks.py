"""The flanks of teeth that stand in a gap, read on a section and carried on to the ledge plane and the edge plane.

Lengths mm, along the section. Heights are shares of the gap: 0 the ledge, 1 the edge.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from core.design.span import Span
from core.diagnose.standing import LEVEL
from core.geometry.mesh import F64
from core.geometry.sheet import Section

#: A flank is called straight, upright or curved when all of it lies this near, mm; from memory.
FORM_TOLERANCE: Final = 0.03
#: Distance from ledge and edge at which a flank is read first and carried on from, mm: beyond what a plane is off in a
#: file, and beyond a kink that sits 0.02 mm inside the gap.
_NEAR: Final = 0.03
#: Shares of the gap at which flanks are read in between.
_SHARES: Final = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, LEVEL, 0.6, 0.7, 0.8, 0.9)
#: A flank that runs this much flatter (mm along per mm up) at the ledge than a little higher lies down on the ledge.
_LIES_DOWN: Final = (0.4, 1.25)
#: Fewest readings of a flank below the middle from which an arc is made out.
_LEAST_READINGS: Final = 4
#: Runs tried at a time for an arc; twice, the second time between two of the first: to a few thousandths of a mm.
_RUNS: Final = 80


def shares_of(span: Span, centres: F64) -> F64:
    """Shares of the gap at which flanks are read, rising."""
    near = float(np.clip(_NEAR / max(float(np.median(span.at(centres).gap)), 1e-6), 0.005, 0.06))
    between = [x for x in _SHARES if 2 * near < x < 1 - 2 * near]
    return np.array([near, 2 * near, *between, 1 - 2 * near, 1 - near])


def flanks(section: Section, centres: F64, shares: F64) -> tuple[F64, F64]:
    """Left and right flank (n, k) of every tooth at every share; NaN where it is missing or runs into its neighbour.

    A tooth is followed from the middle of the gap up and down, so that leaning ones are not lost.
    """
    left, right = np.full((2, len(centres), len(shares)), np.nan)
    start = int(np.argmin(np.abs(shares - LEVEL)))
    solids = [section.solid_at(float(x)) for x in shares]
    between = (centres[1:] + centres[:-1]) / 2
    walls = np.r_[-np.inf, between, np.inf]
    for i, centre in enumerate(centres):
        for path in (range(start, len(shares)), range(start - 1, -1, -1)):
            here = (centre, centre) if path.step > 0 else (left[i, start], right[i, start])
            for j in path:
                found = _overlapping(solids[j], here)
                if found is None or found[0] < walls[i] or found[1] > walls[i + 1]:
                    break
                left[i, j], right[i, j] = here = found
    return left, right


def _overlapping(solids: F64, here: tuple[float, float]) -> tuple[float, float] | None:
    """The stretch that shares most with ``here``."""
    shared = np.minimum(solids[:, 1], here[1]) - np.maximum(solids[:, 0], here[0])
    if not len(shared) or not shared.max() >= 0:
        return None
    a, b = solids[int(np.argmax(shared))]
    return float(a), float(b)


def carried(shares: F64, left: F64, right: F64, plane: float) -> F64:
    """Both flanks (n, 2) carried on straight to a plane (0 the ledge, 1 the edge) from the two readings next to it."""
    out = np.empty((len(left), 2))
    for i in range(len(left)):
        known = np.flatnonzero(np.isfinite(left[i]))
        a, b = known[np.argsort(np.abs(shares[known] - plane))[:2]]
        t = (plane - shares[a]) / (shares[b] - shares[a])
        out[i] = [flank[i, a] + t * (flank[i, b] - flank[i, a]) for flank in (left, right)]
    return out


def feet(shares: F64, left: F64, right: F64, gap: F64) -> F64:
    """Where both flanks of every tooth reach the ledge (n, 2): carried on straight, or as the arcs they are."""
    out, tips = carried(shares, left, right, 0.0), carried(shares, left, right, 1.0)
    low = np.flatnonzero(shares <= LEVEL)
    for i in range(len(left)):
        middle = float(tips[i].mean())
        for k, sign in ((0, -1.0), (1, 1.0)):
            x, y = sign * ((left, right)[k][i, low] - middle), shares[low] * gap[i]
            known = np.isfinite(x)  # neighbours' feet that touch hide the lowest readings
            x, y = x[known], y[known]
            if len(x) < _LEAST_READINGS:
                continue
            slope = np.abs(np.diff(x) / np.diff(y))
            if slope[0] > _LIES_DOWN[0] and slope[0] > _LIES_DOWN[1] * slope[2]:
                out[i, k] = middle + sign * _foot_of_arc(x, y, float(sign * (tips[i, k] - middle)), float(gap[i]))
    return out


def _foot_of_arc(x: F64, y: F64, tip: float, gap: float) -> float:
    """Foot of a flank through points (x, y) and (``tip``, ``gap``), all mm, that lies down on the ledge y = 0.

    Arcs and quarter ellipses as teeth have them are laid through the points, every one with the run that fits it best;
    distances count square to the flank, for where it lies flat a hair of height is much of length. Any other such curve
    starts as f − x = √y·(a + b·y + c·y²).
    """
    slope = np.gradient(x, y)
    weight = 1 / np.sqrt(1 + slope**2)
    low, high = float(x.max()) - tip, 2 * (float(x.max()) - tip) + _NEAR
    best = (FORM_TOLERANCE, np.nan)
    for curve in (_arc_at_tip, _arc_at_ledge, _quarter_ellipse):
        runs = np.linspace(low, high, _RUNS)
        for _ in range(2):
            off = (np.abs(curve(runs[:, None], y, gap) - (x - tip)) * weight).mean(axis=1)
            at = int(np.argmin(off))
            best = min(best, (float(off[at]), float(runs[at])))
            step = runs[1] - runs[0]
            runs = np.linspace(runs[at] - step, runs[at] + step, _RUNS)
    if np.isfinite(best[1]):
        return tip + best[1]
    root = np.sqrt(y)
    basis = np.column_stack([np.ones_like(y), root, y * root, y * y * root])
    return float(np.linalg.lstsq(basis, x, rcond=None)[0][0])


def _arc_at_tip(run: F64, y: F64, gap: float) -> F64:
    """How far a flank reaches beyond its tip at heights ``y``: an arc upright at the tip, R = (r² + g²) / 2r, r ≤ g."""
    radius = (run**2 + gap**2) / (2 * run)
    reach = radius - np.sqrt(np.maximum(radius**2 - (gap - y) ** 2, 0.0))
    return np.where(run <= gap, reach, np.inf)


def _arc_at_ledge(run: F64, y: F64, gap: float) -> F64:
    """The same for an arc that lies down on the ledge, R = (r² + g²) / 2g, g ≤ r."""
    radius = (run**2 + gap**2) / (2 * gap)
    return np.where(run >= gap, run - np.sqrt(np.maximum(radius**2 - (radius - y) ** 2, 0.0)), np.inf)


def _quarter_ellipse(run: F64, y: F64, gap: float) -> F64:
    """The same for a quarter ellipse with the semi-axes r and g."""
    return np.asarray(run * (1 - np.sqrt(np.maximum(1 - (1 - y / gap) ** 2, 0.0))))
