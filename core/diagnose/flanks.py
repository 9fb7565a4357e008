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
_LIES_DOWN: Final = (1.0, 1.5)


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
        y = shares[low] * gap[i]
        middle = float(tips[i].mean())
        for k, sign in ((0, -1.0), (1, 1.0)):
            x = sign * ((left, right)[k][i, low] - middle)
            if not np.isfinite(x).all():
                continue
            slope = np.abs(np.diff(x) / np.diff(y))
            if slope[0] > _LIES_DOWN[0] and slope[0] > _LIES_DOWN[1] * slope[2]:
                out[i, k] = middle + sign * _foot_of_arc(x, y, float(sign * (tips[i, k] - middle)), float(gap[i]))
    return out


def _foot_of_arc(x: F64, y: F64, tip: float, gap: float) -> float:
    """Foot of a flank through points (x, y) and (``tip``, ``gap``), all mm, that is tangent to the ledge y = 0.

    A circle obeys ((f − tip)² + gap²) / gap = ((f − x)² + y²) / y, an ellipse that ends upright at the tip
    f − x = (f − tip)·√(1 − (1 − y/gap)²); any other such curve starts as f − x = √y·(a + b·y + c·y²). Taken is what
    the points agree on best.
    """
    a, b = 1 / gap - 1 / y, x / y - tip / gap
    c = tip**2 / gap - x**2 / y + gap - y
    circle = (-b - np.sqrt(np.maximum(b**2 - a * c, 0.0))) / a
    k = np.sqrt(1 - (1 - y / gap) ** 2)
    ellipse = (x - k * tip) / (1 - k)
    best: F64 = min(circle, ellipse, key=lambda f: float(f.std()))
    if best.std() < FORM_TOLERANCE:
        return float(best[2:].mean())
    root = np.sqrt(y)
    basis = np.column_stack([np.ones_like(y), root, y * root, y * y * root])
    return float(np.linalg.lstsq(basis, x, rcond=None)[0][0])
