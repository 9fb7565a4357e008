"""PLY: reading the mesh, and appending to it with every property and row kept. No unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import NeedsChoice, RefusedFile, UnreadableFile
from core.files.content import Added, Content, counted, indexed, vet_count, vet_numbers
from core.files.guard import DEFAULT, Limits, quoted
from core.files.numbers import decimal, style_of
from core.files.ply_layout import (
    Element,
    Header,
    Rows,
    element_of,
    read_header,
    rows_in_binary,
    rows_in_text,
    vet_elements,
    vet_lines,
)
from core.files.polygons import triangulated
from core.files.stl import TAKE_DECLARED
from core.geometry.mesh import F64, I64

_INDEX_NAMES: Final = ("vertex_indices", "vertex_index")
"""Both names are in wide use for the one list that the format's text calls vertex_index."""

_NORMAL: Final = ("nx", "ny", "nz")
_SPACE: Final = np.isin(np.arange(256), list(b" \t\r\n\v\f"))


@dataclass(frozen=True, eq=False)
class _File:
    """The bytes, what the header says, and where the rows lie; ``tokens`` of a text body."""

    data: bytes
    header: Header
    tokens: list[bytes]
    rows: dict[str, Rows]

    def element(self, name: str) -> Element:
        found = element_of(self.header, name)
        assert found is not None  # vet_elements has seen to it
        return found


