"""Boxes for a length, a count and any other figure with a unit."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from app.panels.widgets.buttons import Stepper
from app.panels.widgets.value_box import ValueBox
from core.errors import BadValue
from core.units import UnitName, format_length, parse_length

STEP_MM = 0.1  # one press of Up; a tenth of a millimetre is about the finest that a filament printer shows
STEP_INCH = 0.005


class LengthBox(ValueBox):
    """A length. The value is in mm whatever unit is shown; any usual spelling may be typed."""

    def __init__(self, caption: str = "", parent: QWidget | None = None, *, returnable: bool = True) -> None:
        super().__init__(caption, parent, returnable=returnable)
        self._unit: UnitName = "millimeter"
        self._steps = {"millimeter": STEP_MM, "inch": STEP_INCH * 25.4}
        self.set_unit("millimeter")

    def set_unit(self, unit: UnitName) -> None:
        """Show and read bare figures in ``millimeter`` or ``inch``."""
        if unit == self._unit and self.edit.suffix:
            return  # what is being typed stays
        self._unit = unit
        self.edit.suffix = "in" if unit == "inch" else "mm"
        self.set_step(self._steps["inch" if unit == "inch" else "millimeter"])
        self._refresh()

    def set_step_mm(self, step: float, step_inch: float | None = None) -> None:
        """What one press of Up adds, in mm, and in inches while inches are shown."""
        self._steps = {"millimeter": step, "inch": 25.4 * (step_inch if step_inch is not None else step / 25.4)}
        self.set_step(self._steps["inch" if self._unit == "inch" else "millimeter"])

    def text_of(self, value: float) -> str:
        return format_length(value, self._unit, with_unit=False)

    def value_of(self, text: str) -> float:
        return parse_length(text, "in" if self._unit == "inch" else "mm")

    def step_of(self, value: float, steps: float) -> float:
        if steps < 0 and value >= 0:
            return max(0.0, round(value + steps * self._step, 9))
        return round(value + steps * self._step, 9)


class NumberBox(ValueBox):
    """A figure with a unit that is not a length: degrees, grams per cubic centimetre, percent."""

    def __init__(
        self,
        caption: str = "",
        unit: str = "",
        parent: QWidget | None = None,
        *,
        decimals: int = 1,
        returnable: bool = False,
    ) -> None:
        super().__init__(caption, parent, returnable=returnable)
        self._decimals = decimals
        self.edit.suffix = unit

    def text_of(self, value: float) -> str:
        return f"{value:.{self._decimals}f}"

    def value_of(self, text: str) -> float:
        try:
            return float(text.strip().removesuffix(self.edit.suffix).strip().replace(",", "."))
        except ValueError:
            raise BadValue(self.tr("“{0}” is not a figure.").format(text), self.tr("Type a number.")) from None


class CountBox(ValueBox):
    """A whole number, with − and + behind it. Signals carry it as a float that is whole."""

    def __init__(
        self,
        caption: str = "",
        parent: QWidget | None = None,
        *,
        least: int = 0,
        most: int = 9999,
        returnable: bool = False,
    ) -> None:
        super().__init__(caption, parent, returnable=returnable)
        self._least, self._most = least, most
        self.stepper = Stepper(self.frame)
        self.frame.row.addWidget(self.stepper)
        self.stepper.stepped.connect(self._stepped)

    def set_range(self, least: int, most: int) -> None:
        self._least, self._most = least, most
        self._refresh()

    def _stepped(self, steps: int) -> None:
        self.step(steps)

    def _refresh(self) -> None:
        super()._refresh()
        if hasattr(self, "stepper") and self._value is not None:
            self.stepper.less.setEnabled(self._value > self._least)
            self.stepper.more.setEnabled(self._value < self._most)

    def text_of(self, value: float) -> str:
        return str(round(value))

    def value_of(self, text: str) -> float:
        word = text.strip()
        if not word.lstrip("+-").isdigit():
            raise BadValue(self.tr("“{0}” is not a count.").format(text), self.tr("Type a whole number."))
        number = int(word)
        if not self._least <= number <= self._most:
            asked = self.tr("{0} is out of range.").format(number)
            raise BadValue(asked, self.tr("Take {0} to {1}.").format(self._least, self._most))
        return float(number)

    def step_of(self, value: float, steps: float) -> float:
        return float(min(max(round(value + steps), self._least), self._most))
