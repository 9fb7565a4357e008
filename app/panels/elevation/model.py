"""What the elevation shows, as plain figures: built from span, wishes, plan and section, and never changed.

The drawing's own measure is u: arc length along the span counted from where a closed span is cut open (``cut``);
for an open span u = s. Heights z are those of the gap frame, for an upward gap heights above the bed. All mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from numpy.typing import ArrayLike

from app.panels.elevation.section import Profile, SpanSection
from core.design.plan import RowPlan, RowWishes
from core.design.span import Direction
from core.geometry.mesh import F64

Fate = Literal["prints", "lost layers", "will not print"]


@dataclass(frozen=True)
class Survival:
    """What becomes of a tooth in print. ``layers``: how many of its topmost layers are lost (0: not known, or none)."""

    fate: Fate = "prints"
    layers: int = 0

    @property
    def whole(self) -> bool:
        """Whether the loss is shown over the whole tooth."""
        return self.fate == "will not print" or (self.fate == "lost layers" and self.layers == 0)

    @property
    def serious(self) -> bool:
        """One lost layer at a tip is ordinary practice; everything beyond is said in words."""
        return self.fate == "will not print" or (self.fate == "lost layers" and self.layers != 1)


@dataclass(frozen=True, eq=False)
class DrawnTooth:
    """A tooth: its number (from 0, as planned), centre and the place it had before it was moved by hand, u.

    ``outline`` (k, 2) of (u, z) between ledge and edge; ``foot`` and ``tip`` are stretches of u in the two planes;
    ``lost_from`` is the height above which it does not print, None when all of it does.
    """

    number: int
    centre: float
    base: float
    outline: F64
    foot: tuple[float, float]
    tip: tuple[float, float]
    survival: Survival
    lost_from: float | None

    @property
    def moved(self) -> float:
        """How far the person moved it, mm."""
        return self.centre - self.base


@dataclass(frozen=True)
class Bridge:
    """A stretch of edge between two tips, u; ``over`` when it is longer than allowed. ``left`` and ``right`` are the
    numbers of the teeth beside it, None for a tooth that is there already."""

    start: float
    stop: float
    over: bool
    left: int | None
    right: int | None

    @property
    def clear(self) -> float:
        return self.stop - self.start


@dataclass(frozen=True, eq=False)
class Layers:
    """Where layers end: ``numbers`` (m,) counted from 0 at the bed, ``at`` (m,) the top of each along ``axis``, mm.

    An upward gap crosses its layers in height (axis "z"), a sideways one along the span (axis "u").
    """

    axis: Literal["z", "u"]
    numbers: tuple[int, ...]
    at: F64
    first: float
    height: float

    def top_of(self, number: int) -> float:
        """Top of a layer above the bed, mm."""
        return self.first + number * self.height

    def middle_of(self, number: int) -> float:
        """Middle height of a layer above the bed, mm."""
        return self.first / 2 if number == 0 else self.top_of(number) - self.height / 2


@dataclass(frozen=True, eq=False)
class ElevationModel:
    """Everything that the drawing needs. See the module for u and z."""

    title: str
    direction: Direction
    closed: bool
    cut: float
    length: float
    stops: tuple[float, float]
    profile: Profile
    section: SpanSection
    teeth: tuple[DrawnTooth, ...]
    left_out: tuple[DrawnTooth, ...]
    bridges: tuple[Bridge, ...]
    layers: Layers
    wishes: RowWishes
    plan: RowPlan | None
    gap: tuple[float, float]
    line_width: float
    row_free: bool = True

    def to_u(self, s: float) -> float:
        """Where a point of the span lies on the drawing."""
        return (s - self.cut) % self.length if self.closed else s

    def to_s(self, u: float) -> float:
        """The arc length along the span of a place on the drawing."""
        return (u + self.cut) % self.length if self.closed else u

    def edge_at(self, u: ArrayLike) -> F64:
        return self.profile.edge_at(u)

    def ledge_at(self, u: ArrayLike) -> F64:
        return self.profile.ledge_at(u)

    def gap_at(self, u: float) -> float:
        """Gap at a place, mm."""
        return float(self.edge_at(u) - self.ledge_at(u))

    @property
    def z_range(self) -> tuple[float, float]:
        """Lowest point of the ledge and highest of the edge, mm."""
        return float(self.profile.ledge[:, 1].min()), float(self.profile.edge[:, 1].max())

    def tooth(self, number: int | None) -> DrawnTooth | None:
        """The tooth of that number, when it stands in the row."""
        return next((t for t in self.teeth if t.number == number), None)

    def neighbours(self, number: int) -> tuple[Bridge | None, Bridge | None]:
        """The bridges to the left and the right of a tooth."""
        left = next((b for b in self.bridges if b.right == number), None)
        right = next((b for b in self.bridges if b.left == number), None)
        return left, right

    @property
    def row_ends(self) -> tuple[float, float] | None:
        """Outer sides of the outermost tips, u; None without teeth."""
        tips = [t.tip for t in self.teeth] + [t.tip for t in self.section.standing]
        return (min(a for a, _ in tips), max(b for _, b in tips)) if tips else None
