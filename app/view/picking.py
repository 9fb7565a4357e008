"""What a click would take: edges and corners by nearness on the screen, faces by the depth of the picture.

An edge is judged at its point nearest to the pointer, never by the triangle under the pointer: where the surface turns
away there is none. That point is then compared with the depth buffer, so that what is hidden cannot be taken.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from vtkmodules.vtkCommonCore import mutable
from vtkmodules.vtkCommonDataModel import vtkPolyData, vtkStaticCellLocator

from app.view import arrays
from app.view.hit import Hit, Kind
from app.view.lens import Lens
from app.view.sight import Sight
from core.geometry.mesh import Mesh

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

#: How near the pointer must come, logical pixels.
EDGE_PX: Final = 8.0
VERTEX_PX: Final = 6.0


class Picker:
    """Finds hits for one part. It is told the part, then the lens and the depth buffer of the picture on show."""

    def __init__(self) -> None:
        self._mesh: Mesh | None = None
        self._segments = np.zeros((0, 2, 3))
        self._pairs: I32 | None = None
        self._finder: vtkStaticCellLocator | None = None
        self._surface: vtkPolyData | None = None
        self._shown: _Projected | None = None
        self._lens: Lens | None = None
        self._sight: Sight | None = None
        self._section: tuple[F64, F64] | None = None

    def set_part(self, mesh: Mesh | None, segments: F64, pairs: I32 | None = None) -> None:
        """The part (bed mm), its feature segments (k, 2, 3) and, where known, their vertices (k, 2)."""
        self._mesh, self._segments, self._pairs = mesh, np.asarray(segments, float).reshape(-1, 2, 3), pairs
        self._finder = self._surface = self._shown = None

    def set_picture(self, sight: Sight | None) -> None:
        """The depth buffer of the picture on show, with its lens; None where there is none to judge by."""
        self._sight = sight
        lens = None if sight is None else sight.lens
        if lens is not self._lens:
            self._lens, self._shown = lens, None

    def set_section(self, origin: F64 | None, normal: F64 | None) -> None:
        """What lies on the side that ``normal`` points to is cut away and cannot be taken."""
        self._section = None if origin is None or normal is None else (np.asarray(origin), np.asarray(normal))
        self._shown = None

    def prepare(self) -> None:
        """Do now what the next hover would have to do first."""
        if self._lens is not None:
            self._projection()

    def build_finder(self) -> None:
        """Build the search tree for triangles (0.1 to 0.4 s at a million)."""
        if self._finder is not None or self._mesh is None or not len(self._mesh.triangles):
            return
        self._surface = arrays.surface(self._mesh.vertices, self._mesh.triangles)
        self._finder = vtkStaticCellLocator()
        self._finder.SetDataSet(self._surface)
        self._finder.BuildLocator()

    @property
    def has_finder(self) -> bool:
        """Whether faces can be told by number without delay."""
        return self._finder is not None

    def pick(self, x: float, y: float, kinds: tuple[Kind, ...]) -> Hit | None:
        """What lies at a screen point (logical px), vertices before edges before faces among ``kinds``."""
        if self._lens is None or self._mesh is None:
            return None
        if "vertex" in kinds and (hit := self._vertex(x, y)) is not None:
            return hit
        if "edge" in kinds and (hit := self._edge(x, y)) is not None:
            return hit
        return self._face(x, y) if "face" in kinds else None

    def surface_point(self, x: float, y: float) -> F64 | None:
        """The point of the part seen at a screen point, bed mm, or None beside the part."""
        return None if self._sight is None else self._sight.surface_point(x, y)

    def _projection(self) -> _Projected:
        assert self._lens is not None
        if self._shown is None:
            kept = np.arange(len(self._segments))
            if self._section is not None:
                origin, normal = self._section
                kept = np.flatnonzero((((self._segments - origin) @ normal) <= 0).any(axis=1))
            self._shown = _Projected(self._lens, self._segments[kept], kept)
        return self._shown

    def _edge(self, x: float, y: float) -> Hit | None:
        shown = self._projection()
        for number, share in shown.near(x, y, EDGE_PX):
            screen, depth = shown.along(number, share)
            if self._seen(screen, depth) and not self._cut_away(point := self._lens_at(screen, depth)):
                return _hit("edge", int(shown.kept[number]), point, screen)
        return None

    def _vertex(self, x: float, y: float) -> Hit | None:
        shown = self._projection()
        for number, end in shown.near_ends(x, y, VERTEX_PX):
            screen, depth = shown.along(number, float(end))
            if self._seen(screen, depth):
                segment = int(shown.kept[number])
                index = -1 if self._pairs is None else int(self._pairs[segment, end])
                return _hit("vertex", index, self._segments[segment, end], screen)
        return self._corner_of_face(x, y)

    def _corner_of_face(self, x: float, y: float) -> Hit | None:
        """The nearest corner of the triangle under the pointer, on parts without feature edges there."""
        face = self._face(x, y)
        if face is None or face.index < 0 or self._mesh is None or self._lens is None:
            return None
        corners = self._mesh.triangles[face.index]
        screen, depth = self._lens.project(self._mesh.vertices[corners])
        away = np.hypot(*(screen - (x, y)).T)
        k = int(np.nanargmin(away))
        if away[k] > VERTEX_PX or not self._seen(screen[k], float(depth[k])):
            return None
        return _hit("vertex", int(corners[k]), self._mesh.vertices[corners[k]], screen[k])

    def _face(self, x: float, y: float) -> Hit | None:
        point = self.surface_point(x, y)
        if point is None:
            return None
        return _hit("face", self._triangle_at(point), point, (x, y))

    def triangle_of(self, hit: Hit) -> int:
        """Number of the triangle of a face hit, searched for if it is not known yet."""
        if hit.index >= 0:
            return hit.index
        self.build_finder()
        return self._triangle_at(np.array(hit.point))

    def _triangle_at(self, point: F64) -> int:
        if self._finder is None:
            return -1
        closest, cell, sub, away = [0.0, 0.0, 0.0], mutable(0), mutable(0), mutable(0.0)
        self._finder.FindClosestPoint(point, closest, cell, sub, away)
        return int(cell)

    def _lens_at(self, screen: F64, depth: float) -> F64:
        assert self._lens is not None
        return self._lens.at(float(screen[0]), float(screen[1]), depth)

    def _seen(self, screen: F64, depth: float) -> bool:
        return self._sight is not None and bool(self._sight.seen(screen[None], np.array([depth]))[0])

    def _cut_away(self, point: F64) -> bool:
        if self._section is None:
            return False
        origin, normal = self._section
        return float((point - origin) @ normal) > 1e-9


class _Projected:
    """Feature segments on the screen, for one lens: projected once, then searched at every move of the pointer."""

    def __init__(self, lens: Lens, segments: F64, kept: NDArray[np.int64]) -> None:
        self.kept = kept
        screen, depth, there = lens.project_segments(segments)
        screen = np.where(there[:, None, None], screen, np.inf)
        self._a = screen[:, 0].astype(np.float32)
        self._b = screen[:, 1].astype(np.float32)
        self._depth = depth
        self._low = np.minimum(self._a, self._b).T.copy()
        self._high = np.maximum(self._a, self._b).T.copy()
        self._parallel = lens.camera.parallel

    def _candidates(self, x: float, y: float, reach: float) -> NDArray[np.int64]:
        (lx, ly), (hx, hy) = self._low, self._high
        return np.flatnonzero((lx <= x + reach) & (hx >= x - reach) & (ly <= y + reach) & (hy >= y - reach))

    def near(self, x: float, y: float, reach: float) -> list[tuple[int, float]]:
        """Segments within ``reach`` of a screen point, nearest first, with the share of the way along each."""
        found = self._candidates(x, y, reach)
        a, along = self._a[found].astype(float), (self._b[found] - self._a[found]).astype(float)
        length2 = np.einsum("ij,ij->i", along, along)
        share = np.einsum("ij,ij->i", (x, y) - a, along) / np.maximum(length2, 1e-12)
        share = np.clip(share, 0.0, 1.0)
        away = np.hypot(*((x, y) - a - along * share[:, None]).T)
        order = np.argsort(away, kind="stable")
        return [(int(found[i]), float(share[i])) for i in order if away[i] <= reach]

    def near_ends(self, x: float, y: float, reach: float) -> list[tuple[int, int]]:
        """Segment ends within ``reach`` of a screen point, nearest first: segment and end (0 or 1)."""
        found = self._candidates(x, y, reach)
        ends = np.stack([self._a[found], self._b[found]], axis=1).astype(float)
        away = np.hypot(*np.moveaxis(ends - (x, y), -1, 0)).reshape(-1)
        order = np.argsort(away, kind="stable")
        return [(int(found[i // 2]), int(i % 2)) for i in order if away[i] <= reach]

    def along(self, number: int, share: float) -> tuple[F64, float]:
        """Screen point and depth (mm) a share of the way along a segment, as it lies on the screen."""
        screen = self._a[number] + (self._b[number] - self._a[number]) * np.float32(share)
        da, db = self._depth[number]
        if self._parallel:
            return screen.astype(float), float(da + (db - da) * share)
        # Along a line on the screen the inverse of the depth is what grows evenly.
        return screen.astype(float), float(1.0 / (1.0 / da + (1.0 / db - 1.0 / da) * share))


def _hit(kind: Kind, index: int, point: F64, screen: tuple[float, float] | F64) -> Hit:
    return Hit(kind, index, (float(point[0]), float(point[1]), float(point[2])), (float(screen[0]), float(screen[1])))
