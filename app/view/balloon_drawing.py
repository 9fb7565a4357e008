"""Numbered balloons with leaders to the gaps, placed in the margins so that they cover neither part nor each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from app.look import drawing, fonts
from app.look.tokens import Type
from app.view.page import Page, haloed_text, text_width

F64 = NDArray[np.float64]

RADIUS: Final = 11.5
#: From the frame to the balloon, from the balloon to its words, and between two balloons.
INSET: Final = 29.0
GAP: Final = 9.0
APART: Final = 48.0
#: A balloon goes this far out of its way, logical px, rather than cover the part with all of its box.
COVERED_COST_PX: Final = 900.0
#: The level stretch of a leader beside the words.
SHOULDER: Final = 22.0


@dataclass(frozen=True, eq=False)
class Balloon:
    """A number, the point it names (bed mm), and two lines of words."""

    number: int
    anchor: F64
    title: str
    subtitle: str = ""


@dataclass(frozen=True)
class Placed:
    """Where a balloon ended up: its centre, which margin it stands in, its anchor on the screen and its box."""

    balloon: Balloon
    centre: QPointF
    on_left: bool
    anchor: QPointF
    box: QRectF


@dataclass(frozen=True, eq=False)
class Coverage:
    """Where the part lies: a coarse map (h, w) bool and the logical pixels that one of its cells stands for."""

    mask: NDArray[np.bool_]
    cell: float

    def share(self, box: QRectF) -> float:
        """Share of a box that the part covers."""
        rows = slice(max(int(box.top() / self.cell), 0), int(box.bottom() / self.cell) + 1)
        columns = slice(max(int(box.left() / self.cell), 0), int(box.right() / self.cell) + 1)
        window = self.mask[rows, columns]
        return float(window.mean()) if window.size else 0.0


def place(
    balloons: Sequence[Balloon], page: Page, taken: Sequence[QRectF], busy: Coverage | None = None
) -> list[Placed]:
    """Put every balloon whose anchor is on the page in the nearer margin, near its anchor's height.

    ``taken`` are boxes that already stand on the page; ``busy`` tells where the part lies, which is avoided.
    """
    shown: list[tuple[Balloon, QPointF]] = []
    for balloon in balloons:
        screen, depth = page.lens.project(np.asarray(balloon.anchor, float))
        if np.isfinite(screen).all() and (page.lens.camera.parallel or depth > 0):
            shown.append((balloon, QPointF(*screen)))
    out: list[Placed] = []
    middle = page.frame.center().x()
    for on_left in (True, False):
        group = [(b, a) for b, a in shown if (a.x() < middle) == on_left and page.frame.contains(a)]
        free = list(taken)
        for balloon, anchor in sorted(group, key=lambda item: item[1].y()):
            box = _free_box(balloon, anchor, _Margin(page, on_left, free, busy))
            free.append(box)
            centre = QPointF(box.left() + RADIUS + 1, box.center().y())
            out.append(Placed(balloon, centre, on_left, anchor, box))
    return out


def _width(balloon: Balloon) -> float:
    title = text_width(fonts.text_font(Type.TEXT, Type.SEMIBOLD), balloon.title)
    return 2 * RADIUS + GAP + 2 + max(title, text_width(fonts.text_font(Type.LABEL), balloon.subtitle))


@dataclass(frozen=True, eq=False)
class _Margin:
    """Where a balloon may go: which side of the page, what stands there, where the part lies."""

    page: Page
    on_left: bool
    taken: list[QRectF]
    busy: Coverage | None


def _free_box(balloon: Balloon, anchor: QPointF, margin: _Margin) -> QRectF:
    """The box nearest to the anchor's height that touches nothing that is there, off the part if possible."""
    frame, width, busy = margin.page.frame, _width(balloon), margin.busy
    left = frame.left() + INSET - RADIUS if margin.on_left else frame.right() - INSET + RADIUS - width
    apart = APART * fonts.scale()
    top, bottom = frame.top() + 12.0, frame.bottom() - 12.0 - apart
    best, least = QRectF(left, top, width, apart), np.inf
    for y in np.arange(top, max(bottom, top) + 1, 8.0):
        box = QRectF(left, float(y), width, apart)
        if any(box.intersects(other) for other in margin.taken) or box.contains(anchor):
            continue
        cost = abs(box.center().y() - anchor.y()) + (0.0 if busy is None else COVERED_COST_PX * busy.share(box))
        if cost < least:
            best, least = box, cost
    return best


def paint(painter: QPainter, page: Page, placed: Sequence[Placed]) -> None:
    """Leaders first, then balloons and words over them."""
    for one in placed:
        _leader(painter, page, one)
    for one in placed:
        _balloon(painter, page, one)


def _leader(painter: QPainter, page: Page, one: Placed) -> None:
    if one.on_left:
        start = QPointF(one.box.right() + 6, one.centre.y())
        knee = QPointF(start.x() + SHOULDER, start.y())
        if knee.x() > one.anchor.x() - 4:
            knee = start
    else:
        start = knee = QPointF(one.centre.x() - RADIUS, one.centre.y())
    halo = QColor(page.theme.paper) if page.theme.dark else page.strip
    drawing.leader(painter, one.anchor, knee, start, ink=QColor(page.theme.ink), halo=halo)


def _balloon(painter: QPainter, page: Page, one: Placed) -> None:
    theme, centre = page.theme, one.centre
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.paper))
    painter.drawEllipse(centre, RADIUS, RADIUS)
    drawing.balloon(painter, centre, str(one.balloon.number), radius=RADIUS, ink=QColor(theme.ink))
    x = centre.x() + RADIUS + GAP
    bold, plain = fonts.text_font(Type.TEXT, Type.SEMIBOLD), fonts.text_font(Type.LABEL)
    base = centre.y() - 1.5 if one.balloon.subtitle else centre.y() + 4.5
    haloed_text(painter, QPointF(x, base), one.balloon.title, bold, colour=theme.ink, halo=theme.paper)
    if one.balloon.subtitle:
        below = QPointF(x, base + 16 * fonts.scale())
        haloed_text(painter, below, one.balloon.subtitle, plain, colour=theme.ink2, halo=theme.paper)
