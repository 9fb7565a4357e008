"""PLY: vertices and faces appended, every property, row and other byte kept."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import RefusedFile
from core.files.content import Added
from core.files.guard import DEFAULT
from core.files.numbers import style_of
from core.files.ply import PlyFile, index_place, open_ply
from core.geometry.mesh import F64

_NORMAL: Final = ("nx", "ny", "nz")
_SPACE: Final = np.isin(np.arange(256), list(b" \t\r\n\v\f"))


def patched(data: bytes, added: Added, choice: str | None = None) -> list[bytes | memoryview]:
    """The file with vertices and faces appended to those elements, in pieces; counts in the header are updated.

    Every other byte stays. New vertices get, beside their place and normal, the properties of the first vertex
    (its colour, for instance); new faces those of the first face, and empty lists. Raises RefusedFile where the
    file's number types cannot hold the teeth.
    """
    file = open_ply(data, choice, DEFAULT)
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


def _vet_room(file: PlyFile, added: Added) -> None:
    vertex, face = file.element("vertex"), file.element("face")
    if vertex.has_lists:
        raise RefusedFile("The vertices carry lists of unknown meaning.", "Write the part as STL or 3MF instead.")
    if any(vertex.properties[vertex.place(name)].type[1] != "f" for name in "xyz"):
        raise RefusedFile("The file keeps whole-number coordinates; teeth do not fit.", "Write STL or 3MF instead.")
    kind = np.dtype(face.properties[index_place(face)].type)
    if vertex.count + len(added.vertices) - 1 > np.iinfo(kind).max:
        raise RefusedFile(
            f"The faces name vertices with {8 * kind.itemsize}-bit numbers, which the teeth would overflow.",
            "Write the part as STL or 3MF instead.",
        )


def _end_of(file: PlyFile, name: str) -> int:
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


def _values(file: PlyFile, added: Added) -> dict[str, F64]:
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


def _vertex_rows(file: PlyFile, added: Added) -> bytes:
    element = file.element("vertex")
    row = np.dtype([(p.name, p.type) for p in element.properties])
    first = np.frombuffer(file.data, row, 1, int(file.rows["vertex"].starts[0][0]))
    new = np.repeat(first, len(added.vertices))
    for name, values in _values(file, added).items():
        new[name] = values.astype(row[name])
    return new.tobytes()


def _face_rows(file: PlyFile, added: Added) -> bytes:
    element, rows = file.element("face"), file.rows["face"]
    index = index_place(element)
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


def _vertex_text(file: PlyFile, added: Added) -> bytes:
    element, rows = file.element("vertex"), file.rows["vertex"]
    first = [file.tokens[int(starts[0])] for starts in rows.starts]
    largest = float(np.abs(added.vertices).max(initial=1.0))
    places = [element.place(name) for name in "xyz"]
    style = style_of([file.tokens[i] for p in places for i in rows.starts[p][:1000].tolist()], largest)
    columns = [[token] * len(added.vertices) for token in first]
    for name, values in _values(file, added).items():
        columns[element.place(name)] = [style.write(value).encode() for value in values.tolist()]
    return _lines(file, zip(*columns, strict=True))


def _face_text(file: PlyFile, added: Added) -> bytes:
    element, rows = file.element("face"), file.rows["face"]
    index, base = index_place(element), file.element("vertex").count
    before, after = [
        b" ".join(b"0" if p.length else file.tokens[int(rows.starts[i][0])] for i, p in side)
        for side in (list(enumerate(element.properties))[:index], list(enumerate(element.properties))[index + 1 :])
    ]
    triples = (added.triangles.astype(np.int64) + base).tolist()
    return _lines(file, ([t for t in (before, b"3 %d %d %d" % tuple(row), after) if t] for row in triples))


def _lines(file: PlyFile, rows: Iterable[Iterable[bytes]]) -> bytes:
    """Rows of tokens as lines of the file."""
    mark = file.header.line_end
    return b"".join(b" ".join(row) + mark for row in rows)
