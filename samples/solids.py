"""Plain solids for the sample parts, and the way they are written to a file.

Design frame: X along the front of a part, Y to the back, Z up, bed at z = 0, millimetres.
This room knows nothing of the program: its figures are the independent truth that the tests compare with.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

import manifold3d as m3
import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]
Points = Sequence[tuple[float, float]]

ARC_STEP_DEG = 6.0  # one chord of a rounded corner; smooth enough to look round at 2 m
STL_HEADER = b"snapcomb sample: garden weather station"


def rounded(points: Points, radii: Sequence[float], step_deg: float = ARC_STEP_DEG) -> list[tuple[float, float]]:
    """A closed polygon with each corner rounded by its radius (0 keeps it sharp)."""
    corners = [np.array(p, dtype=float) for p in points]
    out: list[tuple[float, float]] = []
    for i, corner in enumerate(corners):
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        out.extend(_corner(before, corner, after, radii[i], step_deg))
    return out


def _corner(before: F64, corner: F64, after: F64, radius: float, step_deg: float) -> list[tuple[float, float]]:
    a, b = before - corner, after - corner
    a, b = a / np.hypot(*a), b / np.hypot(*b)
    half = np.arccos(np.clip(a @ b, -1.0, 1.0)) / 2.0
    if radius <= 0 or np.pi - 2 * half < 1e-9:
        return [(float(corner[0]), float(corner[1]))]
    middle = (a + b) / np.hypot(*(a + b))
    centre = corner + middle * radius / np.sin(half)
    start = corner + a * radius / np.tan(half) - centre
    turn = np.pi - 2 * half
    sign = 1.0 if start[0] * (corner - centre)[1] - start[1] * (corner - centre)[0] > 0 else -1.0
    count = max(1, round(np.degrees(turn) / step_deg))
    angles = np.arctan2(start[1], start[0]) + sign * turn * np.arange(count + 1) / count
    return [(float(centre[0] + radius * np.cos(t)), float(centre[1] + radius * np.sin(t))) for t in angles]


def circle(x: float, y: float, radius: float, count: int = 48) -> list[tuple[float, float]]:
    """A regular polygon whose corners lie on the circle."""
    angles = 2 * np.pi * (np.arange(count) + 0.5) / count
    return [(float(x + radius * np.cos(t)), float(y + radius * np.sin(t))) for t in angles]


def stadium(x: float, y: float, width: float, length: float, lean_deg: float = 0.0) -> list[tuple[float, float]]:
    """A slot with round ends about (x, y); ``lean_deg`` tilts its long axis from the second axis to the first."""
    r, half = width / 2, (length - width) / 2
    top = [(r * np.cos(t), half + r * np.sin(t)) for t in np.linspace(0, np.pi, 19)]
    bottom = [(-u, -v) for u, v in top]
    c, s = np.cos(np.radians(lean_deg)), np.sin(np.radians(lean_deg))
    return [(float(x + u * c + v * s), float(y - u * s + v * c)) for u, v in top + bottom]


def _extruded(polygons: Iterable[Points], low: float, high: float, columns: tuple[int, int, int]) -> m3.Manifold:
    """Polygons (outer ones and holes, any winding) between two heights; ``columns`` names the target axis of each."""
    section = m3.CrossSection([np.array(p, dtype=float) for p in polygons], m3.FillRule.EvenOdd)
    matrix = np.zeros((3, 4))
    for source, target in enumerate(columns):
        matrix[target, source] = 1.0
    matrix[columns[2], 3] = low
    return section.extrude(high - low).transform(matrix)


def prism_x(points_yz: Points, x0: float, x1: float, *holes: Points) -> m3.Manifold:
    """A prism along X over a polygon given in (y, z)."""
    return _extruded([points_yz, *holes], x0, x1, (1, 2, 0))


def prism_y(points_xz: Points, y0: float, y1: float, *holes: Points) -> m3.Manifold:
    """A prism along Y over a polygon given in (x, z)."""
    return _extruded([points_xz, *holes], y0, y1, (0, 2, 1))


def prism_z(points_xy: Points, z0: float, z1: float, *holes: Points) -> m3.Manifold:
    """A prism along Z over a polygon given in (x, y)."""
    return _extruded([points_xy, *holes], z0, z1, (0, 1, 2))


def box(low: Sequence[float], high: Sequence[float]) -> m3.Manifold:
    """A box by its smallest and largest corner."""
    size = tuple(float(b - a) for a, b in zip(low, high, strict=True))
    return m3.Manifold.cube(size).translate(tuple(float(v) for v in low))


def hull(*rings: Sequence[tuple[float, float, float]]) -> m3.Manifold:
    """The convex hull of points."""
    return m3.Manifold.hull_points(np.array([p for ring in rings for p in ring], dtype=float))


def plate(
    low: tuple[float, float], high: tuple[float, float], height: float, *, radius: float, chamfer: float
) -> m3.Manifold:
    """A foot plate on the bed between two corners (x, y): rounded corners, chamfered upper edge."""

    def ring(inset: float, z: float) -> list[tuple[float, float, float]]:
        x0, y0, x1, y1 = low[0] + inset, low[1] + inset, high[0] - inset, high[1] - inset
        return [(x, y, z) for x, y in rounded([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], [radius - inset] * 4)]

    return hull(ring(0, 0), ring(0, height - chamfer), ring(chamfer, height))


def turned(points_rz: Points, count: int, hole: Points | None = None) -> m3.Manifold:
    """A solid of revolution about Z from a polygon in (r, z) with ``count`` segments."""
    rings = [np.array(points_rz, dtype=float)] + ([np.array(hole, dtype=float)] if hole is not None else [])
    return m3.CrossSection(rings, m3.FillRule.EvenOdd).revolve(count)


def united(solids: Iterable[m3.Manifold]) -> m3.Manifold:
    """One skin around all the solids."""
    return m3.Manifold.batch_boolean(list(solids), m3.OpType.Add)


class Tooth(NamedTuple):
    """A straight tooth: widths in the ledge plane and in the edge plane, thickness; how far it sinks into both.

    The flanks run on straight through both planes.
    """

    foot: float
    tip: float
    thickness: float
    into_ledge: float = 0.3
    into_part: float = 0.1


def _flanks(tooth: Tooth, height: float) -> tuple[float, float]:
    """Half widths of a tooth at its two sunk ends."""
    slope = (tooth.foot - tooth.tip) / height / 2
    return tooth.foot / 2 + slope * tooth.into_ledge, tooth.tip / 2 - slope * tooth.into_part


def row_up(at: Sequence[float], y: float, tooth: Tooth, *, ledge: float, edge: float) -> list[m3.Manifold]:
    """Upright teeth centred at the x of ``at`` between the planes z = ledge and z = edge."""
    low, high = _flanks(tooth, edge - ledge)
    z0, z1, half = ledge - tooth.into_ledge, edge + tooth.into_part, tooth.thickness / 2
    return [prism_y([(x - low, z0), (x + low, z0), (x + high, z1), (x - high, z1)], y - half, y + half) for x in at]


def row_side(at: Sequence[float], y: float, tooth: Tooth, *, ledge: float, edge: float) -> list[m3.Manifold]:
    """Side teeth, one above the other, centred at the z of ``at``, from the plane x = ledge to the plane x = edge."""
    away = 1.0 if edge > ledge else -1.0
    low, high = _flanks(tooth, abs(edge - ledge))
    x0, x1, half = ledge - away * tooth.into_ledge, edge + away * tooth.into_part, tooth.thickness / 2
    return [prism_y([(x0, z - low), (x1, z - high), (x1, z + high), (x0, z + low)], y - half, y + half) for z in at]


def placement(turn_deg: float, shift: Sequence[float]) -> F64:
    """Design frame → file: a turn about the vertical and a shift, (4, 4)."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    out = np.eye(4)
    out[:2, :2] = [[c, -s], [s, c]]
    out[:3, 3] = shift
    return out


