"""Files built byte by byte, right ones and wrong ones, and what is expected of each."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
MATERIAL = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
SLICES = "http://schemas.microsoft.com/3dmanufacturing/slice/2015/07"
BEAMS = "http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02"
SETS = "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07"
START = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
SIGNED = "http://schemas.openxmlformats.org/package/2006/relationships/digital-signature/origin"
KEYS = "http://schemas.microsoft.com/3dmanufacturing/2019/04/keystore"

TETRA = np.float64([[0, 0, 0], [20, 0, 0], [0, 20, 0], [0, 0, 20]])
TETRA_FACES = np.int32([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
TETRA_VOLUME = 20.0**3 / 6  # a corner cut off a cube of 20


@dataclass(frozen=True)
class Right:
    """Read, with so many triangles; the enclosed volume in mm³ and words of the notes where they are stated."""

    triangles: int
    volume: float | None = None
    says: tuple[str, ...] = ()


@dataclass(frozen=True)
class Ask:
    """A question; ``then`` says how many triangles come of each answer."""

    then: dict[str, int]


@dataclass(frozen=True)
class Refuse:
    """Refused, with these words in the sentence."""

    words: tuple[str, ...]

    def __init__(self, *words: str) -> None:
        object.__setattr__(self, "words", words)


@dataclass(frozen=True)
class Case:
    """A file, what is expected of it, and for 3MF the clause of the core specification 1.4.0 behind it."""

    name: str
    data: Callable[[], bytes]
    outcome: Right | Ask | Refuse
    suffix: str
    clause: str = ""


def stl(corners=None, count=None, header=b"a hood of a weather station", attributes=0, tail=b"") -> bytes:
    """Binary STL; ``count`` may lie."""
    corners = TETRA[TETRA_FACES] if corners is None else np.asarray(corners, float)
    record = np.zeros(len(corners), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    with np.errstate(over="ignore"):
        record["c"] = corners
    record["a"] = attributes
    return (
        header.ljust(80, b"\0")[:80]
        + struct.pack("<I", len(corners) if count is None else count)
        + (record.tobytes() + tail)
    )


def facet_text(triangle, end="\n", pad="  ", number="{:.6e}") -> str:
    def numbers(p):
        return " ".join(number.format(float(x)) for x in p)

    lines = [f"{pad}facet normal 0 0 0", f"{pad * 2}outer loop"]
    lines += [f"{pad * 3}vertex {numbers(p)}" for p in triangle]
    return end.join([*lines, f"{pad * 2}endloop", f"{pad}endfacet"]) + end


def stl_text(corners=None, name="hood", end="\n", number="{:.6e}", close=True) -> bytes:
    corners = TETRA[TETRA_FACES] if corners is None else np.asarray(corners, float)
    body = "".join(facet_text(t, end, number=number) for t in corners)
    return (f"solid {name}{end}{body}" + (f"endsolid {name}{end}" if close else "")).encode()


def obj(vertices=None, faces=None, head="", tail="") -> bytes:
    """OBJ; faces count from 0 here and from 1 in the file."""
    vertices = TETRA if vertices is None else vertices
    faces = TETRA_FACES if faces is None else faces
    lines = [f"v {' '.join(map(repr, map(float, v)))}" for v in vertices]
    lines += [f"f {' '.join(str(i + 1) for i in f)}" for f in faces]
    return (head + "\n".join(lines) + "\n" + tail).encode()


PLY_TYPES = {"char": "b", "uchar": "B", "short": "h", "ushort": "H", "int": "i", "uint": "I", "float": "f",
             "double": "d"}  # fmt: skip


def ply(vertices=None, faces=None, form="ascii", xyz="float", count="uchar", index="int", end="\n", extra=(),
        vertex_count=None, face_count=None, tail=b"", name="vertex_indices", face_first=False) -> bytes:  # fmt: skip
    """PLY; ``extra`` are (name, type, value) of further vertex properties. Counts may lie."""
    vertices = TETRA if vertices is None else vertices
    faces = TETRA_FACES if faces is None else faces
    properties = [(axis, xyz) for axis in "xyz"] + [(n, t) for n, t, _ in extra]
    head_vertex = [f"element vertex {len(vertices) if vertex_count is None else vertex_count}"]
    head_vertex += [f"property {t} {n}" for n, t in properties]
    head_face = [f"element face {len(faces) if face_count is None else face_count}"]
    head_face += [f"property list {count} {index} {name}"]
    blocks = [head_face, head_vertex] if face_first else [head_vertex, head_face]
    head = end.join(["ply", f"format {form} 1.0", "comment a hood", *blocks[0], *blocks[1], "end_header"]) + end
    rows = [(*v, *(x for _, _, x in extra)) for v in vertices]
    if form == "ascii":
        v = "".join(" ".join(f"{x:g}" for x in row) + end for row in rows).encode()
        f = "".join(" ".join(map(str, (len(face), *face))) + end for face in faces).encode()
    else:
        order = "<" if "little" in form else ">"
        code = order + "".join(PLY_TYPES[t] for _, t in properties)
        kinds = [int if PLY_TYPES[t] in "bBhHiI" else float for _, t in properties]
        v = b"".join(struct.pack(code, *(k(x) for k, x in zip(kinds, row, strict=True))) for row in rows)
        f = b"".join(
            struct.pack(f"{order}{PLY_TYPES[count]}{len(face)}{PLY_TYPES[index]}", len(face), *face) for face in faces
        )
    return head.encode() + (f + v if face_first else v + f) + tail


def mesh_xml(vertices=None, faces=None, extra="") -> str:
    vertices = TETRA if vertices is None else vertices
    faces = TETRA_FACES if faces is None else faces
    v = "".join('<vertex x="{!r}" y="{!r}" z="{!r}"/>'.format(*map(float, p)) for p in vertices)
    t = "".join('<triangle v1="{}" v2="{}" v3="{}"/>'.format(*f) for f in faces)
    return f"<mesh><vertices>{v}</vertices><triangles>{t}</triangles>{extra}</mesh>"


def object_xml(number=1, content=None, attributes="") -> str:
    return f'<object id="{number}" {attributes}>{mesh_xml() if content is None else content}</object>'


def model_xml(resources=None, build='<item objectid="1"/>', unit='unit="millimeter"', attributes="", metadata="",
              head='<?xml version="1.0" encoding="UTF-8"?>') -> str:  # fmt: skip
    resources = object_xml() if resources is None else resources
    return (
        f'{head}<model {unit} xml:lang="en-US" xmlns="{CORE}" {attributes}>{metadata}'
        f"<resources>{resources}</resources><build>{build}</build></model>"
    )


TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="png" ContentType="image/png"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)


def rels(*links, extra="") -> str:
    links = links or ((START, "/3D/3dmodel.model"),)
    body = "".join(f'<Relationship Id="r{i}" Type="{t}" Target="{p}"/>' for i, (t, p) in enumerate(links))
    return f'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">{body}{extra}</Relationships>'


def package(
    model=None, parts=(), links=(), method=zipfile.ZIP_DEFLATED, relations=None, path="3D/3dmodel.model"
) -> bytes:
    """A 3MF package with the standard library's ZIP writer."""
    model = model_xml() if model is None else model
    every = [
        ("[Content_Types].xml", TYPES),
        ("_rels/.rels", rels(*links) if relations is None else relations),
        (path, model),
        *parts,
    ]
    return archive([(n, d.encode() if isinstance(d, str) else d) for n, d in every if d != "absent"], method)


def archive(entries, method=zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as file:
        for name, data in entries:
            info = zipfile.ZipInfo(name, (2024, 5, 1, 12, 0, 0))
            info.compress_type = method
            file.writestr(info, data)
    return out.getvalue()
