"""The two long runs of a 3MF model, vertices and triangles: recognised, cut out, and read as arrays.

A run is recognised by an expression that knows nothing but its usual form. What that lets through can neither open
nor close a comment, a CDATA section or an instruction, so that cutting it out is safe wherever the text stands.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from core.geometry.mesh import F64, I64

_NUMBER: Final = rb"[+-]?+(?:\d{1,40}+\.?+\d{0,40}+|\.\d{1,40}+)(?:[eE][+-]?+\d{1,5}+)?+"
"""As decimal() knows it, of a sane length."""

INDEX: Final = rb"\d{1,9}+"
"""A vertex number; nine digits stay below 2^31."""

_EXACT_POWER: Final = 16
_POWERS: Final = 10.0 ** np.arange(_EXACT_POWER + 1)

_LONGEST_PREFIX: Final = 44
"""Bytes looked back for the beginning of a tag; longer prefixes are left to expat."""

_OPENING: Final = re.compile(rb"<((?:[A-Za-z_][\w.-]*+:)?)(vertices|triangles)>")
_DECIMALS: Final = bytes(c if c in b"0123456789.+-" else ord(" ") for c in range(256))
_DIGITS: Final = bytes(c if c in b"0123456789" else ord(" ") for c in range(256))
"""Translations that blank everything else."""


class Runs:
    """The runs of vertices and triangles that were cut out, by the place of their opening tag in what is left."""

    def __init__(self, text: bytes, trusted: Sequence[bytes] = ()) -> None:
        """``trusted`` are runs that were recognised before: what begins like one of them is looked at from there on."""
        self.found: dict[int, bytes] = {}
        self._places: list[int] = []
        self._shifts: list[int] = []
        kept: list[bytes] = []
        at = cut = 0
        for opening, close in _candidates(text):
            begin = opening.end()
            known = next((len(run) for run in trusted if text.startswith(run, begin, close)), 0)
            if not _pattern(opening.group(1), opening.group(2)).fullmatch(text, begin + known, close):
                continue
            kept.append(text[at:begin])
            self.found[opening.start() - cut] = text[begin:close]
            self._places.append(begin - cut)
            cut += close - begin
            self._shifts.append(cut)
            at = close
        self.rest = b"".join([*kept, text[at:]])

    def original(self, place: int) -> int:
        """The offset in the whole text of an offset in what is left."""
        i = bisect_right(self._places, place)
        return place + (self._shifts[i - 1] if i else 0)


def _candidates(text: bytes) -> Iterator[tuple[re.Match[bytes], int]]:
    """Opening tags and the places of their closing tags, with no other opening of the kind between.

    Every place of the text is searched a fixed number of times, whatever it holds.
    """
    closes: dict[bytes, int] = {}
    for opening in _openings(text):
        tag, begin = opening.group()[1:], opening.end()
        if 0 <= closes.get(tag, 0) < begin:
            closes[tag] = text.find(b"</" + tag, begin)
        close = closes[tag]
        if close >= 0 and text.find(b"<" + tag, begin, close) < 0:
            yield opening, close


def _openings(text: bytes) -> Iterator[re.Match[bytes]]:
    """All opening tags of the two lists in order. Found by their ends: plain search is ten times as fast."""
    ends = {end: text.find(end) for end in (b"vertices>", b"triangles>")}
    while any(at >= 0 for at in ends.values()):
        end, at = min(((e, a) for e, a in ends.items() if a >= 0), key=lambda pair: pair[1])
        stop = at + len(end)
        begin = text.rfind(b"<", max(0, at - _LONGEST_PREFIX), stop)
        opening = _OPENING.fullmatch(text, begin, stop) if begin >= 0 else None
        if opening is not None:
            yield opening
        ends[end] = text.find(end, stop)


@lru_cache(8)
def _pattern(prefix: bytes, name: bytes) -> re.Pattern[bytes]:
    """A run that is nothing but the usual elements, attributes in the usual order, numbers as they should be."""
    p = re.escape(prefix)
    if name == b"vertices":
        attributes = b"".join(rb'\s++%s="%s"' % (a, _NUMBER) for a in (b"x", b"y", b"z"))
        element = rb"<" + p + rb"vertex" + attributes + rb"\s*+/>"
    else:
        attributes = b"".join(rb'\s++%s="%s"' % (a, INDEX) for a in (b"v1", b"v2", b"v3"))
        extra = b"".join(rb'(?:\s++%s="%s")?+' % (a, INDEX) for a in (b"pid", b"p1", b"p2", b"p3"))
        element = rb"<" + p + rb"triangle" + attributes + rb"(?:\s*+/>|" + extra + rb"\s*+/>)"
    return re.compile(rb"(?:\s*+" + element + rb")*+\s*+")


def floats_of(run: bytes, prefix: bytes) -> F64:
    """The numbers of a plain run of vertices, (n, 3) float64."""
    plain = not prefix and run.count(b"e") == 2 * run.count(b"<") and b"E" not in run  # no exponents: e is in "vertex"
    text = run.translate(_DECIMALS) if plain else _quoted(run, 3)
    values = _fixed_point(text) if plain else None
    return (np.fromstring(text, dtype=np.float64, sep=" ") if values is None else values).reshape(-1, 3)


def _fixed_point(text: bytes) -> F64 | None:
    """Numbers with a point and no exponent as whole numbers over powers of ten; None where that is not exact.

    Both are exact in float64 up to 2^53 and 10^22, so their quotient is the correctly rounded value (Clinger 1990).
    """
    raw = np.frombuffer(text + b" ", np.uint8)
    points = np.flatnonzero(raw == ord("."))
    blank = raw == ord(" ")
    ends = np.flatnonzero(blank[1:] & ~blank[:-1]) + 1
    begins = np.flatnonzero(blank[:-1] & ~blank[1:]) + 1
    if not len(points) or len(points) != len(ends) or len(begins) != len(ends):
        return None
    decimals = ends - points - 1
    if (points < begins).any() or decimals.min() < 0 or decimals.max() > _EXACT_POWER or (ends - begins).max() > 18:
        return None
    whole = np.fromstring(text.translate(None, b"."), dtype=np.int64, sep=" ")
    if len(whole) != len(ends) or np.abs(whole).max() >= 1 << 53:
        return None
    out: F64 = whole / _POWERS[decimals]
    return out


def indices_of(run: bytes, prefix: bytes) -> I64:
    """The first three numbers of every element of a plain run of triangles, (m, 3) int64."""
    if prefix or b"p" in run:
        return np.fromstring(_quoted(run, 3), dtype=np.int64, sep=" ").reshape(-1, 3)
    digits = np.fromstring(run.translate(_DIGITS), dtype=np.int64, sep=" ")  # of v1, v2 and v3 too
    return np.ascontiguousarray(digits.reshape(-1, 6)[:, 1::2])


def _quoted(run: bytes, per: int) -> bytes:
    """A plain run with everything blanked but the first ``per`` quoted numbers of every element."""
    raw = np.frombuffer(run, np.uint8)
    quotes = np.flatnonzero(raw == ord('"'))
    begins, ends = quotes[::2] + 1, quotes[1::2]
    opens = np.flatnonzero(raw == ord("<"))
    if len(begins) != per * len(opens):
        first = np.searchsorted(begins, opens)
        keep = (first[:, None] + np.arange(per)).reshape(-1)
        begins, ends = begins[keep], ends[keep]
    inside = np.zeros(len(raw) + 1, np.int8)
    inside[begins] = 1
    inside[ends] = -1
    np.cumsum(inside, out=inside)
    return np.where(inside[:-1].view(bool), raw, np.uint8(ord(" "))).tobytes()
