"""The picture of part and teeth for one lens, made better while nothing moves.

A picture starts as one frame. While the eye rests, frames shifted by fractions of a pixel are added until edges are
smooth; while it moves, as many as the time allows. Teeth are drawn over the kept depth of the part.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkRenderingCore import vtkProp

from app.look.tokens import LIGHT, Theme
from app.view.lens import Lens
from app.view.part_drawing import SMALL_TRIANGLES, PartDrawing
from app.view.shade import occlusion
from app.view.sight import Sight
from app.view.stage import Pixels, Stage
from app.view.teeth_drawing import CUT_STEP, HATCH_STEP, TeethDrawing, hatch
from app.view.trouble_drawing import TroubleDrawing

#: Frames that make a finished picture.
FINE: Final = 8
#: A frame that takes longer than this (s) is not repeated for smoothness' sake.
PATIENCE: Final = 0.060
#: What drawing may take while the eye moves (s), and how many frames are added at most.
MOVING_BUDGET: Final = 0.032
MOVING_FRAMES: Final = 4
#: The working map of the soft shading: one of its pixels for so many of the picture, at rest and while moving.
SHADE_SHRINK, SHADE_SHRINK_MOVING = 2, 4
#: Above this drawing time (s) moving frames do without soft shading, and a resting one gets it in a step of its own.
SHADE_LIMIT: Final = 0.030

_PLASTIC: Final = 1.32471795724474602596  # plastic number: its powers spread points evenly in a square


def shifts(count: int) -> list[tuple[float, float]]:
    """Offsets within a pixel, the first one zero; evenly spread (M. Roberts' R2 sequence, from memory)."""
    a, b = 1.0 / _PLASTIC, 1.0 / _PLASTIC**2
    return [((k * a + 0.5) % 1.0 - 0.5, (k * b + 0.5) % 1.0 - 0.5) for k in range(count)]


_SHIFTS: Final = shifts(FINE)


@dataclass(frozen=True, eq=False)
class Picture:
    """What is on show: (h, w, 4) uint8 layers, colours multiplied by alpha; teeth and hatching may be missing."""

    part: Pixels
    teeth: Pixels | None
    hatching: Pixels | None
    sight: Sight | None


class _Sum:
    """Frames added up."""

    def __init__(self) -> None:
        self.total: NDArray[np.uint16] | None = None
        self.count = 0

    def clear(self) -> None:
        self.total, self.count = None, 0

    def add(self, frame: Pixels) -> None:
        if self.total is None or self.total.shape != frame.shape:
            self.total, self.count = frame.astype(np.uint16), 1
            return
        self.total += frame
        self.count += 1

    def mean(self) -> NDArray[np.uint16]:
        assert self.total is not None
        return self.total if self.count == 1 else self.total // np.uint16(self.count)


class Rendering:
    """Owns the stage and what stands on it."""

    def __init__(self) -> None:
        self.stage = Stage()
        self.part = PartDrawing(self.stage.part, self.stage.over)
        self.teeth = TeethDrawing(self.stage.over)
        self.trouble = TroubleDrawing(self.stage.over)
        self.theme: Theme = LIGHT
        self._lens: Lens | None = None
        self._pixels = 1.0
        self._part_sum, self._teeth_sum = _Sum(), _Sum()
        self._light: NDArray[np.uint16] | None = None
        self._unshaded: NDArray[np.float32] | None = None
        self._sight: Sight | None = None
        self._hatching: Pixels | None = None
        self._frame_time = 0.0
        self._unloaded = True
        self._moving = False
        self.set_theme(LIGHT, 1.0)

    @property
    def sight(self) -> Sight | None:
        """Depth of the part itself as drawn last; None while a stand-in or nothing is shown."""
        return self._sight

    def set_theme(self, theme: Theme, device_pixels: float) -> None:
        """Colours and line widths for a theme and a device scale."""
        self.theme, self._pixels = theme, device_pixels
        self.part.set_theme(theme)
        self.part.set_scale(device_pixels)
        self.teeth.set_theme(theme, device_pixels)
        self.trouble.set_theme(theme, device_pixels)

    @property
    def _over(self) -> list[vtkProp]:
        """What is drawn in colour over the part."""
        return [*self.trouble.props, *self.teeth.props]

    def draw(self, lens: Lens, size: tuple[int, int], device_pixels: float, moving: bool) -> None:
        """Start a new picture: part and teeth."""
        if device_pixels != self._pixels:
            self.set_theme(self.theme, device_pixels)
        self.stage.resize(*size)
        self._lens, self._moving = lens, moving
        whole = self.part.use_stand_in(moving)
        self.part.follow(lens, moving)
        self._part_sum.clear()
        self._part_frame(0)
        depth = self.stage.keep_depth()
        self._sight = Sight(lens, depth, device_pixels) if whole and self.part.mesh is not None else None
        for k in range(1, self._moving_frames() if moving else 1):
            self._part_frame(k)
        self._light, self._unshaded = None, None
        if self.part.mesh is not None and self._frame_time <= SHADE_LIMIT:
            self._shade(depth, SHADE_SHRINK_MOVING if moving else SHADE_SHRINK)
        elif self.part.mesh is not None and not moving:
            self._unshaded = depth
        self.draw_teeth()

    def _moving_frames(self) -> int:
        return min(max(int(MOVING_BUDGET / max(self._frame_time, 1e-4)), 1), MOVING_FRAMES)

    def _part_frame(self, number: int) -> None:
        assert self._lens is not None
        self.stage.aim(self._lens, _SHIFTS[number])
        started = time.perf_counter()
        frame = self.stage.draw_part()
        taken = time.perf_counter() - started
        # The first frame also loads the mesh into the graphics memory: for a small one that tells nothing of the next.
        small = self.part.mesh is None or len(self.part.mesh.triangles) <= SMALL_TRIANGLES
        self._frame_time = 0.0 if self._unloaded and small else taken
        self._unloaded = False
        self._part_sum.add(frame)

    def _shade(self, depth: NDArray[np.float32], shrink: int) -> None:
        assert self._lens is not None
        self._unshaded = None
        shrink = max(round(shrink * self._pixels), 1)
        light = occlusion(depth, self._lens, self._pixels, shrink)
        self._light = np.full((*light.shape, 4), 256, np.uint16)  # alpha is left as it is
        self._light[..., :3] = (light * np.float32(256.0)).astype(np.uint16)[..., None]

    def draw_teeth(self) -> None:
        """Start the teeth anew over the part as it is."""
        if self._lens is None:
            return
        self._teeth_sum.clear()
        self._hatching = None
        for props, step in ((self.part.mask_props, CUT_STEP), (self.teeth.mask_props, HATCH_STEP)):
            if props and not (self._moving and step == CUT_STEP):
                self.stage.aim(self._lens)
                lines = hatch(self.stage.draw_over(props)[..., 3], self._pixels, self.theme.plaster_edge, step)
                self._hatching = lines if self._hatching is None else np.maximum(self._hatching, lines)
        self._teeth_frame()

    def _teeth_frame(self) -> None:
        if self._over and self._lens is not None:
            self.stage.aim(self._lens, _SHIFTS[self._teeth_sum.count])
            self._teeth_sum.add(self.stage.draw_over(self._over))

    @property
    def wants_more(self) -> bool:
        """Whether the picture on show can still be made better."""
        there = self._lens is not None and self._part_sum.total is not None and not self._moving
        return there and (self._part_is_rough or self._teeth_are_rough or self._unshaded is not None)

    @property
    def _part_is_rough(self) -> bool:
        return self._part_sum.count < FINE and self._frame_time < PATIENCE

    @property
    def _teeth_are_rough(self) -> bool:
        return bool(self._over) and self._teeth_sum.count < FINE

    def refine(self) -> None:
        """One step: soft shading if it is still missing, else one more frame of part and teeth."""
        if self._unshaded is not None:
            self._shade(self._unshaded, SHADE_SHRINK)
            return
        if self._part_is_rough:
            self._part_frame(self._part_sum.count)
        if self._teeth_are_rough:
            self._teeth_frame()

    def picture(self) -> Picture | None:
        """The layers as they stand, or None before the first drawing."""
        if self._part_sum.total is None:
            return None
        part = self._part_sum.mean()
        if self._light is not None and self._light.shape == part.shape:
            part = part * self._light
            part >>= 8
        teeth = self._teeth_sum.mean().astype(np.uint8) if self._teeth_sum.total is not None else None
        return Picture(part.astype(np.uint8), teeth, self._hatching, self._sight)

    def forget(self) -> None:
        """Drop the picture, because what it shows is gone."""
        self._part_sum.clear()
        self._teeth_sum.clear()
        self._light = self._unshaded = self._sight = self._hatching = None
        self._unloaded = True

    def close(self) -> None:
        """Free the drawing memory."""
        self.forget()
        self._lens = None
        self.stage.close()
