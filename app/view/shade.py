"""Soft shading in corners, worked out from the depth of the picture.

The part of the sky that a point cannot see is estimated from its neighbours on the screen (screen-space ambient
occlusion; the sample pattern with a horizon per direction follows Bavoil, Sainz and Dimitrov, 2008). It is done on the
kept depth with numpy, at half size, because that looks the same on every graphics driver and costs software drawing
nothing extra per triangle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.view.lens import Lens

F32 = NDArray[np.float32]

DIRECTIONS: Final = 10
STEPS: Final = 5
#: Reach of the shading, as a share of the scene's diagonal, and its limits on the screen in pixels of the small map.
REACH_SHARE: Final = 0.045
REACH_PX: Final = (3.0, 40.0)
#: Darkest that a corner can get, as a share of the light lost. By eye.
STRENGTH: Final = 0.55
#: Horizons lower than this (sine) are the surface itself, not a neighbour.
BIAS: Final = 0.10
#: Each direction steps at other distances, or the steps would show as rings round a corner.
STAGGER: Final = (1.0, 0.45, 0.8, 0.6, 0.9)
#: The few directions leave stripes; blurring twice over this many pixels of the small map takes them away.
BLUR: Final = (5, 5)


def occlusion(buffer: F32, lens: Lens, device_pixels: float, shrink: int = 2) -> F32:
    """Light that is left, 0…1, for every pixel of a depth buffer (h, w); 1 on the background.

    ``shrink`` is how many pixels of the buffer one pixel of the working map stands for.
    """
    small = buffer[::shrink, ::shrink]
    depth = lens.depth_from_buffer(small).astype(np.float32)
    there = small < 1.0
    if not there.any():
        return np.ones(buffer.shape, np.float32)
    mm_per_px = shrink / (device_pixels * float(lens.px_per_mm(float(np.median(depth[there])))))
    reach_mm = REACH_SHARE * float(np.linalg.norm(np.ptp(lens.bounds, axis=0)))
    reach = min(max(reach_mm / mm_per_px, REACH_PX[0]), REACH_PX[1])
    lost = _horizons(_Surface(depth, _normals(depth, mm_per_px), there, mm_per_px, reach))
    light = 1.0 - STRENGTH * np.clip(lost, 0.0, 1.0)
    light[~there] = 1.0
    for width in BLUR:
        light = _blurred(light, width)
    return _enlarged(light, buffer.shape, shrink)


@dataclass(frozen=True, eq=False)
class _Surface:
    """The working map: depths, normals in the eye's axes, where the part is, mm in a pixel and the reach in pixels."""

    depth: F32
    normal: tuple[F32, F32, F32]
    there: NDArray[np.bool_]
    mm_per_px: float
    reach: float


def _horizons(surface: _Surface) -> F32:
    """Mean share of light that neighbours take away, (h, w)."""
    lost = np.zeros(surface.depth.shape, np.float32)
    for k in range(DIRECTIONS):
        angle = 2.0 * math.pi * (k + 0.5) / DIRECTIONS
        worst = np.zeros(surface.depth.shape, np.float32)
        for step in range(1, STEPS + 1):
            length = surface.reach * (step - 1 + STAGGER[k % len(STAGGER)]) ** 1.6 / STEPS**1.6
            offset = round(math.cos(angle) * length), round(math.sin(angle) * length)
            if offset != (0, 0):
                _raise_horizon(worst, surface, offset)
        lost += worst
    return lost * np.float32(2.0 / DIRECTIONS)


def _raise_horizon(worst: F32, surface: _Surface, offset: tuple[int, int]) -> None:
    """Raise ``worst`` where the neighbour at ``offset`` stands above the surface's own plane; far ones count less."""
    depth, normal, mm = surface.depth, surface.normal, surface.mm_per_px
    here, beside = _windows(depth.shape, *offset)
    sx, sy = np.float32(offset[0] * mm), np.float32(-offset[1] * mm)
    rise = depth[here] - depth[beside]  # towards the eye, mm
    length2 = rise * rise + (sx * sx + sy * sy)
    above = normal[0][here] * sx + normal[1][here] * sy + normal[2][here] * rise
    sine = above / np.sqrt(length2) - np.float32(BIAS)
    fade = 1.0 - length2 * np.float32(1.0 / (1.5 * surface.reach * mm) ** 2)
    sine *= np.clip(fade, 0.0, 1.0)
    sine *= surface.there[beside]
    np.maximum(worst[here], sine, out=worst[here])


def _windows(shape: tuple[int, ...], dx: int, dy: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Matching windows: every pixel that has a neighbour at (dx, dy) inside the picture, and those neighbours."""
    h, w = shape
    here = (slice(max(0, -dy), h - max(0, dy)), slice(max(0, -dx), w - max(0, dx)))
    beside = (slice(max(0, dy), h + min(0, dy)), slice(max(0, dx), w + min(0, dx)))
    return here, beside


def _normals(depth: F32, mm_per_px: float) -> tuple[F32, F32, F32]:
    """Surface normals in the eye's axes from the smaller of the two slopes each way, so that edges do not smear."""
    gx = _slope(depth, 1)
    gy = -_slope(depth, 0)
    scale = np.float32(1.0 / mm_per_px)
    gx *= scale
    gy *= scale
    z = 1.0 / np.sqrt(gx * gx + gy * gy + 1.0)
    return gx * z, gy * z, z


def _slope(depth: F32, axis: int) -> F32:
    step = np.diff(depth, axis=axis)
    ahead = np.concatenate([step, np.take(step, [-1], axis)], axis)
    behind = np.concatenate([np.take(step, [0], axis), step], axis)
    return np.where(np.abs(ahead) < np.abs(behind), ahead, behind)


def _enlarged(small: F32, shape: tuple[int, ...], shrink: int) -> F32:
    """Back to full size by repeating, then smoothing over one working pixel."""
    big = np.repeat(np.repeat(small, shrink, axis=0), shrink, axis=1)[: shape[0], : shape[1]]
    return _blurred(big, shrink) if shrink > 1 else big


def _blurred(picture: F32, width: int) -> F32:
    """The mean over a square of ``width`` pixels; the picture goes on beyond its edge as at its edge."""
    before, after = width // 2, (width - 1) // 2
    for axis in (0, 1):
        padded = np.pad(picture, [(before, after) if k == axis else (0, 0) for k in (0, 1)], mode="edge")
        length = picture.shape[axis]
        total = np.zeros_like(picture)
        for k in range(width):
            total += padded[k : k + length] if axis == 0 else padded[:, k : k + length]
        picture = total * np.float32(1.0 / width)
    return picture
