"""Letters of our own drawing for the busy panel: strokes on a grid four wide and six high, drawn with a round pen."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import manifold3d as m3
import numpy as np

WIDE, HIGH, PITCH = 4.0, 6.0, 6.4

Stroke = Sequence[tuple[float, float]]

STROKES: dict[str, list[Stroke]] = {
    " ": [],
    "A": [[(0, 0), (0, 4.6), (1.4, 6), (2.6, 6), (4, 4.6), (4, 0)], [(0, 2.6), (4, 2.6)]],
    "D": [[(0, 0), (0, 6), (2.6, 6), (4, 4.6), (4, 1.4), (2.6, 0), (0, 0)]],
    "E": [[(4, 6), (0, 6), (0, 0), (4, 0)], [(0, 3), (3.2, 3)]],
    "G": [[(4, 4.8), (2.8, 6), (0, 6), (0, 0), (4, 0), (4, 2.8), (2.2, 2.8)]],
    "H": [[(0, 0), (0, 6)], [(4, 0), (4, 6)], [(0, 3), (4, 3)]],
    "I": [[(2, 0), (2, 6)]],
    "N": [[(0, 0), (0, 6), (4, 0), (4, 6)]],
    "O": [[(0, 0), (0, 6), (4, 6), (4, 0), (0, 0)]],
    "R": [[(0, 0), (0, 6), (2.8, 6), (4, 5.2), (4, 3.8), (2.8, 3), (0, 3)], [(2, 3), (4, 0)]],
    "S": [[(4, 6), (0, 6), (0, 3), (4, 3), (4, 0), (0, 0)]],
    "T": [[(0, 6), (4, 6)], [(2, 6), (2, 0)]],
    "U": [[(0, 6), (0, 0), (4, 0), (4, 6)]],
    "W": [[(0, 6), (0.8, 0), (2, 4), (3.2, 0), (4, 6)]],
    "7": [[(0, 6), (4, 6), (1.4, 0)]],
    ".": [[(1.8, 0), (2.2, 0)]],
}  # fmt: skip


def _disc(x: float, y: float, radius: float) -> m3.CrossSection:
    turn = 2 * np.pi * np.arange(12) / 12
    return m3.CrossSection([np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])])


def lettering(text: str, height: float, pen: float, *, mirrored: bool = False) -> m3.CrossSection:
    """A line of text about the origin; ``height`` without the pen, ``pen`` the width of its strokes, mm."""
    scale = height / HIGH
    width = (len(text) - 1) * PITCH + WIDE
    strokes = []
    for place, letter in enumerate(text):
        for line in STROKES[letter]:
            points = [((place * PITCH + x - width / 2) * scale, (y - HIGH / 2) * scale) for x, y in line]
            discs = [_disc(x, y, pen / 2) for x, y in points]
            strokes += [m3.CrossSection.batch_hull([a, b]) for a, b in pairwise(discs)]
    flat = m3.CrossSection.batch_boolean(strokes, m3.OpType.Add)
    return flat.mirror((1.0, 0.0)) if mirrored else flat


def on_front(flat: m3.CrossSection, x: float, z: float, y0: float, y1: float) -> m3.Manifold:
    """Letters standing upright, read from the front, between two depths."""
    matrix = np.array([[1.0, 0, 0, x], [0, 0, 1.0, y0], [0, 1.0, 0, z]])
    return flat.extrude(y1 - y0).transform(matrix)
