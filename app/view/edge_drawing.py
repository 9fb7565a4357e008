"""Edges that are hovered or chosen: the overhang edge, the ledge, and what a click would take."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from app.look.tokens import LIGHT, Hover, Pen
from app.view.page import Page, pen, stroke

F64 = NDArray[np.float64]

#: A chosen edge behind the part is drawn as drawings do: thin and dashed.
HIDDEN_WIDTH = 1.0
HIDDEN_DASH = (5.0, 3.0)
LEDGE_STRIP = 5.0
#: The outline of a layer, on a strip that lifts it off the plaster.
LAYER_WIDTH, LAYER_STRIP = 1.3, 3.6

Runs = list[tuple[bool, F64]]


class EdgeDrawing:
    """The three lines, each a polyline (n, 3) in bed mm, or None; and the outlines of a layer."""

    def __init__(self) -> None:
        self.hover: F64 | None = None
        self.overhang: F64 | None = None
        self.ledge: F64 | None = None
        self.layer: list[F64] = []

    def paint_chosen(self, painter: QPainter, page: Page) -> None:
        """The layer, ledge and overhang edge; teeth are drawn over them."""
        for outline in self.layer:
            _layer(painter, page, _runs(page, outline))
        if self.ledge is not None:
            _ledge(painter, page, _runs(page, self.ledge))
        if self.overhang is not None:
            _overhang(painter, page, _runs(page, self.overhang))

    def paint_hover(self, painter: QPainter, page: Page) -> None:
        """What a click would take, over everything else."""
        if self.hover is not None:
            _hovered(painter, page, _runs(page, self.hover))


def _runs(page: Page, polyline: F64) -> Runs:
    if page.sight is not None:
        return page.sight.runs(polyline)
    screen, _, there = page.lens.project_segments(np.stack([polyline[:-1], polyline[1:]], axis=1))
    return [(True, ends) for ends in screen[there]]


def _hidden(painter: QPainter, runs: Runs, colour: str) -> None:
    faint = QColor(colour)
    faint.setAlphaF(0.75)
    for seen, points in runs:
        if not seen:
            stroke(painter, points, pen(faint, HIDDEN_WIDTH, HIDDEN_DASH))


def _overhang(painter: QPainter, page: Page, runs: Runs) -> None:
    _hidden(painter, runs, LIGHT.plaster_edge)
    for colour, width in ((page.strip, Pen.EDGE_HALO_3D), (page.theme.plaster_edge, Pen.EDGE_3D)):
        for seen, points in runs:
            if seen:
                stroke(painter, points, pen(colour, width, cap=Qt.PenCapStyle.FlatCap))


def _ledge(painter: QPainter, page: Page, runs: Runs) -> None:
    _hidden(painter, runs, LIGHT.ledge)
    strip = page.strip
    strip.setAlphaF(0.85)
    for seen, points in runs:
        if seen:
            stroke(painter, points, pen(strip, LEDGE_STRIP, cap=Qt.PenCapStyle.FlatCap))
            stroke(painter, points, pen(LIGHT.ledge, Pen.LEDGE_3D, Pen.LEDGE_DASH))


def _layer(painter: QPainter, page: Page, runs: Runs) -> None:
    """What of a layer's outline lies before the eye; hidden lines of a whole section would only confuse."""
    for colour, width in ((page.strip, LAYER_STRIP), (QColor(LIGHT.ledge), LAYER_WIDTH)):
        for seen, points in runs:
            if seen:
                stroke(painter, points, pen(colour, width, cap=Qt.PenCapStyle.FlatCap))


def _hovered(painter: QPainter, page: Page, runs: Runs) -> None:
    """Shade, halo and core, with a square at either end: it stands out on plaster and on paper."""
    shade = QColor(LIGHT.ink)
    shade.setAlphaF(Hover.SHADE_ALPHA)
    for colour, width in ((shade, Hover.SHADE), (page.strip, Hover.HALO), (QColor(LIGHT.plaster_edge), Hover.CORE)):
        for seen, points in runs:
            if seen:
                stroke(painter, points, pen(colour, width, cap=Qt.PenCapStyle.FlatCap))
    _hidden(painter, runs, page.theme.ink)
    for place in (runs[0][1][0], runs[-1][1][-1]) if runs else ():
        _square(painter, page, QPointF(*place))


def _square(painter: QPainter, page: Page, at: QPointF) -> None:
    half = Hover.END / 2
    painter.setPen(pen(LIGHT.plaster_edge, 1.2, cap=Qt.PenCapStyle.SquareCap))
    painter.setBrush(page.strip)
    painter.drawRect(QRectF(at.x() - half, at.y() - half, Hover.END, Hover.END))
