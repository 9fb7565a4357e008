"""Contrast of every pair of colours that the window uses.

Formula: relative luminance and contrast ratio of WCAG 2.1 (W3C Recommendation, 5 June 2018), definitions "relative
luminance" and "contrast ratio"; limits: success criteria 1.4.3 (text 4.5 : 1) and 1.4.11 (graphics 3 : 1).
"""

from __future__ import annotations

import re

import pytest

from app.look.tokens import DARK, LIGHT, THEMES, Theme

BOTH = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
GROUNDS = ("paper", "sheet", "well", "pressed")
TEXTS = ("ink", "ink2", "ink3", "attention_text", "ledge_text", "tooth_text")
GRAPHICS = ("ink", "line", "edge", "attention", "ledge", "tooth")


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_formula_gives_the_published_extremes() -> None:
    # WCAG 2.1: "contrast ratios can range from 1 to 21"
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#22262B", "#22262B") == 1.0
    # #767676 is the lightest grey that passes 4.5 : 1 on white (WebAIM's contrast articles; from memory)
    assert contrast("#767676", "#FFFFFF") >= 4.5 > contrast("#777777", "#FFFFFF")


@BOTH
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("text", TEXTS)
def test_text_on_every_ground(theme: Theme, text: str, ground: str) -> None:
    assert contrast(getattr(theme, text), getattr(theme, ground)) >= 4.5


@BOTH
@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("graphic", GRAPHICS)
def test_graphics_on_the_drawing(theme: Theme, graphic: str, ground: str) -> None:
    assert contrast(getattr(theme, graphic), getattr(theme, ground)) >= 3.0


@BOTH
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        ("paper", "ink"),  # the filled button
        ("paper", "ink2"),  # the same under the pointer
        ("paper", "ink3"),  # the same pressed
        ("paper", "ledge"),  # marked text
        ("ink", "attention_ground"),
        ("attention_text", "attention_ground"),
        ("ink", "tooth_fill"),
    ],
)
def test_text_on_coloured_grounds(theme: Theme, text: str, ground: str) -> None:
    assert contrast(getattr(theme, text), getattr(theme, ground)) >= 4.5


@BOTH
@pytest.mark.parametrize(
    ("graphic", "ground"),
    [
        ("attention", "attention_ground"),  # the bar of a warning
        ("tooth", "tooth_fill"),  # a tooth's outline on its own fill
        ("ledge", "sheet"),  # the focus mark on a box
        ("tooth_3d_line", "plaster"),  # a new tooth's outline beside the part
        ("tooth_3d_line", "plaster_shade"),
        ("plaster_edge", "plaster"),
        ("plaster_edge", "plaster_shade"),
    ],
)
def test_graphics_on_coloured_grounds(theme: Theme, graphic: str, ground: str) -> None:
    assert contrast(getattr(theme, graphic), getattr(theme, ground)) >= 3.0


@BOTH
def test_focus_mark_stands_out_from_the_filled_button(theme: Theme) -> None:
    """Where ledge blue meets ink the button's own fill is no ground for it; the page around it is."""
    assert contrast(theme.ledge, theme.paper) >= 3.0


def test_tooth_colours_come_from_the_published_set() -> None:
    # Okabe and Ito's palette: blue, sky blue, vermillion, reddish purple
    assert (LIGHT.ledge, DARK.ledge, LIGHT.attention) == ("#0072B2", "#56B4E9", "#D55E00")
    assert {LIGHT.tooth_3d, DARK.tooth_3d, DARK.tooth} == {"#CC79A7"}


def test_both_themes_name_every_colour_in_full() -> None:
    for theme in THEMES.values():
        for role, value in theme.colours().items():
            assert re.fullmatch(r"#[0-9A-F]{6}", value), f"{theme.name}.{role}"
