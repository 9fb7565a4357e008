"""Small marks of the sheet: the state of a line and the level of a finding, by shape and word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPolygonF

from app.look.current import colour
from app.look.drawing import balloon, kept, pen
from app.look.fonts import text_font
from app.look.tokens import Pen, Type
from app.sheet.flow import Box, Text
from app.sheet.paper import BODY, SMALL
from core.job.sheet import Step
from core.proof.findings import Finding

LEVELS: Final = {"stop": "Stop", "warn": "Look", "note": "Note"}
STEP_HIGH: Final = 23.0
_ELIDE: Final = Qt.TextElideMode.ElideMiddle


def mark(painter: QPainter, shape: str, x: float, y: float) -> None:
    """A tick (Done), a triangle (Look), a ring (To do, Note) or a filled square (Stop); 11 px wide, middle at y."""
    with kept(painter):
        painter.setPen(pen(1.4, "ink" if shape in ("Done", "To do", "Note") else "attention"))
        if shape == "Done":
            painter.drawLine(QLineF(x, y, x + 3.5, y + 4))
            painter.drawLine(QLineF(x + 3.5, y + 4, x + 10, y - 5))
        elif shape == "Look":
            painter.drawPolygon(QPolygonF([QPointF(x + 5.5, y - 5.5), QPointF(x + 11, y + 4.5), QPointF(x, y + 4.5)]))
            painter.drawLine(QLineF(x + 5.5, y - 1.5, x + 5.5, y + 2.2))
        elif shape == "Stop":
            painter.setBrush(colour("attention"))
            painter.drawRect(QRectF(x + 1, y - 4.5, 9, 9))
        else:
            painter.drawEllipse(QPointF(x + 5, y), 4.0, 4.0)


@dataclass(frozen=True, eq=False)
class Steps(Box):
    """The seven lines of the job sheet, as they stand in the window: number, name, figure, state."""

    steps: tuple[Step, ...]

    def height(self, width: float) -> float:
        return STEP_HIGH * len(self.steps)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        for step in self.steps:
            self._line(painter, step, QRectF(x, y, width, STEP_HIGH))
            y += STEP_HIGH

    def _line(self, painter: QPainter, step: Step, field: QRectF) -> None:
        middle = field.center().y()
        with kept(painter):
            painter.setPen(pen(0.6, "rule"))
            painter.drawLine(QLineF(field.left(), field.bottom(), field.right(), field.bottom()))
            balloon(painter, QPointF(field.left() + 9, middle), str(step.number), radius=8.0)
            base = middle + 4
            right = field.right() - 58
            mark(painter, step.state, right + 10, middle)
            words = text_font(BODY)
            for text, font, ink, at in (
                (step.name, text_font(BODY, Type.SEMIBOLD), "ink", field.left() + 28),
                (step.figure, words, "ink2", right - QFontMetricsF(words).horizontalAdvance(step.figure)),
                (step.state, text_font(SMALL), "ink" if step.state != "Look" else "attention_text", right + 26),
            ):
                painter.setFont(font)
                painter.setPen(colour(ink))
                painter.drawText(QPointF(at, base), text)


@dataclass(frozen=True, eq=False)
class FindingBox(Box):
    """A finding: its level by mark and word, heading, text, and where the limit comes from."""

    finding: Finding

    def _texts(self) -> tuple[Text, Text, Text]:
        f = self.finding
        ink = "ink" if f.level == "note" else "attention_text"
        head = Text(f"{LEVELS[f.level]}: {f.heading}", BODY, Type.SEMIBOLD, ink)
        return head, Text(f.text, BODY), Text(f"Limit: {f.source}", SMALL, ink="ink3")

    def height(self, width: float) -> float:
        return sum(t.height(width - 26) for t in self._texts()) + 12

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        high, plain = self.height(width) - 5, self.finding.level == "note"
        with kept(painter):
            painter.fillRect(QRectF(x, y, width, high), colour("well" if plain else "attention_ground"))
            painter.fillRect(QRectF(x, y, 2.5, high), colour("line" if plain else "attention"))
        texts = self._texts()
        top = y + 3.5
        mark(painter, LEVELS[self.finding.level], x + 9, top + texts[0].height(1e6) / 2)
        for text in texts:
            text.paint(painter, x + 26, top, width - 32)
            top += text.height(width - 26)


@dataclass(frozen=True)
class Cells(Box):
    """The title block: two rows of ruled cells, each with a small name above what it says (after ISO 7200)."""

    rows: tuple[tuple[tuple[str, str, float], ...], ...]
    high: float = 31.0

    def height(self, width: float) -> float:
        return self.high * len(self.rows)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        for cells in self.rows:
            left, total = x, sum(share for *_, share in cells)
            for name, text, share in cells:
                field = QRectF(left, y, width * share / total, self.high)
                self._cell(painter, field, name, text)
                left += field.width()
            y += self.high

    def _cell(self, painter: QPainter, field: QRectF, name: str, text: str) -> None:
        with kept(painter):
            painter.setPen(pen(Pen.FRAME, "ink"))
            painter.drawRect(field)
        small, font = text_font(8), text_font(SMALL, Type.SEMIBOLD)
        painter.setFont(small)
        painter.setPen(colour("ink2"))
        painter.drawText(QPointF(field.left() + 5, field.top() + 10.5), name)
        metrics = QFontMetricsF(font)
        size = SMALL
        while metrics.horizontalAdvance(text) > field.width() - 9 and size > 8:
            size -= 1
            font = text_font(size, Type.SEMIBOLD)
            metrics = QFontMetricsF(font)
        from_left = metrics.elidedText(text, _ELIDE, field.width() - 9)
        painter.setFont(font)
        painter.setPen(colour("ink"))
        painter.drawText(QPointF(field.left() + 5, field.bottom() - 7), from_left)
