"""ASCII STL: solids of facets of three vertices, in words. No count, no unit.

Source: as for the binary form (core.files.stl). Keywords are taken in any case and any white space, because real
files vary in both. The numbers of normals are skipped unread: writers put anything there for facets without area.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from core.errors import NeedsChoice, UnreadableFile
from core.files.content import Added, Content, counted, vet_count, vet_numbers, welded
from core.files.guard import DEFAULT, Limits, quoted
from core.files.numbers import DECIMAL, Style, decimal, style_of
from core.files.stl import TAKE_WHOLE, records_of
from core.geometry.mesh import F64

_WORDS: Final[dict[int, bytes]] = {
    0: b"facet", 1: b"normal", 5: b"outer", 6: b"loop", 7: b"vertex", 11: b"vertex", 15: b"vertex",
    19: b"endloop", 20: b"endfacet",
}  # fmt: skip
"""Which of the 21 tokens of a facet are keywords."""

_NUMBERS: Final = (8, 9, 10, 12, 13, 14, 16, 17, 18)
"""Which are the coordinates of its corners."""

_TOKENS: Final = 21
_CHUNK: Final = 8 << 20
"""Bytes split into tokens at a time: tokens take about fifteen times the memory of their text."""

_OPEN: Final = re.compile(rb"\s*solid(?=\s|$)", re.IGNORECASE)
_BEGIN: Final = re.compile(rb"(?<!\S)(?:facet\s+normal|endsolid)(?!\S)", re.IGNORECASE)
_CLOSE: Final = re.compile(rb"(?<!\S)endsolid(?!\S)", re.IGNORECASE)
_NEXT: Final = re.compile(rb"(?<!\S)solid(?!\S)", re.IGNORECASE)
_FACET_END: Final = re.compile(rb"(?<!\S)endfacet(?!\S)", re.IGNORECASE)
_CORNER: Final = re.compile(rb"(?<!\S)(?:endfacet|endloop|vertex)(?!\S)", re.IGNORECASE)
_LINE_END: Final = re.compile(rb"[\r\n]")
_PADDING: Final = b" \t\r\n\v\f\0\x1a"
"""White space, and what old systems fill the last block of a text with."""


@dataclass(frozen=True)
class Solid:
    """Where one solid's facets begin and end, as byte offsets; ``closed`` when an endsolid follows."""

    begin: int
    end: int
    closed: bool


