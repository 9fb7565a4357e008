"""Paints the layers across the gap, and the one that is chosen."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath

from app.look.current import colour
from app.look.drawing import kept, pen
from app.look.tokens import Pen
from app.panels.elevation.sheet import Rect, View
from app.panels.elevation.strokes import between

#: Thinner layers (px) would run into a grey.
LEAST_LAYER = 2.0


def _gap_area(view: View) -> QPainterPath:
    profile = view.model.profile
    return between(view.sheet, profile.ledge, profile.edge, 0.0, view.model.length)


def layer_px(view: View) -> float:
    """How thick a layer is on the screen, px."""
    at = view.model.layers.at
    spacing = float(np.abs(np.diff(at)).min()) if len(at) > 1 else view.model.layers.height
    return spacing * view.sheet.scale


def layer_lines(view: View) -> list[QLineF]:
    """The tops of the layers across what is seen."""
    seen, sheet = seen_of(view), view.sheet
    if view.model.layers.axis == "u":
        return [
            QLineF(sheet.x(u), seen.top, sheet.x(u), seen.bottom)
            for u in view.model.layers.at
            if seen.left <= sheet.x(u) <= seen.right
        ]
    return [
        QLineF(seen.left, sheet.y(z), seen.right, sheet.y(z))
        for z in view.model.layers.at
        if seen.top <= sheet.y(z) <= seen.bottom
    ]


def paint_layers(painter: QPainter, view: View) -> None:
    if layer_px(view) < LEAST_LAYER:
        return
    with kept(painter):
        painter.setClipPath(_gap_area(view), Qt.ClipOperation.IntersectClip)
        painter.setPen(pen(Pen.LAYER, colour("line", 0.55)))
        painter.drawLines(layer_lines(view))


def paint_layer_chosen(painter: QPainter, view: View, number: int) -> None:
    """The chosen layer as a band across the gap."""
    layers, sheet, seen = view.model.layers, view.sheet, seen_of(view)
    if number not in layers.numbers:
        return
    i = layers.numbers.index(number)
    at = float(layers.at[i])
    thick = abs(float(layers.at[i] - layers.at[i - 1])) if i else layers.height
    rising = len(layers.at) < 2 or layers.at[-1] > layers.at[0]
    low, high = (at - thick, at) if rising else (at, at + thick)
    if layers.axis == "u":
        band = QRectF(sheet.x(low), seen.top, max((high - low) * sheet.scale, 1.5), seen.height)
    else:
        tall = max((high - low) * sheet.scale, 1.5)
        band = QRectF(seen.left, sheet.y((low + high) / 2) - tall / 2, seen.width, tall)
    with kept(painter):
        painter.setClipPath(_gap_area(view), Qt.ClipOperation.IntersectClip)
        painter.fillRect(band, colour("ledge", 0.28))


def seen_of(view: View) -> Rect:
    window = view.window
    return Rect(window.left, max(view.ceiling, view.field.top), window.right, min(view.floor, view.field.bottom))
