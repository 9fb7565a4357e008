"""What every drawing on the page is given, and the few pen strokes that they share.

Everything here is painted by Qt over the picture of the part, in logical pixels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPainterPath, QPen, QPolygonF

from app.look.tokens import LIGHT, Theme
from app.view.lens import Lens
from app.view.sight import Sight

F64 = NDArray[np.float64]

#: From the edge of the view to the frame of the drawing.
FRAME_INSET: Final = 11.0
#: Width of the rim round words that lie over lines, on both sides together.
HALO: Final = 4.0

#: Lines of at most so many points are drawn as they are; one that strays less than this (px) from straight is straight.
FEW, FLAT = 32, 0.1


@dataclass(frozen=True, eq=False)
class Page:
    """The drawing as it stands: its lens, what hides what, the colours and the frame (logical px)."""

    lens: Lens
    theme: Theme
    frame: QRectF
    sight: Sight | None = None

    @property
    def strip(self) -> QColor:
        """The strip that lifts a line off the plaster: light in both themes, for plaster is."""
        return QColor(LIGHT.sheet)


def frame_of(width: float, height: float) -> QRectF:
    """Where the drawing's frame runs in a view of this size."""
    inset = FRAME_INSET
    return QRectF(inset, inset, max(width - 2 * inset, 1.0), max(height - 2 * inset, 1.0))


def pen(
    colour: str | QColor,
    width: float,
    dash: Sequence[float] = (),
    *,
    cap: Qt.PenCapStyle = Qt.PenCapStyle.RoundCap,
) -> QPen:
    """A drawing pen; ``dash`` is in logical px, not in widths as Qt has it."""
    made = QPen(QColor(colour), width)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    made.setCapStyle(cap)
    if dash:
        made.setCapStyle(Qt.PenCapStyle.FlatCap)
        made.setDashPattern([d / width for d in dash])
    return made


def polygon(points: F64) -> QPolygonF:
    """Screen points (n, 2) as Qt takes them."""
    return QPolygonF([QPointF(float(x), float(y)) for x, y in points])


def stroke(painter: QPainter, points: F64, with_pen: QPen) -> None:
    """Draw an open line through screen points (n, 2)."""
    painter.setPen(with_pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPolyline(polygon(lightened(points)))


def lightened(points: F64) -> F64:
    """A line (n, 2) of very many points without those that no eye could tell: a point goes to Qt at 1 µs a piece."""
    if len(points) <= FEW:
        return points
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    rel = points - points[0]
    if length > 1.0 and np.abs(rel[:, 0] * chord[1] - rel[:, 1] * chord[0]).max() < FLAT * length:
        along = rel @ chord
        if (np.diff(along) >= 0).all():
            return points[[0, -1]]
    run = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    keep = np.flatnonzero(np.diff(np.floor(run), prepend=-1.0))
    return points[np.unique(np.r_[keep, len(points) - 1])]


def haloed_text(painter: QPainter, at: QPointF, text: str, font: QFont, *, colour: str, halo: str) -> None:
    """Text with its baseline at ``at``, on a rim of the ground colour that keeps lines away from the letters."""
    ratio = painter.device().devicePixelRatioF()
    painter.drawImage(at + QPointF(-HALO, -_above(font)), _rim(text, font.toString(), halo, ratio))
    painter.setFont(font)
    painter.setPen(QColor(colour))
    painter.drawText(at, text)


def _above(font: QFont) -> float:
    """From the baseline to the upper edge of a rim's picture, whole logical px."""
    return math.ceil(QFontMetricsF(font).ascent() + HALO)


@lru_cache(maxsize=256)
def _rim(text: str, font_key: str, colour: str, ratio: float) -> QImage:
    """The rim round a text, drawn once: stroking letters anew at every frame costs a millisecond a line."""
    font = QFont()
    font.fromString(font_key)
    metrics = QFontMetricsF(font)
    size = metrics.horizontalAdvance(text) + 2 * HALO, _above(font) + metrics.descent() + HALO
    image = QImage(*(math.ceil(length * ratio) for length in size), QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    image.fill(Qt.GlobalColor.transparent)
    letters = QPainterPath()
    letters.addText(QPointF(HALO, _above(font)), font, text)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.strokePath(letters, pen(colour, HALO))
    painter.end()
    return image


def text_width(font: QFont, text: str) -> float:
    """Width of a line of text, logical px."""
    return QFontMetricsF(font).horizontalAdvance(text)


def unit(dx: float, dy: float) -> tuple[float, float]:
    """The direction of (dx, dy); to the right where there is none."""
    length = math.hypot(dx, dy)
    return (1.0, 0.0) if length < 1e-9 else (dx / length, dy / length)
