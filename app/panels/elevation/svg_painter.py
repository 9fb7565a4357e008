"""A painter that writes SVG 1.1: the calls of QPainter that our drawings use, with exact clipping, texts as outlines.

Qt's own generator rounds clipped areas to whole pixels and loses what is drawn after them, so it is not used here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final
from xml.sax.saxutils import escape

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainterPath, QPen, QPolygonF, QTransform

#: Places after the point in px; a hundredth is finer than any printer.
PLACES: Final = 2
_CAPS: Final = {Qt.PenCapStyle.FlatCap: "butt", Qt.PenCapStyle.SquareCap: "square", Qt.PenCapStyle.RoundCap: "round"}
_JOINS: Final = {
    Qt.PenJoinStyle.MiterJoin: "miter",
    Qt.PenJoinStyle.BevelJoin: "bevel",
    Qt.PenJoinStyle.RoundJoin: "round",
}


@dataclass(frozen=True)
class _State:
    """What save and restore keep; ``clip`` is the number of the clip path in force, 0 for none."""

    pen: QPen
    brush: QBrush
    font: QFont
    transform: QTransform
    clip: int = 0


class SvgPainter:
    """Collects a drawing of ``width`` × ``height`` px, which are ``mm`` wide on paper."""

    def __init__(self, width: float, height: float, px_per_mm: float, title: str = "") -> None:
        self._size, self._px_per_mm, self._title = (width, height), px_per_mm, title
        self._now = _State(QPen(), QBrush(Qt.BrushStyle.NoBrush), QFont(), QTransform())
        self._kept: list[_State] = []
        self._clips: list[str] = []
        self._body: list[str] = []

    def text(self) -> str:
        """The whole file."""
        (wide, high), scale = self._size, self._px_per_mm
        head = (
            '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" version="1.1" '
            f'width="{wide / scale:.3f}mm" height="{high / scale:.3f}mm" viewBox="0 0 {wide:g} {high:g}">'
        )
        defs = f"<defs>{''.join(self._clips)}</defs>" if self._clips else ""
        return "\n".join([head, f"<title>{escape(self._title)}</title>", defs, *self._body, "</svg>\n"])

    # state, under the names that QPainter gives them

    def save(self) -> None:
        self._kept.append(self._now)

    def restore(self) -> None:
        self._now = self._kept.pop()

    def setRenderHint(self, *_: object) -> None:  # noqa: N802
        """Smoothness is the viewer's matter."""

    def setPen(self, pen: QPen | QColor | Qt.PenStyle) -> None:  # noqa: N802
        self._now = replace(self._now, pen=QPen(pen))

    def pen(self) -> QPen:
        return self._now.pen

    def setBrush(self, brush: QColor | Qt.BrushStyle) -> None:  # noqa: N802
        self._now = replace(self._now, brush=QBrush(brush))

    def setFont(self, font: QFont) -> None:  # noqa: N802
        self._now = replace(self._now, font=font)

    def translate(self, *by: float | QPointF) -> None:
        made = QTransform(self._now.transform)
        made.translate(by[0].x(), by[0].y()) if isinstance(by[0], QPointF) else made.translate(by[0], by[1])
        self._now = replace(self._now, transform=made)

    def rotate(self, degrees: float) -> None:
        made = QTransform(self._now.transform)
        made.rotate(degrees)
        self._now = replace(self._now, transform=made)

    def setClipPath(self, path: QPainterPath, _: object = None) -> None:  # noqa: N802
        """Clip what follows to ``path`` as well."""
        within = f' clip-path="url(#c{self._now.clip})"' if self._now.clip else ""
        number = len(self._clips) + 1
        shape = f'<path d="{self._data(path)}" clip-rule="{_rule(path)}"/>'
        self._clips.append(f'<clipPath id="c{number}"{within}>{shape}</clipPath>')
        self._now = replace(self._now, clip=number)

    def setClipRect(self, rect: QRectF, how: object = None) -> None:  # noqa: N802
        path = QPainterPath()
        path.addRect(rect)
        self.setClipPath(path, how)

    # drawing

    def drawPath(self, path: QPainterPath) -> None:  # noqa: N802
        self._add(path, self._now.brush, self._now.pen)

    def strokePath(self, path: QPainterPath, pen: QPen) -> None:  # noqa: N802
        self._add(path, QBrush(Qt.BrushStyle.NoBrush), pen)

    def fillPath(self, path: QPainterPath, colour: QColor) -> None:  # noqa: N802
        self._add(path, QBrush(colour), QPen(Qt.PenStyle.NoPen))

    def fillRect(self, rect: QRectF, colour: QColor) -> None:  # noqa: N802
        path = QPainterPath()
        path.addRect(QRectF(rect))
        self.fillPath(path, colour)

    def drawLine(self, line: QLineF) -> None:  # noqa: N802
        self.drawLines([line])

    def drawLines(self, lines: list[QLineF]) -> None:  # noqa: N802
        path = QPainterPath()
        for line in lines:
            path.moveTo(line.p1())
            path.lineTo(line.p2())
        self.strokePath(path, self._now.pen)

    def drawPolygon(self, polygon: QPolygonF) -> None:  # noqa: N802
        path = QPainterPath()
        path.addPolygon(polygon)
        path.closeSubpath()
        self.drawPath(path)

    def drawRect(self, rect: QRectF) -> None:  # noqa: N802
        path = QPainterPath()
        path.addRect(rect)
        self.drawPath(path)

    def drawRoundedRect(self, rect: QRectF, rx: float, ry: float) -> None:  # noqa: N802
        path = QPainterPath()
        path.addRoundedRect(rect, rx, ry)
        self.drawPath(path)

    def drawEllipse(self, centre: QPointF, rx: float, ry: float) -> None:  # noqa: N802
        path = QPainterPath()
        path.addEllipse(centre, rx, ry)
        self.drawPath(path)

    def drawText(self, at: QPointF, text: str) -> None:  # noqa: N802
        """As outlines: where the picture goes, our typefaces may be missing."""
        path = QPainterPath()
        path.addText(at, self._now.font, text)
        path.setFillRule(Qt.FillRule.WindingFill)
        self.fillPath(path, self._now.pen.color())

    # writing

    def _add(self, path: QPainterPath, brush: QBrush, pen: QPen) -> None:
        data = self._data(path)
        if not data:
            return
        clip = f' clip-path="url(#c{self._now.clip})"' if self._now.clip else ""
        self._body.append(f'<path d="{data}"{_fill(brush, path)}{_stroke(pen)}{clip}/>')

    def _data(self, path: QPainterPath) -> str:
        """The path as SVG path data, in the coordinates of the file."""
        moved = self._now.transform.map(path)
        parts, kinds = [], QPainterPath.ElementType
        for i in range(moved.elementCount()):
            element = moved.elementAt(i)
            letter = {kinds.MoveToElement: "M", kinds.LineToElement: "L", kinds.CurveToElement: "C"}.get(
                element.type, ""
            )
            parts.append(f"{letter}{_number(element.x)},{_number(element.y)}")
        return " ".join(parts)


