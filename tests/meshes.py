"""Named tiny shapes for all tests, as meshes in mm with the bed at z = 0 unless said otherwise.

The figures of each shape are written beside it, so that a test can compare with a closed form.
Import with ``from tests.meshes import box``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from core.geometry.mesh import Mesh, joined

F64 = NDArray[np.float64]
GOLDEN = (1 + 5**0.5) / 2

BOX_CORNERS = np.array([[x, y, z] for z in (0, 1) for y in (0, 1) for x in (0, 1)], dtype=float)
BOX_TRIANGLES = [
    (0, 2, 3), (0, 3, 1), (4, 5, 7), (4, 7, 6), (0, 1, 5), (0, 5, 4),
    (2, 6, 7), (2, 7, 3), (0, 4, 6), (0, 6, 2), (1, 3, 7), (1, 7, 5),
]  # fmt: skip


def box(low: Sequence[float] = (0, 0, 0), high: Sequence[float] = (10, 20, 30)) -> Mesh:
    """A box between two corners: 12 triangles, every dihedral 90°. The default holds 6,000 mm³."""
    a, b = np.array(low, dtype=float), np.array(high, dtype=float)
    return Mesh(a + BOX_CORNERS * (b - a), np.array(BOX_TRIANGLES, np.int32))


def flipped(mesh: Mesh) -> Mesh:
    """The same mesh inside out."""
    return Mesh(mesh.vertices, np.ascontiguousarray(mesh.triangles[:, ::-1]))


def inverted_box() -> Mesh:
    """The default box with all facets turned inward: volume −6,000 mm³."""
    return flipped(box())


def open_box() -> Mesh:
    """The default box without its top: 10 triangles, one hole with four edges."""
    return Mesh(box().vertices, np.array([t for i, t in enumerate(BOX_TRIANGLES) if i not in {2, 3}], np.int32))


def two_overlapping_boxes() -> Mesh:
    """Two shells of 1,000 mm³ each that share 5 × 10 × 10 mm: united 1,500 mm³."""
    return joined([box((0, 0, 0), (10, 10, 10)), box((5, 0, 0), (15, 10, 10))])


def hollow_box(side: float = 20.0, wall: float = 2.0) -> Mesh:
    """A closed box with a closed room inside (second shell turned inward): its ceiling hangs at z = side − wall."""
    room = flipped(box((wall, wall, wall), (side - wall,) * 3))
    return joined([box((0, 0, 0), (side,) * 3), room])


def prism(outline: Sequence[tuple[float, float]], low: float, high: float, axis: int = 1) -> Mesh:
    """A prism over a convex outline, given counter-clockwise in the two other axes in cyclic order.

    ``axis`` 0: outline in (y, z); 1: in (z, x); 2: in (x, y).
    """
    flat = np.array(outline, dtype=float)
    n = len(flat)
    points = np.zeros((2 * n, 3))
    for half, place in enumerate((low, high)):
        points[half * n : (half + 1) * n, axis] = place
        points[half * n : (half + 1) * n, (axis + 1) % 3] = flat[:, 0]
        points[half * n : (half + 1) * n, (axis + 2) % 3] = flat[:, 1]
    fan = [(0, i + 1, i) for i in range(1, n - 1)] + [(n, n + i, n + i + 1) for i in range(1, n - 1)]
    around = [(i, (i + 1) % n) for i in range(n)]
    sides = [t for a, b in around for t in ((a, b, b + n), (a, b + n, a + n))]
    return Mesh(points, np.array(fan + sides, np.int32))


class Span(NamedTuple):
    """A bar over a ledge: the joined mesh and its known figures (mm)."""

    mesh: Mesh
    gap: float
    length: float
    """stretch along X where edge and ledge face each other"""
    edge: F64
    """axis of the edge, (2, 3)"""
    ledge: F64
    """axis of the ledge, (2, 3)"""
    width: float
    """width of the facing strip across the span; 0 under a sharp ridge"""


def _lifted(points: F64, height: float) -> F64:
    return points + np.array([0.0, 0.0, height])


def bar_over_ledge(
    length: float = 40.0,
    gap: float = 1.2,
    *,
    strip: float = 1.6,
    ledge: float = 1.2,
    overlap: tuple[float, float] = (0.0, 0.0),
    ledge_top: float = 10.0,
    posts: bool = False,
) -> Span:
    """A bar along X with a flat underside above a ledge; both centred at y = 0.

    ``overlap`` moves the ledge's two ends inward from those of the bar (negative: the ledge is longer). With
    ``posts`` the bar stands on a post at either end outside its length, so that it is a bridge and not an island.
    """
    x0, x1 = 0.0 + overlap[0], length - overlap[1]
    fin = box((x0, -ledge / 2, 0), (x1, ledge / 2, ledge_top))
    bar = box((0, -strip / 2, ledge_top + gap), (length, strip / 2, ledge_top + gap + 6))
    shells = [fin, bar]
    if posts:
        top = ledge_top + gap + 6
        shells += [box((-4, -2, 0), (0.5, 2, top)), box((length - 0.5, -2, 0), (length + 4, 2, top))]
    low, high = max(x0, 0.0), min(x1, length)
    axis = np.array([[low, 0.0, ledge_top], [high, 0.0, ledge_top]])
    return Span(joined(shells), gap, high - low, _lifted(axis, gap), axis, min(strip, ledge))


def ridge_over_ledge(length: float = 40.0, gap: float = 1.2, *, half_angle_deg: float = 40.0) -> Span:
    """A bar whose underside is a sharp ridge along X, its flanks ``half_angle_deg`` from vertical, above a ledge."""
    z = 10.0 + gap
    out = 5.0 * float(np.tan(np.radians(half_angle_deg)))
    bar = prism([(0.0, z), (out, z + 5), (out, z + 8), (-out, z + 8), (-out, z + 5)], 0.0, length, axis=0)
    fin = box((0, -0.6, 0), (length, 0.6, 10))
    axis = np.array([[0.0, 0.0, 10.0], [length, 0.0, 10.0]])
    return Span(joined([fin, bar]), gap, length, _lifted(axis, gap), axis, 0.0)


def revolved(profile: Sequence[tuple[float, float]], count: int = 64) -> Mesh:
    """A closed surface of revolution about Z from (r, z) points, from the lower to the upper end on the axis."""
    rings = np.array(profile[1:-1], dtype=float)
    turn = 2 * np.pi * np.arange(count) / count
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    points = [np.column_stack([r * circle, np.full(count, z)]) for r, z in rings]
    vertices = np.vstack([*points, [[0, 0, profile[0][1]], [0, 0, profile[-1][1]]]])
    low, high = len(vertices) - 2, len(vertices) - 1
    i, j = np.arange(count), (np.arange(count) + 1) % count
    parts = [np.column_stack([np.full(count, low), j, i])]
    for k in range(len(rings) - 1):
        a, b = k * count, (k + 1) * count
        parts += [np.column_stack([a + i, a + j, b + j]), np.column_stack([a + i, b + j, b + i])]
    top = (len(rings) - 1) * count
    parts.append(np.column_stack([top + i, top + j, np.full(count, high)]))
    return Mesh(vertices, np.vstack(parts).astype(np.int32))


def ball(radius: float = 10.0, count: int = 64, *, lift: float = 0.0) -> Mesh:
    """A ball whose lowest point is at z = ``lift``; vertices on the sphere, volume a little below 4/3·π·r³."""
    polar = np.pi * np.arange(count // 2 + 1) / (count // 2)
    profile = [(float(radius * np.sin(t)), float(lift + radius - radius * np.cos(t))) for t in polar]
    return revolved(profile, count)


def cone(half_angle_deg: float = 45.0, height: float = 20.0, count: int = 96) -> Mesh:
    """A cone standing on its tip, its flank ``half_angle_deg`` from vertical: an overhang of that angle all round."""
    radius = height * float(np.tan(np.radians(half_angle_deg)))
    return revolved([(0.0, 0.0), (radius, height), (0.0, height)], count)


def torus(ring: float = 20.0, tube: float = 5.0, count: int = 64, around: int = 32) -> Mesh:
    """A torus lying on the bed: volume near 2·π²·R·r² = 9,869.6 mm³ for the default; lowest line at radius R."""
    u = 2 * np.pi * np.arange(count) / count
    v = 2 * np.pi * np.arange(around) / around
    uu, vv = np.meshgrid(u, v, indexing="ij")
    r = ring + tube * np.cos(vv)
    vertices = np.stack([r * np.cos(uu), r * np.sin(uu), tube + tube * np.sin(vv)], axis=-1).reshape(-1, 3)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(count), np.arange(around), indexing="ij"))
    i1, j1 = (i + 1) % count, (j + 1) % around
    a, b, c, d = i * around + j, i1 * around + j, i1 * around + j1, i * around + j1
    return Mesh(vertices, np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])]).astype(np.int32))


def stepped_pyramid(steps: int = 4, tread: float = 3.0, rise: float = 4.0, *, upside_down: bool = False) -> Mesh:
    """Square steps, each its own shell that reaches 1 mm into its wider neighbour.

    Step k from the wide end has the half side ``tread``·(steps − k); upside down the wide end is on top and every
    step juts out ``tread`` on all sides in mid-air, at z = ``rise``·k.
    """
    shells = []
    for k in range(steps):
        half = tread * (k + 1 if upside_down else steps - k)
        low = rise * k - (1.0 if k and not upside_down else 0.0)
        high = rise * (k + 1) + (1.0 if k < steps - 1 and upside_down else 0.0)
        shells.append(box((-half, -half, low), (half, half, high)))
    return joined(shells)


def arch(span: float = 30.0, width: float = 8.0, wall: float = 4.0, count: int = 48) -> Mesh:
    """Two legs 10 mm high and a round barrel of radius span/2 between them, one skin; crown at 10 + span/2 + wall.

    The soffit passes 45° from vertical at 10 + (span/2)·sin 45°.
    """
    turn = np.pi * np.arange(count + 1) / count
    inner = [(span / 2 * np.cos(t), 10 + span / 2 * np.sin(t)) for t in turn]
    outer = [((span / 2 + wall) * np.cos(t), 10 + (span / 2 + wall) * np.sin(t)) for t in turn]
    low = [(span / 2, 0.0), *inner, (-span / 2, 0.0)]
    high = [(span / 2 + wall, 0.0), *outer, (-span / 2 - wall, 0.0)]
    return _strip_solid(np.array(low), np.array(high), width)


def _strip_solid(inner: F64, outer: F64, width: float) -> Mesh:
    """A solid of constant width in Y between two polylines in (x, z) that run beside each other."""
    n = len(inner)
    flat = np.vstack([inner, outer])
    front = np.column_stack([flat[:, 0], np.zeros(2 * n), flat[:, 1]])
    back = front + np.array([0.0, width, 0.0])
    i = np.arange(n - 1)
    face = np.vstack([np.column_stack([i, n + i + 1, n + i]), np.column_stack([i, i + 1, n + i + 1])])
    loop = np.concatenate([np.arange(n), np.arange(2 * n - 1, n - 1, -1)])
    a, b = loop, np.roll(loop, -1)
    m = 2 * n
    sides = np.vstack([np.column_stack([a, b + m, b]), np.column_stack([a, a + m, b + m])])
    mesh = Mesh(np.vstack([front, back]), np.vstack([face, face[:, ::-1] + m, sides]).astype(np.int32))
    return mesh if mesh.volume > 0 else flipped(mesh)


def platonic(name: str, radius: float = 10.0) -> Mesh:
    """A regular solid about the origin with its corners at ``radius``, flat faces in triangles.

    "tetrahedron", "cube", "octahedron", "dodecahedron" or "icosahedron"; dihedral angles (handbook): 70.5288°,
    90°, 109.4712°, 116.5651°, 138.1897°.
    """
    signs = np.array(list(product((-1.0, 1.0), repeat=3)))
    cyclic = [np.roll(np.eye(3), k, axis=1) for k in range(3)]
    pairs = [(a, b, c) for a, b in product((-1.0, 1.0), repeat=2) for c in cyclic]
    corners = {
        "tetrahedron": signs[np.prod(signs, axis=1) > 0],
        "cube": signs,
        "octahedron": np.vstack([np.eye(3), -np.eye(3)]),
        "icosahedron": np.array([np.array([0, a, b * GOLDEN]) @ c for a, b, c in pairs]),
        "dodecahedron": np.vstack([signs, *(np.array([[0, a / GOLDEN, b * GOLDEN]]) @ c for a, b, c in pairs)]),
    }[name]
    points = corners / np.linalg.norm(corners[0]) * radius
    hull = ConvexHull(points)
    normal = np.cross(*(points[hull.simplices[:, k]] - points[hull.simplices[:, 0]] for k in (1, 2)))
    out = np.einsum("ij,ij->i", normal, hull.equations[:, :3]) > 0
    triangles = np.where(out[:, None], hull.simplices, hull.simplices[:, ::-1])
    return Mesh(points, np.ascontiguousarray(triangles, dtype=np.int32))


class Comb(NamedTuple):
    """A united skin of base, straight teeth and bar, with the figures of its teeth (mm)."""

    mesh: Mesh
    teeth: int
    pitch: float
    foot: float
    """width in the plane of the ledge"""
    tip: float
    """width in the plane of the edge"""
    thickness: float
    height: float
    first: float
    """x of the middle of the first tooth"""
    ledge_z: float
    edge_z: float


def comb(
    teeth: int = 9,
    pitch: float = 4.65,
    *,
    foot: float = 2.0,
    tip: float = 0.8,
    height: float = 1.2,
    thickness: float = 0.8,
    length: float = 40.0,
) -> Comb:
    """Teeth between a base (z 0…5) and a bar above, one skin, all as thick as the teeth; flanks straight throughout.

    The default is the trade's check value: edge 40, 9 teeth, pitch 4.65, foot 2.0, tip 0.8, height 1.2.
    """
    first = (length - pitch * (teeth - 1)) / 2
    low, high = 5.0, 5.0 + height
    middles = first + pitch * np.arange(teeth)
    feet = np.sort(np.concatenate([middles - foot / 2, middles + foot / 2]))
    tips = np.sort(np.concatenate([middles - tip / 2, middles + tip / 2]))
    outline_low = np.array([(0.0, low), *((x, low) for x in feet), (length, low)])
    outline_high = np.array([(0.0, high), *((x, high) for x in tips), (length, high)])
    mesh = _comb_mesh(outline_low, outline_high, length, thickness)
    return Comb(mesh, teeth, pitch, foot, tip, thickness, height, float(first), low, high)


def _comb_mesh(low: F64, high: F64, length: float, thickness: float) -> Mesh:
    """Front and back faces from quads between the rows of points, walls along every outer line."""
    n = len(low)
    flat = np.vstack([low * [1, 0], low, high, high * [1, 0] + [0, high[0, 1] + 5.0]])
    i = np.arange(n - 1)
    quads = [(0, i), (2 * n, i), (n, np.arange(1, n - 1, 2))]  # base, bar, teeth
    face = np.vstack([_quads(start + k, start + k + n) for start, k in quads])
    edges = np.vstack([face[:, [0, 1]], face[:, [1, 2]], face[:, [2, 0]]])
    keys = {(int(a), int(b)) for a, b in edges}
    rim = np.array(sorted((a, b) for a, b in keys if (b, a) not in keys))
    m = len(flat)
    walls = np.vstack([np.column_stack([rim[:, 1], rim[:, 0], rim[:, 0] + m]),
                       np.column_stack([rim[:, 1], rim[:, 0] + m, rim[:, 1] + m])])  # fmt: skip
    front = np.column_stack([flat[:, 0], np.full(m, -thickness / 2), flat[:, 1]])
    vertices = np.vstack([front, front + np.array([0.0, thickness, 0.0])])
    triangles = np.vstack([face, face[:, ::-1] + m, walls])
    used = np.unique(triangles)
    renumber = np.zeros(2 * m, np.int32)
    renumber[used] = np.arange(len(used))
    mesh = Mesh(vertices[used], renumber[triangles])
    assert mesh.bounds[1, 0] == length
    return mesh if mesh.volume > 0 else flipped(mesh)


def _quads(a: NDArray[np.int64], b: NDArray[np.int64]) -> NDArray[np.int64]:
    """Two triangles for each quad between the points a, a + 1 below and b, b + 1 above."""
    return np.vstack([np.column_stack([a, a + 1, b + 1]), np.column_stack([a, b + 1, b])])


def flat_sheet() -> Mesh:
    """Two triangles in one plane: a mesh without volume."""
    corners = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0]], dtype=float)
    return Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]], np.int32))


def empty() -> Mesh:
    """No triangle at all."""
    return joined([])


CLOSED = {
    "box": box,
    "two overlapping boxes": two_overlapping_boxes,
    "hollow box": hollow_box,
    "bar over ledge": lambda: bar_over_ledge().mesh,
    "ridge over ledge": lambda: ridge_over_ledge().mesh,
    "ball": ball,
    "cone": cone,
    "torus": torus,
    "stepped pyramid": stepped_pyramid,
    "stepped pyramid upside down": lambda: stepped_pyramid(upside_down=True),
    "arch": arch,
    "comb": lambda: comb().mesh,
    **{name: (lambda name=name: platonic(name)) for name in (
        "tetrahedron", "cube", "octahedron", "dodecahedron", "icosahedron")},
}  # fmt: skip
"""Every closed shape by name, each a function without arguments."""