def read(data: bytes, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """The mesh of a PLY file, file numbers; polygons are cut by clipping ears.

    Raises UnreadableFile naming the row or property that is wrong, RefusedFile beyond the limits, NeedsChoice
    ("take_declared_facets") when more follows than the header declares.
    """
    file = _open(data, choice, limits)
    vertices = _vertices(file, limits)
    loops, sizes, few = _loops(file)
    vet_count(int(sizes.sum()) - 2 * len(sizes), limits)
    _vet_indices(file, loops, sizes, len(vertices))
    cut = triangulated(vertices, loops, sizes, limits)
    return indexed(vertices, cut.triangles, notes=(*_notes(file, few), *cut.notes))


def _open(data: bytes, choice: str | None, limits: Limits) -> _File:
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
    return _File(data, header, tokens, rows)


def _vet_declared(header: Header, limits: Limits) -> None:
    face, vertex = element_of(header, "face"), element_of(header, "vertex")
    vet_count(face.count if face else 0, limits)
    if vertex and vertex.count > 3 * limits.triangles:
        raise RefusedFile(
            f"The file has {vertex.count:,} vertices; the limit is {3 * limits.triangles:,}.", "Reduce the mesh."
        )


def _vertices(file: _File, limits: Limits) -> F64:
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


def _numbers(file: _File, name: str, place: int) -> F64:
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


def _loops(file: _File) -> tuple[I64, I64, int]:
    """Corner indices, corners of each polygon of three or more, and how many rows have fewer."""
    place = _index_place(file.element("face"))
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


def _index_place(face: Element) -> int:
    for name in _INDEX_NAMES:
        place = face.place(name)
        if place >= 0 and face.properties[place].length and face.properties[place].type[1] in "iu":
            return place
    raise UnreadableFile("The faces have no list of whole numbers named “vertex_indices”.", "Export the mesh again.")


def _corners(file: _File, place: int, starts: I64, size: int) -> I64:
    if not file.header.text:
        kind = file.element("face").properties[place].type
        return _gather(file.data, starts, size, kind).astype(np.int64)
    tokens = [file.tokens[i + k] for i in starts.tolist() for k in range(size)]
    for token in tokens:
        if not token.removeprefix(b"-").isdigit() or len(token) > 18:
            raise UnreadableFile(f"A face has {quoted(token)} where a vertex number should be.", "Export it again.")
    return np.array(list(map(int, tokens)), dtype=np.int64).reshape(-1, size)


def _vet_indices(file: _File, loops: I64, sizes: I64, vertices: int) -> None:
    wrong = np.flatnonzero((loops < 0) | (loops >= vertices))
    if not len(wrong):
        return
    polygon = int(np.searchsorted(np.cumsum(sizes), wrong[0], side="right"))
    raise UnreadableFile(
        f"Face {polygon + 1:,} names vertex {loops[wrong[0]]:,} (counted from 0), but the file has "
        f"{counted(vertices, 'vertex', 'vertices')}.",
        "Export the mesh again.",
    )


def _notes(file: _File, few: int) -> tuple[str, ...]:
    notes = [f"{counted(few, 'face')} with fewer than three corners left out; the file keeps them."] if few else []
    for element in file.header.elements:
        if element.name not in ("vertex", "face") and element.count:
            rows = counted(element.count, "row")
            notes.append(f"{rows} of {quoted(element.name)} not shown; the file keeps them.")
    return tuple(notes)


def patched(data: bytes, added: Added, choice: str | None = None) -> list[bytes | memoryview]:
    """The file with vertices and faces appended to those elements, in pieces; counts in the header are updated.

    Every other byte stays. New vertices get, beside their place and normal, the properties of the first vertex
    (its colour, for instance); new faces those of the first face, and empty lists. Raises RefusedFile where the
    file's number types cannot hold the teeth.
    """
    file = _open(data, choice, DEFAULT)
    _vet_room(file, added)
    vertex = _vertex_text(file, added) if file.header.text else _vertex_rows(file, added)
    face = _face_text(file, added) if file.header.text else _face_rows(file, added)
    counts = {"vertex": len(added.vertices), "face": len(added.triangles)}
    edits: list[tuple[int, int, bytes]] = []
    for name, new in (("vertex", vertex), ("face", face)):
        element = file.element(name)
        edits.append((*element.digits, b"%d" % (element.count + counts[name])))
        end = _end_of(file, name)
        fresh = not file.header.text or data[end - 1 : end] in (b"\n", b"\r")
        edits.append((end, end, new if fresh else file.header.line_end + new))
    return _edited(data, sorted(edits, key=lambda e: e[:2]))


def _edited(data: bytes, edits: list[tuple[int, int, bytes]]) -> list[bytes | memoryview]:
    view = memoryview(data)
    pieces: list[bytes | memoryview] = []
    at = 0
    for begin, end, new in edits:
        pieces += [view[at:begin], new]
        at = end
    return [*pieces, view[at:]]


def _vet_room(file: _File, added: Added) -> None:
    vertex, face = file.element("vertex"), file.element("face")
    if vertex.has_lists:
        raise RefusedFile("The vertices carry lists of unknown meaning.", "Write the part as STL or 3MF instead.")
    if any(vertex.properties[vertex.place(name)].type[1] != "f" for name in "xyz"):
        raise RefusedFile("The file keeps whole-number coordinates; teeth do not fit.", "Write STL or 3MF instead.")
    kind = np.dtype(face.properties[_index_place(face)].type)
    if vertex.count + len(added.vertices) - 1 > np.iinfo(kind).max:
        raise RefusedFile(
            f"The faces name vertices with {8 * kind.itemsize}-bit numbers, which the teeth would overflow.",
            "Write the part as STL or 3MF instead.",
        )


def _end_of(file: _File, name: str) -> int:
    """The byte after the last row of an element; in a text, the byte after its line end."""
    end = file.rows[name].end
    if not file.header.text:
        return end
    body = np.frombuffer(file.data, np.uint8, offset=file.header.body)
    space = _SPACE[body]
    closes = np.flatnonzero(~space & np.append(space[1:], True)) + 1
    at = int(closes[end - 1]) + file.header.body if end else file.header.body
    rest = file.data.find(file.header.line_end, at)
    if rest >= 0 and not file.data[at:rest].strip():
        return rest + len(file.header.line_end)
    return at


def _values(file: _File, added: Added) -> dict[str, F64]:
    """The columns of new vertices that are not copies: place, and unit normal by area."""
    columns = {name: added.vertices[:, i] for i, name in enumerate("xyz")}
    corners = added.corners
    facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(added.vertices)
    np.add.at(normals, added.triangles.reshape(-1), np.repeat(facing, 3, axis=0))
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.divide(normals, length, out=np.zeros_like(normals), where=length > 0)
    has_normals = all(file.element("vertex").place(name) >= 0 for name in _NORMAL)
    return columns | ({name: normals[:, i] for i, name in enumerate(_NORMAL)} if has_normals else {})


def _vertex_rows(file: _File, added: Added) -> bytes:
    element = file.element("vertex")
    row = np.dtype([(p.name, p.type) for p in element.properties])
    first = np.frombuffer(file.data, row, 1, int(file.rows["vertex"].starts[0][0]))
    new = np.repeat(first, len(added.vertices))
    for name, values in _values(file, added).items():
        new[name] = values.astype(row[name])
    return new.tobytes()


def _face_rows(file: _File, added: Added) -> bytes:
    element, rows = file.element("face"), file.rows["face"]
    index = _index_place(element)
    fields: list[tuple[str, str, tuple[int, ...]]] = []
    values: dict[str, NDArray[np.generic]] = {}
    for i, p in enumerate(element.properties):
        if p.length:
            fields.append((f"n{i}", p.length, ()))
            values[f"n{i}"] = np.asarray(3 if i == index else 0)
        if i == index:
            fields.append((f"v{i}", p.type, (3,)))
            values[f"v{i}"] = added.triangles.astype(np.int64) + file.element("vertex").count
        elif not p.length:
            fields.append((f"v{i}", p.type, ()))
            values[f"v{i}"] = np.frombuffer(file.data, p.type, 1, int(rows.starts[i][0]))
    new = np.zeros(len(added.triangles), np.dtype(fields))
    for name, value in values.items():
        new[name] = value
    return new.tobytes()


def _vertex_text(file: _File, added: Added) -> bytes:
    element, rows = file.element("vertex"), file.rows["vertex"]
    first = [file.tokens[int(starts[0])] for starts in rows.starts]
    largest = float(np.abs(added.vertices).max(initial=1.0))
    places = [element.place(name) for name in "xyz"]
    style = style_of([file.tokens[i] for p in places for i in rows.starts[p][:1000].tolist()], largest)
    columns = [[token] * len(added.vertices) for token in first]
    for name, values in _values(file, added).items():
        columns[element.place(name)] = [style.write(value).encode() for value in values.tolist()]
    return _lines(file, zip(*columns, strict=True))


def _face_text(file: _File, added: Added) -> bytes:
    element, rows = file.element("face"), file.rows["face"]
    index, base = _index_place(element), file.element("vertex").count
    before, after = [
        b" ".join(b"0" if p.length else file.tokens[int(rows.starts[i][0])] for i, p in side)
        for side in (list(enumerate(element.properties))[:index], list(enumerate(element.properties))[index + 1 :])
    ]
    triples = (added.triangles.astype(np.int64) + base).tolist()
    return _lines(file, ([t for t in (before, b"3 %d %d %d" % tuple(row), after) if t] for row in triples))


def _lines(file: _File, rows: Iterable[Iterable[bytes]]) -> bytes:
    """Rows of tokens as lines of the file."""
    mark = file.header.line_end
    return b"".join(b" ".join(row) + mark for row in rows)
