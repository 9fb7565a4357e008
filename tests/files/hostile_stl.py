"""STL files, binary and ASCII, right, odd and wrong.

What is right is said by the 1989 interface specification (reprinted in Burns, Automated Fabrication, §6.5): an
80-byte header, a little-endian uint32 count, 50 bytes a facet; in the ASCII form the words of the grammar there.
"""

# ruff: noqa: E501, PLW0108 - a table: one case a line, each built by a lambda of its own

from __future__ import annotations

import gzip

import numpy as np

from tests.files.build import TETRA, TETRA_FACES, TETRA_VOLUME, Ask, Case, Refuse, Right, facet_text, stl, stl_text

CORNERS = TETRA[TETRA_FACES]
WHOLE, DECLARED = "take_whole_facets", "take_declared_facets"
ONE_LINE = stl_text().replace(b"\n", b" ")


def _with(value, place=(2, 1, 0)):
    corners = CORNERS.copy()
    corners[place] = value
    return corners


def _text(old: bytes, new: bytes, count: int = 1) -> bytes:
    data = stl_text()
    assert old in data
    return data.replace(old, new, count)


_BINARY = [
    ("plain", lambda: stl(), Right(4, TETRA_VOLUME)),
    ("header begins with solid", lambda: stl(header=b"solid hood"), Right(4, TETRA_VOLUME)),
    ("header is a text facet", lambda: stl(header=b"solid a\nfacet normal 0 0 1\nouter loop\n"), Right(4, TETRA_VOLUME)),
    ("header of zeros", lambda: stl(header=b""), Right(4, TETRA_VOLUME)),
    ("header of 0xFF", lambda: stl(header=b"\xff" * 80), Right(4, TETRA_VOLUME)),
    ("header says ply", lambda: stl(header=b"ply is a plank"), Right(4, TETRA_VOLUME)),
    ("attribute bytes set", lambda: stl(attributes=0x7FFF), Right(4, TETRA_VOLUME)),
    ("one facet", lambda: stl(CORNERS[:1]), Right(1)),
    ("negative zeros", lambda: stl(np.where(CORNERS == 0, -0.0, CORNERS)), Right(4, TETRA_VOLUME)),
    ("every facet twice", lambda: stl(np.concatenate([CORNERS, CORNERS])), Right(8, 2 * TETRA_VOLUME)),
    ("inside out", lambda: stl(CORNERS[:, ::-1]), Right(4, -TETRA_VOLUME)),
    ("a facet of one point", lambda: stl(np.concatenate([CORNERS, np.ones((1, 3, 3))])),
     Right(4, TETRA_VOLUME, ("1 facet with fewer than three different corners",))),
    ("a facet of two points", lambda: stl(np.concatenate([CORNERS, [[[0, 0, 0], [0, 0, 0], [1, 0, 0]]]])),
     Right(4, TETRA_VOLUME, ("1 facet with fewer",))),
    ("a facet in a line is kept", lambda: stl(np.concatenate([CORNERS, [[[0, 0, 0], [1, 0, 0], [2, 0, 0]]]])), Right(5)),
    ("subnormal coordinates", lambda: stl(_with(1e-42)), Right(4)),
    ("tiny part", lambda: stl(CORNERS * 5e-5), Right(4, TETRA_VOLUME * 1.25e-13)),
    ("huge part", lambda: stl(CORNERS * 5e3), Right(4, TETRA_VOLUME * 1.25e11)),
    ("far from the origin", lambda: stl(CORNERS + 1e6), Right(4, None, ("every 0.0625 mm",))),
    ("inch-like size is noted", lambda: stl(CORNERS / 25.4), Right(4, None, ("inches",))),
    ("three bytes behind", lambda: stl(tail=b"\0\0\0"), Right(4, TETRA_VOLUME, ("3 bytes after",))),
    ("49 bytes behind", lambda: stl(tail=b"x" * 49), Right(4, TETRA_VOLUME, ("49 bytes after",))),
    ("count one too high", lambda: stl(count=5), Ask({WHOLE: 4})),
    ("count far too high", lambda: stl(count=2**32 - 1), Ask({WHOLE: 4})),
    ("count zero", lambda: stl(count=0), Ask({WHOLE: 4})),
    ("count too low", lambda: stl(count=3), Ask({WHOLE: 4, DECLARED: 3})),
    ("big-endian count", lambda: stl(count=4 << 24), Ask({WHOLE: 4})),
    ("cut within a facet", lambda: stl()[:-7], Ask({WHOLE: 3})),
    ("cut within the first facet", lambda: stl()[:100], Refuse("4 facets", "0 whole")),
    ("cut after the count", lambda: stl()[:84], Refuse("4 facets", "0 whole")),
    ("cut within the header", lambda: stl()[:60], Refuse("not a mesh")),
    ("no facets", lambda: stl(np.zeros((0, 3, 3))), Refuse("no facets")),
    ("all facets collapsed", lambda: stl(np.zeros((5, 3, 3))), Refuse("three different corners")),
    ("NaN", lambda: stl(_with(np.nan)), Refuse("Facet 3", "not a finite number")),
    ("infinite", lambda: stl(_with(np.inf, (0, 0, 2))), Refuse("Facet 1", "not a finite number")),
    ("minus infinite", lambda: stl(_with(-np.inf, (3, 2, 2))), Refuse("Facet 4", "not a finite number")),
    ("NaN and a wrong count", lambda: stl(_with(np.nan), count=9), Refuse("9 facets", "not made of facets")),
    ("absurdly far", lambda: stl(_with(3e38)), Refuse("Facet 3", "3e+38")),
    ("random bytes", lambda: np.random.default_rng(1).bytes(2000), Refuse("not made of facets")),
    ("empty", lambda: b"", Refuse("empty")),
    ("one byte", lambda: b"x", Refuse("not a mesh")),
    ("gzip", lambda: gzip.compress(stl(), mtime=0), Refuse("gzip")),
    ("PNG picture", lambda: b"\x89PNG\r\n\x1a\n" + b"\0" * 200, Refuse("PNG picture")),
    ("PDF", lambda: b"%PDF-1.7\n" + b"x" * 200, Refuse("PDF")),
    ("web page", lambda: b"<!DOCTYPE html><html>not found</html>" + b" " * 100, Refuse("HTML")),
    ("STEP file", lambda: b"ISO-10303-21;\nHEADER;" + b" " * 100, Refuse("STEP")),
    ("JSON", lambda: b'{"error": "not found"}' + b" " * 100, Refuse("JSON")),
    ("UTF-16 text", lambda: stl_text().decode().encode("utf-16"), Refuse("UTF-16")),
    ("OBJ inside", lambda: b"v 0 0 0\nv 20 0 0\nv 0 20 0\nf 1 2 3\n", Right(1)),
]  # fmt: skip

