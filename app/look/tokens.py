"""The figures of the look: colours of both themes, spacing, pens and type sizes, in one place.

All lengths are logical pixels. The coloured roles start from the Okabe–Ito set, published as readable with the
common colour deficiencies (M. Okabe and K. Ito, *Color Universal Design*, 2008; the same set ships with PyVista);
a role that carries words has a deeper or lighter partner, because 4.5 : 1 is asked of words and 3 : 1 of lines.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final


@dataclass(frozen=True)
class Theme:
    """One set of colours as ``#RRGGBB``; the field says what a colour is for, never what it looks like."""

    name: str
    paper: str  # the window and the drawing
    sheet: str  # boxes, the line in hand, cards
    well: str  # the job sheet's folded lines, notes
    pressed: str
    rule: str  # decoration only: separates, never informs
    line: str  # frames of boxes and of the drawing
    ink: str
    ink2: str  # labels
    ink3: str  # hints, disabled words
    edge: str  # overhang edge
    attention: str
    attention_text: str
    attention_ground: str
    ledge: str
    ledge_text: str
    tooth: str
    tooth_text: str
    tooth_fill: str  # a tooth on the drawing
    tooth_3d: str  # a tooth in the view; too pale for a line, always outlined
    tooth_3d_line: str
    plaster: str  # the part, lit
    plaster_shade: str
    plaster_edge: str  # lines on plaster, the same in both themes

    @property
    def dark(self) -> bool:
        return self.name == "dark"

    def colours(self) -> dict[str, str]:
        """Every colour of the theme by its role."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "name"}


LIGHT: Final = Theme(
    name="light",
    paper="#F8F5EE",
    sheet="#FCFAF5",
    well="#F0ECE2",
    pressed="#EAE5D9",
    rule="#DDD7C9",
    line="#85837C",
    ink="#22262B",
    ink2="#50555C",
    ink3="#5F6369",
    edge="#22262B",
    attention="#D55E00",
    attention_text="#A84A00",
    attention_ground="#FBEBDD",
    ledge="#0072B2",
    ledge_text="#00639B",
    tooth="#B0588A",
    tooth_text="#8F4671",
    tooth_fill="#F0D6E4",
    tooth_3d="#CC79A7",
    tooth_3d_line="#7A3560",
    plaster="#FDFAF3",
    plaster_shade="#E9E4D8",
    plaster_edge="#16181B",
)

DARK: Final = Theme(
    name="dark",
    paper="#1D2023",
    sheet="#24282C",
    well="#2C3035",
    pressed="#33383D",
    rule="#3A3F45",
    line="#80868D",
    ink="#ECE8DF",
    ink2="#B9BBB9",
    ink3="#A6AAAC",
    edge="#ECE8DF",
    attention="#F0792B",
    attention_text="#F59A5C",
    attention_ground="#3A2B20",
    ledge="#56B4E9",
    ledge_text="#7CC5EF",
    tooth="#CC79A7",
    tooth_text="#E0A0C4",
    tooth_fill="#4A2E3F",
    tooth_3d="#CC79A7",
    tooth_3d_line="#5A2C47",
    plaster="#FDFAF3",
    plaster_shade="#E9E4D8",
    plaster_edge="#16181B",
)

THEMES: Final[dict[str, Theme]] = {theme.name: theme for theme in (LIGHT, DARK)}


class Space:
    """Steps of the 4-pixel grid and the sizes that things keep."""

    XS: Final = 4
    S: Final = 8
    M: Final = 12
    L: Final = 16
    XL: Final = 20
    XXL: Final = 24
    SHEET_WIDTH: Final = 344
    LINE_HEIGHT: Final = 40
    BOX: Final = 32
    STATUS: Final = 30
    ELEVATION: Final = 208
    RADIUS: Final = 3
    FOCUS: Final = 2


class Type:
    """Type sizes. Lettering has its own: it is read on the drawing, not in a sentence."""

    LEAST: Final = 11
    LABEL: Final = 12
    TEXT: Final = 13
    VALUE: Final = 14
    TITLE: Final = 14
    HEAD: Final = 16
    DISPLAY: Final = 20
    DIMENSION: Final = 14
    BALLOON: Final = 14
    VIEW_TITLE: Final = 18
    MARK: Final = 44

    REGULAR: Final = 400
    MEDIUM: Final = 500
    SEMIBOLD: Final = 600


class Pen:
    """Line widths on the drawing, widest first, and the dashes that go with them."""

    EDGE: Final = 3.4
    EDGE_3D: Final = 4.2
    EDGE_HALO_3D: Final = 7.6
    LEDGE: Final = 3.0
    LEDGE_3D: Final = 2.6
    TOOTH_IN_HAND: Final = 2.2
    OUTLINE: Final = 1.9
    CUT: Final = 1.6
    TOOTH: Final = 1.5
    FEATURE: Final = 1.1
    FRAME: Final = 1.0
    STOP: Final = 1.0
    DIMENSION: Final = 0.9
    BREAK: Final = 0.8
    EXTENSION: Final = 0.7
    CENTRE: Final = 0.7
    HATCH: Final = 0.7
    LAYER: Final = 0.5

    LEDGE_DASH: Final = (9.0, 4.5)
    CHAIN: Final = (10.0, 2.5, 1.5, 2.5)
    LOSS_DASH: Final = (4.0, 2.5)

    ARROW_LONG: Final = 8.0
    ARROW_WIDE: Final = 2.6
    HATCH_STEP: Final = 9.0
    LOSS_STEP: Final = 4.5


class Hover:
    """The marks that show what a click would take."""

    CORE: Final = 2.4
    HALO: Final = 9.6
    SHADE: Final = 12.4
    SHADE_ALPHA: Final = 0.42
    END: Final = 6.0
