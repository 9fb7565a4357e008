"""Rigid placements: the print pose (file mm → bed mm) and the working axes (only for looking).

The bed frame is right-handed: +X right, +Y back, +Z up, bed at z = 0 (ISO 17295:2023,
formerly ISO/ASTM 52921:2013). No function here alters file coordinates.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from core.errors import BadValue
from core.geometry.mesh import F64, Mesh, frozen

_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class Pose:
    """A rigid transform as sixteen numbers, row by row, so that it compares, hashes and saves."""

    numbers: tuple[float, ...] = (1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1)

    def __post_init__(self) -> None:
        m = np.asarray(self.numbers, np.float64)
        if m.shape != (16,) or not np.isfinite(m).all():
            raise BadValue("A pose is sixteen finite numbers.")
        r = m.reshape(4, 4)[:3, :3]
        if abs(np.linalg.det(r) - 1.0) > 1e-6 or np.abs(r @ r.T - np.eye(3)).max() > 1e-6:
            raise BadValue("A pose must be rigid: no scaling, shearing or mirroring.")

    @classmethod
    def of(cls, matrix: ArrayLike) -> Pose:
        """A pose from a (4, 4) matrix, mm → mm. Raises BadValue unless it is rigid."""
        return cls(tuple(float(x) for x in np.asarray(matrix, np.float64).ravel()))

    @cached_property
    def matrix(self) -> F64:
        """The (4, 4) float64 matrix, read-only."""
        out = np.array(self.numbers, np.float64).reshape(4, 4)
        frozen(out)
        return out

    @cached_property
    def inverse(self) -> Pose:
        """The pose that undoes this one."""
        r, t = self.matrix[:3, :3], self.matrix[:3, 3]
        return Pose.of(placed(r.T, -r.T @ t))

    def apply(self, points: ArrayLike) -> F64:
        """Points (…, 3), mm, carried over."""
        return np.asarray(points, np.float64) @ self.matrix[:3, :3].T + self.matrix[:3, 3]

    def turn(self, vectors: ArrayLike) -> F64:
        """Directions (…, 3) carried over: rotated only."""
        return np.asarray(vectors, np.float64) @ self.matrix[:3, :3].T


def placed(rotation: F64, shift: ArrayLike) -> F64:
    """A (4, 4) matrix from a (3, 3) rotation and a shift (3,) in mm."""
    out = np.eye(4)
    out[:3, :3] = rotation
    out[:3, 3] = shift
    return out


def rotation_between(a: ArrayLike, b: ArrayLike) -> F64:
    """The smallest rotation (3, 3) that carries direction ``a`` to direction ``b`` (Rodrigues' formula)."""
    u = np.asarray(a, np.float64) / np.linalg.norm(a)
    v = np.asarray(b, np.float64) / np.linalg.norm(b)
    axis, cosine = np.cross(u, v), float(u @ v)
    if cosine < -1 + 1e-12:
        side = np.eye(3)[int(np.argmin(np.abs(u)))]
        axis = np.cross(u, side)
        axis /= np.linalg.norm(axis)
        return 2 * np.outer(axis, axis) - np.eye(3)
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    out: F64 = np.eye(3) + k + k @ k / (1 + cosine)
    return out


def about_z(degrees: float) -> F64:
    """Rotation (3, 3) about +Z, counter-clockwise seen from above."""
    c, s = np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))
    if degrees % 90 == 0:
        c, s = np.round(c), np.round(s)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def seated(mesh: Mesh, rotation: F64) -> Pose:
    """Turn the part (file mm) by ``rotation`` about its middle and set its lowest point on the bed, z = 0.

    The middle of its outline stays where it was in x and y, so a turn does not throw the part off the bed.
    """
    if np.array_equal(rotation, np.eye(3)):
        return as_filed(mesh)
    corners = mesh.vertices if len(mesh.vertices) else np.zeros((1, 3))
    turned = corners @ rotation.T
    low, high = (np.array([f(turned[:, i]) for i in range(3)]) for f in (np.min, np.max))
    middle = mesh.bounds.mean(axis=0)
    shift = np.array([middle[0] - (low[0] + high[0]) / 2, middle[1] - (low[1] + high[1]) / 2, -low[2]])
    return Pose.of(placed(rotation, shift))


def as_filed(mesh: Mesh) -> Pose:
    """The pose as filed: +Z of the file is up, the lowest point on the bed, x and y untouched."""
    return Pose.of(placed(np.eye(3), np.array([0.0, 0.0, -mesh.bounds[0, 2]])))


def up_is(mesh: Mesh, direction: ArrayLike) -> Pose:
    """The pose in which ``direction`` (3,) of the file points up. Raises BadValue for a zero direction."""
    d = np.asarray(direction, np.float64)
    if d.shape != (3,) or not np.isfinite(d).all() or not np.linalg.norm(d):
        raise BadValue("A direction is three numbers, not all zero.", "For example 0,0,1.")
    return seated(mesh, rotation_between(d, _UP))


def seat_on_face(mesh: Mesh, pose: Pose, normal: ArrayLike) -> Pose:
    """Lay the face with outward ``normal`` (3,) (bed frame of ``pose``) on the bed by the smallest turn."""
    return seated(mesh, rotation_between(normal, -_UP) @ pose.matrix[:3, :3])


def turn_over(mesh: Mesh, pose: Pose) -> Pose:
    """Upside down: half a turn about the x axis of the bed."""
    return seated(mesh, np.diag([1.0, -1.0, -1.0]) @ pose.matrix[:3, :3])


def turn_about_vertical(mesh: Mesh, pose: Pose, degrees: float) -> Pose:
    """Turned on the bed, counter-clockwise seen from above. What sags does not change."""
    return seated(mesh, about_z(degrees) @ pose.matrix[:3, :3])


def working_axes(front: ArrayLike, up: ArrayLike = (0.0, 0.0, 1.0)) -> F64:
    """Rotation (3, 3) bed → working axes, in which ``front`` (bed frame) faces the viewer (−Y) and ``up`` is kept up.

    For a line, pass the horizontal direction square to it. Falls back to another upright when the two are parallel.
    """
    f = np.asarray(front, np.float64) / np.linalg.norm(front)
    u = np.asarray(up, np.float64)
    if np.linalg.norm(np.cross(u, f)) < 1e-6:
        u = np.array([0.0, 1.0, 0.0]) if abs(f[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
    y = -f
    z = u - y * (u @ y)
    z /= np.linalg.norm(z)
    return np.array([np.cross(y, z), y, z])
