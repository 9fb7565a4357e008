"""PLY: reading the mesh. No unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import NeedsChoice, RefusedFile, UnreadableFile
from core.files.content import Content, counted, indexed, vet_count, vet_numbers
from core.files.guard import DEFAULT, Limits, quoted
from core.files.numbers import decimal
from core.files.ply_header import Element, Header, element_of, read_header, vet_elements
from core.files.ply_layout import Rows, rows_in_binary, rows_in_text, vet_lines
from core.files.polygons import triangulated
from core.files.stl import TAKE_DECLARED
from core.geometry.mesh import F64, I64

_INDEX_NAMES: Final = ("vertex_indices", "vertex_index")
"""Both names are in wide use for the one list that the format's text calls vertex_index."""


@dataclass(frozen=True, eq=False)
class PlyFile:
    """The bytes, what the header says, and where the rows lie; ``tokens`` of a text body."""

    data: bytes
    header: Header
    tokens: list[bytes]
    rows: dict[str, Rows]

    def element(self, name: str) -> Element:
        """An element that the file must have, by its name."""
        found = element_of(self.header, name)
        assert found is not None  # vet_elements has seen to it
        return found


def read(data: bytes, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """The mesh of a PLY file, file numbers; polygons are cut by clipping ears.

    Raises UnreadableFile naming the row or property that is wrong, RefusedFile beyond the limits, NeedsChoice
    ("take_declared_facets") when more follows than the header declares.
    """
    file = open_ply(data, choice, limits)
    vertices = _vertices(file, limits)
    loops, sizes, few = _loops(file)
    vet_count(int(sizes.sum()) - 2 * len(sizes), limits)
    _vet_indices(file, loops, sizes, len(vertices))
    cut = triangulated(vertices, loops, sizes, limits)
    return indexed(vertices, cut.triangles, notes=(*_notes(file, few), *cut.notes))


def open_ply(data: bytes, choice: str | None, limits: Limits) -> PlyFile:
    """Header and rows of a file, nothing converted yet. Raises UnreadableFile, RefusedFile and NeedsChoice."""
    header = read_header(data, limits)
    vet_elements(header)
    _vet_declared(header, limits)
    tokens = data[header.body :].split() if header.text else []
    rows: dict[str, Rows] = {}
    at = 0 if header.text else header.body
    for element in header.elements:
        rows[element.name] = rows_in_text(tokens, element, at) if header.text else rows_in_binary(data, element, at)
        at = rows[element.name].end
    if header.text:
        vet_lines(data[header.body :], header, rows, at)
    spare = len(tokens) - at if header.text else len(data[at:].strip(b" \t\r\n\0"))
    if spare and choice != TAKE_DECLARED:
        what = "words" if header.text else "bytes"
        raise NeedsChoice(
            f"{spare:,} more {what} follow after all that the header declares; facets may be among them.",
            "Take what is declared, or export the file again.",
            (TAKE_DECLARED,),
        )
    return PlyFile(data, header, tokens, rows)


def _vet_declared(header: Header, limits: Limits) -> None:
    face, vertex = element_of(header, "face"), element_of(header, "vertex")
    vet_count(face.count if face else 0, limits)
    if vertex and vertex.count > 3 * limits.triangles:
        raise RefusedFile(
            f"The file has {vertex.count:,} vertices; the limit is {3 * limits.triangles:,}.", "Reduce the mesh."
        )


def _vertices(file: PlyFile, limits: Limits) -> F64:
    element = file.element("vertex")
    columns = []
    for name in "xyz":
        place = element.place(name)
        if place < 0 or element.properties[place].length:
            raise UnreadableFile(f"The vertices have no {quoted(name)}.", "Export the mesh again.")
        columns.append(_numbers(file, "vertex", place))
    vertices = np.stack(columns, axis=1)
    vet_numbers(vertices, limits, "vertex", 1)
    return vertices


def _numbers(file: PlyFile, name: str, place: int) -> F64:
    """One scalar property of all rows, (count,) float64."""
    starts = file.rows[name].starts[place]
    if file.header.text:
        return _decimals([file.tokens[i] for i in starts.tolist()], f"The {name} list")
    numbers = _gather(file.data, starts, 1, file.element(name).properties[place].type)[:, 0]
    with np.errstate(invalid="ignore"):  # signalling NaNs are found and named later
        return numbers.astype(np.float64)


def _decimals(tokens: list[bytes], where: str) -> F64:
    """The values of tokens; the slow way when one of them may be no plain number, to name it."""
    try:
        values = np.array(list(map(float, tokens)), dtype=np.float64)
        if np.isfinite(values).all() and not any(b"_" in token for token in tokens):
            return values
    except ValueError:
        pass
    return np.array([decimal(token, where) for token in tokens], dtype=np.float64)


def _gather(data: bytes, starts: I64, size: int, kind: str) -> NDArray[np.generic]:
    """``size`` numbers from every start, (rows, size) of the type; the bytes may lie anywhere."""
    width = np.dtype(kind).itemsize * size
    if not len(starts) or not width:
        return np.zeros((len(starts), size), kind)
    step = np.diff(starts[:2])
    whole = np.frombuffer(data, np.uint8)
    if len(starts) > 1 and step[0] >= width and (np.diff(starts) == step[0]).all():
        packed = np.lib.stride_tricks.as_strided(
            whole[starts[0] :], (len(starts), width), (int(step[0]), 1), writeable=False
        )
    else:
        packed = whole[starts[:, None] + np.arange(width)]
    return np.ascontiguousarray(packed).view(kind)


def _loops(file: PlyFile) -> tuple[I64, I64, int]:
    """Corner indices, corners of each polygon of three or more, and how many rows have fewer."""
    place = index_place(file.element("face"))
    rows = file.rows["face"]
    sizes = rows.sizes[place]
    enough = sizes >= 3
    starts, sizes = rows.starts[place][enough], sizes[enough]
    loops = np.zeros(int(sizes.sum()), dtype=np.int64)
    into = np.cumsum(sizes) - sizes
    for size in np.unique(sizes):
        which = sizes == size
        loops[into[which, None] + np.arange(size)] = _corners(file, place, starts[which], int(size))
    return loops, sizes, int((~enough).sum())


def index_place(face: Element) -> int:
    """Which property of a face lists its corners. Raises UnreadableFile when none does."""
    for name in _INDEX_NAMES:
        place = face.place(name)
        if place >= 0 and face.properties[place].length and face.properties[place].type[1] in "iu":
            return place
    raise UnreadableFile("The faces have no list of whole numbers named “vertex_indices”.", "Export the mesh again.")


def _corners(file: PlyFile, place: int, starts: I64, size: int) -> I64:
    if not file.header.text:
        kind = file.element("face").properties[place].type
        return _gather(file.data, starts, size, kind).astype(np.int64)
    tokens = [file.tokens[i + k] for i in starts.tolist() for k in range(size)]
    for token in tokens:
        if not token.removeprefix(b"-").isdigit() or len(token) > 18:
            raise UnreadableFile(f"A face has {quoted(token)} where a vertex number should be.", "Export it again.")
    return np.array(list(map(int, tokens)), dtype=np.int64).reshape(-1, size)


def _vet_indices(file: PlyFile, loops: I64, sizes: I64, vertices: int) -> None:
    wrong = np.flatnonzero((loops < 0) | (loops >= vertices))
    if not len(wrong):
        return
    polygon = int(np.searchsorted(np.cumsum(sizes), wrong[0], side="right"))
    raise UnreadableFile(
        f"Face {polygon + 1:,} names vertex {loops[wrong[0]]:,} (counted from 0), but the file has "
        f"{counted(vertices, 'vertex', 'vertices')}.",
        "Export the mesh again.",
    )


def _notes(file: PlyFile, few: int) -> tuple[str, ...]:
    notes = [f"{counted(few, 'face')} with fewer than three corners left out; the file keeps them."] if few else []
    for element in file.header.elements:
        if element.name not in ("vertex", "face") and element.count:
            rows = counted(element.count, "row")
            notes.append(f"{rows} of {quoted(element.name)} not shown; the file keeps them.")
    return tuple(notes)
