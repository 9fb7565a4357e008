"""Numbers in text: the style that a file writes them in, and writing more of them in the same style."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from core.errors import UnreadableFile
from core.files.guard import quoted

DECIMAL: Final = re.compile(rb"[+-]?+(?:\d++\.?+\d*+|\.\d++)(?:[eE][+-]?+\d++)?+")
"""A decimal number as all the text formats know it; no words, no hexadecimal, no separators."""

_STEP: Final = 1e-4
"""Coarsest last digit, in file units, that is taken over: with a coarser one teeth would lose their form."""


def decimal(token: bytes, where: str) -> float:
    """The value of one token. Raises UnreadableFile naming it and ``where`` it stands."""
    if DECIMAL.fullmatch(token) is None:
        raise UnreadableFile(f"{where} has {quoted(token)} where a number should be.", "Export the mesh again.")
    value = float(token)
    if not math.isfinite(value):
        raise UnreadableFile(f"{where} has {quoted(token)}, which is not a finite number.", "Export the mesh again.")
    return value


@dataclass(frozen=True)
class Style:
    """How numbers are written: ``fixed`` or ``exponent`` with a count of decimals, or ``shortest``."""

    form: str = "shortest"
    decimals: int = 0
    capital: bool = False

    def write(self, value: float) -> str:
        """One number; shortest writes as many digits as float64 needs to come back the same."""
        value += 0.0  # no minus before a zero
        if self.form == "fixed":
            text = f"{value:.{self.decimals}f}"
        elif self.form == "exponent":
            text = f"{value:.{self.decimals}e}"
        else:
            text = repr(value)
        return text.upper() if self.capital else text


def style_of(tokens: Sequence[bytes], largest: float) -> Style:
    """The style that all the tokens share; with more decimals when the last digit at ``largest`` is too coarse.

    >>> style_of([b"1.000000e+00", b"-2.500000e-01"], 10.0).write(0.125)
    '1.250000e-01'
    >>> style_of([b"1.00", b"0.25"], 10.0).write(0.125)
    '0.1250'
    """
    forms = {_form(token) for token in tokens}
    if len(forms) != 1:
        return Style()
    style = forms.pop()
    if style.form == "shortest":
        return style
    reach = math.ceil(math.log10(max(largest, 1e-300))) if style.form == "exponent" else 0
    needed = max(0, round(-math.log10(_STEP)) + reach)
    return Style(style.form, max(style.decimals, needed), style.capital)


def _form(token: bytes) -> Style:
    body, mark, _ = token.replace(b"E", b"e").partition(b"e")
    _, point, fraction = body.partition(b".")
    if mark:
        return Style("exponent", len(fraction), b"E" in token)
    if point:
        return Style("fixed", len(fraction))
    return Style()
