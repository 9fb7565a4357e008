"""Dimensions in the view: a span laid out on the bed, a distance between two points, with lines as on a drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QPainter

from app.look import fonts
from app.look.drawing import arrowhead
from app.look.tokens import Pen, Type
from app.view.page import Page, haloed_text, pen, text_width, unit

F64 = NDArray[np.float64]

#: How far the dimension line stands off what it measures: in the air, logical px; on the bed, share of the part.
STAND_OFF_PX: Final = 34.0
STAND_OFF_SHARE: Final = 0.10
#: Extension lines start clear of the part and run a little past the dimension line.
START_PX, PAST_PX = 4.0, 6.0
START_SHARE, PAST_SHARE = 0.012, 0.02
#: Shorter than this on the screen there is no room for arrows between the extension lines.
ROOM_PX: Final = 3.2 * Pen.ARROW_LONG
#: Shorter than this on the screen the dimension would be a blot.
LEAST_PX: Final = 3.0


@dataclass(frozen=True, eq=False)
class Dimension:
    """A length between ``p`` and ``q`` (bed mm) with its words; ``on_bed`` lays it out on the bed in front."""

    p: F64
    q: F64
    text: str
    on_bed: bool = False


def paint_dimension(painter: QPainter, page: Page, dimension: Dimension, bounds: F64) -> None:
    """Extension lines, dimension line with arrows, and the words above it."""
    ends = _on_bed(dimension, bounds, page) if dimension.on_bed else _in_air(dimension, bounds, page)
    if ends is None:
        return
    starts, feet, tips = ends
    ink = page.theme.ink
    painter.setPen(pen(ink, Pen.EXTENSION))
    for start, tip in zip(starts, tips, strict=True):
        painter.drawLine(QPointF(*start), QPointF(*tip))
    _line(painter, page, feet, dimension.text)


def _line(painter: QPainter, page: Page, feet: F64, text: str) -> None:
    a, b = QPointF(*feet[0]), QPointF(*feet[1])
    dx, dy = unit(b.x() - a.x(), b.y() - a.y())
    length = math.hypot(b.x() - a.x(), b.y() - a.y())
    ink = page.theme.ink
    painter.setPen(pen(ink, Pen.DIMENSION))
    if length >= ROOM_PX:
        painter.drawLine(a, b)
        arrowhead(painter, a, QPointF(-dx, -dy), QColor(ink))
        arrowhead(painter, b, QPointF(dx, dy), QColor(ink))
    else:  # arrows from outside, where there is no room between
        out = 2.2 * Pen.ARROW_LONG
        painter.drawLine(QPointF(a.x() - dx * out, a.y() - dy * out), QPointF(b.x() + dx * out, b.y() + dy * out))
        arrowhead(painter, a, QPointF(dx, dy), QColor(ink))
        arrowhead(painter, b, QPointF(-dx, -dy), QColor(ink))
    _words(painter, page, (a + b) / 2.0, (dx, dy), text)


def _words(painter: QPainter, page: Page, middle: QPointF, along: tuple[float, float], text: str) -> None:
    """Above the line and along it, readable from below or from the right (ISO 129-1)."""
    font = fonts.lettering_font(Type.DIMENSION + 2)
    angle = math.degrees(math.atan2(along[1], along[0]))
    if angle > 90.0 or angle <= -90.0:
        angle -= math.copysign(180.0, angle)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.translate(middle)
    painter.rotate(angle)
    start = QPointF(-text_width(font, text) / 2, -5.0)
    haloed_text(painter, start, text, font, colour=page.theme.ink, halo=page.theme.paper)
    painter.restore()


def _in_air(dimension: Dimension, bounds: F64, page: Page) -> tuple[F64, F64, F64] | None:
    """Starts and ends of the extension lines and the feet on them, on the screen, away from the part's middle."""
    screen, depth = page.lens.project(np.array([dimension.p, dimension.q]))
    if not np.isfinite(screen).all() or (not page.lens.camera.parallel and (depth <= 0).any()):
        return None
    along = screen[1] - screen[0]
    length = float(np.hypot(*along))
    if length < LEAST_PX:
        return None
    aside = np.array([-along[1], along[0]]) / length
    middle, _ = page.lens.project(np.asarray(bounds).mean(axis=0))
    if (screen.mean(axis=0) - middle) @ aside < 0:
        aside = -aside
    return (
        screen + aside * START_PX,
        screen + aside * STAND_OFF_PX,
        screen + aside * (STAND_OFF_PX + PAST_PX),
    )


def _on_bed(dimension: Dimension, bounds: F64, page: Page) -> tuple[F64, F64, F64] | None:
    """The same, laid on the bed in front of the part, square to the measured length as seen in plan."""
    ends = np.array([dimension.p, dimension.q], float)
    ends[:, 2] = bounds[0, 2]
    along = ends[1, :2] - ends[0, :2]
    length = float(np.hypot(*along))
    if length < 1e-9:
        return _in_air(dimension, bounds, page)
    aside = np.array([-along[1], along[0], 0.0]) / length
    corners = np.array(np.meshgrid(bounds[:, 0], bounds[:, 1])).reshape(2, -1).T
    if (ends[:, :2].mean(axis=0) - corners.mean(axis=0)) @ aside[:2] < 0:
        aside = -aside
    size = float(np.ptp(bounds, axis=0).max())
    clear = float(((corners - ends[0, :2]) @ aside[:2]).max())
    off = max(clear, 0.0) + STAND_OFF_SHARE * size
    far = [START_SHARE * size, off, off + PAST_SHARE * size]
    screen, depth = page.lens.project(np.stack([ends + aside * f for f in far]))
    if not np.isfinite(screen).all() or (not page.lens.camera.parallel and (depth <= 0).any()):
        return None
    return screen[0], screen[1], screen[2]
