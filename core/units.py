"""Units of length: what a file's numbers mean, what a person may type, how a length is shown.

Inside the program every length is in millimetres. The inch is 25.4 mm exactly
(international yard and pound agreement, in force since 1 July 1959, NIST).
The six unit names are those of the 3MF core specification 1.4.0, §3.4.
"""

from __future__ import annotations

import re
from typing import Final, Literal, get_args

from core.errors import BadValue

UnitName = Literal["micron", "millimeter", "centimeter", "inch", "foot", "meter"]

MM_PER: Final[dict[UnitName, float]] = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}

_WORDS: Final[dict[str, float]] = {
    "µm": 0.001, "um": 0.001, "micron": 0.001, "microns": 0.001,
    "mm": 1.0, "millimeter": 1.0, "millimetre": 1.0, "millimeters": 1.0, "millimetres": 1.0,
    "cm": 10.0, "centimeter": 10.0, "centimetre": 10.0,
    "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "″": 25.4,
    "thou": 0.0254, "mil": 0.0254,
    "ft": 304.8, "foot": 304.8, "feet": 304.8,
    "m": 1000.0, "meter": 1000.0, "metre": 1000.0,
}  # fmt: skip

_LENGTH: Final = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(\S*)\s*$")


def unit_name(word: str) -> UnitName:
    """The 3MF name of a unit from any usual spelling ("mm", "in", "inch" …).

    Raises BadValue for an unknown word.
    """
    scale = _WORDS.get(word.strip().lower())
    for name in get_args(UnitName):
        if scale is not None and MM_PER[name] == scale:
            found: UnitName = name
            return found
    raise BadValue(f"“{word}” is not a unit of length.", "Use mm, cm, m, in, ft or micron.")


def parse_length(text: str, default: str = "mm") -> float:
    """The length in mm that a person typed: ``1.5``, ``1,5``, ``1.5 mm``, ``0.06 in``, ``60 thou``.

    ``default`` is the unit of a bare number. Raises BadValue.

    >>> parse_length("0.06 in"), parse_length("60 thou"), parse_length("1,5")
    (1.524, 1.524, 1.5)
    """
    match = _LENGTH.match(text)
    if match is None:
        raise BadValue(f"“{text}” is not a length.", "Type a number, with a unit if you like: 1.5 mm.")
    number, word = match.groups()
    scale = _WORDS.get((word or default).lower())
    if scale is None:
        raise BadValue(f"“{word}” is not a unit of length.", "Use mm, in, thou, cm, m, ft or micron.")
    return round(float(number.replace(",", ".")) * scale, 12)


def format_length(mm: float, unit: UnitName = "millimeter", *, with_unit: bool = True) -> str:
    """A length (mm) as a person reads it: two decimals in mm, four in inches.

    >>> format_length(25.4, "inch")
    '1.0000 in'
    """
    if unit == "inch":
        return f"{mm / 25.4:.4f}" + (" in" if with_unit else "")
    return f"{mm:.2f}" + (" mm" if with_unit else "")
