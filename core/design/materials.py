"""What the common filaments weigh and how strong they are, with where each figure comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from core.errors import BadValue
from core.extensions import MATERIALS as ADDED
from core.extensions import offered


@dataclass(frozen=True)
class Range:
    """A figure known only within limits, with its source."""

    low: float
    high: float
    source: str


@dataclass(frozen=True)
class Material:
    """A filament. Density g/cm³, strengths MPa, stiffness GPa.

    ``across_layers`` is the strength of the bond between layers (low: printed specimens; high: the bare interface or
    bulk), ``in_plane`` the strength along the layers. ``cut`` is True where teeth stretch instead of snapping.
    """

    name: str
    density: float
    density_source: str
    in_plane: Range
    across_layers: Range
    stiffness: Range
    clear_bridge: Range
    cut: bool = False


_PROC = "Processes 2025, 13(9), 2733"
_JMMP = "J. Manuf. Mater. Process. 2026, 10(2), 64"
_TPU = "Engineering Proceedings 2025, 113, 19"
_PLA_Z = "doi 10.1089/3dp.2020.0109: 22.8 MPa specimens, 33.75 MPa interface"
_MEM = "from memory"
_BRIDGE = Range(4.0, 5.0, _MEM)
_BRIDGE_SOFT = Range(2.0, 4.0, _MEM)

MATERIALS: tuple[Material, ...] = (
    Material("PLA", 1.24, "common practice, no source", Range(53, 53, _PROC), Range(22.8, 33.75, _PLA_Z),
             Range(3.5, 3.5, _PROC), _BRIDGE),
    Material("PETG", 1.27, "common practice, no source", Range(47, 52, f"{_PROC}; {_JMMP}"), Range(20, 30, _MEM),
             Range(2.0, 2.0, _MEM), _BRIDGE_SOFT),
    Material("ABS", 1.04, "common practice, no source", Range(40, 40, _PROC), Range(12, 22, _MEM),
             Range(2.1, 2.1, _MEM), _BRIDGE_SOFT),
    Material("ASA", 1.07, _MEM, Range(35, 45, _MEM), Range(12, 22, _MEM), Range(2.0, 2.0, _MEM), _BRIDGE_SOFT),
    Material("PA12", 1.01, _MEM, Range(45, 60, _MEM), Range(20, 35, _MEM), Range(1.2, 2.0, _MEM), _BRIDGE_SOFT),
    Material("TPU 95A", 1.21, _MEM, Range(32.5, 32.5, _TPU), Range(17.8, 17.8, _TPU),
             Range(0.146, 0.146, _TPU), _BRIDGE_SOFT, cut=True),
)  # fmt: skip


def materials() -> tuple[Material, ...]:
    """All materials: ours, and those that installed packages add by the entry point group ``snapcomb.materials``."""
    ours = {m.name.lower() for m in MATERIALS}
    added = {m.name.lower(): m for m in offered(ADDED, Material) if m.name.lower() not in ours}
    return (*MATERIALS, *added.values())


def material(name: str, own: tuple[Material, ...] = ()) -> Material:
    """The material of that name, the person's own ones first; capitals do not matter. Raises BadValue."""
    wanted = name.strip().lower()
    for candidate in (*own, *materials()):
        if candidate.name.lower() in (wanted, f"{wanted} 95a"):
            return candidate
    known = ", ".join(m.name for m in (*own, *materials()))
    raise BadValue(f"There is no material called “{name}”.", f"Known are {known}.")


#: How figures that a person entered are named beside a limit.
YOURS: Final = "your own figure"
#: What a filament may weigh (g/cm³: foams to metal-filled) and how strong it may be (MPa); from memory.
DENSITIES, STRENGTHS = (0.2, 9.0), (0.5, 400.0)


def own_material(
    name: str, like: Material, density: float, in_plane: tuple[float, float], across: tuple[float, float], cut: bool
) -> Material:
    """A material with a person's own figures; stiffness and bridges are those of the material that it is ``like``.

    ``density`` g/cm³, ``in_plane`` and ``across`` (low, high) MPa. Raises BadValue for a name that the table has, and
    for figures that no filament has.
    """
    word = " ".join(name.split())
    if not word:
        raise BadValue("The material has no name.", "Type one, such as the label on the spool.")
    if any(word.lower() in (m.name.lower(), m.name.split()[0].lower()) for m in MATERIALS):
        raise BadValue(f"“{word}” is in the table already.", "Choose another name.")
    _within(density, DENSITIES, "A density", "g/cm³")
    for low, high in (in_plane, across):
        _within(low, STRENGTHS, "A strength", "MPa")
        _within(high, (low, STRENGTHS[1]), "The upper strength", "MPa")
    return Material(
        word, density, YOURS, Range(*in_plane, YOURS), Range(*across, YOURS), like.stiffness, like.clear_bridge, cut
    )


def _within(value: float, limits: tuple[float, float], what: str, unit: str) -> None:
    if not (math.isfinite(value) and limits[0] <= value <= limits[1]):
        raise BadValue(
            f"{what} of {value:g} {unit} cannot be.", f"Give a figure from {limits[0]:g} to {limits[1]:g} {unit}."
        )