def read(data: bytes, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """The mesh of all solids of an ASCII STL file together, file numbers, welded bit for bit.

    Raises NeedsChoice ("take_whole_facets") when the text breaks off, UnreadableFile naming the facet and the word
    that is wrong, RefusedFile beyond the limits.
    """
    solids = _solids(data)
    corners = [_facets(data, solid, choice, limits) for solid in solids]
    every = np.concatenate(corners)
    vet_count(len(every), limits)
    notes = () if len(solids) == 1 else (f"The file holds {len(solids)} solids; they are one part here.",)
    if not solids[-1].closed:
        notes = (*notes, f"The text breaks off; {counted(len(every), 'whole facet')} taken, as chosen.")
    return welded(every, notes=notes)


def _solids(data: bytes) -> list[Solid]:
    """All solids; each must open with the word and all but the last be closed."""
    out: list[Solid] = []
    at = 3 if data.startswith(b"\xef\xbb\xbf") else 0
    while not out or data[at:].strip(_PADDING):
        if _OPEN.match(data, at) is None:
            text = quoted(data[at : at + 200].strip())
            raise UnreadableFile(f"{text} stands where “solid” should be.", "Export the mesh again.")
        solid, at = _solid(data, at)
        out.append(solid)
    return out


def _solid(data: bytes, at: int) -> tuple[Solid, int]:
    """The solid that opens at a place, and the place after it."""
    begin = _BEGIN.search(data, at)
    if begin is None:
        raise UnreadableFile("A solid has neither facets nor an end.", "Download or export the file again.")
    _vet_name(data[at : begin.start()].lstrip())
    close = _find_close(data, begin.start())
    if close < 0:
        return Solid(begin.start(), len(data), False), len(data)
    return Solid(begin.start(), close, True), _after_name(data, close + len(b"endsolid"))


def _find_close(data: bytes, at: int) -> int:
    """Where the next endsolid begins, or −1. Plain search first: it is twenty times faster than the expression."""
    found = [place for place in (data.find(b"endsolid", at), data.find(b"ENDSOLID", at)) if place >= 0]
    close = _CLOSE.search(data, max(min(found) - 1, at) if found else at)
    return close.start() if close else -1


def _after_name(data: bytes, close: int) -> int:
    """Where the name behind an endsolid ends: with its line, or where the next solid opens on the same line."""
    line = _LINE_END.search(data, close)
    stop = line.start() if line else len(data)
    if _FACET_END.search(data, close, stop) is None:
        return stop
    following = _NEXT.search(data, close, stop)
    if following is None:
        raise UnreadableFile("Facets follow an “endsolid” without a “solid”.", "Export the mesh again.")
    return following.start()


def _vet_name(opening: bytes) -> None:
    """No facet may hide in the text between a solid and its first facet, where a misspelt word would put it."""
    first, _, others = opening.replace(b"\r", b"\n").partition(b"\n")
    if _FACET_END.search(first):
        raise UnreadableFile("A facet without its “facet normal” hides in the name of a solid.", "Export it again.")
    if _CORNER.search(others):
        text = f"{quoted(others.split()[0])} stands where the first “facet normal” should be."
        raise UnreadableFile(text, "Export the mesh again.")


def _facets(data: bytes, solid: Solid, choice: str | None, limits: Limits) -> F64:
    """Corners (m, 3, 3) of a solid; of the whole facets only when the text breaks off and the person chose so."""
    end = solid.end
    if not solid.closed:
        end = _last_whole(data, solid)
        if choice != TAKE_WHOLE:
            _vetted(data, solid.begin, end, limits)
            raise NeedsChoice(
                "The text breaks off before its “endsolid”; facets may be missing.",
                "Take the whole facets that are there, or download the file again.",
                (TAKE_WHOLE,),
            )
    return _vetted(data, solid.begin, end, limits)


def _last_whole(data: bytes, solid: Solid) -> int:
    ends = [match.end() for match in _FACET_END.finditer(data, solid.begin)]
    if not ends:
        raise UnreadableFile("The text breaks off before the end of its first facet.", "Download the file again.")
    return ends[-1]


def _vetted(data: bytes, begin: int, end: int, limits: Limits) -> F64:
    chunks: list[F64] = []
    done = 0
    while begin < end:
        stop = end
        if end - begin > _CHUNK:
            cut = _FACET_END.search(data, begin + _CHUNK, end)
            stop = cut.end() if cut else end
        chunks.append(_parse(data[begin:stop], done))
        done += len(chunks[-1])
        if done > limits.triangles:
            vet_count(done, limits)
        begin = stop
    out = np.concatenate(chunks) if chunks else np.zeros((0, 3, 3))
    vet_numbers(out.reshape(-1, 3), limits)
    return out


def _parse(text: bytes, before: int) -> F64:
    """Corners of the facets in a piece of text; ``before`` facets came earlier (for messages)."""
    tokens = text.split()
    good = len(tokens) % _TOKENS == 0 and b"_" not in text
    if not (good and all(_is_word(tokens[place::_TOKENS], word) for place, word in _WORDS.items())):
        _complain(tokens, before)
    try:
        columns = [list(map(float, tokens[place::_TOKENS])) for place in _NUMBERS]
    except ValueError:
        _complain(tokens, before)
    return np.array(columns, dtype=np.float64).T.reshape(-1, 3, 3)


def _is_word(tokens: list[bytes], word: bytes) -> bool:
    return all(token == word or token.lower() == word for token in set(tokens))


def _complain(tokens: list[bytes], before: int) -> None:
    """Raise with the first facet and token that are not as they should be."""
    for start in range(0, len(tokens), _TOKENS):
        facet = tokens[start : start + _TOKENS]
        where = f"Facet {before + start // _TOKENS + 1:,}"
        for place in range(_TOKENS):
            if place >= len(facet):
                raise UnreadableFile(f"{where} is not complete.", "Download or export the file again.")
            _vet_token(facet[place], place, where)
    raise UnreadableFile("The facets cannot be read.", "Export the mesh again.")


def _vet_token(token: bytes, place: int, where: str) -> None:
    word = _WORDS.get(place)
    if word is not None and token.lower() != word:
        text = f"{where} has {quoted(token)} where “{word.decode()}” should be."
        raise UnreadableFile(text, "Export the mesh again; facets have exactly three corners.")
    if place in _NUMBERS:
        decimal(token, where)


def patched(data: bytes, added: Added, choice: str | None = None) -> list[bytes | memoryview]:
    """The text with facets before the last solid's end, in pieces.

    Every byte of the text is kept. The facets copy case, white space and number style of the first facet. A text
    that breaks off keeps its whole facets, when that was chosen, and gets an end.
    """
    last = _solids(data)[-1]
    if not last.closed and choice != TAKE_WHOLE:
        raise NeedsChoice("The text breaks off before its “endsolid”.", "Take the whole facets.", (TAKE_WHOLE,))
    end = last.end if last.closed else _last_whole(data, last)
    kept = len(data[:end].rstrip())
    corners = added.corners
    between, form, style = _template(data, corners)
    facets = b"".join(between + _facet_text(form, style, record) for record in records_of64(corners))
    tail = data[kept:] if last.closed else b"\nendsolid\n"
    return [memoryview(data)[:kept], facets, tail]


def records_of64(corners: F64) -> F64:
    """Normal and corners of every facet, (k, 12) float64, file numbers."""
    normals = records_of(corners)["normal"].astype(np.float64)
    return np.hstack([normals, corners.reshape(-1, 9)])


_FIRST: Final = re.compile(
    rb"facet(\s+)normal(\s+)(\S+)(\s+)(\S+)(\s+)(\S+)(\s+)outer(\s+)loop"
    + rb"(\s+)vertex(\s+)(\S+)(\s+)(\S+)(\s+)(\S+)" * 3
    + rb"(\s+)endloop(\s+)endfacet",
    re.IGNORECASE,
)


def _template(data: bytes, corners: F64) -> tuple[bytes, list[bytes], Style]:
    """What stands before a facet, the text around its twelve numbers, and how they are written."""
    first = _FIRST.search(data)
    if first is None:
        pieces = b"facet normal | | |\nouter loop\nvertex | | |\nvertex | | |\nvertex | | |\nendloop\nendfacet".split(
            b"|"
        )
        return b"\n", pieces, Style()
    before = data[: first.start()]
    between = before[len(before.rstrip()) :] or b"\n"
    spots = [i for i in range(1, 31) if first.group(i).strip()]
    edges = [first.start(), *(x for i in spots for x in first.span(i)), first.end()]
    pieces = [data[a:b] for a, b in zip(edges[::2], edges[1::2], strict=True)]
    largest = float(np.abs(corners).max(initial=1.0))
    return between, pieces, style_of([t for t in _sample(data, first.start()) if DECIMAL.fullmatch(t)], largest)


def _sample(data: bytes, start: int) -> list[bytes]:
    """Coordinates of the first facets, as they are written."""
    found = re.findall(rb"(?i)vertex\s+(\S+)\s+(\S+)\s+(\S+)", data[start : start + (64 << 10)])
    return [token for triple in found[:-1] or found for token in triple]


def _facet_text(form: list[bytes], style: Style, numbers: F64) -> bytes:
    texts = [style.write(float(number)).encode() for number in numbers]
    return form[0] + b"".join(text + after for text, after in zip(texts, form[1:], strict=True))