_ASCII = [
    ("plain", stl_text, Right(4, TETRA_VOLUME)),
    ("upper case", lambda: stl_text().upper(), Right(4, TETRA_VOLUME)),
    ("mixed case", lambda: stl_text().replace(b"facet", b"FaCeT"), Right(4, TETRA_VOLUME)),
    ("CRLF", lambda: stl_text(end="\r\n"), Right(4, TETRA_VOLUME)),
    ("CR only", lambda: stl_text(end="\r"), Right(4, TETRA_VOLUME)),
    ("tabs", lambda: stl_text().replace(b"  ", b"\t"), Right(4, TETRA_VOLUME)),
    ("all on one line", lambda: ONE_LINE, Right(4, TETRA_VOLUME)),
    ("two solids on one line", lambda: ONE_LINE + b" " + ONE_LINE, Right(8, 2 * TETRA_VOLUME, ("2 solids",))),
    ("no name", lambda: stl_text(name=""), Right(4, TETRA_VOLUME)),
    ("name of several words", lambda: stl_text(name="facet of the hood, vertex side"), Right(4, TETRA_VOLUME)),
    ("name in UTF-8", lambda: stl_text(name="Hütchen 帽子"), Right(4, TETRA_VOLUME)),
    ("name in Latin-1", lambda: stl_text().replace(b"hood", b"H\xfctchen"), Right(4, TETRA_VOLUME)),
    ("long name", lambda: stl_text(name="hood " * 2000), Right(4, TETRA_VOLUME)),
    ("name begins with solid", lambda: stl_text(name="solid wall"), Right(4, TETRA_VOLUME)),
    ("end without a name", lambda: _text(b"endsolid hood", b"endsolid"), Right(4, TETRA_VOLUME)),
    ("byte order mark", lambda: b"\xef\xbb\xbf" + stl_text(), Right(4, TETRA_VOLUME)),
    ("blank lines before", lambda: b"\n\n  " + stl_text(), Right(4, TETRA_VOLUME)),
    ("blank lines between", lambda: stl_text().replace(b"\n", b"\n\n"), Right(4, TETRA_VOLUME)),
    ("padded with zeros", lambda: stl_text() + b"\0" * 100, Right(4, TETRA_VOLUME)),
    ("old end-of-file mark", lambda: stl_text() + b"\x1a", Right(4, TETRA_VOLUME)),
    ("no last line end", lambda: stl_text().rstrip(), Right(4, TETRA_VOLUME)),
    ("two solids", lambda: stl_text() + stl_text(CORNERS + 50), Right(8, 2 * TETRA_VOLUME, ("2 solids",))),
    ("an empty solid between", lambda: stl_text() + b"solid e\nendsolid e\n" + stl_text(CORNERS + 50), Right(8)),
    ("normals are not numbers", lambda: stl_text().replace(b"normal 0 0 0", b"normal -nan(ind) nan 1.#IND"), Right(4)),
    ("numbers with plus signs", lambda: _text(b"2.000000e+01", b"+2.0E+1", 99), Right(4, TETRA_VOLUME)),
    ("numbers without zeros", lambda: _text(b"0.000000e+00", b".0", 99), Right(4, TETRA_VOLUME)),
    ("whole numbers", lambda: stl_text(number="{:.0f}"), Right(4, TETRA_VOLUME)),
    ("seventeen digits", lambda: stl_text(CORNERS / 3, number="{!r}"), Right(4, TETRA_VOLUME / 27)),
    ("a collapsed facet", lambda: stl_text(np.concatenate([CORNERS, np.zeros((1, 3, 3))])),
     Right(4, TETRA_VOLUME, ("1 facet with fewer",))),
    ("no endsolid", lambda: stl_text(close=False), Ask({WHOLE: 4})),
    ("cut within a facet", lambda: stl_text()[:-60], Ask({WHOLE: 3})),
    ("cut within the first facet", lambda: stl_text()[:80], Refuse("before the end of its first facet")),
    ("second solid is cut", lambda: stl_text() + stl_text()[:-60], Ask({WHOLE: 7})),
    ("no facets", lambda: b"solid hood\nendsolid hood\n", Refuse("no facets")),
    ("only the word", lambda: b"solid", Refuse("neither facets nor an end")),
    ("only a name", lambda: b"solid hood\n", Refuse("neither facets nor an end")),
    ("NaN", lambda: _text(b"2.000000e+01", b"nan"), Refuse("finite")),
    ("infinite", lambda: _text(b"2.000000e+01", b"inf"), Refuse("finite")),
    ("overflow", lambda: _text(b"2.000000e+01", b"1e999"), Refuse("finite")),
    ("decimal comma", lambda: _text(b"2.000000e+01", b"2,0"), Refuse("Facet 1", "“2,0”")),
    ("digit separator", lambda: _text(b"2.000000e+01", b"2_0"), Refuse("Facet 1", "“2_0”")),
    ("hexadecimal", lambda: _text(b"2.000000e+01", b"0x14"), Refuse("Facet 1", "“0x14”")),
    ("Fortran exponent", lambda: _text(b"2.000000e+01", b"2.0D+01"), Refuse("Facet 1", "“2.0D+01”")),
    ("number and unit", lambda: _text(b"2.000000e+01", b"20mm"), Refuse("Facet 1", "“20mm”")),
    ("first word misspelt", lambda: _text(b"facet normal", b"facett normal"), Refuse("facett")),
    ("first word misspelt, one line", lambda: ONE_LINE.replace(b"facet normal", b"facett normal", 1), Refuse("hides in the name")),
    ("vertex misspelt", lambda: _text(b"vertex", b"vertx"), Refuse("Facet 1", "“vertx”")),
    ("loop missing", lambda: _text(b"outer loop", b"outer"), Refuse("Facet 1")),
    ("four corners", lambda: _text(b"    endloop", b"      vertex 1 2 3\n    endloop"), Refuse("Facet 1", "three corners")),
    ("two corners", lambda: stl_text().replace(b"      vertex 0.000000e+00 0.000000e+00 0.000000e+00\n", b"", 1),
     Refuse("Facet 1")),
    ("two numbers", lambda: _text(b"vertex 0.000000e+00 ", b"vertex "), Refuse("Facet 1")),
    ("endfacet missing", lambda: _text(b"  endfacet\n", b""), Refuse("Facet 1")),
    ("words between facets", lambda: _text(b"  endfacet\n", b"  endfacet\ncolour red\n"), Refuse("Facet 2", "“colour”")),
    ("words behind the end", lambda: stl_text() + b"made by hand\n", Refuse("“made by hand”")),
    ("facets behind the end", lambda: stl_text() + facet_text(CORNERS[0]).encode(), Refuse("solid")),
    ("facets on the line of the end", lambda: stl_text().rstrip() + b" " + facet_text(CORNERS[0]).replace("\n", " ").encode(),
     Refuse("without a “solid”")),
    ("zero byte within a number", lambda: _text(b"2.000000e+01", b"2\x000"), Refuse("Facet 1")),
    ("two ends", lambda: stl_text() + b"endsolid hood\n", Refuse("endsolid hood")),
    ("binary facets behind text", lambda: b"solid hood\n" + bytes(200), Refuse("not made of facets")),
]  # fmt: skip

CASES = [Case(f"binary: {name}", data, outcome, ".stl") for name, data, outcome in _BINARY]
CASES += [Case(f"ascii: {name}", data, outcome, ".stl") for name, data, outcome in _ASCII]
CASES += [
    Case("binary with another ending", stl, Right(4, TETRA_VOLUME), ".obj"),
    Case("binary without an ending", stl, Right(4, TETRA_VOLUME), ""),
    Case("ascii with another ending", stl_text, Right(4, TETRA_VOLUME), ".3mf"),
    Case("a lying count without the ending", lambda: stl(count=9), Refuse("not a mesh"), ".bin"),
]
