"""Where the drawing lies on its ground: one scale for both directions, so it stays true. Logical pixels, y down."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from app.panels.elevation.model import ElevationModel
from core.geometry.mesh import F64

# Logical pixels.
LEFT, RIGHT = 74.0, 78.0  # kept free beside the part for the gap's figure and the height rule
PINNED_LEFT, PINNED_RIGHT = 58.0, 70.0  # what a zoomed-in drawing leaves them
FAR_GAP = 26.0  # more room on the right where the gap is another one there
TOP_LANE = 30.0  # from the upper rim to the break line: the span's dimension
LOW_LANE = 42.0  # from the lower break line to the rim: pitch, foot and words
ABOVE, BELOW = 30.0, 28.0  # section shown above the edge and below the ledge
MOST_BAND = 64.0
LEAST_GAP = 6.0
SCALE_ROOM = 60.0  # the most that the scale bar takes
#: Gaps that differ less are one gap, mm: the last place that is shown.
SAME_GAP = 0.02
MOST_SCALE: Final = 600.0  # px per mm; beyond this float figures of the file show as steps
LEAST_SCALE: Final = 0.2


@dataclass(frozen=True)
class Sheet:
    """``scale`` px per mm; ``x0`` and ``y0`` are where u = 0 and z = 0 lie."""

    scale: float
    x0: float
    y0: float

    def x(self, u: float) -> float:
        return self.x0 + u * self.scale

    def y(self, z: float) -> float:
        return self.y0 - z * self.scale

    def u(self, x: float) -> float:
        return (x - self.x0) / self.scale

    def z(self, y: float) -> float:
        return (self.y0 - y) / self.scale

    def points(self, line: F64) -> F64:
        """Points (k, 2) of (u, z) as px (k, 2)."""
        return np.column_stack([self.x0 + line[:, 0] * self.scale, self.y0 - line[:, 1] * self.scale])

    def zoomed(self, factor: float, x: float, y: float) -> Sheet:
        """Larger or smaller by ``factor`` about a point that stays where it is."""
        scale = min(max(self.scale * factor, LEAST_SCALE), MOST_SCALE)
        f = scale / self.scale
        return Sheet(scale, x + (self.x0 - x) * f, y + (self.y0 - y) * f)

    def panned(self, dx: float, dy: float) -> Sheet:
        return replace(self, x0=self.x0 + dx, y0=self.y0 + dy)


@dataclass(frozen=True)
class Rect:
    """A field on the ground, px."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    def meets(self, other: Rect, clear: float = 0.0) -> bool:
        """Whether the two overlap or come nearer than ``clear``."""
        return (
            self.left < other.right + clear and other.left < self.right + clear
            and self.top < other.bottom + clear and other.top < self.bottom + clear
        )  # fmt: skip

    def holds(self, x: float, y: float, margin: float = 0.0) -> bool:
        return self.left - margin <= x <= self.right + margin and self.top - margin <= y <= self.bottom + margin

    def grown(self, by: float) -> Rect:
        return Rect(self.left - by, self.top - by, self.right + by, self.bottom + by)


@dataclass(frozen=True, eq=False)
class View:
    """A model laid on a field: ``field`` is all there is, ``above`` and ``below`` the px of section that are shown.

    ``margins`` are kept free beside a drawing that is larger than its field.
    """

    model: ElevationModel
    sheet: Sheet
    field: Rect
    above: float
    below: float
    margins: tuple[float, float] = (PINNED_LEFT, PINNED_RIGHT)

    @property
    def window(self) -> Rect:
        """The part of the field in which the drawing itself is seen; figures and rule stand beside it."""
        extent = self.model.profile.extent
        left = max(self.sheet.x(extent[0]), self.field.left + self.margins[0])
        right = min(self.sheet.x(extent[1]), self.field.right - self.margins[1] - self.far_gap)
        return Rect(left, self.field.top, max(right, left + 1), self.field.bottom)

    @property
    def far_gap(self) -> float:
        """Room (px) for a second figure of the gap, where it is not the same all along."""
        return _far_gap(self.model)

    @property
    def ceiling(self) -> float:
        """Height in px of the upper break line."""
        return self.sheet.y(self.model.z_range[1]) - self.above

    @property
    def floor(self) -> float:
        """Height in px of the lower break line."""
        return self.sheet.y(self.model.z_range[0]) + self.below

    @property
    def top_lane(self) -> float:
        """Height in px of the span's dimension line."""
        return min(max(self.ceiling - 18.0, self.field.top + 11.0), self.field.bottom - 30.0)

    @property
    def low_lane(self) -> float:
        """Height in px of the dimension line below the ledge."""
        return max(min(self.floor + 25.0, self.field.bottom - 15.0), self.field.top + 30.0)

    def x_of_span(self) -> tuple[float, float]:
        """Both ends of the span, px."""
        return self.sheet.x(0.0), self.sheet.x(self.model.length)


def scale_field(view: View) -> Rect:
    """Where the scale bar stands with its figures, px."""
    field = view.field
    return Rect(field.left + 16, field.bottom - 31, field.left + SCALE_ROOM + 62, field.bottom)


def _far_gap(model: ElevationModel) -> float:
    low, high = model.gap
    return FAR_GAP if high - low > SAME_GAP and model.layers.axis == "z" else 0.0


def fitted(model: ElevationModel, field: Rect) -> View:
    """The whole span as large as the field allows, true to scale, with its lanes of figures."""
    first, last = model.profile.extent
    low, high = model.z_range
    right = RIGHT + _far_gap(model)
    wide = max(field.width - LEFT - right, 40.0)
    lanes = TOP_LANE + LOW_LANE + ABOVE + BELOW
    tall = max(field.height - lanes, LEAST_GAP)
    scale = min(wide / max(last - first, 1e-6), tall / max(high - low, 1e-6), MOST_SCALE)
    spare = max(field.height - lanes - (high - low) * scale, 0.0)
    more = min(spare * 0.36, MOST_BAND - ABOVE)
    above, below = ABOVE + more, BELOW + more
    rest = max(spare - 2 * more, 0.0) / 2
    middle = (field.left + LEFT + field.right - right) / 2
    x0 = middle - (first + last) / 2 * scale
    y0 = field.top + TOP_LANE + rest * 0.8 + above + high * scale
    return View(model, Sheet(scale, x0, y0), field, above, below)