def _number(value: float) -> str:
    return f"{value:.{PLACES}f}".rstrip("0").rstrip(".")


def _rule(path: QPainterPath) -> str:
    return "evenodd" if path.fillRule() == Qt.FillRule.OddEvenFill else "nonzero"


def _paint(name: str, colour: QColor) -> str:
    alpha = f' {name}-opacity="{colour.alphaF():.3g}"' if colour.alpha() < 255 else ""
    return f' {name}="{colour.name()}"{alpha}'


def _fill(brush: QBrush, path: QPainterPath) -> str:
    if brush.style() == Qt.BrushStyle.NoBrush:
        return ' fill="none"'
    return f'{_paint("fill", brush.color())} fill-rule="{_rule(path)}"'


def _stroke(pen: QPen) -> str:
    if pen.style() == Qt.PenStyle.NoPen:
        return ""
    wide = pen.widthF() or 1.0
    dash = " ".join(_number(d * wide) for d in pen.dashPattern()) if pen.style() == Qt.PenStyle.CustomDashLine else ""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f' stroke-linecap="{_CAPS[pen.capStyle()]}" stroke-linejoin="{_JOINS.get(pen.joinStyle(), "miter")}"'
    return f'{_paint("stroke", pen.color())} stroke-width="{_number(wide)}"{ends}{dashed}'
