"""Boxes that flow down a page: texts, tables, lists and drawings, each of which knows where it may be broken.

Widths and heights in CSS pixels. A box is measured for a width and painted at a place; one that does not fit on a page
is split where that reads well, or moved on as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QTextLayout, QTextOption

from app.look.current import colour
from app.look.drawing import balloon, kept, pen
from app.look.fonts import lettering_font, text_font
from app.look.tokens import Pen, Type
from app.sheet.paper import BODY, HEAD, SMALL

LEADING: Final = 1.32
CELL_X, CELL_Y = 6.0, 2.6
#: Spacing of the letters of headings, percent of the usual.
SPACED: Final = 108.0
TICK: Final = 9.0


class Box:
    """Something that takes up height on a page."""

    def height(self, width: float) -> float:
        """Its height at a width."""
        raise NotImplementedError

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        """Paint it with its upper left corner at (x, y)."""
        raise NotImplementedError

    def split(self, width: float, room: float) -> tuple[Box, Box] | None:
        """The box in two, the first of which fits into ``room``; None when it stays whole."""
        return None


@lru_cache(maxsize=4096)
def _lines(text: str, size: int, weight: int, width: float) -> tuple[tuple[str, float], ...]:
    """The lines of a text wrapped at ``width``, each with the offset of its top."""
    font = text_font(size, weight)
    layout = QTextLayout(text, font)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    layout.setTextOption(option)
    layout.beginLayout()
    out, y, step = [], 0.0, QFontMetricsF(font).height() * LEADING / 1.21
    while True:
        line = layout.createLine()
        if not line.isValid():
            break
        line.setLineWidth(max(width, 8.0))
        out.append((text[line.textStart() : line.textStart() + line.textLength()].rstrip(), y))
        y += step
    layout.endLayout()
    return tuple(out)


@dataclass(frozen=True)
class Text(Box):
    """A paragraph in one face. ``align`` is "left" or "right"."""

    text: str
    size: int = BODY
    weight: int = Type.REGULAR
    ink: str = "ink"
    align: str = "left"

    @property
    def font(self) -> QFont:
        return text_font(self.size, self.weight)

    def _step(self) -> float:
        return QFontMetricsF(self.font).height() * LEADING / 1.21

    def height(self, width: float) -> float:
        return max(len(_lines(self.text, self.size, self.weight, width)), 1) * self._step()

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        metrics = QFontMetricsF(self.font)
        base = y + (self._step() - metrics.height()) / 2 + metrics.ascent()
        painter.setFont(self.font)
        painter.setPen(colour(self.ink))
        for line, top in _lines(self.text, self.size, self.weight, width):
            at = x + width - metrics.horizontalAdvance(line) if self.align == "right" else x
            painter.drawText(QPointF(at, base + top), line)


@dataclass(frozen=True)
class Gap(Box):
    """Room between boxes; it vanishes at the top of a page."""

    high: float

    def height(self, width: float) -> float:
        return self.high

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        """Nothing is seen."""


@dataclass(frozen=True)
class Heading(Box):
    """A heading in drawing lettering with its balloon, words in small type after it, and a rule below."""

    text: str
    number: str = ""
    aside: str = ""
    size: int = HEAD

    def height(self, width: float) -> float:
        return self.size * 1.75

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        font, base = lettering_font(self.size), y + self.size * 1.2
        # A share of the letters: spacing in pixels is not scaled with the paper.
        font.setLetterSpacing(QFont.SpacingType.PercentageSpacing, SPACED)
        with kept(painter):
            if self.number:
                balloon(painter, QPointF(x + 10.5, base - self.size * 0.36), self.number, radius=10.0)
                x, width = x + 29.0, width - 29.0
            painter.setFont(font)
            painter.setPen(colour("ink"))
            painter.drawText(QPointF(x, base), self.text)
            if self.aside:
                left = x + QFontMetricsF(font).horizontalAdvance(self.text) + 12.0
                small = text_font(SMALL)
                painter.setFont(small)
                painter.setPen(colour("ink2"))
                words = QFontMetricsF(small).elidedText(self.aside, Qt.TextElideMode.ElideRight, x + width - left)
                painter.drawText(QPointF(left, base), words)


@dataclass(frozen=True, eq=False)
class Art(Box):
    """A drawing or picture of fixed size with an optional caption; it is never split.

    ``outdent`` lets it reach that far beyond both sides of the column.
    """

    wide: float
    high: float
    draw: Callable[[QPainter], None]
    caption: str = ""
    outdent: float = 0.0
    centred: bool = True

    def height(self, width: float) -> float:
        return self.high + (Text(self.caption, SMALL, ink="ink2").height(width) + 2 if self.caption else 0.0)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        top = y
        if self.caption:
            words = Text(self.caption, SMALL, ink="ink2")
            words.paint(painter, x, y, width)
            top += words.height(width) + 2
        left = x - self.outdent
        if self.centred:
            left += (width + 2 * self.outdent - self.wide) / 2
        with kept(painter):
            painter.translate(QPointF(left, top))
            self.draw(painter)


@dataclass(frozen=True, eq=False)
class Stack(Box):
    """Boxes one below the other that belong together; split only inside the last one."""

    boxes: tuple[Box, ...]

    def height(self, width: float) -> float:
        return sum(b.height(width) for b in self.boxes)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        for box in self.boxes:
            box.paint(painter, x, y, width)
            y += box.height(width)

    def split(self, width: float, room: float) -> tuple[Box, Box] | None:
        above = sum(b.height(width) for b in self.boxes[:-1])
        parts = self.boxes[-1].split(width, room - above) if self.boxes else None
        return None if parts is None else (Stack((*self.boxes[:-1], parts[0])), parts[1])


@dataclass(frozen=True, eq=False)
class Beside(Box):
    """Boxes next to each other, each with its share of the width."""

    boxes: tuple[Box, ...]
    shares: tuple[float, ...]
    between: float = 20.0

    def _widths(self, width: float) -> list[float]:
        free = width - self.between * (len(self.boxes) - 1)
        return [free * s / sum(self.shares) for s in self.shares]

    def height(self, width: float) -> float:
        return max(b.height(w) for b, w in zip(self.boxes, self._widths(width), strict=True))

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        for box, wide in zip(self.boxes, self._widths(width), strict=True):
            box.paint(painter, x, y, wide)
            x += wide + self.between

    def split(self, width: float, room: float) -> tuple[Box, Box] | None:
        first, rest = [], []
        for box, wide in zip(self.boxes, self._widths(width), strict=True):
            parts = (box, Gap(0.0)) if box.height(wide) <= room else box.split(wide, room)
            if parts is None:
                return None
            first.append(parts[0])
            rest.append(parts[1])
        return replace(self, boxes=tuple(first)), replace(self, boxes=tuple(rest))


@dataclass(frozen=True)
class Column:
    """A column of a table: its name, share of the width, whether figures stand at its right, and its type size."""

    name: str
    share: float
    right: bool = False
    size: int = SMALL


@dataclass(frozen=True, eq=False)
class Table(Box):
    """A ruled table. It is broken between rows, never leaving one row alone, and its head is repeated."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: int = -1
    headed: bool = True

    def _widths(self, width: float) -> list[float]:
        total = sum(c.share for c in self.columns)
        return [width * c.share / total for c in self.columns]

    def _cell(self, k: int, text: str, head: bool) -> Text:
        column = self.columns[k]
        align = "right" if column.right else "left"
        if head:
            return Text(text, SMALL, ink="ink2", align=align)
        return Text(text, column.size, Type.SEMIBOLD if k == self.strong else Type.REGULAR, align=align)

    def _inset(self, k: int) -> float:
        """Words that follow a column of figures keep away from them."""
        after = k > 0 and self.columns[k - 1].right and not self.columns[k].right
        return 2 * CELL_X if after else CELL_X if self.columns[k].right else 0.0

    def _row_height(self, cells: Sequence[str], width: float, head: bool = False) -> float:
        each = enumerate(zip(cells, self._widths(width), strict=True))
        high = [self._cell(k, text, head).height(wide - self._inset(k) - 1) for k, (text, wide) in each]
        return max(high) + 2 * CELL_Y

    def _names(self) -> tuple[str, ...]:
        return tuple(c.name for c in self.columns)

    def _head_height(self, width: float) -> float:
        return self._row_height(self._names(), width, True) if self.headed else 0.0

    def height(self, width: float) -> float:
        return self._head_height(width) + sum(self._row_height(r, width) for r in self.rows)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        if self.headed:
            y = self._paint_row(painter, self._names(), x, y, width, True)
        for row in self.rows:
            y = self._paint_row(painter, row, x, y, width)

    def _paint_row(
        self, painter: QPainter, cells: Sequence[str], x: float, y: float, width: float, head: bool = False
    ) -> float:
        high, left = self._row_height(cells, width, head), x
        for k, (text, wide) in enumerate(zip(cells, self._widths(width), strict=True)):
            inset = self._inset(k)
            self._cell(k, text, head).paint(painter, left + inset, y + CELL_Y, wide - inset - 1)
            left += wide
        with kept(painter):
            painter.setPen(pen(Pen.FRAME, "ink") if head else pen(0.6, "rule"))
            painter.drawLine(QLineF(x, y + high, x + width, y + high))
        return y + high

    def split(self, width: float, room: float) -> tuple[Box, Box] | None:
        used, count = self._head_height(width), 0
        for row in self.rows:
            used += self._row_height(row, width)
            if used > room:
                break
            count += 1
        count = min(count, len(self.rows) - 2)
        if count < 2:
            return None
        return replace(self, rows=self.rows[:count]), replace(self, rows=self.rows[count:])


