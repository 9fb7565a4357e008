"""OBJ files, right, odd and wrong; the grammar is that of the published appendix on object files, version 3.0."""

# ruff: noqa: E501, PLW0108 - a table: one case a line, each built by a lambda of its own

from __future__ import annotations

import numpy as np

from tests.files.build import TETRA, TETRA_FACES, TETRA_VOLUME, Case, Refuse, Right, obj

SQUARE = np.float64([[0, 0, 0], [20, 0, 0], [20, 20, 0], [0, 20, 0]])
L_SHAPE = np.float64([[0, 0, 0], [30, 0, 0], [30, 10, 0], [10, 10, 0], [10, 30, 0], [0, 30, 0]])
CUBE = np.float64([[x, y, z] for x in (0, 20) for y in (0, 20) for z in (0, 20)])
CUBE_FACES = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
ARROW = np.float64([[0, 0, 0], [20, 10, 0], [0, 20, 0], [5, 10, 0]])
PRISM = np.concatenate([L_SHAPE, L_SHAPE + np.float64([0, 0, 10])])
PRISM_FACES = [[5, 4, 3, 2, 1, 0], [6, 7, 8, 9, 10, 11], *([i, (i + 1) % 6, (i + 1) % 6 + 6, i + 6] for i in range(6))]
ROTATED_PRISM = [np.roll(f, 3).tolist() for f in PRISM_FACES[:2]] + PRISM_FACES[2:]
STAR = np.float64([[np.cos(a) * 20, np.sin(a) * 20, 0] for a in np.arange(5) * 4 * np.pi / 5])
TRIANGLE = "v 0 0 0\nv 20 0 0\nv 0 20 0\n"


def _text(text: str):
    return lambda: text.encode()


def _corners(pattern: str):
    """The tetrahedron with every corner written by a pattern of its number from 1."""
    faces = "".join("f " + " ".join(pattern.format(i + 1, i - 4) for i in f) + "\n" for f in TETRA_FACES)
    return lambda: obj(faces=[], head="", tail=faces)


