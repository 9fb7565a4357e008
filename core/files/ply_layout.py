"""PLY: where every row of every element lies in the body.

Source: Turk, The PLY Polygon File Format (1994), version 1.0: the elements' rows in the order of the header, as words
or as packed binary numbers. A list property is its length and that many numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.errors import UnreadableFile
from core.files.guard import MIB, quoted
from core.files.ply_header import Element, Header, short
from core.geometry.mesh import I64


@dataclass(frozen=True, eq=False)
class Rows:
    """Where an element lies: per property the offsets of its first number and how many there are, (count,) int64 each.

    Offsets are bytes in a binary body and tokens in a text body. ``end`` is the offset after the last row.
    """

    starts: tuple[I64, ...]
    sizes: tuple[I64, ...]
    end: int


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
