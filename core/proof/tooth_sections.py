"""Sections of the teeth themselves, layer by layer: convex, one polygon a tooth and height."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from core.design.tooth import Teeth
from core.geometry.mesh import F64, I64
from core.geometry.regions import Region
from core.proof.near import ROUNDING, Window

#: Polygons by tooth and layer; an empty one where a tooth is not cut.
Polygons = NDArray[Any]
#: Chords for a quarter circle where corners are rounded.
_QUARTER: Final = 6
_NOTHING: Final = shapely.Polygon()
#: A section smaller than this is a plane grazing a corner, mm².
_LEAST_AREA: Final = 1e-9


def tooth_sections(teeth: Teeth, window: Window, heights: F64) -> Polygons:
    """Sections of n teeth at ``heights`` (n, k) bed mm, each tooth at its own: (n, k) polygons, window frame.

    A tooth is a stack of slabs that narrow away from the ledge, so a plane cuts it in one convex piece: the points
    where it meets the sides of the triangles, taken round in order.
    """
    n, k = heights.shape
    out = np.full((n, k), _NOTHING, object)
    points, sides, owner = _sides(teeth, window)
    if not len(sides):
        return out
    z = points[:, 2]
    low, high = z[sides].min(axis=1)[:, None], z[sides].max(axis=1)[:, None]
    level = heights[owner]
    side, layer = np.nonzero((low < level) & (level <= high))
    a, b = sides[side].T
    t = (heights[owner[side], layer] - z[a]) / (z[b] - z[a])
    cuts = points[a, :2] + t[:, None] * (points[b, :2] - points[a, :2])
    names, polygons = _around(cuts, owner[side] * k + layer)
    out.ravel()[names] = polygons
    return out


def _around(points: F64, group: I64) -> tuple[I64, Polygons]:
    """One polygon for the points (p, 2) of each group (p,), in the order of their bearing from its middle."""
    names, index, count = np.unique(group, return_inverse=True, return_counts=True)
    middle = np.column_stack([np.bincount(index, points[:, i]) for i in range(2)]) / count[:, None]
    away = points - middle[index]
    order = np.lexsort((np.arctan2(away[:, 1], away[:, 0]), index))
    order = order[count[index[order]] >= 3]
    enough = np.flatnonzero(count >= 3)
    polygons = shapely.polygons(shapely.linearrings(points[order], indices=np.searchsorted(enough, index[order])))
    solid = shapely.area(polygons) > _LEAST_AREA
    return names[enough[solid]], polygons[solid]


def _sides(teeth: Teeth, window: Window) -> tuple[F64, I64, I64]:
    """Corners of all teeth (window frame), their sides (e, 2) once each, and the tooth of every side (e,)."""
    count = np.array([len(v) for v in teeth.vertices], np.int64)
    start = np.cumsum(count) - count
    points = window.into(np.concatenate([np.zeros((0, 3)), *teeth.vertices]))
    tri = [t.astype(np.int64) + s for t, s in zip(teeth.triangles, start, strict=True)]
    sides = [np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]) for t in tri]
    once = [s[s[:, 0] < s[:, 1]] for s in sides]
    owner = np.repeat(np.arange(len(once)), [len(s) for s in once])
    return points, np.concatenate([np.zeros((0, 2), np.int64), *once]), owner


def opened(polygons: Polygons, least: float) -> Polygons:
    """What a disc of diameter ``least`` (mm) can sweep inside each polygon: what prints of it."""
    cores = shapely.buffer(polygons, -(least / 2 - ROUNDING), quad_segs=_QUARTER)
    out: Polygons = shapely.buffer(cores, least / 2 - ROUNDING, quad_segs=_QUARTER)
    return out


def prints(polygons: Polygons, least: float | F64) -> NDArray[np.bool_]:
    """Whether a disc of diameter ``least`` (mm, one for all or one each) fits into each polygon."""
    cores = shapely.buffer(polygons, ROUNDING - np.asarray(least) / 2, join_style="mitre")
    out: NDArray[np.bool_] = ~shapely.is_empty(cores)
    return out


def extents(polygons: Polygons, along: F64) -> F64:
    """Width (n, k) of polygons (n, k) in the direction ``along`` (n, 2) of their tooth, mm; zero where empty."""
    low, high = ends(polygons, along)
    return np.where(high > low, high - low, 0.0)


def ends(polygons: Polygons, along: F64) -> tuple[F64, F64]:
    """Least and greatest coordinate (n, k) of polygons (n, k) along ``along`` (n, 2), mm; +inf and −inf where empty."""
    low, high = np.full(polygons.size, np.inf), np.full(polygons.size, -np.inf)
    xy, index = shapely.get_coordinates(polygons.ravel(), return_index=True)
    if len(xy):
        value = (xy * np.repeat(along, polygons.shape[1], axis=0)[index]).sum(axis=1)
        first = np.flatnonzero(np.r_[True, index[1:] != index[:-1]])
        low[index[first]] = np.minimum.reduceat(value, first)
        high[index[first]] = np.maximum.reduceat(value, first)
    return low.reshape(polygons.shape), high.reshape(polygons.shape)


def shared(printed: tuple[Region, ...], polygons: Polygons) -> Polygons:
    """What polygons (n, k) share with the printed part in the same layer, (n, k) geometries."""
    out = np.full(polygons.shape, shapely.Polygon(), object)
    for k, region in enumerate(printed):
        if region.empty:
            continue
        rows = np.flatnonzero(shapely.intersects(region.shape, polygons[:, k]))
        within = shapely.contains_properly(region.shape, polygons[rows, k])
        out[rows[within], k] = polygons[rows[within], k]
        crossing = rows[~within]
        out[crossing, k] = shapely.intersection(polygons[crossing, k], region.shape)
    return out
