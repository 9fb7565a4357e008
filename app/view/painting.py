"""The order in which a page is painted: paper, bed, part, teeth, lines, words, frame and blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from app.look import drawing
from app.look.tokens import Space
from app.view import balloon_drawing, heat_drawing, measure_drawing, sheet_drawing
from app.view.balloon_drawing import Balloon, Coverage, Placed
from app.view.bed_drawing import BedDrawing
from app.view.edge_drawing import EdgeDrawing
from app.view.heat_drawing import Heat
from app.view.measure_drawing import Dimension
from app.view.page import Page, pen
from app.view.rendering import Picture
from app.view.sheet_drawing import TitleBlock
from core.units import UnitName

F64 = NDArray[np.float64]

#: Balloons look where the part lies in steps of this many logical pixels.
COARSE_PX = 6.0


@dataclass
class Layers:
    """Everything that is painted over and under the part; data given by others, nothing worked out here."""

    bed: BedDrawing = field(default_factory=BedDrawing)
    edges: EdgeDrawing = field(default_factory=EdgeDrawing)
    dimensions: list[Dimension] = field(default_factory=list)
    balloons: list[Balloon] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    heat: Heat | None = None
    title: TitleBlock = field(default_factory=TitleBlock)
    unit: UnitName = "millimeter"
    scale_words: str = "mm at the edge"
    bounds: F64 = field(default_factory=lambda: np.zeros((2, 3)))
    note: Sequence[tuple[str, str]] = ()
    pointer: QPointF | None = None
    show_sheet: bool = True


def image_of(pixels: NDArray[np.uint8], device_pixels: float) -> QImage:
    """A layer as Qt takes it; it shares the memory, which the caller keeps."""
    h, w = pixels.shape[:2]
    image = QImage(pixels.data, w, h, 4 * w, QImage.Format.Format_RGBA8888_Premultiplied)
    image.setDevicePixelRatio(device_pixels)
    return image


def coverage(part: NDArray[np.uint8], device_pixels: float) -> Coverage:
    """Where the part lies on the page, coarsely."""
    step = max(round(COARSE_PX * device_pixels), 1)
    return Coverage(part[::step, ::step, 3] > 0, step / device_pixels)


def paint(
    painter: QPainter,
    page: Page,
    layers: Layers,
    picture: Picture | None,
    *,
    ratio: float,
    taken: Sequence[QRectF] = (),
) -> None:
    """The whole page; ``ratio`` is device pixels in a logical one, ``taken`` are places that widgets stand on."""
    painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
    everything = QRectF(0, 0, page.lens.width + 1, page.lens.height + 1)
    painter.fillRect(everything, QColor(page.theme.paper))
    painter.setClipRect(page.frame)
    _scene(painter, page, layers, picture, ratio)
    if picture is None or picture.sight is not None:  # a stand-in says nothing about what hides what
        for one in layers.dimensions:
            measure_drawing.paint_dimension(painter, page, one, layers.bounds)
    busy = None if picture is None else coverage(picture.part, ratio)
    _words(painter, page, layers, taken, busy)
    painter.setClipping(False)
    if layers.show_sheet:
        _blocks(painter, page, layers)
    if layers.heat is not None:
        heat_drawing.paint_scale(painter, page, layers.heat)
    if layers.note and layers.pointer is not None:
        sheet_drawing.paint_note(painter, page, layers.pointer, layers.note)


def paint_focus(painter: QPainter, page: Page) -> None:
    """The keyboard is here."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(pen(page.theme.ledge, Space.FOCUS, cap=Qt.PenCapStyle.SquareCap))
    painter.drawRect(page.frame)


def _scene(painter: QPainter, page: Page, layers: Layers, picture: Picture | None, device_pixels: float) -> None:
    below = layers.bed.seen_from_below(page)
    if not below:
        layers.bed.paint(painter, page)
    for pixels in () if picture is None else (picture.part, picture.hatching):
        if pixels is not None:
            painter.drawImage(QPointF(0, 0), image_of(pixels, device_pixels))
    if picture is not None and picture.sight is not None:
        layers.edges.paint_chosen(painter, page)
    if picture is not None and picture.teeth is not None:
        painter.drawImage(QPointF(0, 0), image_of(picture.teeth, device_pixels))
    if picture is not None and picture.sight is not None:
        layers.edges.paint_hover(painter, page)
    if below:
        painter.setOpacity(0.6)
        layers.bed.paint(painter, page)
        painter.setOpacity(1.0)


def _words(
    painter: QPainter, page: Page, layers: Layers, taken: Sequence[QRectF], busy: Coverage | None
) -> None:
    blocked = list(taken)
    if layers.show_sheet:
        blocked.append(sheet_drawing.scale_box(page))
        corner = page.frame.bottomRight()
        blocked.append(QRectF(corner.x() - 360, corner.y() - sheet_drawing.BLOCK_HIGH, 360, sheet_drawing.BLOCK_HIGH))
    layers.placed = balloon_drawing.place(layers.balloons, page, blocked, busy)
    balloon_drawing.paint(painter, page, layers.placed)


def _blocks(painter: QPainter, page: Page, layers: Layers) -> None:
    if page.frame.width() >= sheet_drawing.NARROWEST_FOR_BLOCKS:
        at = layers.edges.overhang if layers.edges.overhang is not None else page.lens.camera.focus[None]
        depth = float(page.lens.depth_of(np.asarray(at).mean(axis=0)))
        px_per_mm = float(page.lens.px_per_mm(max(depth, 1e-9)))
        sheet_drawing.paint_scale_bar(painter, page, px_per_mm, layers.unit, layers.scale_words)
        if layers.title.name:
            sheet_drawing.paint_title_block(painter, page, layers.title)
    drawing.frame(painter, page.frame)
