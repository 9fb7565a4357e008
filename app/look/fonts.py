"""The two typefaces: one for text, with figures of one width, and the drawing lettering.

Both come with the program. Where their files are missing, the system's own sans stands in for either.
"""

from __future__ import annotations

import logging
from typing import Final

from PySide6.QtGui import QFont, QFontDatabase

from app.look.tokens import Type
from icons import font_files

log = logging.getLogger(__name__)

TEXT_FAMILY: Final = "Inter"
LETTERING_FAMILY: Final = "Snapcomb Lettering"
_state: dict[str, float] = {"scale": 1.0}
_plain: list[bool] = [False]


def load() -> list[str]:
    """Make the bundled faces known to Qt; returns the families found. Needs an application."""
    found: list[str] = []
    for file in font_files():
        number = QFontDatabase.addApplicationFontFromData(file.read_bytes())
        if number < 0:
            log.warning("The typeface %s could not be loaded; the system's stands in.", file.name)
        found += QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
    return found


def set_scale(scale: float) -> None:
    """Enlarge all type by a factor (1.0 = as drawn). Takes effect where fonts are asked for next."""
    _state["scale"] = min(max(scale, 0.8), 2.0)


def scale() -> float:
    return _state["scale"]


def set_plain(plain: bool) -> None:
    """Leave every glyph as its letter has it. Other forms of figures and hyphens cannot be read back from a PDF."""
    _plain[0] = plain


def text_font(size: float = Type.TEXT, weight: int = Type.REGULAR) -> QFont:
    """Inter at ``size`` logical px, figures of one width so that live values do not jitter."""
    font = _font(TEXT_FAMILY, size, weight)
    font.setFeature(QFont.Tag("tnum"), 0 if _plain[0] else 1)
    if _plain[0]:
        font.setFeature(QFont.Tag("calt"), 0)
    return font


def lettering_font(size: float = Type.DIMENSION, spacing: float = 0.0) -> QFont:
    """The drawing lettering at ``size`` logical px; ``spacing`` px more between letters, for titles."""
    font = _font(LETTERING_FAMILY, size, Type.REGULAR)
    font.setLetterSpacing(QFont.SpacingType.AbsoluteSpacing, spacing * scale())
    return font


def _font(family: str, size: float, weight: int) -> QFont:
    font = QFont([family, TEXT_FAMILY])
    font.setStyleHint(QFont.StyleHint.SansSerif)
    font.setPixelSize(max(round(size * scale()), 1))
    font.setWeight(QFont.Weight(weight))
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font
