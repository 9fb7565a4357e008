"""Pictures of the part for the sheet: as designed, with its teeth, and each row from nearby."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from PySide6.QtGui import QImage, QPainter

from app.sheet.paper import PRINT, on_paper
from app.view.balloon_drawing import Balloon
from app.view.camera import Camera
from app.view.edge_drawing import EdgeDrawing
from app.view.page import FRAME_INSET, Page
from app.view.painting import Layers
from app.view.portrait import Portraitist, Subject
from core.geometry.mesh import F64, Mesh, joined
from core.geometry.topology import Topology
from core.job.sheet_row import SheetRow

#: From where one looks at a row: so much beside the way out of its edge, and above the bed, radians. By eye.
ASIDE, ABOVE = math.radians(24.0), math.radians(17.0)
CLOSE_ABOVE: Final = math.radians(8.0)
#: Logical pixels of a picture in one of the paper: lines and words come out smaller than on a screen.
FINER: Final = 1.45
#: Device pixels to the logical one: 280 dots to the inch on paper.
RATIO: Final = 2.0
#: A close picture shows at most this length of edge, mm, so that single teeth can be told; less of an upright one.
CLOSE, CLOSE_UPRIGHT = 17.0, 20.0


class _Edges(EdgeDrawing):
    """The edges and ledges of several rows."""

    def __init__(self, rows: Sequence[SheetRow]) -> None:
        super().__init__()
        self._each = [EdgeDrawing() for _ in rows]
        for one, row in zip(self._each, rows, strict=True):
            one.overhang, one.ledge = row.span.edge_line.ring, row.span.ledge_line.ring

    def paint_chosen(self, painter: QPainter, page: Page) -> None:
        for one in self._each:
            one.paint_chosen(painter, page)


@dataclass(frozen=True, eq=False)
class Pictures:
    """The pictures of a job; ``close`` by the number of the row."""

    before: QImage
    after: QImage
    close: dict[int, QImage]


def pictures(
    mesh: Mesh, topology: Topology, rows: Sequence[SheetRow], size: tuple[int, int], close_size: tuple[int, int]
) -> Pictures:
    """Draw all pictures; sizes in px of paper, ``mesh`` (bed mm) is the part without the teeth."""
    size, close_size = (
        (round(w * FINER + 2 * FRAME_INSET), round(h * FINER + 2 * FRAME_INSET)) for w, h in (size, close_size)
    )
    edges, bare = Layers(show_sheet=False, edges=_Edges(rows)), Layers(show_sheet=False)
    teeth = joined([tooth for row in rows for tooth in row.design.solids()])
    camera = _from_outside(rows, mesh)
    with on_paper():
        artist = Portraitist(Subject(mesh, topology), PRINT)
        try:
            before = artist.picture(size, camera, RATIO, layers=edges)
            artist.show_added(teeth if len(teeth.triangles) else None)
            bare.balloons = [_balloon(row) for row in rows]
            after = artist.picture(size, camera, RATIO, layers=bare)
            close = {
                row.number: artist.picture(
                    close_size, _close_camera(row, mesh), RATIO, layers=Layers(show_sheet=False), bounds=_close_box(row)
                )
                for row in rows
            }
        finally:
            artist.close()
    return Pictures(_cut(before), _cut(after), {number: _cut(image) for number, image in close.items()})


def _cut(image: QImage) -> QImage:
    """The picture within its frame; on paper it gets another."""
    rim = round(FRAME_INSET * RATIO)
    return image.copy(rim, rim, image.width() - 2 * rim, image.height() - 2 * rim)


def _balloon(row: SheetRow) -> Balloon:
    line = row.span.edge_line
    return Balloon(row.number, line.at(line.length / 2)[0], f"Row {row.number}", _teeth(row.plan.teeth))


def _teeth(count: int) -> str:
    return f"{count} teeth" if count != 1 else "1 tooth"


def _way_out(row: SheetRow, mesh: Mesh) -> F64:
    """The horizontal way square to a row that leads away from the part's middle, a unit vector in the bed frame."""
    span = row.span
    across = span.at(span.length / 2).across[0]
    out = span.to_bed @ np.array([-across[0], -across[1], 0.0])
    away = span.edge_line.at(span.edge_line.length / 2)[0] - mesh.bounds.mean(axis=0)
    out[2] = 0.0
    length = float(np.linalg.norm(out))
    if length < 1e-6:
        return np.array([0.0, -1.0, 0.0])
    outward = row.span.closed or float(out @ away) >= 0
    return np.asarray(out / (length if outward else -length))


def _seen_from(out: F64, above: float) -> F64:
    c, s = math.cos(ASIDE), math.sin(ASIDE)
    flat = np.array([c * out[0] - s * out[1], s * out[0] + c * out[1]]) * math.cos(above)
    return np.array([*flat, math.sin(above)])


def _from_outside(rows: Sequence[SheetRow], mesh: Mesh) -> Callable[[Camera], Camera]:
    """A camera from where most of all rows can be seen."""
    ways = [(_way_out(row, mesh), row.span.length) for row in rows] or [(np.array([0.0, -1.0, 0.0]), 1.0)]
    seen = [_seen_from(way, ABOVE) for way, _ in ways]
    best = max(seen, key=lambda eye: sum(length * max(float(way @ eye), 0.0) for way, length in ways))
    return lambda camera: camera.towards(best)


def _close_box(row: SheetRow) -> F64:
    """A box round the teeth in the middle of a row, bed mm, with some part and ledge."""
    line, gap = row.span.edge_line, row.span.gap_range[1]
    half = min(line.length, CLOSE if row.span.direction == "up" else CLOSE_UPRIGHT) / 2
    s = line.length / 2 + np.linspace(-half, half, 9)
    points = np.vstack([line.at(s), row.span.ledge_line.at(s * row.span.ledge_line.length / max(line.length, 1e-9))])
    pad = np.array([gap, gap, gap + 1.0])
    return np.array([points.min(axis=0) - pad, points.max(axis=0) + pad])


def _close_camera(row: SheetRow, mesh: Mesh) -> Callable[[Camera], Camera]:
    eye = _seen_from(_way_out(row, mesh), CLOSE_ABOVE)
    return lambda camera: camera.towards(eye)
