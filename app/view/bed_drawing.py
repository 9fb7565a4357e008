"""The bed: a ruled sheet under the part, with a rule along its front and the word that says which side that is."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QCoreApplication, QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from app.look import fonts
from app.view.page import Page, pen

F64 = NDArray[np.float64]

#: The ruling in mm for parts of ordinary size; a tenth or ten times that where a part is tiny or huge.
RULE_MM: Final = 10.0
#: Every so many lines one is drawn stronger.
STRONG: Final = 5
#: The bed shows this much round the part, in rulings; in front it keeps room for the lettering.
MARGIN: Final = 3
MARGIN_FRONT: Final = 4
#: Size at which the lettering is outlined before it is laid on the bed, px: large, so that curves stay smooth.
LETTER_PX: Final = 100
#: Height of the lettering on the bed, in rulings.
LETTER_RULES: Final = 0.95
#: From the part's front to the foot of the lettering, in rulings: a dimension has room between them.
LETTER_OFF: Final = 3.2
LONG_TICK, SHORT_TICK = 0.32, 0.18
FINE_PEN, STRONG_PEN, BORDER_PEN = 0.7, 1.2, 0.9


class BedDrawing:
    """Draws the bed below a part with the given bounds (2, 3), bed mm."""

    def __init__(self, word: str = "") -> None:
        self.word = word or QCoreApplication.translate("BedDrawing", "FRONT")
        self._bounds = np.zeros((2, 3))
        self.step = RULE_MM
        self.low, self.high = np.zeros(2), np.zeros(2)
        self._fine: F64 = np.zeros((0, 2, 3))
        self._strong: F64 = np.zeros((0, 2, 3))
        self._letters: list[F64] | None = None
        self.set_bounds(np.array([[-50.0, -50.0, 0.0], [50.0, 50.0, 50.0]]))

    def set_bounds(self, bounds: F64) -> None:
        """Lay the bed out round a part."""
        self._bounds = np.asarray(bounds, float)
        reach = float(np.ptp(self._bounds, axis=0).max())
        self.step = RULE_MM * 10.0 ** min(max(round(math.log10(max(reach, 1e-3) / 100.0)), -4), 4)
        self.low = (np.floor(self._bounds[0, :2] / self.step) - [MARGIN, MARGIN_FRONT]) * self.step
        self.high = (np.ceil(self._bounds[1, :2] / self.step) + MARGIN) * self.step
        self._rule()
        self._letters = None

    def _rule(self) -> None:
        fine, strong = [], []
        for axis in (0, 1):
            first, last = round(self.low[axis] / self.step), round(self.high[axis] / self.step)
            for k in range(first, last + 1):
                ends = np.zeros((2, 3))
                ends[:, axis] = k * self.step
                ends[:, 1 - axis] = self.low[1 - axis], self.high[1 - axis]
                (strong if k % STRONG == 0 else fine).append(ends)
        self._fine = np.array(fine).reshape(-1, 2, 3)
        self._strong = np.array(strong).reshape(-1, 2, 3)

    def seen_from_below(self, page: Page) -> bool:
        """Whether the bed lies before the part and has to be drawn after it."""
        if page.lens.camera.parallel:
            return bool(page.lens.basis[2, 2] < 0)
        return bool(page.lens.eye[2] < self._bounds[0, 2])

    def paint(self, painter: QPainter, page: Page) -> None:
        """Ruling, border, rule and lettering."""
        theme = page.theme
        flat = Qt.PenCapStyle.FlatCap
        self._lines(painter, page, self._fine, pen(theme.rule, FINE_PEN, cap=flat))
        self._lines(painter, page, self._strong, pen(theme.rule, STRONG_PEN, cap=flat))
        self._lines(painter, page, self._border(), pen(theme.line, BORDER_PEN, cap=flat))
        self._lines(painter, page, self._ticks(), pen(theme.line, BORDER_PEN, cap=flat))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.ink2))
        painter.drawPath(self._lettering(page))

    @staticmethod
    def _lines(painter: QPainter, page: Page, segments: F64, with_pen: QPen) -> None:
        screen, _, there = page.lens.project_segments(segments)
        painter.setPen(with_pen)
        for (ax, ay), (bx, by) in screen[there]:
            painter.drawLine(QPointF(ax, ay), QPointF(bx, by))

    def _border(self) -> F64:
        (x0, y0), (x1, y1) = self.low, self.high
        corners = np.array([(x0, y0, 0), (x1, y0, 0), (x1, y1, 0), (x0, y1, 0)], float)
        return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)

    def _ticks(self) -> F64:
        """A tick outside the front border every half ruling, longer at every ruling."""
        first, last = round(2 * self.low[0] / self.step), round(2 * self.high[0] / self.step)
        ticks = np.zeros((last - first + 1, 2, 3))
        half = np.arange(first, last + 1)
        ticks[:, :, 0] = (half * self.step / 2)[:, None]
        ticks[:, :, 1] = self.low[1]
        ticks[:, 1, 1] -= np.where(half % 2 == 0, LONG_TICK, SHORT_TICK) * self.step
        return ticks

    def _lettering(self, page: Page) -> QPainterPath:
        """The word as outlines on the bed, in perspective."""
        if self._letters is None:
            self._letters = self._lettered()
        path = QPainterPath()
        path.setFillRule(Qt.FillRule.OddEvenFill)
        for outline in self._letters:
            screen, depth = page.lens.project(outline)
            if page.lens.camera.parallel or (depth > page.lens.distance * 0.02).all():
                path.addPolygon(QPolygonF([QPointF(x, y) for x, y in screen]))
        return path

    def _lettered(self) -> list[F64]:
        flat = QPainterPath()
        flat.addText(QPointF(0, 0), fonts.lettering_font(LETTER_PX, 22), self.word)
        box = flat.boundingRect()
        if box.isEmpty():
            return []
        scale = LETTER_RULES * self.step / box.height()
        middle = float(self._bounds[:, 0].mean())
        front = float(self._bounds[0, 1]) - LETTER_OFF * self.step
        outlines = []
        for shape in flat.toSubpathPolygons():
            xy = np.array([(p.x(), p.y()) for p in shape])
            x = middle + (xy[:, 0] - box.center().x()) * scale
            y = front + (box.bottom() - xy[:, 1]) * scale
            outlines.append(np.column_stack([x, y, np.zeros(len(xy))]))
        return outlines
