"""The height rule: a tick a layer, the heights at both ends, and the pointer that steps through the layers."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPolygonF

from app.look.current import colour
from app.look.drawing import kept, pen
from app.look.fonts import lettering_font
from app.look.tokens import Pen, Type
from app.panels.elevation.handles import rule_field, rule_x
from app.panels.elevation.sheet import View
from app.panels.elevation.strokes import write
from core.units import UnitName, format_length

# Logical pixels.
LEAST_TICK = 2.2  # closer ticks are thinned to every fifth, tenth …
TICK, LONG_TICK = 4.5, 8.0
POINTER = 8.0


def draw_rule(painter: QPainter, view: View, layer: int | None, unit: UnitName) -> None:
    """The rule of a view; ``layer`` is the chosen one, pointed at with its height."""
    if not view.model.layers.numbers:
        return
    with kept(painter):
        painter.setPen(pen(Pen.FRAME, "ink"))
        if view.model.layers.axis == "u":
            _level(painter, view, layer, unit)
        else:
            _upright(painter, view, layer, unit)


def ticks(view: View) -> list[tuple[int, float]]:
    """The layers that get a tick, with the place of their top on the screen, px."""
    layers, sheet = view.model.layers, view.sheet
    at = [sheet.x(a) if layers.axis == "u" else sheet.y(a) for a in layers.at]
    apart = abs(at[1] - at[0]) if len(at) > 1 else LEAST_TICK
    every = next((n for n in (1, 5, 10, 50, 100) if n * apart >= LEAST_TICK), 500)
    return [(n, a) for n, a in zip(layers.numbers, at, strict=True) if n % every == 0 or every == 1]


def _upright(painter: QPainter, view: View, layer: int | None, unit: UnitName) -> None:
    field, x = rule_field(view), rule_x(view)
    painter.drawLine(QLineF(x, field.top, x, field.bottom))
    for number, y in ticks(view):
        if field.top - 0.5 <= y <= field.bottom + 0.5:
            painter.drawLine(QLineF(x, y, x + (LONG_TICK if (number + 1) % 5 == 0 else TICK), y))
    for y in (field.top, field.bottom):
        painter.drawLine(QLineF(x, y, x + LONG_TICK, y))
    low, high = view.sheet.z(field.bottom), view.sheet.z(field.top)
    pointed = _pointer_y(view, layer)
    _heights(
        painter,
        x + LONG_TICK + POINTER + 5,
        [(field.top, high, False), (field.bottom, low, False)],
        pointed,
        view,
        layer,
        unit,
    )
    if pointed is None:
        pointed = (field.top + field.bottom) / 2
    _pointer(painter, x + LONG_TICK + 3, pointed)


def _pointer_y(view: View, layer: int | None) -> float | None:
    """Where the chosen layer's middle is on the screen."""
    layers = view.model.layers
    if layer is None or layer not in layers.numbers:
        return None
    return view.sheet.y(layers.middle_of(layer))


def _heights(
    painter: QPainter,
    x: float,
    ends: list[tuple[float, float, bool]],
    pointed: float | None,
    view: View,
    layer: int | None,
    unit: UnitName,
) -> None:
    """Heights beside the rule: that of the chosen layer first, then those of the ends where they have room."""
    font = lettering_font(Type.DIMENSION)
    high = QFontMetricsF(font).capHeight()
    apart = high + 6
    rows = [(y, format_length(z, unit, with_unit=False), "ink") for y, z, _ in ends]
    if ends[1][0] - ends[0][0] < apart:
        middle = (ends[0][0] + ends[1][0]) / 2
        rows = [(middle - apart / 2, rows[0][1], "ink"), (middle + apart / 2, rows[1][1], "ink")]
    if pointed is not None and layer is not None:
        own = (pointed, format_length(view.model.layers.top_of(layer), unit, with_unit=False), "ledge_text")
        rows = [own, *(r for r in rows if abs(r[0] - pointed) >= apart)]
    top, bottom = view.field.top + high / 2 + 3, view.field.bottom - high / 2 - 3
    for at, text, ink in rows:
        y = min(max(at, top), bottom)
        painter.setPen(colour(ink))
        write(painter, QPointF(x, y + high / 2), text, font)


def _pointer(painter: QPainter, x: float, y: float) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour("ink"))
    painter.drawPolygon(QPolygonF([QPointF(x, y), QPointF(x + POINTER, y - 4), QPointF(x + POINTER, y + 4)]))


def _level(painter: QPainter, view: View, layer: int | None, unit: UnitName) -> None:
    """A sideways gap crosses its layers along the span: the rule lies below the ledge."""
    field = rule_field(view)
    painter.drawLine(QLineF(field.left, field.top, field.right, field.top))
    for number, x in ticks(view):
        if field.left - 0.5 <= x <= field.right + 0.5:
            painter.drawLine(QLineF(x, field.top, x, field.top + (LONG_TICK if (number + 1) % 5 == 0 else TICK)))
    font = lettering_font(Type.DIMENSION)
    high, layers = QFontMetricsF(font).capHeight(), view.model.layers
    names = {0: layers.numbers[0], -1: layers.numbers[-1]}
    tops = {k: layers.top_of(n) for k, n in names.items()}
    first, last = (0, -1) if view.sheet.x(layers.at[0]) <= view.sheet.x(layers.at[-1]) else (-1, 0)
    y = field.top + high / 2 + 3
    left, right = (format_length(tops[k], unit, with_unit=False) for k in (first, last))
    painter.setPen(colour("ink"))
    write(painter, QPointF(field.left - 6 - QFontMetricsF(font).horizontalAdvance(left), y), left, font)
    write(painter, QPointF(field.right + 6, y), right, font)
    if layer is not None and layer in layers.numbers:
        x = view.sheet.x(float(layers.at[layers.numbers.index(layer)]))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour("ink"))
        painter.drawPolygon(
            QPolygonF(
                [
                    QPointF(x, field.top + LONG_TICK),
                    QPointF(x - 4, field.top + LONG_TICK + POINTER),
                    QPointF(x + 4, field.top + LONG_TICK + POINTER),
                ]
            )
        )
        painter.setPen(colour("ledge_text"))
        write(
            painter,
            QPointF(field.right + 6, y + high + 6),
            format_length(layers.top_of(layer), unit, with_unit=False),
            font,
        )
