"""PLY files, right, odd and wrong; the format is Turk's of 1994, version 1.0."""

# ruff: noqa: E501, PLW0108 - a table: one case a line, each built by a lambda of its own

from __future__ import annotations

import struct

import numpy as np

from tests.files.build import TETRA, TETRA_FACES, TETRA_VOLUME, Ask, Case, Refuse, Right, ply
from tests.files.hostile_obj import CUBE, CUBE_FACES, PRISM, ROTATED_PRISM

LITTLE, BIG = "binary_little_endian", "binary_big_endian"
DECLARED = "take_declared_facets"
MIXED = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2], [0, 1, 2, 3]]
COLOURS = (
    ("red", "uchar", 200),
    ("green", "uchar", 10),
    ("blue", "uchar", 0),
    ("nx", "float", 0),
    ("quality", "double", 1),
)


def _head(old: bytes, new: bytes, **options):
    def build():
        data = ply(**options)
        assert old in data
        return data.replace(old, new, 1)

    return build


def _strips() -> bytes:
    head = (
        ply(faces=[]).split(b"element face")[0]
        + b"element tristrips 1\nproperty list int int vertex_indices\nend_header\n"
    )
    return head + b"\n".join(b"%g %g %g" % tuple(p) for p in TETRA) + b"\n4 0 1 2 3\n"


def _cloud() -> bytes:
    head = ply(faces=[]).split(b"element face")[0] + b"end_header\n"
    return head + b"\n".join(b"%g %g %g" % tuple(p) for p in TETRA) + b"\n"


def _extra_element(form: str) -> bytes:
    """An element of lists before the vertices, and one of numbers behind the faces."""
    data = ply(form=form)
    head, body = data.split(b"end_header\n")
    before, after = (
        b"element note 2\nproperty list uchar short code\n",
        b"element edge 1\nproperty int a\nproperty int b\n",
    )
    head = head.replace(b"element vertex", before + b"element vertex") + after + b"end_header\n"
    if form == "ascii":
        return head + b"2 7 8\n0\n" + body + b"0 1\n"
    return head + struct.pack("<BhhB", 2, 7, 8, 0) + body + struct.pack("<ii", 0, 1)


