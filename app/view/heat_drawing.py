"""Heat on the part: how far a weak area exceeds its limit, in colours that everybody can tell apart, with its scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QLinearGradient, QPainter

from app.look import fonts
from app.look.tokens import LIGHT, Pen, Type
from app.view.page import Page, haloed_text, pen

#: The colour map cividis at every 32nd of its length, RRGGBB; a straight line between them keeps within 6 of 255.
#: J. R. Nuñez, C. R. Anderton, R. S. Renslow, PLoS ONE 13(7) e0199239, 2018; a test compares it with matplotlib's.
CIVIDIS: Final = (
    "00224d", "00285b", "002d69", "043270", "1a386f", "273d6d", "31436c", "3a486b", "434e6b", "4b546c", "52596c",
    "595f6d", "61646f", "686a70", "6e7073", "757575", "7c7b78", "848178", "8b8778", "938d77", "9b9376", "a39a74",
    "aba072", "b3a66f", "bbad6c", "c4b468", "ccbb63", "d5c25e", "dec957", "e6d04f", "efd846", "f9df3a", "fde737",
)  # fmt: skip

BAR_WIDE, BAR_HIGH = 12.0, 168.0
BAR_RIGHT = 64.0
BAR_ABOVE = 96.0


@dataclass(frozen=True, eq=False)
class Heat:
    """Values by vertex (n,), NaN where the part is to stay plaster; the limit in the same unit; what it is called."""

    values: NDArray[np.float64]
    limit: float
    label: str
    unit: str = "mm"

    @property
    def top(self) -> float:
        """The value at the upper end of the scale: the largest there is, and room above the limit in any case."""
        known = self.values[np.isfinite(self.values)]
        return max(float(known.max()) if len(known) else 0.0, 1.25 * self.limit, 1e-9)

    def colours(self) -> NDArray[np.uint8]:
        """Colour by vertex, (n, 3) uint8."""
        known = np.isfinite(self.values)
        out = np.empty((len(self.values), 3), np.uint8)
        out[:] = [int(LIGHT.plaster[i : i + 2], 16) for i in (1, 3, 5)]
        out[known] = cividis(self.values[known] / self.top)
        return out


def cividis(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Colours (n, 3) uint8 for values 0…1."""
    stops = np.array([[int(c[i : i + 2], 16) for i in (0, 2, 4)] for c in CIVIDIS], float)
    place = np.linspace(0.0, 1.0, len(stops))
    return np.column_stack([np.rint(np.interp(share, place, stops[:, k])) for k in range(3)]).astype(np.uint8)


def paint_scale(painter: QPainter, page: Page, heat: Heat) -> None:
    """The scale bar, with a line at the limit and the limit's value beside it."""
    bar = QRectF(page.frame.right() - BAR_RIGHT, page.frame.bottom() - BAR_ABOVE - BAR_HIGH, BAR_WIDE, BAR_HIGH)
    gradient = QLinearGradient(bar.bottomLeft(), bar.topLeft())
    for k, colour in enumerate(CIVIDIS):
        gradient.setColorAt(k / (len(CIVIDIS) - 1), QColor("#" + colour))
    painter.setPen(pen(page.theme.ink, Pen.FRAME, cap=Qt.PenCapStyle.FlatCap))
    painter.setBrush(gradient)
    painter.drawRect(bar)
    limit_y = bar.bottom() - bar.height() * heat.limit / heat.top
    painter.setPen(pen(page.theme.ink, 2.0, cap=Qt.PenCapStyle.FlatCap))
    painter.drawLine(QPointF(bar.left() - 6, limit_y), QPointF(bar.right() + 6, limit_y))
    _words(painter, page, heat, bar, limit_y)


def _words(painter: QPainter, page: Page, heat: Heat, bar: QRectF, limit_y: float) -> None:
    lettering, text = fonts.lettering_font(Type.DIMENSION), fonts.text_font(Type.LABEL)
    theme = page.theme

    def beside(y: float, words: str) -> None:
        haloed_text(painter, QPointF(bar.right() + 10, y + 5), words, lettering, colour=theme.ink, halo=theme.paper)

    for value, y in ((0.0, bar.bottom()), (heat.top, bar.top())):
        if abs(y - limit_y) > Type.DIMENSION:
            beside(y, f"{value:.2f}")
    beside(limit_y, f"{heat.limit:.2f}")
    painter.setFont(text)
    title = (bar.top() - 12, f"{heat.label}, {heat.unit}", theme.ink2)
    for y, words, colour in (title, (limit_y + 4, "limit", theme.ink)):
        width = painter.fontMetrics().horizontalAdvance(words)
        x = bar.right() + 44 - width if y < bar.top() else bar.left() - 10 - width
        haloed_text(painter, QPointF(x, y), words, text, colour=colour, halo=theme.paper)
