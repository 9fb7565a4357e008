"""How near some points are to several meshes, which tells to which they belong."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.geometry.mesh import F64

_SAMPLES: Final = 64
"""Points that are asked; teeth are small, so a few of each speak for all."""

_CANDIDATES: Final = 4000
"""Triangles per mesh that are measured exactly, those nearest to the points' box."""


def nearness(points: F64, meshes: list[tuple[F64, NDArray[np.integer]]]) -> F64:
    """Mean and least distance of ``points`` (k, 3) to each mesh (vertices (n, 3), triangles (m, 3)): (meshes, 2).

    All in one frame and unit. Distances are exact to the nearest few thousand triangles.
    """
    step = max(1, len(points) // _SAMPLES)
    asked = points[::step]
    return np.array([_mean_and_least(asked, *mesh) for mesh in meshes]).reshape(-1, 2)


def _mean_and_least(points: F64, vertices: F64, triangles: NDArray[np.integer]) -> tuple[float, float]:
    corners = vertices[triangles]
    low, high = points.min(axis=0), points.max(axis=0)
    gap = np.maximum(corners.min(axis=1) - high, low - corners.max(axis=1)).clip(min=0)
    far = np.einsum("ij,ij->i", gap, gap)
    if len(far) > _CANDIDATES:
        corners = corners[np.argpartition(far, _CANDIDATES)[:_CANDIDATES]]
    found = [distances(point, corners).min() for point in points]
    return float(np.mean(found)), float(np.min(found))


def distances(point: F64, corners: F64) -> F64:
    """Distance of one point (3,) to every triangle (m, 3, 3), (m,).

    To the plane where the foot of the perpendicular falls inside, else to the nearest edge.
    """
    starts, along = corners, np.roll(corners, -1, axis=1) - corners
    length = np.einsum("mij,mij->mi", along, along)
    to = point - starts
    t = np.einsum("mij,mij->mi", to, along) / np.where(length > 0, length, 1.0)
    off = to - along * t.clip(0, 1)[..., None]
    edge = np.sqrt(np.einsum("mij,mij->mi", off, off).min(axis=1))
    normal = np.cross(along[:, 0], along[:, 1])
    inside = (np.einsum("mij,mij->mi", np.cross(along, to), normal[:, None].repeat(3, 1)) >= 0).all(axis=1)
    size = np.linalg.norm(normal, axis=1)
    height = np.abs(np.einsum("mj,mj->m", to[:, 0], normal)) / np.where(size > 0, size, 1.0)
    out: F64 = np.where(inside & (size > 0), height, edge)
    return out