_EVERY = []
for _form in ("ascii", LITTLE, BIG):
    _EVERY += [
        (f"{_form}: plain", lambda f=_form: ply(form=f), Right(4, TETRA_VOLUME)),
        (f"{_form}: doubles", lambda f=_form: ply(TETRA / 3, form=f, xyz="double"), Right(4)),
        (f"{_form}: whole numbers", lambda f=_form: ply(form=f, xyz="short"), Right(4, TETRA_VOLUME)),
        (f"{_form}: colours and more", lambda f=_form: ply(form=f, extra=COLOURS), Right(4, TETRA_VOLUME)),
        (f"{_form}: short list", lambda f=_form: ply(form=f, count="int", index="ushort"), Right(4, TETRA_VOLUME)),
        (f"{_form}: unsigned list", lambda f=_form: ply(form=f, count="uint", index="uchar"), Right(4, TETRA_VOLUME)),
        (f"{_form}: other list name", lambda f=_form: ply(form=f, name="vertex_index"), Right(4, TETRA_VOLUME)),
        (f"{_form}: faces first", lambda f=_form: ply(form=f, face_first=True), Right(4, TETRA_VOLUME)),
        (f"{_form}: quads", lambda f=_form: ply(CUBE, CUBE_FACES, form=f), Right(12, 8000, ("6 polygons",))),
        (f"{_form}: concave", lambda f=_form: ply(PRISM, ROTATED_PRISM, form=f), Right(20, 5000)),
        (f"{_form}: mixed", lambda f=_form: ply(faces=MIXED, form=f), Right(6)),
        (f"{_form}: faces of two and none", lambda f=_form: ply(faces=[*TETRA_FACES, [0, 1], []], form=f),
         Right(4, TETRA_VOLUME, ("2 faces with fewer",))),
        (f"{_form}: index too high", lambda f=_form: ply(faces=[[0, 1, 4]], form=f), Refuse("Face 1", "vertex 4")),
        (f"{_form}: index negative", lambda f=_form: ply(faces=[[0, 1, -1]], form=f), Refuse("Face 1", "vertex -1")),
        (f"{_form}: more faces follow", lambda f=_form: ply(form=f, face_count=3), Ask({DECLARED: 3})),
        (f"{_form}: too few faces", lambda f=_form: ply(form=f, face_count=5), Refuse("5 rows of “face”", "ends before")),
        (f"{_form}: no faces", lambda f=_form: ply(faces=[], form=f), Refuse("no facets")),
        (f"{_form}: absurd face count", lambda f=_form: ply(form=f, face_count=10**12), Refuse("limit")),
        (f"{_form}: absurd vertex count", lambda f=_form: ply(form=f, vertex_count=10**12), Refuse("limit")),
        (f"{_form}: many more vertices", lambda f=_form: ply(form=f, vertex_count=10**6), Refuse("ends before")),
        (f"{_form}: cut", lambda f=_form: ply(form=f)[:-9], Refuse("ends before")),
        (f"{_form}: cut after the header", lambda f=_form: ply(form=f).split(b"end_header\n")[0] + b"end_header\n",
         Refuse("ends before")),
        (f"{_form}: NaN", lambda f=_form: ply([[np.nan, 0, 0], *TETRA[1:]], form=f), Refuse("nan" if _form == "ascii" else "finite")),
        (f"{_form}: far", lambda f=_form: ply([[1e20, 0, 0], *TETRA[1:]], form=f), Refuse("1e+20")),
    ]  # fmt: skip