@dataclass(frozen=True, eq=False)
class Items(Box):
    """A list: ticked off ("tick"), in order ("number") or plain ("dash"). Broken between its items."""

    kind: str
    lines: tuple[str, ...]
    first: int = 1
    between: float = 3.5

    def _inset(self) -> float:
        return {"tick": 20.0, "number": 22.0}.get(self.kind, 13.0)

    def _text(self, line: str) -> Text:
        return Text(line, BODY)

    def height(self, width: float) -> float:
        return sum(self._text(t).height(width - self._inset()) + self.between for t in self.lines)

    def paint(self, painter: QPainter, x: float, y: float, width: float) -> None:
        for number, line in enumerate(self.lines, start=self.first):
            text = self._text(line)
            middle = y + text.height(1e6) / 2
            self._mark(painter, x, middle, number)
            text.paint(painter, x + self._inset(), y, width - self._inset())
            y += text.height(width - self._inset()) + self.between

    def _mark(self, painter: QPainter, x: float, middle: float, number: int) -> None:
        with kept(painter):
            painter.setPen(pen(Pen.FEATURE, "ink"))
            if self.kind == "tick":
                painter.drawRect(QRectF(x + 1, middle - TICK / 2, TICK, TICK))
            elif self.kind == "number":
                balloon(painter, QPointF(x + 8, middle), str(number), radius=7.5)
            else:
                painter.drawLine(QLineF(x + 1, middle, x + 7, middle))

    def split(self, width: float, room: float) -> tuple[Box, Box] | None:
        used, count = 0.0, 0
        for line in self.lines:
            used += self._text(line).height(width - self._inset()) + self.between
            if used > room:
                break
            count += 1
        if not 0 < count < len(self.lines):
            return None
        rest = replace(self, lines=self.lines[count:], first=self.first + count)
        return replace(self, lines=self.lines[:count]), rest
