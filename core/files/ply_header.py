"""PLY: the header.

Source: Turk, The PLY Polygon File Format (1994), version 1.0: the elements and their properties in words.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from core.errors import RefusedFile, UnreadableFile
from core.files.content import counted
from core.files.guard import Limits, quoted

_TYPES: Final[dict[bytes, str]] = {
    b"char": "i1", b"uchar": "u1", b"short": "i2", b"ushort": "u2", b"int": "i4", b"uint": "u4",
    b"float": "f4", b"double": "f8",
    b"int8": "i1", b"uint8": "u1", b"int16": "i2", b"uint16": "u2", b"int32": "i4", b"uint32": "u4",
    b"float32": "f4", b"float64": "f8",
}  # fmt: skip
"""The type names of the format and the sized names that writers use beside them."""

_FORMATS: Final[dict[bytes, str]] = {b"ascii": "=", b"binary_little_endian": "<", b"binary_big_endian": ">"}


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
