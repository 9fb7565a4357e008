"""From bed mm to pixels and back, for one camera and one size of the view.

Screen points are logical pixels, x to the right and y down from the upper left corner. ``depth`` is the distance in
mm in front of the eye's plane; the depth buffer holds its usual 0…1 image.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.view.camera import FIELD_RAD, Camera

F64 = NDArray[np.float64]

#: Nearest depth that is drawn, as a share of the distance to the point looked at: keeps the depth buffer fine enough.
NEAR_SHARE: Final = 0.02


@dataclass(frozen=True, eq=False)
class Lens:
    """A camera over a view of ``width`` × ``height`` logical pixels; ``bounds`` (2, 3), bed mm, set the depths."""

    camera: Camera
    width: float
    height: float
    bounds: F64

    @cached_property
    def basis(self) -> F64:
        """Right, up, backward as rows."""
        return self.camera.basis

    @cached_property
    def _reach(self) -> tuple[float, float]:
        """Depth of the nearest and the farthest corner of the scene, from the plane of the point looked at, mm."""
        corners = np.array(np.meshgrid(*self.bounds.T, indexing="ij")).reshape(3, -1).T
        away = (self.camera.focus - corners) @ self.basis[2]
        pad = 1e-3 * (1.0 + float(np.ptp(away)))
        return float(away.min()) - pad, float(away.max()) + pad

    @cached_property
    def distance(self) -> float:
        """Eye to focus, mm. A parallel view stands back far enough to have everything in front."""
        if self.camera.parallel:
            return self.camera.distance + max(0.0, -self._reach[0] - self.camera.distance * 0.5)
        return self.camera.distance

    @cached_property
    def eye(self) -> F64:
        """Where the eye stands, bed mm."""
        return self.camera.focus + self.basis[2] * self.distance

    @cached_property
    def clip(self) -> tuple[float, float]:
        """Nearest and farthest depth drawn, mm."""
        low, high = (self.distance + r for r in self._reach)
        near = max(low, self.distance * NEAR_SHARE)
        return near, max(high, near * 1.01)

    @cached_property
    def _px_per_mm(self) -> float:
        """Pixels per mm in the plane of the point looked at."""
        return self.height / self.camera.height

    def px_per_mm(self, depth: float | F64) -> float | F64:
        """Logical pixels per mm at a depth, mm."""
        if self.camera.parallel:
            return self._px_per_mm + 0.0 * depth
        return self.height / (2.0 * math.tan(FIELD_RAD / 2.0)) / depth

    def depth_of(self, points: F64) -> F64:
        """Depth of points (…, 3), bed mm, in front of the eye's plane, mm."""
        return (self.eye - points) @ self.basis[2]

    def project(self, points: F64) -> tuple[F64, F64]:
        """Screen points (…, 2) and depths (…) of points (…, 3). Behind the eye (depth ≤ 0) the screen point is void."""
        points = np.asarray(points, float)
        seen = (points - self.eye) @ self.basis.T
        depth = -seen[..., 2]
        scale = self.px_per_mm(depth if self.camera.parallel else np.where(depth > 1e-9, depth, np.nan))
        screen = np.empty((*points.shape[:-1], 2))
        screen[..., 0] = self.width / 2.0 + seen[..., 0] * scale
        screen[..., 1] = self.height / 2.0 - seen[..., 1] * scale
        return screen, depth

    def project_segments(self, segments: F64) -> tuple[F64, F64, NDArray[np.bool_]]:
        """Screen ends (k, 2, 2), depths (k, 2) and which of the segments (k, 2, 3) lie in front of the eye.

        A segment that runs past the eye is cut a little before it.
        """
        segments = np.asarray(segments, float).reshape(-1, 2, 3)
        if self.camera.parallel:
            return *self.project(segments), np.ones(len(segments), bool)
        near = self.distance * NEAR_SHARE
        depth = self.depth_of(segments)
        there = (depth > near).any(axis=1)
        crossing = there & (depth <= near).any(axis=1)
        if crossing.any():
            segments = segments.copy()
            a, b = segments[crossing, 0], segments[crossing, 1]
            da, db = depth[crossing, 0], depth[crossing, 1]
            cut = a + (b - a) * ((near * 1.0001 - da) / (db - da))[:, None]
            segments[crossing, 0] = np.where((da <= near)[:, None], cut, a)
            segments[crossing, 1] = np.where((db <= near)[:, None], cut, b)
        screen, depth = self.project(segments)
        return screen, depth, there

    def at(self, x: float, y: float, depth: float) -> F64:
        """The point (bed mm) seen at a screen point, at a depth in mm."""
        scale = self.px_per_mm(depth)
        right, up, back = self.basis
        return self.eye + right * ((x - self.width / 2) / scale) + up * ((self.height / 2 - y) / scale) - back * depth

    def ray(self, x: float, y: float) -> tuple[F64, F64]:
        """Origin (bed mm) and unit direction of the sight line through a screen point."""
        if self.camera.parallel:
            return self.at(x, y, 0.0), -self.basis[2]
        towards = self.at(x, y, self.distance) - self.eye
        return self.eye, towards / np.linalg.norm(towards)

    def depth_from_buffer(self, z: F64) -> F64:
        """Depths in mm from values of the depth buffer (0…1; 1, the background, gives the far plane)."""
        near, far = self.clip
        z = np.asarray(z)
        if self.camera.parallel:
            return near + z * (far - near)
        return far * near / (far - z * (far - near))

    def buffer_from_depth(self, depth: F64) -> F64:
        """Values of the depth buffer for depths in mm: the inverse of depth_from_buffer."""
        near, far = self.clip
        if self.camera.parallel:
            return (np.asarray(depth) - near) / (far - near)
        return far * (1.0 - near / np.asarray(depth)) / (far - near)

    def on_plane(self, x: float, y: float, height: float = 0.0) -> F64 | None:
        """Where the sight line meets the level plane z = ``height`` (bed mm), if it does, in front of the eye."""
        origin, towards = self.ray(x, y)
        if abs(towards[2]) < 1e-9:
            return None
        along = (height - origin[2]) / towards[2]
        return None if along <= 0 else origin + towards * along
