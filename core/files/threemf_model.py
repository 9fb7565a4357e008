"""What a 3MF model part is made of, as far as geometry goes, with the place of every piece in its text.

Source: 3MF Core Specification 1.4.0.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from core.errors import UnreadableFile
from core.files.content import counted
from core.files.guard import quoted
from core.files.numbers import decimal
from core.files.threemf_runs import floats_of, indices_of
from core.geometry.mesh import F64, I64

CORE: Final = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION: Final = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
MATERIALS: Final = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
TRIANGLE_SETS: Final = "http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07"
SLICE: Final = "http://schemas.microsoft.com/3dmanufacturing/slice/2015/07"

UNDERSTOOD: Final = frozenset([CORE, PRODUCTION, MATERIALS, TRIANGLE_SETS])
"""Extensions that may be required: they change no geometry, or are followed (production paths)."""

AGAIN: Final = "Export the model again."


@dataclass(eq=False)
class Mesh3:
    """A mesh element of an object: its numbers, and the offsets of both closing tags.

    A run that was cut out is turned into numbers when they are asked for: a patch asks for those of few objects.
    """

    owner: int
    runs: dict[str, bytes] = field(default_factory=dict)
    arrays: dict[str, F64 | I64] = field(default_factory=dict)
    ends: dict[str, int] = field(default_factory=dict)
    prefix: bytes = b""

    def count(self, name: str) -> int:
        """How many "vertices" or "triangles" there are."""
        return self.runs[name].count(b"<") if name in self.runs else len(self.arrays[name])

    @property
    def triangle_count(self) -> int:
        """How many triangles there are."""
        return self.count("triangles")

    @property
    def vertices(self) -> F64:
        """Vertices (n, 3) in model units, finite. Raises UnreadableFile."""
        if "vertices" not in self.arrays:
            self.arrays["vertices"] = floats_of(self.runs["vertices"], self.prefix)
        out = self.arrays["vertices"]
        if not np.isfinite(out).all():
            raise UnreadableFile(f"A vertex of object {self.owner} is not a finite number.", AGAIN)
        return out.astype(np.float64, copy=False)

    @property
    def triangles(self) -> I64:
        """Triangles (m, 3), all of whose numbers name vertices. Raises UnreadableFile."""
        if "triangles" not in self.arrays:
            self.arrays["triangles"] = indices_of(self.runs["triangles"], self.prefix)
        out = self.arrays["triangles"].astype(np.int64, copy=False)
        vet_triangles(self.owner, out, self.count("vertices"))
        return out


@dataclass(frozen=True, eq=False)
class Link:
    """A build item or a component: which object, in which part, placed how; ``begin`` is the offset of its tag."""

    target: int
    path: str
    matrix: F64
    begin: int


@dataclass(eq=False)
class Object3:
    """An object resource; ``begin`` and ``end`` enclose its whole text. ``other`` names content of extensions."""

    id: int
    kind: str
    name: str
    begin: int
    end: int = 0
    mesh: Mesh3 | None = None
    components: list[Link] = field(default_factory=list)
    other: str = ""


@dataclass(eq=False)
class Model:
    """A model part. ``text`` is its XML as UTF-8; offsets count its bytes. ``encoding`` is what it is stored in."""

    text: bytes
    encoding: str
    unit: str | None = None
    required: tuple[str, ...] = ()
    objects: dict[int, Object3] = field(default_factory=dict)
    items: list[Link] = field(default_factory=list)
    metadata: list[tuple[str, str]] = field(default_factory=list)
    resource_ids: set[int] = field(default_factory=set)
    namespaces: dict[str, str] = field(default_factory=dict)
    unknown: set[str] = field(default_factory=set)
    slices: bool = False


def vet_triangles(owner: int, triangles: I64, vertices: int) -> None:
    """Raise UnreadableFile where triangles (m, 3) of object ``owner`` name vertices beyond the ``vertices`` there."""
    wrong = np.argwhere(triangles >= vertices)
    if len(wrong):
        row, column = wrong[0]
        raise UnreadableFile(
            f"Triangle {row + 1:,} of object {owner} names vertex {triangles[row, column]:,} (counted from 0), "
            f"but the object has {counted(vertices, 'vertex', 'vertices')}.",
            AGAIN,
        )


def whole_id(text: str | None, where: str) -> int:
    """A resource id: a positive whole number below 2^31 (ST_ResourceID)."""
    if text is None or re.fullmatch(r"\s*\+?[0-9]{1,10}\s*", text) is None or not 0 < int(text) < 2**31:
        raise UnreadableFile(f"{where} has the id {quoted(text or '')}, which is not a positive number.", AGAIN)
    return int(text)


def matrix_of(text: str | None, where: str) -> F64:
    """The (4, 3) matrix of a transform, rows as the specification writes them: point · matrix[:3] + matrix[3]."""
    if text is None:
        return np.vstack([np.eye(3), np.zeros(3)])
    tokens = text.split()
    if len(tokens) != 12:
        raise UnreadableFile(f"{where} has a transform of {counted(len(tokens), 'number')}, not 12.", AGAIN)
    matrix = np.array([decimal(token.encode(), where) for token in tokens]).reshape(4, 3)
    size = np.abs(matrix[:3]).max()
    if abs(np.linalg.det(matrix[:3] / (size or 1.0))) < 1e-12:
        raise UnreadableFile(f"{where} has a transform that flattens the object.", AGAIN)
    return matrix


def tag_length(text: bytes, at: int) -> int:
    """Bytes of the tag that begins at an offset, quoted angle brackets skipped."""
    tag = re.compile(rb"<(?:\"[^\"]*\"|'[^']*'|[^\"'>])*+>").match(text, at)
    return tag.end() - at if tag else 0


def prefix_at(text: bytes, at: int) -> bytes:
    """The namespace prefix, with its colon, of the tag that begins at an offset; empty where it has none."""
    found = re.compile(rb"<((?:[^\s:/>]+:)?)").match(text, at)
    return found.group(1) if found else b""


def tag_at(text: bytes, at: int) -> bytes:
    """The whole tag that begins at an offset."""
    return text[at : at + tag_length(text, at)]
