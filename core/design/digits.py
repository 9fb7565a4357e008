"""Figures to engrave: digits of straight strokes, drawn for a nozzle."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from core.geometry.mesh import F64
from core.geometry.regions import Region

#: Strokes of every sign on a field one wide and two high, from its lower left corner.
_STROKES: Final[dict[str, tuple[tuple[tuple[float, float], ...], ...]]] = {
    "0": (((0, 0), (1, 0), (1, 2), (0, 2), (0, 0)),),
    "1": (((0.15, 1.6), (0.6, 2), (0.6, 0)),),
    "2": (((0, 2), (1, 2), (1, 1), (0, 1), (0, 0), (1, 0)),),
    "3": (((0, 2), (1, 2), (1, 0), (0, 0)), ((0.3, 1), (1, 1))),
    "4": (((0, 2), (0, 0.9), (1, 0.9)), ((1, 2), (1, 0))),
    "5": (((1, 2), (0, 2), (0, 1), (1, 1), (1, 0), (0, 0)),),
    "6": (((1, 2), (0, 2), (0, 0), (1, 0), (1, 1), (0, 1)),),
    "7": (((0, 2), (1, 2), (0.35, 0)),),
    "8": (((0, 0), (1, 0), (1, 2), (0, 2), (0, 0)), ((0, 1), (1, 1))),
    "9": (((1, 1), (0, 1), (0, 2), (1, 2), (1, 0), (0, 0)),),
    ".": (((0, 0), (0.05, 0)),),
}  # fmt: skip
#: Share of the height from sign to sign beyond its own width, and the width of a point.
_GAP, _POINT = 0.35, 0.15


def figure_width(text: str, height: float, stroke: float) -> float:
    """Width of a figure, mm, from the outer side of its first stroke to that of its last."""
    return sum(_advance(c, height, stroke) for c in text) - _space(height, stroke) + stroke


def figure_outlines(text: str, height: float, stroke: float) -> list[F64]:
    """Outlines (k, 2) mm of a figure of digits and points whose lower left corner is the origin.

    ``height`` over all, ``stroke`` width. Holes run clockwise. Raises KeyError for any other sign.
    """
    field = np.array([(height - stroke) / 2, (height - stroke) / 2])
    lines, x = [], stroke / 2
    for sign in text:
        lines += [np.array(s) * field + [x, stroke / 2] for s in _STROKES[sign]]
        x += _advance(sign, height, stroke)
    drawn = shapely.buffer(shapely.MultiLineString(lines), stroke / 2, quad_segs=3)
    return Region.of(drawn).outlines


def _space(height: float, stroke: float) -> float:
    return _GAP * (height - stroke) + stroke


def _advance(sign: str, height: float, stroke: float) -> float:
    width = _POINT if sign == "." else 0.5
    return width * (height - stroke) + _space(height, stroke)
