"""Where the eye stands: a turntable that keeps the horizon level.

A camera is a value; every move gives a new one. Directions are counted in the *working axes* (a rotation of the bed
frame that serves looking only), points in bed mm, angles in radians. Azimuth 0, elevation 0 is the front elevation:
the eye stands at −Y and looks along +Y; azimuth grows to the right, so that +90° is the right end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

#: Angle of view from top to bottom. A long lens: little distortion, yet parallel edges still lean together. By eye.
FIELD_RAD: Final = math.radians(24.0)
#: A drag over this many logical pixels turns the part by half a turn. By hand.
HALF_TURN_PX: Final = 480.0
#: The closest and the widest view, mm from top to bottom.
HEIGHT_LIMITS_MM: Final = (0.05, 1.0e6)
#: Rounds of moving and measuring until a box sits in the middle of a perspective view; it settles within 0.1 %.
FRAMING_ROUNDS: Final = 12
#: Space left round the part when it is framed, as a share of the drawing.
MARGIN: Final = 1.03

_QUARTER: Final = math.pi / 2

#: Azimuth and elevation of the six views, laid out by third-angle projection (ISO 128-3).
NAMED: Final[dict[str, tuple[float, float]]] = {
    "front": (0.0, 0.0),
    "right": (_QUARTER, 0.0),
    "back": (math.pi, 0.0),
    "left": (-_QUARTER, 0.0),
    "plan": (0.0, _QUARTER),
    "below": (0.0, -_QUARTER),
}

#: The view in which a part is first shown: from the front, a little from the left and from above.
FIRST: Final = (math.radians(-20.0), math.radians(21.0))


def _identity() -> F64:
    return np.eye(3)


@dataclass(frozen=True, eq=False)
class Camera:
    """The point looked at (bed mm), the direction, and how much is seen (``height``, mm from top to bottom)."""

    focus: F64 = field(default_factory=lambda: np.zeros(3))
    azimuth: float = FIRST[0]
    elevation: float = FIRST[1]
    height: float = 100.0
    parallel: bool = False
    working: F64 = field(default_factory=_identity)

    @property
    def basis(self) -> F64:
        """Right, up and backward (towards the eye) as rows, (3, 3), unit vectors in the bed frame."""
        ca, sa = math.cos(self.azimuth), math.sin(self.azimuth)
        ce, se = math.cos(self.elevation), math.sin(self.elevation)
        rows = np.array([[ca, sa, 0.0], [-sa * se, ca * se, ce], [sa * ce, -ca * ce, se]])
        return rows @ self.working

    @property
    def distance(self) -> float:
        """From the eye to the point looked at, mm."""
        return self.height / (2.0 * math.tan(FIELD_RAD / 2.0))

    @property
    def eye(self) -> F64:
        """Where the eye stands, bed mm."""
        return self.focus + self.basis[2] * self.distance

    def orbited(self, dx: float, dy: float, pivot: F64 | None = None) -> Camera:
        """Turned by a drag of (dx, dy) logical pixels, y down, about ``pivot`` (bed mm; else the point looked at).

        The horizon stays level, the poles are stops. The pivot keeps its place on the screen.
        """
        step = math.pi / HALF_TURN_PX
        elevation = min(max(self.elevation + dy * step, -_QUARTER), _QUARTER)
        turned = replace(self, azimuth=_wrapped(self.azimuth - dx * step), elevation=elevation)
        if pivot is None:
            return turned
        return replace(turned, focus=pivot + self.basis @ (self.focus - pivot) @ turned.basis)

    def panned(self, dx: float, dy: float, view_height_px: float) -> Camera:
        """Shifted so that the part follows a drag of (dx, dy) logical pixels, y down."""
        mm = self.height / view_height_px
        right, up, _ = self.basis
        return replace(self, focus=self.focus - right * (dx * mm) + up * (dy * mm))

    def zoomed(self, factor: float, anchor: F64 | None = None) -> Camera:
        """Nearer by ``factor`` (> 1 enlarges); the point ``anchor`` (bed mm) stays where it is on the screen."""
        low, high = HEIGHT_LIMITS_MM
        height = min(max(self.height / factor, low), high)
        if anchor is None:
            return replace(self, height=height)
        kept = height / self.height
        return replace(self, height=height, focus=anchor + (self.focus - anchor) * kept)

    def looking(self, azimuth: float, elevation: float) -> Camera:
        """The same place seen from another direction (radians)."""
        return replace(self, azimuth=_wrapped(azimuth), elevation=elevation)

    def named(self, view: str) -> Camera:
        """One of the six views: front, back, left, right, plan, below."""
        return self.looking(*NAMED[view])

    def turned(self, quarters_right: int, quarters_up: int = 0) -> Camera:
        """Turned by quarters, starting from the nearest square view."""
        azimuth = round(self.azimuth / _QUARTER + quarters_right) * _QUARTER
        elevation = min(max(round(self.elevation / _QUARTER + quarters_up), -1), 1) * _QUARTER
        return self.looking(azimuth, elevation)

    def towards(self, direction: F64) -> Camera:
        """Looking at the side that faces ``direction`` (bed frame, need not be a unit vector)."""
        d = self.working @ np.asarray(direction, float)
        flat = math.hypot(d[0], d[1])
        azimuth = self.azimuth if flat < 1e-9 else math.atan2(d[0], -d[1])
        return self.looking(azimuth, math.atan2(d[2], flat))

    def framed(self, bounds: F64, aspect: float) -> Camera:
        """Moved so that a box (2, 3), bed mm, fills a view of ``aspect`` = width : height, with a little margin."""
        corners = np.array(np.meshgrid(*np.asarray(bounds, float).T, indexing="ij")).reshape(3, -1).T
        seen = corners @ self.basis.T
        middle = (seen.min(axis=0) + seen.max(axis=0)) / 2.0
        seen -= middle
        shift, height = np.zeros(2), 1e-3
        for _ in range(1 if self.parallel else FRAMING_ROUNDS):
            nearer = np.ones(len(seen)) if self.parallel else _magnified(seen[:, 2], height)
            flat = (seen[:, :2] - shift) * nearer[:, None]
            low, high = flat.min(axis=0), flat.max(axis=0)
            height = max(high[1] - low[1], (high[0] - low[0]) / aspect, 1e-3) * MARGIN
            shift = shift + (low + high) / 2.0
        focus = (middle + np.append(shift, 0.0)) @ self.basis
        return replace(self, focus=focus, height=float(height))

    def with_room(self, above: float, below: float, view_height_px: float) -> Camera:
        """What fills the view now fills it less these strips (logical px) at its upper and lower edge."""
        used = max(view_height_px - above - below, 0.3 * view_height_px)
        height = self.height * view_height_px / used
        shift = (below - above) / 2.0 * height / view_height_px
        return replace(self, height=height, focus=self.focus - self.basis[1] * shift)

    def between(self, other: Camera, share: float) -> Camera:
        """Part of the way to another camera, for a flight: 0 is here, 1 is there."""
        turn = _wrapped(other.azimuth - self.azimuth)
        return replace(
            other,
            focus=self.focus + (other.focus - self.focus) * share,
            azimuth=_wrapped(self.azimuth + turn * share),
            elevation=self.elevation + (other.elevation - self.elevation) * share,
            height=self.height * (other.height / self.height) ** share,
        )

    def state(self) -> dict[str, object]:
        """What is kept for a file between two runs, in plain numbers."""
        return {
            "focus": [float(x) for x in self.focus],
            "azimuth": self.azimuth,
            "elevation": self.elevation,
            "height": self.height,
            "parallel": self.parallel,
        }

    def restored(self, state: dict[str, object]) -> Camera:
        """The camera of a kept state; this one where the state makes no sense."""
        try:
            focus = np.array(state["focus"], float)
            numbers = [float(state[k]) for k in ("azimuth", "elevation", "height")]  # type: ignore[arg-type]
        except (KeyError, TypeError, ValueError):
            return self
        if focus.shape != (3,) or not np.isfinite([*focus, *numbers]).all() or numbers[2] <= 0:
            return self
        azimuth, elevation, height = numbers
        parallel = bool(state.get("parallel", False))
        return replace(self, focus=focus, azimuth=azimuth, elevation=elevation, height=height, parallel=parallel)


def _magnified(nearer: F64, height: float) -> F64:
    """How much larger things look that stand ``nearer`` mm before the point looked at."""
    distance = height / (2.0 * math.tan(FIELD_RAD / 2.0))
    return distance / np.maximum(distance - nearer, 0.2 * distance)


def _wrapped(angle: float) -> float:
    """The same angle within ±π, so that a flight takes the short way round."""
    return math.remainder(angle, 2.0 * math.pi)
