"""The print setup: what the printer lays down and how far it can reach unsupported.

Every field says its unit, its range and where its default comes from; the panels and the command line are built from
that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Any, Final, Literal

from core.design.materials import Material, material
from core.errors import BadValue

Walls = Literal["fixed", "variable"]
_PRACTICE, _MEMORY = "common practice", "from memory"


def _figure(default: Any, label: str, unit: str, low: float, high: float, source: str) -> Any:
    return field(default=default, metadata={"label": label, "unit": unit, "low": low, "high": high, "source": source})


@dataclass(frozen=True)
class PrintSetup:
    """Printer, material and limits. Lengths mm, angles degrees from vertical. Raises BadValue when out of range."""

    nozzle: float = _figure(0.4, "Nozzle", "mm", 0.1, 2.0, _PRACTICE)
    line_width: float = _figure(0.44, "Line width", "mm", 0.1, 3.0, _MEMORY)
    layer_height: float = _figure(0.2, "Layer height", "mm", 0.02, 1.5, _PRACTICE)
    first_layer: float = _figure(0.2, "First layer", "mm", 0.02, 1.5, _PRACTICE)
    walls: Walls = field(
        default="fixed", metadata={"label": "Walls", "choices": ("fixed", "variable"), "source": _MEMORY}
    )
    air_layers: int = _figure(0, "Air layers", "", 0, 5, _PRACTICE)
    material: str = field(default="PLA", metadata={"label": "Material", "source": _PRACTICE})
    overhang: float = _figure(45.0, "Overhang limit from vertical", "°", 5.0, 89.0, _PRACTICE)
    free_overhang: float = _figure(
        1.0, "Free overhang", "mm", 0.1, 10.0, "Mazlan et al. 2020, JAITA: 0.5 to 1.5 mm still prints"
    )
    clear_bridge: float = _figure(5.0, "Longest clear bridge", "mm", 0.5, 60.0, _MEMORY)
    longest_tooth: float = _figure(12.0, "Longest tooth", "mm", 0.5, 40.0, _MEMORY)
    #: The person's own material, when ``material`` names one that is not in the table.
    own: Material | None = field(default=None, metadata={"label": "Own material", "source": "yours"})

    def __post_init__(self) -> None:
        for f in fields(self):
            value = getattr(self, f.name)
            if "low" in f.metadata and not (
                isinstance(value, int | float) and f.metadata["low"] <= value <= f.metadata["high"]
            ):
                unit = f" {f.metadata['unit']}" if f.metadata["unit"] else ""
                raise BadValue(
                    f"{f.metadata['label']} cannot be {value}{unit}.",
                    f"Give a value from {f.metadata['low']:g} to {f.metadata['high']:g}{unit}.",
                )
            if "choices" in f.metadata and value not in f.metadata["choices"]:
                raise BadValue(
                    f"{f.metadata['label']} cannot be “{value}”.", f"Use {' or '.join(f.metadata['choices'])}."
                )
        if self.own is not None and self.own.name != self.material:
            object.__setattr__(self, "own", None)
        material(self.material, self._owned)

    @property
    def _owned(self) -> tuple[Material, ...]:
        return () if self.own is None else (self.own,)

    @property
    def filament(self) -> Material:
        """The material by its name."""
        return material(self.material, self._owned)

    @property
    def least_printable(self) -> float:
        """The narrowest width that leaves a printed path, mm.

        Fixed-width walls lose what is thinner than about one line; variable-width walls print down to a quarter to a
        half of the nozzle, but widen it (from memory); the cautious half is used.
        """
        return self.line_width if self.walls == "fixed" else 0.5 * self.nozzle

    @property
    def advance(self) -> float:
        """How far a layer may reach beyond the one below, mm: layer height × tan(overhang limit)."""
        return self.layer_height * math.tan(math.radians(self.overhang))

    def mid_heights(self, top: float) -> tuple[float, ...]:
        """Middle heights (mm above the bed) of the layers of a print that ends at ``top``, one at least."""
        count = math.ceil((top - self.first_layer) / self.layer_height - 0.5)
        rest = (self.first_layer + self.layer_height * (k + 0.5) for k in range(max(count, 0)))
        return (self.first_layer / 2, *rest)


#: The fields that a person sets one by one, in the order in which they are shown.
FIGURES: Final = tuple(f for f in fields(PrintSetup) if f.name != "own")
