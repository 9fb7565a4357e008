"""The page as parsers read it: well formed, complete, and in need of nothing else."""

from __future__ import annotations

import base64
import re
import struct

import pytest
from lxml import etree, html

from core.units import format_length
from tests.app.sheet.conftest import Made

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def text(made: Made) -> str:
    return made.html.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(text: str) -> html.HtmlElement:
    return html.document_fromstring(text.encode("utf-8"))


def test_the_page_is_well_formed_html(text: str) -> None:
    """Void elements apart it is written as XML is, so a strict parser finds every tag closed."""
    body = re.sub(r"<(meta|img|br|input)([^>]*?)/?>", r"<\1\2/>", text.split("\n", 1)[1])
    etree.fromstring(body.encode("utf-8"), etree.XMLParser(resolve_entities=False, huge_tree=True))
    assert text.startswith("<!DOCTYPE html>")


def test_every_dimension_stands_in_mm_and_in_inches(made: Made, page: html.HtmlElement) -> None:
    rows = [[cell.text_content().strip() for cell in row.iter("td")] for row in page.iter("tr")]
    for measure in made.tells.rows[0].measures:
        mm, inch = (format_length(measure.mm, unit, with_unit=False) for unit in ("millimeter", "inch"))
        assert [measure.name, mm, inch, measure.origin] in rows


def test_everything_that_is_told_is_there(made: Made, page: html.HtmlElement) -> None:
    bare, sheet = re.sub(r"\s+", "", page.text_content()), made.tells
    lines = [*sheet.handing_over, *sheet.removal, *sheet.cautions, *(f.text for f in sheet.rows[0].proof.findings)]
    lines += [*(fact.text for fact in (*sheet.part, *sheet.added, *sheet.credits)), *(f.sha256 for f in sheet.files)]
    assert [line for line in lines if re.sub(r"\s+", "", line) not in bare] == []


def test_the_page_needs_nothing_else(text: str, page: html.HtmlElement) -> None:
    for element in page.iter():
        for name in ("src", "href", "data", "srcset", "{http://www.w3.org/1999/xlink}href"):
            value = element.get(name)
            assert value is None or value.startswith(("data:", "#")), (element.tag, name)
    style = "".join(s.text or "" for s in page.iter("style"))
    assert "@import" not in style
    assert all(url.startswith("data:") for url in re.findall(r"url\(([^)]*)\)", style))
    assert not list(page.iter("script", "link", "iframe", "object"))
    assert style.count("@font-face") == 3


def test_pictures_are_png(page: html.HtmlElement) -> None:
    """The first eight bytes of a PNG and its size: ISO/IEC 15948, 5.2 and 11.2.2."""
    pictures = list(page.iter("img"))
    assert len(pictures) == 3
    for picture in pictures:
        assert picture.get("alt")
        data = base64.b64decode(picture.get("src").partition("base64,")[2])
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        assert struct.unpack(">I", data[16:20])[0] > 600


def test_drawings_are_svg_with_clip_paths_of_their_own(text: str) -> None:
    drawings = re.findall(r"<svg .*?</svg>", text, re.DOTALL)
    assert len(drawings) == 3
    names: list[str] = []
    for drawing in drawings:
        root = etree.fromstring(drawing)
        assert root.get("width", "").endswith("mm")
        assert len(list(root.iter(f"{SVG}path"))) > 20
        mine = [e.get("id") for e in root.iter(f"{SVG}clipPath")]
        used = re.findall(r"url\(#([^)]*)\)", drawing)
        assert set(used) <= set(mine)
        names += mine
    assert len(names) == len(set(names))


def test_the_drawing_is_as_large_as_its_scale_says(made: Made, text: str) -> None:
    """The elevation states 2 : 1, so the 72 mm of the overhang edge are 144 mm of paper between their ends."""
    drawing = etree.fromstring(re.findall(r"<svg .*?</svg>", text, re.DOTALL)[0])
    wide_mm, wide_px = float(drawing.get("width", "")[:-2]), float(drawing.get("viewBox", "").split()[2])
    edge = next(
        p for p in drawing.iter(f"{SVG}path") if p.get("stroke-width") == "3.4" and p.get("fill") == "none"
    )
    x = [float(pair.split(",")[0]) for pair in re.findall(r"[-\d.]+,[-\d.]+", edge.get("d", ""))]
    span = made.tells.rows[0].span
    assert "Elevation, scale 2 : 1" in text
    assert (max(x) - min(x)) * wide_mm / wide_px == pytest.approx(2 * span.edge_length, abs=0.1)
