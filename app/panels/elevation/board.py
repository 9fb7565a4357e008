"""Places figures one after the other and remembers what is taken, so that none lies on another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from app.look.tokens import Pen
from app.panels.elevation.figures import CLEAR, NARROW, TAIL, Dimension, Place, Rulers
from app.panels.elevation.sheet import Rect, View
from core.units import UnitName, format_length

APART = 3.0  # between figures


@dataclass
class Board:
    """Places figures and remembers what is taken."""

    view: View
    rulers: Rulers
    unit: UnitName
    taken: list[Rect] = field(default_factory=list)
    done: list[Dimension] = field(default_factory=list)

    def text(self, value: float, sign: bool = False) -> str:
        word = format_length(value, self.unit, with_unit=False)
        return f"+{word}" if sign and value > 0 else word.replace("-", "−")

    def free(self, rects: Sequence[Rect]) -> bool:
        """Whether nothing is there yet and all of it lies on the field."""
        f = self.view.field
        inside = all(
            r.left >= f.left + 1 and r.right <= f.right - 1 and r.top >= f.top and r.bottom <= f.bottom for r in rects
        )
        return inside and not any(r.meets(t, APART) for r in rects for t in self.taken)

    def put(self, dimension: Dimension) -> bool:
        """Add a dimension when its figure and its line are free."""
        shaft = dimension.shaft
        if dimension.visible:
            shaft = replace(shaft, left=dimension.visible[0], right=dimension.visible[1])
        if not self.free([dimension.field]) or any(shaft.meets(t, 0.0) for t in self.taken):
            return False
        self.taken += [dimension.field, shaft]
        self.done.append(dimension)
        return True

    def level(
        self, key: str, u: tuple[float, float], y: float, *, value: float | None = None,
        places: Sequence[Place] = ("in", "above", "beyond", "before"), sign: bool = False, aside: float = 0.0,
        extensions: tuple[tuple[float, float, float, float], ...] = (), **more: object,
    ) -> bool:  # fmt: skip
        """A level dimension between two places, wherever of ``places`` its figure has room."""
        x0, x1 = self.view.sheet.x(u[0]), self.view.sheet.x(u[1])
        window = self.view.window
        if x1 < window.left or x0 > window.right or not self.view.field.top <= y <= self.view.field.bottom:
            return False
        value = u[1] - u[0] if value is None else value
        text = self.text(value, sign)
        seen = (max(x0, window.left), min(x1, window.right))
        cut = seen != (x0, x1) and x1 - x0 > window.width / 2
        if not cut and (x0 < window.left - TAIL or x1 > window.right + TAIL):
            return False
        shown = tuple(e for e in extensions if window.left - 2 <= e[0] <= window.right + 2)
        base = Dimension(
            key, text, value, (x0, y), (x1, y), "in", Rect(0, 0, 0, 0), shown, visible=seen if cut else None
        )
        base = replace(base, **more)  # type: ignore[arg-type]
        wide = self.rulers.lettering(text)
        for place in places:
            spot = self._field(seen if cut else (x0, x1), y, wide, place, aside)
            if spot is not None and self.put(replace(base, place=place, field=spot)):
                return True
        return False

    def _field(self, x: tuple[float, float], y: float, wide: float, place: Place, aside: float) -> Rect | None:
        """Where the figure of a level dimension stands, ``aside`` px farther out beside it; None without room."""
        half, length, middle = self.rulers.high / 2 + 2, x[1] - x[0], (x[0] + x[1]) / 2
        tail = TAIL if length < NARROW else 0.0
        if place == "in":
            fits = length >= wide + 2 * (CLEAR + Pen.ARROW_LONG + 6)
            return Rect(middle - wide / 2 - 2, y - half, middle + wide / 2 + 2, y + half) if fits else None
        if place == "above":
            if length < wide + 2:
                return None
            return Rect(middle - wide / 2 - 2, y - 2 * half - 2.5, middle + wide / 2 + 2, y - 2.5)
        left = (
            x[1] + max(tail, TAIL / 2, aside) + CLEAR
            if place == "beyond"
            else x[0] - max(tail, TAIL / 2, aside) - CLEAR - wide
        )
        return Rect(left - 2, y - half, left + wide + 2, y + half)

    def upright(
        self, key: str, x: float, z: tuple[float, float], feet: tuple[float, float], aside: float | None = None
    ) -> bool:
        """An upright dimension: its figure turned along it, or beside it when it is short, its line then at ``aside``.

        ``feet`` are where its extension lines begin, at the height of ``z[1]`` and of ``z[0]``, px.
        """
        y0, y1 = self.view.sheet.y(z[0]), self.view.sheet.y(z[1])
        text = self.text(z[1] - z[0])
        wide, half = self.rulers.lettering(text), self.rulers.high / 2 + 2
        middle = (y0 + y1) / 2

        def at(x: float, place: Place, box: Rect) -> Dimension:
            end = x - 3 if feet[0] > x else x + 3
            lines = tuple((end, y, foot, y) for foot, y in zip(feet, (y1, y0), strict=True))
            return Dimension(key, text, z[1] - z[0], (x, y0), (x, y1), place, box, lines)

        turned = Rect(x - 2 * half - 2.5, middle - wide / 2 - 2, x - 2.5, middle + wide / 2 + 2)
        if y0 - y1 >= wide + 2 and self.put(at(x, "above", turned)):
            return True
        if aside is None:
            return False
        beside = Rect(aside - wide - 8, middle - half, aside - 4, middle + half)
        return self.put(at(aside, "aside", beside))
