"""OBJ: vertices and polygons in words, counted from 1, or backwards from the last with negative numbers. No unit.

Source: the published format description, Advanced Visualizer appendix B1, object files, version 3.0. Statements of
that text are known by name; a word outside of it is not skipped but refused, for nobody knows what would be lost.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from core.errors import RefusedFile, UnreadableFile
from core.files.content import Added, Content, counted, indexed, vet_count, vet_numbers
from core.files.guard import DEFAULT, OBJ_WORDS, Limits, quoted
from core.files.numbers import DECIMAL, decimal, style_of
from core.files.polygons import triangulated
from core.geometry.mesh import F64, I64

_GEOMETRY: Final = {
    b"p": "point", b"l": "line", b"curv": "curve", b"curv2": "curve", b"surf": "free-form surface",
}  # fmt: skip
"""Statements that make geometry which is not a polygon."""

_RUNS: Final = frozenset([b"call", b"csh"])
"""Statements that read another file or run a command. They are never followed."""

_CORNER: Final = rb"-?\d{1,18}+(?:/(?:-?\d{1,18}+)?(?:/(?:-?\d{1,18}+)?)?)?(?!\S)"
_FACES: Final = re.compile(rb"(?:\s*+" + _CORNER + rb")*+\s*+")
_AFTER_SLASH: Final = re.compile(rb"/\S*+")
_VERTEX_SIZES: Final = frozenset([3, 4, 6, 7])
"""x y z, with a weight, with a colour (common practice), with both."""


@dataclass(eq=False)
class _Lines:
    """The statements of a file that matter here, and on which line each stands."""

    vertices: list[bytes] = field(default_factory=list)
    vertex_lines: list[int] = field(default_factory=list)
    faces: list[bytes] = field(default_factory=list)
    face_lines: list[int] = field(default_factory=list)
    before: list[int] = field(default_factory=list)
    others: Counter[bytes] = field(default_factory=Counter)
    smoothing: bytes = b"off"


def read(data: bytes, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """The mesh of an OBJ file, file numbers; polygons are cut by clipping ears.

    Raises UnreadableFile naming the line that is wrong, RefusedFile for limits and for commands in the file.
    """
    lines = _lines(data)
    vet_count(len(lines.faces), limits)
    vertices = _vertices(lines)
    vet_numbers(vertices, limits, "vertex", 1)
    loops, sizes = _loops(lines, len(vertices))
    vet_count(int(sizes.sum()) - 2 * len(sizes), limits)
    cut = triangulated(vertices, loops, sizes, limits)
    return indexed(vertices, cut.triangles, notes=(*_notes(lines), *cut.notes))


def _lines(data: bytes) -> _Lines:
    out = _Lines()
    for number, line in _numbered(data.removeprefix(b"\xef\xbb\xbf")):
        words = line.split(None, 1)
        if words:
            _sort(out, words, number)
    return out


def _numbered(text: bytes) -> Iterator[tuple[int, bytes]]:
    """Every line with its number; a line that ends in a backslash goes on in the next."""
    carried: list[bytes] = []
    first = 1
    for number, line in enumerate(text.splitlines(), 1):
        first = first if carried else number
        if line.endswith(b"\\"):
            carried.append(line[:-1])
            continue
        yield first, b" ".join([*carried, line]) if carried else line
        carried = []
    if carried:
        yield first, b" ".join(carried)


def _sort(out: _Lines, words: list[bytes], number: int) -> None:
    """Put one statement where it belongs."""
    word = words[0]
    rest = words[1] if len(words) > 1 else b""
    if b"#" in rest:
        rest = rest.partition(b"#")[0]
    if word == b"v":
        out.vertices.append(rest)
        out.vertex_lines.append(number)
    elif word in (b"f", b"fo"):
        out.faces.append(rest)
        out.face_lines.append(number)
        out.before.append(len(out.vertices))
    elif not word.startswith(b"#"):
        _sort_other(out, word, rest, number)


def _sort_other(out: _Lines, word: bytes, rest: bytes, number: int) -> None:
    if word in _RUNS:
        raise RefusedFile(
            f"Line {number:,} asks to run a command or another file ({quoted(word)}).",
            "Take the line out if you trust the file.",
        )
    if word not in OBJ_WORDS:
        raise UnreadableFile(f"Line {number:,} begins with {quoted(word)}, which is not OBJ.", "Export the mesh again.")
    if word == b"s":
        out.smoothing = rest.strip()
    out.others[word] += 1


def _vertices(lines: _Lines) -> F64:
    rows = [row.split() for row in lines.vertices]
    for row, number in zip(rows, lines.vertex_lines, strict=True):
        if len(row) not in _VERTEX_SIZES:
            raise UnreadableFile(
                f"The vertex on line {number:,} has {counted(len(row), 'number')}, not 3, 4, 6 or 7.",
                "Export the mesh again.",
            )
    try:
        flat = [float(token) for row in rows for token in row[:3]]
    except ValueError:
        flat = []
    if len(flat) != 3 * len(rows) or any(b"_" in row for row in lines.vertices):
        flat = _complaining(rows, lines.vertex_lines)
    return np.array(flat, dtype=np.float64).reshape(-1, 3)


def _complaining(rows: list[list[bytes]], numbers: list[int]) -> list[float]:
    """The slow way, which names the first token that is not a number."""
    return [decimal(t, f"Line {number:,}") for row, number in zip(rows, numbers, strict=True) for t in row[:3]]


def _loops(lines: _Lines, count: int) -> tuple[I64, I64]:
    """Corner indices (k,) from 0 of all polygons and the number of corners of each (p,)."""
    sizes = np.array([len(face.split()) for face in lines.faces], dtype=np.int64)
    for which in np.flatnonzero(sizes < 3)[:1]:
        raise UnreadableFile(
            f"The facet on line {lines.face_lines[which]:,} has {counted(int(sizes[which]), 'corner')}.",
            "Export the mesh again.",
        )
    text = b"\n".join(lines.faces)
    if _FACES.fullmatch(text) is None:
        _complain_about_corner(lines)
    numbers = np.fromstring(_AFTER_SLASH.sub(b"", text), dtype=np.int64, sep=" ")
    before = np.repeat(np.array(lines.before, dtype=np.int64), sizes)
    loops = np.where(numbers > 0, numbers - 1, before + numbers)
    wrong = np.flatnonzero((numbers == 0) | (loops < 0) | (loops >= count))
    if len(wrong):
        line = lines.face_lines[int(np.searchsorted(np.cumsum(sizes), wrong[0], side="right"))]
        raise UnreadableFile(
            f"Line {line:,} names vertex {numbers[wrong[0]]:,}; the file has {counted(count, 'vertex', 'vertices')}.",
            "Export the mesh again.",
        )
    return loops, sizes


def _complain_about_corner(lines: _Lines) -> None:
    corner = re.compile(_CORNER)
    for face, number in zip(lines.faces, lines.face_lines, strict=True):
        for token in face.split():
            if corner.fullmatch(token) is None:
                raise UnreadableFile(f"Line {number:,} has the corner {quoted(token)}.", "Export the mesh again.")


def _notes(lines: _Lines) -> tuple[str, ...]:
    """What of the file is geometry, but not facets."""
    kinds: Counter[str] = Counter()
    for word, number in lines.others.items():
        if word in _GEOMETRY:
            kinds[_GEOMETRY[word]] += number
    return tuple(f"{counted(n, kind)} left out: not facets. The file keeps them." for kind, n in kinds.items())


def patched(data: bytes, added: Added, choice: str | None = None) -> list[bytes | memoryview]:
    """The text with vertices and facets appended, in pieces; they belong to the last group and material.

    Numbers are written in the file's style. Where its vertices carry colours, the new ones carry that of the first;
    smoothing is switched off for them.
    """
    lines = _lines(data)
    end = b"\r\n" if b"\r\n" in data[: 1 << 16] else b"\n"
    largest = float(np.abs(added.vertices).max(initial=1.0))
    rows = [row.split() for row in lines.vertices[:1000]]
    style = style_of([token for row in rows for token in row[:3] if DECIMAL.fullmatch(token)], largest)
    extra = b"".join(b" " + token for token in rows[0][3:])
    text = [] if not data or data.endswith((b"\n", b"\r")) else [end]
    text = [end, *text] if data.rstrip(b"\r\n").endswith(b"\\") else text
    text += [b"v " + " ".join(map(style.write, row)).encode() + extra + end for row in added.vertices.tolist()]
    text += [] if lines.smoothing in (b"off", b"0") else [b"s off" + end]
    base = len(lines.vertices) + 1
    text += [b"f %d %d %d" % (a + base, b + base, c + base) + end for a, b, c in added.triangles.tolist()]
    return [data, b"".join(text)]
