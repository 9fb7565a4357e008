"""PLY: the header, and where every row of every element lies in the body.

Source: Turk, The PLY Polygon File Format (1994), version 1.0: a header in words, then the elements' rows in the order
of the header, as words or as packed binary numbers. A list property is its length and that many numbers.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import RefusedFile, UnreadableFile
from core.files.content import counted
from core.files.guard import MIB, Limits, quoted
from core.geometry.mesh import I64

_TYPES: Final[dict[bytes, str]] = {
    b"char": "i1", b"uchar": "u1", b"short": "i2", b"ushort": "u2", b"int": "i4", b"uint": "u4",
    b"float": "f4", b"double": "f8",
    b"int8": "i1", b"uint8": "u1", b"int16": "i2", b"uint16": "u2", b"int32": "i4", b"uint32": "u4",
    b"float32": "f4", b"float64": "f8",
}  # fmt: skip
"""The type names of the format and the sized names that writers use beside them."""

_FORMATS: Final[dict[bytes, str]] = {b"ascii": "=", b"binary_little_endian": "<", b"binary_big_endian": ">"}

U8 = NDArray[np.uint8]


@dataclass(frozen=True)
class Property:
    """A number, or with ``length`` (the type of its count) a list of numbers; numpy type codes with byte order."""

    name: str
    type: str
    length: str | None = None


@dataclass(frozen=True)
class Element:
    """A kind of rows; ``digits`` is where its count stands in the header, as byte offsets."""

    name: str
    count: int
    properties: tuple[Property, ...]
    digits: tuple[int, int]

    @property
    def has_lists(self) -> bool:
        """Whether rows may differ in length."""
        return any(p.length for p in self.properties)

    def place(self, name: str) -> int:
        """The number of a property, −1 when there is none of this name."""
        return next((i for i, p in enumerate(self.properties) if p.name == name), -1)


@dataclass(frozen=True)
class Header:
    """What the header says; ``body`` is the offset of the first byte after it."""

    text: bool
    elements: tuple[Element, ...]
    body: int
    line_end: bytes


@dataclass(frozen=True, eq=False)
class Rows:
    """Where an element lies: per property the offsets of its first number and how many there are, (count,) int64 each.

    Offsets are bytes in a binary body and tokens in a text body. ``end`` is the offset after the last row.
    """

    starts: tuple[I64, ...]
    sizes: tuple[I64, ...]
    end: int


def read_header(data: bytes, limits: Limits) -> Header:
    """Parse the header. Raises UnreadableFile naming the line that is wrong."""
    line_end = re.match(rb"ply[ \t]*(\r\n|\n|\r)", data)
    if line_end is None:
        raise UnreadableFile("The file does not begin with “ply” on a line of its own.", "Export the mesh again.")
    mark = line_end.group(1)
    close = re.compile(rb"(?:^|(?<=[\r\n]))end_header[ \t]*" + mark).search(data, 0, limits.header_bytes)
    if close is None:
        raise UnreadableFile("The header has no end (“end_header”).", "Download or export the file again.")
    return _Parser(data[: close.start()], mark).header(close.end())


class _Parser:
    """Collects the elements line by line."""

    def __init__(self, text: bytes, mark: bytes) -> None:
        self._text, self._mark = text, mark
        self._order = ""
        self._elements: list[Element] = []

    def header(self, body: int) -> Header:
        at = 0
        for number, line in enumerate(self._text.split(self._mark), 1):
            self._line(line, number, at)
            at += len(line) + len(self._mark)
        if not self._order:
            raise UnreadableFile("The header does not say its format.", "Export the mesh again.")
        return Header(self._order == "=", tuple(self._elements), body, self._mark)

    def _line(self, line: bytes, number: int, at: int) -> None:
        words = line.split()
        match words:
            case [] | [b"ply"] | [b"comment" | b"obj_info", *_]:
                return
            case [b"format", form, b"1.0"] if form in _FORMATS and not self._order:
                self._order = _FORMATS[form]
            case [b"element", name, count] if count.isdigit() and len(count) < 16 and self._order:
                place = at + line.rindex(count)
                self._element(Element(quoted(name, 80)[1:-1], int(count), (), (place, place + len(count))))
            case [b"property", b"list", length, kind, name] if _integer(length) and kind in _TYPES and self._elements:
                self._property(Property(quoted(name, 80)[1:-1], self._code(kind), self._code(length)))
            case [b"property", kind, name] if kind in _TYPES and self._elements:
                self._property(Property(quoted(name, 80)[1:-1], self._code(kind)))
            case _:
                raise UnreadableFile(
                    f"Line {number} of the header is not valid: {quoted(line)}.", "Export the mesh again."
                )

    def _code(self, word: bytes) -> str:
        return self._order + _TYPES[word]

    def _element(self, element: Element) -> None:
        if any(e.name == element.name for e in self._elements):
            raise UnreadableFile(f"The header declares {quoted(element.name)} twice.", "Export the mesh again.")
        self._elements.append(element)

    def _property(self, new: Property) -> None:
        last = self._elements[-1]
        if last.place(new.name) >= 0:
            raise UnreadableFile(
                f"The header declares the property {quoted(new.name)} of {quoted(last.name)} twice.",
                "Export the mesh again.",
            )
        self._elements[-1] = Element(last.name, last.count, (*last.properties, new), last.digits)


def _integer(word: bytes) -> bool:
    return _TYPES.get(word, "f")[0] in "iu"


def short(element: Element) -> UnreadableFile:
    """The error for a body that ends too early."""
    return UnreadableFile(
        f"The header declares {counted(element.count, 'row')} of {quoted(element.name)}; the file ends before them.",
        "Download or export the file again.",
    )


def rows_in_binary(data: bytes, element: Element, at: int) -> Rows:
    """Where the rows of an element lie in a binary body that goes on at byte ``at``."""
    if not element.properties or not element.count:
        empty = tuple(np.zeros(0, np.int64) for _ in element.properties)
        return Rows(empty, empty, at)
    least = sum(np.dtype(p.length or p.type).itemsize for p in element.properties)
    if element.count > (len(data) - at) // least:
        raise short(element)
    sizes = _uniform_sizes(data, element, at)
    if sizes is not None:
        return _uniform(element, at, sizes)
    return _walked(data, element, at)


def _uniform_sizes(data: bytes, element: Element, at: int) -> list[int] | None:
    """The list lengths that all rows share; None when they differ, or when the file would be too short."""
    sizes: list[int] = []
    fields: list[tuple[str, str, tuple[int, ...]]] = []
    place = at
    for i, p in enumerate(element.properties):
        size = 1
        if p.length:
            if place + np.dtype(p.length).itemsize > len(data):
                return None
            size = int(np.frombuffer(data, p.length, 1, place)[0])
            fields.append((f"n{i}", p.length, ()))
            place += np.dtype(p.length).itemsize
        if size < 0 or place + size * np.dtype(p.type).itemsize > len(data):
            return None
        fields.append((f"v{i}", p.type, (size,)))
        place += size * np.dtype(p.type).itemsize
        sizes.append(size)
    if place - at > MIB:
        return None
    row = np.dtype(fields)
    if element.count > (len(data) - at) // row.itemsize:
        return None
    records = np.frombuffer(data, row, element.count, at)
    lists = [i for i, p in enumerate(element.properties) if p.length]
    return sizes if all((records[f"n{i}"] == sizes[i]).all() for i in lists) else None


def _uniform(element: Element, at: int, sizes: list[int]) -> Rows:
    """Rows of one length: the offsets are an arithmetic progression."""
    offsets: list[int] = []
    place = 0
    for p, size in zip(element.properties, sizes, strict=True):
        place += np.dtype(p.length).itemsize if p.length else 0
        offsets.append(place)
        place += size * np.dtype(p.type).itemsize
    row = at + place * np.arange(element.count, dtype=np.int64)
    starts = tuple(row + offset for offset in offsets)
    return Rows(starts, tuple(np.full(element.count, size) for size in sizes), at + place * element.count)


def _walked(data: bytes, element: Element, at: int) -> Rows:
    """Row after row, because each says how long it is."""
    plan = [
        (i, np.dtype(p.length or "u1").itemsize, bool(p.length), (p.length or "<")[0], (p.length or "xu")[1] == "i",
         np.dtype(p.type).itemsize)
        for i, p in enumerate(element.properties)
    ]  # fmt: skip
    starts = [[0] * element.count for _ in element.properties]
    sizes = [[1] * element.count for _ in element.properties]
    end = len(data)
    for row in range(element.count):
        for i, width, is_list, order, signed, item in plan:
            size = 1
            if is_list:
                size = int.from_bytes(data[at : at + width], "big" if order == ">" else "little", signed=signed)
                sizes[i][row] = size
                at += width
            starts[i][row] = at
            at += size * item
            if size < 0 or at > end:
                raise _broken_row(element, row, size)
    return Rows(tuple(map(np.array, starts)), tuple(map(np.array, sizes)), at)


def _broken_row(element: Element, row: int, size: int) -> UnreadableFile:
    if size < 0:
        text = f"Row {row + 1:,} of {quoted(element.name)} has a list of {size} numbers."
        return UnreadableFile(text, "Export the mesh again.")
    return short(element)


def rows_in_text(tokens: list[bytes], element: Element, at: int) -> Rows:
    """Where the rows of an element lie among the tokens of a text body, from token ``at``."""
    if not element.has_lists:
        width = len(element.properties)
        end = at + width * element.count
        if end > len(tokens):
            raise short(element)
        row = at + width * np.arange(element.count, dtype=np.int64)
        ones = np.ones(element.count, dtype=np.int64)
        return Rows(tuple(row + i for i in range(width)), (ones,) * width, end)
    return _walked_text(tokens, element, at)


def _walked_text(tokens: list[bytes], element: Element, at: int) -> Rows:
    lists = [bool(p.length) for p in element.properties]
    if element.count > len(tokens) - at:
        raise short(element)
    starts = [[0] * element.count for _ in lists]
    sizes = [[1] * element.count for _ in lists]
    for row in range(element.count):
        for i, is_list in enumerate(lists):
            if is_list:
                sizes[i][row] = _length(tokens, at, element, row)
                at += 1
            starts[i][row] = at
            at += sizes[i][row]
        if at > len(tokens):
            raise short(element)
    return Rows(tuple(map(np.array, starts)), tuple(map(np.array, sizes)), at)


def vet_lines(body: bytes, header: Header, rows: dict[str, Rows], end: int) -> None:
    """Every row of a text body stands on a line of its own: a number that is missing would shift all that follow."""
    sizes = np.array([len(line.split()) for line in body.splitlines()], dtype=np.int64)
    lines = np.flatnonzero(sizes)
    found = (np.cumsum(sizes) - sizes)[lines]
    wanted = np.concatenate([_row_starts(e, rows[e.name]) for e in header.elements])
    found, lines = found[found < end], lines[: int((found < end).sum())]
    common = min(len(found), len(wanted))
    wrong = np.flatnonzero(found[:common] != wanted[:common])
    if len(wrong) or len(found) != len(wanted):
        first = max(int(wrong[0]) - 1, 0) if len(wrong) else common - 1
        raise UnreadableFile(
            f"Line {lines[first] + 1:,} after the header does not hold one row of the declared numbers.",
            "Export the mesh again.",
        )


def _row_starts(element: Element, rows: Rows) -> I64:
    """The first token of every row; none for rows without numbers."""
    if not element.properties:
        return np.zeros(0, np.int64)
    return rows.starts[0] - (1 if element.properties[0].length else 0)


def _length(tokens: list[bytes], at: int, element: Element, row: int) -> int:
    if at >= len(tokens):
        raise short(element)
    if not tokens[at].isdigit() or len(tokens[at]) > 9:
        text = (
            f"Row {row + 1:,} of {quoted(element.name)} has {quoted(tokens[at])} where the length of a list should be."
        )
        raise UnreadableFile(text, "Export the mesh again.")
    return int(tokens[at])


def element_of(header: Header, name: str) -> Element | None:
    """The element of a name."""
    return next((e for e in header.elements if e.name == name), None)


def vet_elements(header: Header) -> None:
    """Refuse what holds a mesh in another way than by vertices and faces."""
    if element_of(header, "tristrips") is not None:
        raise RefusedFile("The file keeps its facets as triangle strips.", "Export it with single facets.")
    if element_of(header, "vertex") is None:
        raise UnreadableFile("The header declares no vertices.", "Export it again as a mesh.")
    if element_of(header, "face") is None:
        raise UnreadableFile("The file holds points, but no facets.", "Make a mesh of the points first.")
