"""Which figures the drawing carries and where they stand, so that none lies on another: pure, in logical pixels.

Figures are placed one after the other, the most wanted first; one that finds no free place is left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from app.look.tokens import Pen
from app.panels.elevation.handles import Handle
from app.panels.elevation.sheet import Rect

Place = Literal["in", "above", "beyond", "before", "aside"]

# Logical pixels.
CLEAR = 5.0  # between a line and the figure that breaks it
TAIL = 13.0  # line behind an arrowhead that stands outside
NARROW = 2 * Pen.ARROW_LONG + 4  # arrowheads of a shorter dimension stand outside


@dataclass(frozen=True)
class Rulers:
    """How wide a text is: in lettering and in words; ``high`` is the height of a capital of the lettering. px."""

    lettering: Callable[[str], float]
    words: Callable[[str], float]
    high: float = 10.0


@dataclass(frozen=True)
class Dimension:
    """A dimension ready to be drawn: its line from ``a`` to ``b``, where the figure stands and what that takes up."""

    key: str
    text: str
    value: float
    a: tuple[float, float]
    b: tuple[float, float]
    place: Place
    field: Rect
    extensions: tuple[tuple[float, float, float, float], ...] = ()
    ink: str = "ink"
    ground: bool = False
    strong: bool = False
    chain: bool = False
    number: int | None = None
    visible: tuple[float, float] | None = None

    @property
    def upright(self) -> bool:
        return abs(self.a[0] - self.b[0]) < 1e-9

    @property
    def length(self) -> float:
        return abs(self.b[0] - self.a[0]) + abs(self.b[1] - self.a[1])

    @property
    def outside(self) -> bool:
        """Whether the arrowheads stand outside and point inward."""
        return self.length < NARROW

    @property
    def shaft(self) -> Rect:
        """What the line and its arrowheads take up."""
        tail = TAIL if self.outside else 0.0
        (ax, ay), (bx, by) = self.a, self.b
        if self.upright:
            return Rect(ax - 3, min(ay, by) - tail, ax + 3, max(ay, by) + tail)
        return Rect(min(ax, bx) - tail, ay - 3, max(ax, bx) + tail, ay + 3)


@dataclass(frozen=True)
class Label:
    """A tooth number, its middle and its colour."""

    text: str
    centre: tuple[float, float]
    field: Rect
    ink: str


@dataclass(frozen=True)
class Note:
    """Words with leaders (x, y, x, y) to what they are about."""

    text: str
    centre: tuple[float, float]
    field: Rect
    leaders: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True)
class Figures:
    """All figures of a drawing."""

    dimensions: tuple[Dimension, ...] = ()
    labels: tuple[Label, ...] = ()
    notes: tuple[Note, ...] = ()

    def fields(self) -> list[tuple[str, Rect]]:
        """The fields of the dimensions by key, for the pointer."""
        return [(d.key, d.field) for d in self.dimensions]

    def dimension(self, key: str) -> Dimension | None:
        return next((d for d in self.dimensions if d.key == key), None)


@dataclass(frozen=True)
class Focus:
    """What the person has in hand: the handle that is dragged, and the tooth that is selected or hovered."""

    hand: Handle | None = None
    selected: int | None = None
    hovered: int | None = None
    pitch: bool = False
    detail: bool = False

    @property
    def number(self) -> int | None:
        """The tooth that gets figures of its own."""
        return self.hand.number if self.hand is not None else self.selected
