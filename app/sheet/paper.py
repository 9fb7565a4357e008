"""What paper is like: its sizes, type and colours. Lengths in CSS pixels, 1/96 inch (CSS Values and Units 3, §6.2)."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final

from app.look import fonts
from app.look.current import current, set_current
from app.look.tokens import LIGHT, Theme

PX_PER_MM: Final = 96 / 25.4
#: The light theme on white: a printer leaves out what is white, and does not have to imitate paper.
PRINT: Final[Theme] = replace(LIGHT, paper="#FFFFFF", sheet="#FFFFFF", well="#F6F3EC")

# Type sizes, px: 9 and 8 points for reading, drawing lettering for titles.
BODY: Final = 12
SMALL: Final = 11
TINY: Final = 9
TITLE: Final = 27
HEAD: Final = 18


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, mm, with the margins of its frame: a filing margin on the left, the rest narrow.

    20 and 10 mm as in ISO 5457 for small sheets (from memory).
    """

    name: str
    width_mm: float
    height_mm: float
    filing_mm: float = 20.0
    rim_mm: float = 10.0

    @property
    def width(self) -> float:
        return self.width_mm * PX_PER_MM

    @property
    def height(self) -> float:
        return self.height_mm * PX_PER_MM

    @property
    def content_width(self) -> float:
        """Between the frame's sides less a little air, px."""
        return (self.width_mm - self.filing_mm - self.rim_mm) * PX_PER_MM - 2 * AIR


#: Air between the frame and what it holds, px.
AIR: Final = 15.0

PAPERS: Final = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}


@contextmanager
def on_paper() -> Iterator[None]:
    """Draw with the colours of print and type as drawn, whatever the window shows."""
    before, scale = current(), fonts.scale()
    set_current(PRINT)
    fonts.set_scale(1.0)
    fonts.set_plain(True)
    try:
        yield
    finally:
        set_current(before)
        fonts.set_scale(scale)
        fonts.set_plain(False)