def corners_of(solid: m3.Manifold) -> F64:
    """The triangles of a solid as corner points, (n, 3, 3), in an order that depends on their place alone."""
    mesh = solid.to_mesh64()
    points: F64 = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    corners: F64 = points[np.asarray(mesh.tri_verts)]
    return corners


def ordered(corners: NDArray[np.float32]) -> NDArray[np.float32]:
    """Triangles from the bed upward, each beginning at its first corner, so that a file never depends on threads."""
    keys = corners.astype(np.float64)
    rank = np.lexsort(keys.reshape(-1, 3).T[::-1])
    place = np.empty(len(rank), dtype=np.int64)
    flat = keys.reshape(-1, 3)[rank]
    place[rank] = np.concatenate([[0], np.cumsum((flat[1:] != flat[:-1]).any(axis=1))])
    ids = place.reshape(-1, 3)
    first = ids.argmin(axis=1)
    cycle = (first[:, None] + np.arange(3)) % 3
    ids = np.take_along_axis(ids, cycle, axis=1)
    corners = np.take_along_axis(corners, cycle[:, :, None], axis=1)
    return corners[np.lexsort((ids[:, 2], ids[:, 1], ids[:, 0], corners[:, :, 2].min(axis=1)))]


def in_file(solids: Sequence[m3.Manifold], to_file: F64, unit_mm: float = 1.0) -> NDArray[np.float32]:
    """The shells one after the other at file coordinates, (n, 3, 3) float32; facets that vanish by rounding go."""
    shells = []
    for solid in solids:
        placed = (corners_of(solid) @ to_file[:3, :3].T + to_file[:3, 3]) / unit_mm
        corners = placed.astype(np.float32)
        same = [(corners[:, i] == corners[:, (i + 1) % 3]).all(axis=1) for i in range(3)]
        shells.append(ordered(corners[~np.logical_or.reduce(same)]))
    return np.concatenate(shells)


def write_stl(path: Path, corners: NDArray[np.float32]) -> None:
    """Binary STL (84 + 50 n bytes); the header is our own and does not begin with the word for the text form."""
    record = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("flags", "<u2")])
    wide = corners.astype(np.float64)
    normal = np.cross(wide[:, 1] - wide[:, 0], wide[:, 2] - wide[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    record["normal"] = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0)
    record["corners"] = corners
    path.write_bytes(STL_HEADER.ljust(80, b"\0") + struct.pack("<I", len(corners)) + record.tobytes())
