"""The icons are one set: every name renders, at both sizes, in the theme's colours and no others."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from importlib import resources

import pytest
from fontTools.ttLib import TTFont
from PySide6.QtCore import QSize
from PySide6.QtGui import QColor, QFontInfo, QFontMetricsF, QIcon, QImage, QPixmap
from PySide6.QtWidgets import QApplication

from app.look import fonts, theme
from app.look.icons import ROLES, icon, pixmap, recoloured, window_icon
from app.look.tokens import DARK, LIGHT
from icons import font_files, icon_bytes, icon_names

SVG = "{http://www.w3.org/2000/svg}"


def inked(picture: QPixmap) -> set[tuple[int, int]]:
    """Pixels that are more than half opaque."""
    image = picture.toImage().convertToFormat(QImage.Format.Format_ARGB32)
    return {(x, y) for x in range(image.width()) for y in range(image.height()) if image.pixelColor(x, y).alpha() > 127}


@pytest.mark.parametrize("name", icon_names())
def test_file_uses_only_the_colours_that_are_exchanged(name: str) -> None:
    known = {getattr(LIGHT, role) for role in ROLES}
    for size in (16, 24):
        svg = icon_bytes(name, size).decode()
        assert ET.fromstring(svg).tag == f"{SVG}svg"
        assert set(re.findall(r"#[0-9A-Fa-f]{3,8}", svg)) <= known


@pytest.mark.parametrize("name", icon_names())
@pytest.mark.parametrize("size", [16, 24, 48])
def test_icon_is_drawn_and_keeps_clear_of_the_edge(dressed: str, name: str, size: int) -> None:
    picture = pixmap(name, size, 2.0)
    spots = inked(picture)
    assert len(spots) > size  # something legible, not a speck
    if name not in ("mark", "window"):
        clear = 1 if size == 16 else size / 24  # device px at scale 2, half of the room that is drawn clear
        assert all(clear <= x < 2 * size - clear and clear <= y < 2 * size - clear for x, y in spots)


def test_two_drawings_a_name() -> None:
    plain = [n for n in icon_names() if n != "mark"]
    assert len(plain) >= 32
    assert all(icon_bytes(n, 16) != icon_bytes(n, 24) for n in plain)


def test_recolouring_takes_the_theme_and_one_ink(qapp: QApplication) -> None:
    dark = recoloured("ledge", DARK).decode()
    assert DARK.ledge in dark
    assert DARK.ink in dark
    assert LIGHT.ledge not in dark
    one = recoloured("ledge", LIGHT, ink="#123456").decode()
    assert set(re.findall(r"#[0-9A-F]{6}", one)) == {"#123456"}


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
def test_icon_has_the_pixels_of_its_screen(dressed: str, ratio: float) -> None:
    picture = icon("find").pixmap(QSize(24, 24), ratio)
    assert picture.size() == QSize(24, 24) * ratio
    assert picture.devicePixelRatio() == ratio
    assert picture.deviceIndependentSize().toSize() == QSize(24, 24)


def test_icon_follows_the_theme_without_being_set_again(qapp: QApplication) -> None:
    kept = icon("plus")
    seen = []
    for name in ("light", "dark"):
        theme.apply(qapp, name)
        seen.append(kept.pixmap(QSize(48, 48), 1.0).toImage().pixelColor(24, 24))
    theme.apply(qapp, "light")
    assert seen == [QColor(LIGHT.ink), QColor(DARK.ink)]


def test_disabled_icon_is_one_paler_ink(dressed: str) -> None:
    image = icon("plus").pixmap(QSize(48, 48), 1.0, QIcon.Mode.Disabled).toImage()
    assert image.pixelColor(24, 24) == QColor(theme.current().line)


def test_unknown_icon_is_an_error_not_a_blank() -> None:
    with pytest.raises(KeyError):
        icon_bytes("no_such_icon")


def test_window_icon_has_the_usual_sizes(qapp: QApplication) -> None:
    assert {s.width() for s in window_icon().availableSizes()} >= {16, 32, 48, 128, 256}


def test_faces_are_open_and_their_licences_lie_beside_them() -> None:
    texts = [
        f.read_text(encoding="utf-8") for f in (resources.files("icons") / "fonts").iterdir() if f.name.endswith(".txt")
    ]
    assert len(texts) == 2
    assert all("SIL OPEN FONT LICENSE Version 1.1" in text for text in texts)
    for file in font_files():
        with file.open("rb") as stream:
            assert "Open Font License" in (TTFont(stream)["name"].getDebugName(13) or "")


def test_figures_have_one_width(dressed: str) -> None:
    for font in (fonts.text_font(13), fonts.text_font(14, 600), fonts.lettering_font(14)):
        metrics = QFontMetricsF(font)
        widths = [metrics.horizontalAdvance(digit * 10) for digit in "0123456789"]
        assert max(widths) - min(widths) <= 10 / 64  # glyph positions are kept in 64ths of a px


def test_bundled_faces_are_the_ones_in_use(dressed: str) -> None:
    assert QFontInfo(fonts.text_font()).family() == "Inter"
    assert QFontInfo(fonts.lettering_font()).family() == "Snapcomb Lettering"


def test_lettering_has_every_sign_of_the_drawing() -> None:
    file = next(f for f in font_files() if "Lettering" in f.name)
    with file.open("rb") as stream:
        known = set(TTFont(stream).getBestCmap())
    assert {ord(c) for c in "ABCabc0123456789.,:+−±×°⌀–/()≤≥ÄÖÜßäöüéèçñåøłščž"} <= known


def test_type_scale_enlarges_what_is_asked_for_next(dressed: str) -> None:
    fonts.set_scale(1.25)
    assert fonts.text_font(16).pixelSize() == 20
    assert theme.box_height() == 40