CASES = [Case(name, data, outcome, ".obj") for name, data, outcome in [
    ("plain", obj, Right(4, TETRA_VOLUME)),
    ("CRLF", lambda: obj().replace(b"\n", b"\r\n"), Right(4, TETRA_VOLUME)),
    ("CR only", lambda: obj().replace(b"\n", b"\r"), Right(4, TETRA_VOLUME)),
    ("no last line end", lambda: obj().rstrip(), Right(4, TETRA_VOLUME)),
    ("byte order mark", lambda: b"\xef\xbb\xbf" + obj(), Right(4, TETRA_VOLUME)),
    ("comments", lambda: obj(head="# a hood\n").replace(b"\nf", b" # corner\nf"), Right(4, TETRA_VOLUME)),
    ("tabs and spaces", lambda: obj().replace(b" ", b" \t "), Right(4, TETRA_VOLUME)),
    ("indented", lambda: b"  " + obj().replace(b"\n", b"\n  "), Right(4, TETRA_VOLUME)),
    ("texture corners", _corners("{0}/{0}"), Right(4, TETRA_VOLUME)),
    ("texture and normal corners", _corners("{0}/1/2"), Right(4, TETRA_VOLUME)),
    ("normal corners", _corners("{0}//7"), Right(4, TETRA_VOLUME)),
    ("open slashes", _corners("{0}/"), Right(4, TETRA_VOLUME)),
    ("negative corners", _corners("{1}"), Right(4, TETRA_VOLUME)),
    ("negative with texture", _corners("{1}/-1/-1"), Right(4, TETRA_VOLUME)),
    ("negative counts from where it stands", _text(TRIANGLE + "f -3 -2 -1\nv 0 0 20\nf -4 -1 -3\n"), Right(2)),
    ("faces before vertices", lambda: b"f 1 3 2\nf 1 2 4\nf 2 3 4\nf 1 4 3\n" + obj(faces=[]), Right(4, TETRA_VOLUME)),
    ("groups, materials, smoothing", lambda: obj(head="mtllib a.mtl\no hood\ng lip\n", tail="usemtl red\ns 1\n"),
     Right(4, TETRA_VOLUME)),
    ("weights", lambda: obj(np.hstack([TETRA, np.ones((4, 1))])), Right(4, TETRA_VOLUME)),
    ("colours", lambda: obj(np.hstack([TETRA, np.ones((4, 3))])), Right(4, TETRA_VOLUME)),
    ("continued lines", lambda: obj().replace(b"f 1 3 2", b"f 1 \\\n 3 \\\n 2"), Right(4, TETRA_VOLUME)),
    ("continued to the end", lambda: obj() + b"# end \\", Right(4, TETRA_VOLUME)),
    ("quads", lambda: obj(CUBE, CUBE_FACES), Right(12, 8000, ("6 polygons with more than three corners",))),
    ("concave polygons", lambda: obj(PRISM, PRISM_FACES), Right(20, 5000, ("8 polygons",))),
    ("concave polygons, fan would fail", lambda: obj(PRISM, ROTATED_PRISM), Right(20, 5000, ("8 polygons",))),
    ("arrow quad", lambda: obj(ARROW, [[0, 1, 2, 3]]), Right(2)),
    ("arrow quad, fan would fold", lambda: obj(ARROW, [[1, 2, 3, 0]]), Right(2)),
    ("corner in line", lambda: obj([[0, 0, 0], [10, 0, 0], [20, 0, 0], [0, 20, 0]], [[0, 1, 2, 3]]), Right(2)),
    ("polygon crosses itself", lambda: obj(STAR, [[0, 1, 2, 3, 4]]), Right(3, None, ("cross themselves",))),
    ("bow tie", lambda: obj(SQUARE, [[0, 2, 1, 3]]), Right(2, None, ("1 polygon",))),
    ("polygon of one point", lambda: obj(faces=[*TETRA_FACES, [1, 1, 1, 1]]), Right(4, TETRA_VOLUME, ("2 facets with",))),
    ("repeated corner", lambda: obj(SQUARE, [[0, 1, 1, 2]]), Right(1, None, ("1 facet with fewer",))),
    ("loose vertices", lambda: obj(np.vstack([TETRA, [[900, 900, 900]]])), Right(4, TETRA_VOLUME, ("1 vertex without",))),
    ("split vertices", lambda: obj(TETRA[TETRA_FACES].reshape(-1, 3), np.arange(12).reshape(4, 3)),
     Right(4, TETRA_VOLUME, ("8 vertices at the place of another joined",))),
    ("two bodies touch at a point", lambda: obj(np.vstack([TETRA, -TETRA]), np.vstack([TETRA_FACES, TETRA_FACES[:, ::-1] + 4])),
     Right(8, 2 * TETRA_VOLUME)),
    ("lines and points", lambda: obj(tail="l 1 2 3\np 4\n"), Right(4, TETRA_VOLUME, ("1 line left out", "1 point"))),
    ("free-form surface beside", lambda: obj(tail="cstype bezier\ndeg 3 3\nsurf 0 1 0 1 1 2 3 4\nend\n"),
     Right(4, TETRA_VOLUME, ("1 free-form surface left out",))),
    ("old face word", lambda: obj().replace(b"\nf ", b"\nfo "), Right(4, TETRA_VOLUME)),
    ("inch-like", lambda: obj(TETRA / 25.4), Right(4, None, ("inches",))),
    ("metre-like", lambda: obj(TETRA / 1000), Right(4, None, ("metres",))),
    ("numbers with exponents", lambda: obj().replace(b"20.0", b"2E1"), Right(4, TETRA_VOLUME)),
    ("bare dots", lambda: obj().replace(b"20.0", b"20.").replace(b" 0.0", b" .0"), Right(4, TETRA_VOLUME)),
    ("only points", _text("v 0 0 0\nv 1 0 0\np 1 2\n"), Refuse("no facets")),
    ("only lines", _text("v 0 0 0\nv 1 0 0\nl 1 2\n"), Refuse("no facets")),
    ("only comments", _text("# nothing\n" * 20), Refuse("no facets")),
    ("index zero", lambda: obj(tail="f 1 2 0\n"), Refuse("Line 9", "vertex 0")),
    ("index too high", lambda: obj(tail="f 1 2 5\n"), Refuse("Line 9", "vertex 5", "4 vertices")),
    ("index far too high", lambda: obj(tail="f 1 2 999999999999\n"), Refuse("Line 9")),
    ("index beyond 64 bits", lambda: obj(tail="f 1 2 99999999999999999999999\n"), Refuse("Line 9")),
    ("negative too far", lambda: obj(tail="f 1 2 -5\n"), Refuse("Line 9", "vertex -5")),
    ("negative before any vertex", _text("f -1 -2 -3\n" + TRIANGLE), Refuse("Line 1")),
    ("two corners", lambda: obj(tail="f 1 2\n"), Refuse("line 9", "2 corners")),
    ("no corners", lambda: obj(tail="f\n"), Refuse("line 9", "0 corners")),
    ("corner is a word", lambda: obj(tail="f 1 2 three\n"), Refuse("Line 9", "“three”")),
    ("corner is a fraction", lambda: obj(tail="f 1 2 2.5\n"), Refuse("Line 9", "“2.5”")),
    ("four slashes", lambda: obj(tail="f 1/1/1/1 2 3\n"), Refuse("Line 9", "“1/1/1/1”")),
    ("slash first", lambda: obj(tail="f /1 2 3\n"), Refuse("Line 9", "“/1”")),
    ("two numbers in a vertex", lambda: obj(head="v 1 2\n"), Refuse("line 1", "2 numbers")),
    ("five numbers in a vertex", lambda: obj(head="v 1 2 3 4 5\n"), Refuse("line 1", "5 numbers")),
    ("vertex is a word", lambda: obj(head="v 1 2 three\n"), Refuse("Line 1", "“three”")),
    ("decimal comma", lambda: obj(head="v 1,5 2 3\n"), Refuse("Line 1", "“1,5”")),
    ("digit separator", lambda: obj(head="v 1_000 2 3\n"), Refuse("Line 1", "“1_000”")),
    ("NaN", lambda: obj(head="v nan 2 3\n"), Refuse("Vertex 1", "finite")),
    ("infinite", lambda: obj(head="v 1 2 inf\n"), Refuse("Vertex 1", "finite")),
    ("overflow", lambda: obj(head="v 1 2 1e400\n"), Refuse("Vertex 1", "finite")),
    ("absurdly far", lambda: obj(head="v 1 2 1e12\n"), Refuse("Vertex 1", "1e+12")),
    ("unknown word", lambda: obj(tail="F 1 2 3\n"), Refuse("Line 9", "“F”")),
    ("line of prose", lambda: obj(head="hello hood\n"), Refuse("Line 1", "“hello”")),
    ("calls another file", lambda: obj(tail="call ../other.obj\n"), Refuse("Line 9", "call")),
    ("runs a command", lambda: obj(tail="csh rm hood\n"), Refuse("Line 9", "csh")),
    ("zero byte", lambda: obj(head="v 1 2 3\0\n"), Refuse()),
    ("polygon too long", lambda: obj(np.random.default_rng(2).random((3000, 3)) * 50, [list(range(3000))]),
     Refuse("3,000 corners", "2,000")),
    ("tangle of a polygon", lambda: obj(np.random.default_rng(2).random((1500, 3)) * [50, 50, 0], [list(range(1500))]),
     Right(1498, None, ("cross themselves",))),
    ("text instead", _text("Dear reader, this is no mesh at all.\n" * 5), Refuse("Dear")),
]]  # fmt: skip

CASES += [
    Case("OBJ with another ending", obj, Right(4, TETRA_VOLUME), ".ply"),
    Case("OBJ after many comments", lambda: b"# hood\n" * 150 + obj(), Right(4, TETRA_VOLUME), ".txt"),
]
