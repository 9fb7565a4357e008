"""What the drawing shows besides its model: ticks, what the pointer is on, what is in hand, what is chosen."""

from __future__ import annotations

from dataclasses import dataclass

from app.panels.elevation.drags import Snap
from app.panels.elevation.handles import Handle
from app.panels.elevation.model import DrawnTooth
from app.panels.elevation.sheet import Rect
from core.units import UnitName


@dataclass(frozen=True)
class Marks:
    """What else is shown: ticks, what the pointer is on, what is in hand, what is chosen."""

    layer_lines: bool = True
    hovered: Handle | None = None
    selected: int | None = None
    hovered_tooth: int | None = None
    hand: Handle | None = None
    layer: int | None = None
    ghost: DrawnTooth | None = None
    snap: Snap | None = None
    detail: Rect | None = None
    rule: bool = True
    flags: bool = True
    unit: UnitName = "millimeter"

    @property
    def in_hand(self) -> int | None:
        """The tooth that is pulled at."""
        return self.hand.number if self.hand is not None else None
