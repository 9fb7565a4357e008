"""What can be seen: points and lines against the depth of the picture on show."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.view.lens import Lens

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
Bool = NDArray[np.bool_]

#: Half the window of the depth buffer that is looked at, device pixels.
WINDOW: Final = 2
#: A point counts as on the surface within this many pixels' worth of mm in depth, for faces seen at a slant.
SLACK_PX: Final = 3.0
#: Beside that, a share of the depth for what drawing and a 24-bit depth buffer round.
SLACK_SHARE: Final = 2e-4
#: Distance of the samples along a line that is tested, logical pixels.
STEP_PX: Final = 2.0
#: Longest line that is tested in steps, in samples; longer ones are tested more coarsely.
MOST_SAMPLES: Final = 4000


@dataclass(frozen=True, eq=False)
class Sight:
    """A lens and the depth buffer (h, w), 0…1, of the picture drawn through it; first row on top."""

    lens: Lens
    buffer: F32
    device_pixels: float = 1.0

    def seen(self, screen: F64, depth: F64) -> Bool:
        """Whether screen points (n, 2) at depths (n), mm, lie on or before the surfaces drawn around them.

        A point is seen when nothing near stands before it (so also on a silhouette, with only background behind it),
        or when a neighbouring pixel lies at its own depth.
        """
        h, w = self.buffer.shape
        place = np.where(np.isfinite(screen), screen * self.device_pixels, -1.0)
        column, row = np.floor(place).astype(np.int64).T
        inside = (row >= 0) & (row < h) & (column >= 0) & (column < w) & np.isfinite(depth)
        step = np.arange(-WINDOW, WINDOW + 1)
        rows = np.clip(row[:, None, None] + step[:, None], 0, h - 1)
        columns = np.clip(column[:, None, None] + step, 0, w - 1)
        window = self.buffer[rows, columns].astype(np.float64)
        behind = self.lens.depth_from_buffer(window) - depth[:, None, None]
        scale = np.broadcast_to(self.lens.px_per_mm(depth), depth.shape)
        slack = (SLACK_PX / (scale * self.device_pixels) + SLACK_SHARE * np.abs(depth))[:, None, None]
        free = (behind > -slack).all(axis=(1, 2))
        touching = ((np.abs(behind) <= slack) & (window < 1.0)).any(axis=(1, 2))
        return inside & (free | touching)

    def surface_point(self, x: float, y: float) -> F64 | None:
        """The surface point drawn at a screen point (logical px), bed mm; None on the background."""
        column, row = int(x * self.device_pixels), int(y * self.device_pixels)
        if not (0 <= row < self.buffer.shape[0] and 0 <= column < self.buffer.shape[1]):
            return None
        z = float(self.buffer[row, column])
        if z >= 1.0:
            return None
        # The buffer holds the depth at the middle of its pixel.
        middle = (column + 0.5) / self.device_pixels, (row + 0.5) / self.device_pixels
        return self.lens.at(*middle, float(self.lens.depth_from_buffer(np.float64(z))))

    def runs(self, polyline: F64) -> list[tuple[bool, F64]]:
        """A polyline (n, 3), bed mm, on the screen as stretches (seen or hidden, points (m, 2)), in order."""
        screen, depth = _sampled(self.lens, polyline)
        if len(screen) < 2:
            return []
        seen = self.seen(screen, depth)
        change = np.flatnonzero(seen[1:] != seen[:-1]) + 1
        cuts = [0, *change.tolist(), len(screen)]
        # Neighbouring stretches share a point, so that no gap opens between them.
        spans = [(max(a - 1, 0), b) for a, b in pairwise(cuts)]
        return [(bool(seen[b - 1]), screen[a:b]) for a, b in spans if b - a > 1]


def _sampled(lens: Lens, polyline: F64) -> tuple[F64, F64]:
    """Screen points and depths at even steps along a polyline; corners are kept."""
    polyline = np.asarray(polyline, float).reshape(-1, 3)
    if len(polyline) < 2:
        return np.zeros((0, 2)), np.zeros(0)
    screen, _, there = lens.project_segments(np.stack([polyline[:-1], polyline[1:]], axis=1))
    length = np.where(there, np.hypot(*np.moveaxis(screen[:, 1] - screen[:, 0], -1, 0)), 0.0)
    length = np.minimum(np.nan_to_num(length), 4.0 * (lens.width + lens.height))
    step = max(STEP_PX, float(length.sum()) / MOST_SAMPLES)
    count = np.maximum(np.ceil(length / step).astype(int), 1)
    segment = np.repeat(np.arange(len(count)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    share = (np.arange(len(segment)) - first) / count[segment]
    points = polyline[segment] + (polyline[segment + 1] - polyline[segment]) * share[:, None]
    points = np.concatenate([points, polyline[-1:]])
    screen, depth = lens.project(points)
    kept = np.isfinite(screen).all(axis=1)
    return screen[kept], depth[kept]
