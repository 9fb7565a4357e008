"""The PDF as another library reads it: words, figures, typefaces, vectors, pictures and pages."""

from __future__ import annotations

import re
from collections import Counter

import pypdf
import pytest
from pypdf.generic import ContentStream

from core.units import format_length
from tests.app.sheet.conftest import Made, run_sheet

MM = 72 / 25.4  # points in a millimetre: a point is 1/72 inch (ISO 32000-1, 8.3.2.3)
HEADS = ("JOB SHEET", "ROWS", "WEAK SPOTS", "PART", "PRINT SETUP", "FILES", "HAND OVER", "TAKING IT OFF", "CAUTIONS")


@pytest.fixture(scope="module")
def pdf(made: Made) -> pypdf.PdfReader:
    return pypdf.PdfReader(made.pdf)


@pytest.fixture(scope="module")
def words(pdf: pypdf.PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)


def operators(page: pypdf.PageObject) -> Counter[bytes]:
    stream = ContentStream(page.get_contents(), page.pdf)
    return Counter(operator for _, operator in stream.operations)


def pictures(page: pypdf.PageObject) -> int:
    return len(list(page.images))


def test_every_dimension_stands_in_mm_and_in_inches(made: Made, words: str) -> None:
    for measure in made.tells.rows[0].measures:
        mm, inch = (format_length(measure.mm, unit, with_unit=False) for unit in ("millimeter", "inch"))
        assert re.search(rf"{re.escape(measure.name)}\s+{mm}\s+{inch}\s+{measure.origin}", words), measure


def test_everything_that_is_told_is_there(made: Made, words: str) -> None:
    sheet = made.tells
    lines = [*sheet.handing_over, *sheet.removal, *sheet.cautions, *sheet.rows[0].proof.sentences]
    lines += [f.text for f in sheet.rows[0].proof.findings]
    lines += [fact.text for fact in (*sheet.part, *sheet.added, *sheet.credits, *sheet.material, *sheet.rows[0].facts)]
    assert sheet.rows[0].proof.findings  # a tip below a line has something said about it
    bare = re.sub(r"\s+", "", words)
    assert [line for line in lines if re.sub(r"\s+", "", line) not in bare] == []
    for mark in sheet.files:
        assert mark.sha256 in bare
    assert "made" not in bare or sheet.made.isoformat() in bare


def test_every_part_of_the_sheet_is_there_once(words: str) -> None:
    """A stranger needs all of what the trade writes down: none is left out for want of room, and none told twice."""
    bare = re.sub(r"\s+", "", words)
    assert {head: bare.count(head.replace(" ", "")) for head in HEADS} == dict.fromkeys(HEADS, 1)


def test_forces_are_given_as_ranges(made: Made, words: str) -> None:
    for pull in made.tells.rows[0].pulls:
        assert re.search(rf"{pull.name} [\d.]+ to [\d.]+ [\d.]+ to [\d.]+", words), pull.name


def test_our_typefaces_are_embedded(pdf: pypdf.PdfReader) -> None:
    found = set()
    for page in pdf.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index, union-attr]
            base = font.get_object()
            inner = base["/DescendantFonts"][0].get_object() if "/DescendantFonts" in base else base
            file = inner["/FontDescriptor"].get_object()
            assert any(key in file for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            found.add(str(base["/BaseFont"]).rpartition("+")[2].lstrip("/"))
    assert {"Inter-Regular", "Inter-SemiBold", "SnapcombLettering-Regular"} <= found


def test_drawings_are_vectors_and_only_the_pictures_are_images(pdf: pypdf.PdfReader) -> None:
    """Operators of paths: ISO 32000-1, tables 59 and 60."""
    assert [pictures(page) for page in pdf.pages][:2] == [2, 1]
    drawn = operators(pdf.pages[1])
    assert drawn[b"l"] + drawn[b"c"] > 2000  # hatching, layers, teeth, break lines
    assert drawn[b"S"] + drawn[b"f"] + drawn[b"f*"] + drawn[b"B"] + drawn[b"B*"] > 100
    text = operators(pdf.pages[1])[b"Tj"] + operators(pdf.pages[1])[b"TJ"]
    assert text > 40


def test_pictures_are_sharp_enough_for_paper(pdf: pypdf.PdfReader) -> None:
    """Both stand side by side in less than 90 mm: 1,000 px are more than 280 dots to the inch."""
    for image in pdf.pages[0].images:
        assert image.image is not None
        assert image.image.width >= 900


def test_pages_are_a4_numbered_and_named(made: Made, pdf: pypdf.PdfReader) -> None:
    count = len(pdf.pages)
    assert 2 <= count <= 4
    for number, page in enumerate(pdf.pages, start=1):
        box = page.mediabox
        assert float(box.width) == pytest.approx(210 * MM, abs=1)  # ISO 216
        assert float(box.height) == pytest.approx(297 * MM, abs=1)
        said = " ".join(page.extract_text().split())
        assert f"{number} of {count}" in said
        assert made.tells.name in said
    assert pdf.metadata is not None
    assert made.tells.name in str(pdf.metadata.title)


def test_scales_are_stated_and_standard(words: str) -> None:
    """ISO 5455:1979, table 1 (from memory)."""
    said = re.findall(r"(?:Elevation|Detail A|Section B–B), scale (\d+) : (\d+)", words)
    assert len(said) == 3
    for a, b in said:
        assert {int(a), int(b)} & {1}
        assert int(a) * int(b) in (1, 2, 5, 10, 20, 50)


def test_letter_paper(made: Made, tmp_path: object) -> None:
    out = made.pdf.with_name("letter.pdf")
    assert run_sheet(made.job, "-o", out, "--no-inspect", "--paper", "letter").code in (0, 1)
    box = pypdf.PdfReader(out).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((612, 792), abs=1)  # 8.5 × 11 in, ANSI/ASME Y14.1
