"""What lies under the pointer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["edge", "vertex", "face", "none"]


@dataclass(frozen=True)
class Hit:
    """One pick: what it is, which one, where on the part and where on the screen.

    ``index`` numbers the feature segment of an edge, the triangle of a face, or the mesh vertex of a vertex; it is
    −1 where the number is not known (a face before the triangle finder is built, a vertex of loose segments).
    ``point`` is in bed mm; ``screen`` in logical pixels from the upper left corner of the view.
    """

    kind: Kind
    index: int
    point: tuple[float, float, float]
    screen: tuple[float, float]