_OTHERS = [
    ("CRLF", lambda: ply(end="\r\n"), Right(4, TETRA_VOLUME)),
    ("CR only", lambda: ply(end="\r"), Right(4, TETRA_VOLUME)),
    ("binary with CRLF header", lambda: ply(form=LITTLE, end="\r\n"), Right(4, TETRA_VOLUME)),
    ("binary body begins with a line feed byte", lambda: ply(np.vstack([[[2.5625, 0, 0]], TETRA[1:]]), form=LITTLE), Right(4)),
    ("sized type names", _head(b"property float x", b"property float32 x"), Right(4, TETRA_VOLUME)),
    ("obj_info", _head(b"comment a hood", b"obj_info a hood"), Right(4, TETRA_VOLUME)),
    ("comment speaks of elements", _head(b"comment a hood", b"comment element face 9"), Right(4, TETRA_VOLUME)),
    ("blank ends", lambda: ply(tail=b"\n\n  \n"), Right(4, TETRA_VOLUME)),
    ("zeros behind", lambda: ply(form=LITTLE, tail=b"\0\0\0\0"), Right(4, TETRA_VOLUME)),
    ("other elements, ascii", lambda: _extra_element("ascii"), Right(4, TETRA_VOLUME, ("“note”", "“edge”"))),
    ("other elements, binary", lambda: _extra_element(LITTLE), Right(4, TETRA_VOLUME, ("“note”", "“edge”"))),
    ("list count as signed char", lambda: ply(form=LITTLE, count="char"), Right(4, TETRA_VOLUME)),
    ("negative list count", lambda: ply(form=LITTLE, count="char").replace(b"\x03" + struct.pack("<iii", 0, 1, 3),
     b"\xff" + struct.pack("<iii", 0, 1, 3)), Refuse("list of -1")),
    ("huge list count", lambda: ply(form=LITTLE, count="uint").replace(struct.pack("<I", 3) + struct.pack("<iii", 0, 1, 3),
     struct.pack("<I", 4_000_000_000) + struct.pack("<iii", 0, 1, 3)), Refuse("ends before")),
    ("list count is a word", lambda: ply().replace(b"3 0 1 3", b"three 0 1 3"), Refuse("“three”")),
    ("index is a word", lambda: ply().replace(b"3 0 1 3", b"3 0 one 3"), Refuse("“one”")),
    ("index is a fraction", lambda: ply().replace(b"3 0 1 3", b"3 0 1.5 3"), Refuse("“1.5”")),
    ("number is a word", lambda: ply().replace(b"20 0 0", b"twenty 0 0"), Refuse("“twenty”")),
    ("decimal comma", lambda: ply().replace(b"20 0 0", b"2,0 0 0"), Refuse("“2,0”")),
    ("one number too few", lambda: ply().replace(b"20 0 0\n", b"20 0\n"), Refuse("Line 2 after the header")),
    ("one number too many", lambda: ply().replace(b"20 0 0\n", b"20 0 0 0\n"), Refuse("ends before")),
    ("all rows on one line", lambda: b"end_header\n".join([ply().split(b"end_header\n")[0], ply().split(b"end_header\n")[1].replace(b"\n", b" ")]),
     Refuse("after the header")),
    ("blank lines between rows", lambda: ply().replace(b"0\n3", b"0\n\n3"), Right(4, TETRA_VOLUME)),
    ("triangle strips", _strips, Refuse("triangle strips")),
    ("points only", _cloud, Refuse("points")),
    ("no end of the header", lambda: ply().split(b"end_header")[0], Refuse("no end")),
    ("no format", _head(b"format ascii 1.0\n", b""), Refuse("not valid")),
    ("unknown format", _head(b"format ascii 1.0", b"format utf8 1.0"), Refuse("Line 2", "utf8")),
    ("version 2", _head(b"ascii 1.0", b"ascii 2.0"), Refuse("Line 2", "2.0")),
    ("two formats", _head(b"comment a hood", b"format binary_little_endian 1.0"), Refuse("Line 3")),
    ("unknown type", _head(b"property float x", b"property quad x"), Refuse("Line 5", "quad")),
    ("unknown line", _head(b"comment a hood", b"colour red"), Refuse("Line 3", "colour red")),
    ("count is a word", _head(b"element vertex 4", b"element vertex four"), Refuse("Line 4")),
    ("negative count", _head(b"element vertex 4", b"element vertex -4"), Refuse("Line 4")),
    ("vertices declared twice", _head(b"element face 4", b"element vertex 4"), Refuse("“vertex” twice")),
    ("x declared twice", _head(b"property float y", b"property float x"), Refuse("“x”", "twice")),
    ("no z", _head(b"property float z", b"property float w"), Refuse("no “z”")),
    ("x is a list", _head(b"property float x", b"property list uchar float x"), Refuse()),
    ("list counted in floats", _head(b"list uchar int", b"list float int"), Refuse("Line 9")),
    ("indices are floats", lambda: ply(form=LITTLE, index="float", faces=TETRA_FACES.astype(float)), Refuse("whole numbers")),
    ("no index list", _head(b"vertex_indices", b"material"), Refuse("vertex_indices")),
    ("property before any element", _head(b"comment a hood", b"property float x"), Refuse("Line 3")),
    ("no vertices declared", lambda: b"ply\nformat ascii 1.0\nelement face 1\nproperty list uchar int vertex_indices\n"
     b"end_header\n3 0 1 2\n", Refuse("no vertices")),
    ("a megabyte of comments", lambda: _head(b"comment a hood", b"comment " + b"x" * (2 << 20))(), Refuse("no end")),
    ("ply within a word", lambda: b"plywood\n" * 40, Refuse("not a mesh")),
]  # fmt: skip

CASES = [Case(name, data, outcome, ".ply") for name, data, outcome in [*_EVERY, *_OTHERS]]
CASES += [Case("PLY with another ending", ply, Right(4, TETRA_VOLUME), ".stl")]
