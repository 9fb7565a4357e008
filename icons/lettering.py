"""Draws the lettering face of the drawings and writes it as a TrueType file.

The letters are strokes on the grid of type B lettering: capitals 10 high, small letters 7, strokes 1 wide with round
ends, figures all of one width (proportions after ISO 3098-0:1997, from memory). A stroke is a chain of points; a
figure in brackets rounds the corner at its point with that radius. Run ``python -m icons.lettering`` after a change.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from shapely import GeometryCollection, LineString, Point, Polygon, get_parts, union_all
from shapely.geometry.base import BaseGeometry

FAMILY = "Snapcomb Lettering"
TARGET = Path(__file__).parent / "fonts" / "SnapcombLettering-Regular.ttf"
EM, UNIT = 1000, 70  # capitals are 700 of 1000 high
STROKE = 1.06  # in tenths of the capital height; a shade over 1 because thin grey strokes look thinner on a screen
BEARING = 1.45  # from the outermost centre line to the edge of the letter's field
STEPS = 8  # chords in a quarter turn

Stroke = list[tuple[float, float]]

# letter: strokes separated by ";", z closes one; "@" repeats another letter's strokes
STROKES = {
    "A": "0,0 2.75,10 5.5,0;.85,3.1 4.65,3.1",
    "B": "0,0 0,10 5,10(2.4) 5,5.2(2.4) 0,5.2;0,5.2 5.5,5.2(2.6) 5.5,0(2.6) 0,0",
    "C": "5.4,7.3 5.4,10(2.7) 0,10(2.7) 0,0(2.7) 5.4,0(2.7) 5.4,2.7",
    "D": "0,0 0,10 5.5,10(3.2) 5.5,0(3.2) z",
    "E": "4.9,10 0,10 0,0 4.9,0;0,5.2 4.1,5.2",
    "F": "4.9,10 0,10 0,0;0,5.2 4.1,5.2",
    "G": "5.4,7.3 5.4,10(2.7) 0,10(2.7) 0,0(2.7) 5.4,0(2.7) 5.4,4.7 3,4.7",
    "H": "0,0 0,10;5.5,0 5.5,10;0,5.2 5.5,5.2",
    "I": "0,0 0,10",
    "J": "3.8,10 3.8,0(1.9) 0,0(1.9) 0,2.1",
    "K": "0,0 0,10;5.2,10 0,3.9;1.9,6.1 5.5,0",
    "L": "0,10 0,0 4.7,0",
    "M": "0,0 0,10 3.3,3.4 6.6,10 6.6,0",
    "N": "0,0 0,10 5.5,0 5.5,10",
    "O": "0,10(2.75) 5.5,10(2.75) 5.5,0(2.75) 0,0(2.75) z",
    "P": "0,0 0,10 5.3,10(2.6) 5.3,4.8(2.6) 0,4.8",
    "Q": "@O;3.4,2.4 5.9,-.7",
    "R": "@P;2.7,4.8 5.5,0",
    "S": "5.2,7.6 5.2,10(2.4) .1,10(2.4) .1,5.2(2.4) 5.4,5.2(2.6) 5.4,0(2.6) 0,0(2.6) 0,2.5",
    "T": "0,10 5.6,10;2.8,10 2.8,0",
    "U": "0,10 0,0(2.75) 5.5,0(2.75) 5.5,10",
    "V": "0,10 2.8,0 5.6,10",
    "W": "0,10 1.9,0 3.8,8.6 5.7,0 7.6,10",
    "X": "0,0 5.3,10;0,10 5.3,0",
    "Y": "0,10 2.75,4.6 5.5,10;2.75,4.6 2.75,0",
    "Z": ".1,10 5.2,10 0,0 5.3,0",
    "a": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;4.6,7 4.6,0",
    "b": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;0,10 0,0",
    "c": "4.4,4.9 4.4,7(2.2) 0,7(2.2) 0,0(2.2) 4.4,0(2.2) 4.4,2.1",
    "d": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;4.6,10 4.6,0",
    "e": "0,3.6 4.6,3.6 4.6,7(2.3) 0,7(2.3) 0,0(2.3) 4.4,0(2.2) 4.4,1.5",
    "f": "1.3,0 1.3,10(1.7) 3.3,10;0,7 3,7",
    "g": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;4.6,7 4.6,-3(2.2) .4,-3",
    "h": "0,10 0,0;0,4.7 0,7(2.3) 4.6,7(2.3) 4.6,0",
    "ı": "0,7 0,0",
    "i": "@ı;0,9.7 0,9.7",
    "ȷ": "1.3,7 1.3,-3(1.3) 0,-3",
    "j": "@ȷ;1.3,9.7 1.3,9.7",
    "k": "0,10 0,0;4.3,7 0,2.6;1.6,4.2 4.5,0",
    "l": "0,10 0,0(1.5) 1.6,0",
    "m": "0,7 0,0;0,4.9 0,7(1.9) 3.8,7(1.9) 3.8,0;3.8,4.9 3.8,7(1.9) 7.6,7(1.9) 7.6,0",
    "n": "0,7 0,0;0,4.7 0,7(2.3) 4.6,7(2.3) 4.6,0",
    "o": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z",
    "p": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;0,7 0,-3",
    "q": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;4.6,7 4.6,-3",
    "r": "0,7 0,0;0,4.6 0,7(2.4) 3.1,7",
    "s": "4.1,5.3 4.1,7(1.7) .1,7(1.7) .1,3.7(1.65) 4.3,3.7(1.85) 4.3,0(1.85) 0,0(1.7) 0,1.7",
    "t": "1.3,9.5 1.3,0(1.8) 3.3,0;0,7 3.1,7",
    "u": "0,7 0,0(2.3) 4.6,0(2.3) 4.6,2.3;4.6,7 4.6,0",
    "v": "0,7 2.4,0 4.8,7",
    "w": "0,7 1.7,0 3.4,6.2 5.1,0 6.8,7",
    "x": "0,0 4.5,7;0,7 4.5,0",
    "y": "0,7 2.5,0;5,7 1.43,-3",
    "z": ".1,7 4.3,7 0,0 4.4,0",
    "0": "0,10(2.5) 5,10(2.5) 5,0(2.5) 0,0(2.5) z",
    "1": ".7,7.7 2.9,10 2.9,0",
    "2": ".1,7.6 .1,10(2.4) 4.9,10(2.4) 4.9,6.1(2.6) 0,0 5,0",
    "3": ".1,7.7 .1,10(2.3) 4.7,10(2.3) 4.7,5.3(2.35) 1.9,5.3;1.9,5.3 5,5.3(2.6) 5,0(2.6) 0,0(2.5) 0,2.4",
    "4": "2.5,10 0,2.7 5,2.7;3.6,5.4 3.6,0",
    "5": "4.6,10 .4,10 .4,5.9 5,5.9(2.7) 5,0(2.7) 0,0(2.5) 0,2.1",
    "6": "4.7,7.9 4.7,10(2.3) 0,10(2.4) 0,3;0,5.7(2.5) 5,5.7(2.5) 5,0(2.5) 0,0(2.5) z",
    "7": "0,10 5,10 1.8,0",
    "8": ".3,10(2.2) 4.7,10(2.2) 4.7,5.4(2.2) .3,5.4(2.2) z;0,5.4(2.5) 5,5.4(2.5) 5,0(2.5) 0,0(2.5) z",
    "9": ".3,2.1 .3,0(2.3) 5,0(2.4) 5,7;0,10(2.5) 5,10(2.5) 5,4.3(2.5) 0,4.3(2.5) z",
    ".": "0,.15 0,.15",
    ",": ".4,.3 -.1,-1.5",
    ":": "0,.15 0,.15;0,6 0,6",
    ";": ".4,.3 -.1,-1.5;.3,6 .3,6",
    "!": "0,10 0,3.4;0,.15 0,.15",
    "?": "0,7.8 0,10(2.2) 4.5,10(2.2) 4.5,6(2) 2.2,4.6(1) 2.2,3;2.2,.15 2.2,.15",
    "…": "0,.15 0,.15;2.8,.15 2.8,.15;5.6,.15 5.6,.15",
    "·": "0,4.5 0,4.5",
    "•": "0,4.8(.5) 1,4.8(.5) 1,3.8(.5) 0,3.8(.5) z",
    "'": "0,10 0,7.6",
    '"': "0,10 0,7.6;1.8,10 1.8,7.6",
    "’": ".5,10 0,7.8",
    "‘": "0,10 .5,7.8",
    "“": "0,10 .5,7.8;1.8,10 2.3,7.8",
    "”": ".5,10 0,7.8;2.3,10 1.8,7.8",
    "„": ".5,.4 0,-1.6;2.3,.4 1.8,-1.6",
    "′": ".6,10 0,7.6",
    "″": ".6,10 0,7.6;2.3,10 1.7,7.6",
    "-": "0,4.5 2.6,4.5",
    "‑": "0,4.5 2.6,4.5",
    "–": "0,4.5 4.6,4.5",
    "—": "0,4.5 8,4.5",
    "_": "0,-1.5 5.4,-1.5",
    "+": "0,4.5 5,4.5;2.5,7 2.5,2",
    "−": "0,4.5 5,4.5",
    "±": "0,5.4 5,5.4;2.5,7.9 2.5,2.9;0,.6 5,.6",
    "×": ".4,2.4 4.6,6.6;.4,6.6 4.6,2.4",
    "÷": "0,4.5 5,4.5;2.5,7.1 2.5,7.1;2.5,1.9 2.5,1.9",
    "=": "0,5.9 5,5.9;0,3.1 5,3.1",
    "≈": "0,5.4 0,6.6(.9) 2.5,6.4(.7) 2.5,5.4(.7) 5,5.2(.9) 5,6.4;"
    "0,2.6 0,3.8(.9) 2.5,3.6(.7) 2.5,2.6(.7) 5,2.4(.9) 5,3.6",
    "<": "4.6,7.7 .2,4.5 4.6,1.3",
    ">": ".4,7.7 4.8,4.5 .4,1.3",
    "≤": "4.6,8.4 .2,5.4 4.6,2.4;.2,.4 4.6,.4",
    "≥": ".4,8.4 4.8,5.4 .4,2.4;.4,.4 4.8,.4",
    "/": "0,-1 4,11",
    "\\": "0,11 4,-1",
    "|": "0,11.5 0,-2",
    "(": "2,11.5 0,8.2(4) 0,1.3(4) 2,-2",
    ")": "0,11.5 2,8.2(4) 2,1.3(4) 0,-2",
    "[": "1.9,11.5 0,11.5 0,-2 1.9,-2",
    "]": "0,11.5 1.9,11.5 1.9,-2 0,-2",
    "{": "2.4,11.5 1.2,11.5(1.2) 1.2,5(.9) 0,4.7(.3) 1.2,4.4(.9) 1.2,-2(1.2) 2.4,-2",
    "}": "0,11.5 1.2,11.5(1.2) 1.2,5(.9) 2.4,4.7(.3) 1.2,4.4(.9) 1.2,-2(1.2) 0,-2",
    "°": "0,10(1.2) 2.4,10(1.2) 2.4,7.6(1.2) 0,7.6(1.2) z",
    "%": ".2,0 6,10;0,10(1.1) 2.2,10(1.1) 2.2,7(1.1) 0,7(1.1) z;4,3(1.1) 6.2,3(1.1) 6.2,0(1.1) 4,0(1.1) z",
    "&": "5.8,0 1,6.6(2.4) 1,10(1.9) 4.6,10(1.9) 4.6,6.4(1.9) 0,4.6(1.9) 0,0(2.2) 4.4,0(2.4) 5.6,4.4",
    "#": "1.3,0 2.5,10;4,0 5.2,10;0,3.1 5.9,3.1;.5,6.9 6.4,6.9",
    "@": "5.6,3 5.6,6.6(1.6) 2.6,6.6(1.6) 2.6,3(1.6) 5.6,3(1.4);"
    "5.6,6.6 5.6,3 7.8,3(1) 7.8,9.2(3.6) 0,9.2(3.6) 0,-.6(3.6) 6.4,-.6",
    "*": "2,10 2,5.6;.1,8.9 3.9,6.7;.1,6.7 3.9,8.9",
    "µ": "0,7 0,-3;0,3 0,0(2.3) 4.6,0(2.3) 4.6,3;4.6,7 4.6,0",
    "Ø": "@O;-.2,-.8 5.7,10.8",
    "ø": "@o;-.2,-.8 4.8,7.8",
    "⌀": "0,7.8(2.9) 5.8,7.8(2.9) 5.8,2(2.9) 0,2(2.9) z;.3,0 5.5,9.8",
    "⌴": "0,8 0,2 6,2 6,8",
    "⌵": "0,8 3,2 6,8",
    "ß": "0,0 0,10(2.3) 4.2,10(2.2) 4.2,5.6(2.1) 2.2,5.6;2.2,5.6 4.8,5.6(2.7) 4.8,0(2.7) 2,0",
    "Æ": "0,0 3.9,10 8.4,10;4.6,10 4.6,0 8.4,0;4.6,5.2 7.8,5.2;1.2,3.1 4.6,3.1",
    "æ": "0,7(2.2) 4.2,7(2.2) 4.2,0(2.2) 0,0(2.2) z;"
    "4.2,3.6 8.4,3.6 8.4,7(2.1) 4.2,7(2.1) 4.2,0(2.1) 8.2,0(2.1) 8.2,1.5",
    "Œ": "8.8,10 0,10(2.75) 0,0(2.75) 8.8,0;4.7,10 4.7,0;4.7,5.2 8,5.2",
    "œ": "0,7(2.2) 4.2,7(2.2) 4.2,0(2.2) 0,0(2.2) z;"
    "4.2,3.6 8.4,3.6 8.4,7(2.1) 4.2,7(2.1) 4.2,0(2.1) 8.2,0(2.1) 8.2,1.5",
    "Ł": "@L;-1,3.8 2.6,6.4",
    "ł": "@l;-1,4 1.5,6",
    "Đ": "@D;-1,5.2 2.4,5.2",
    "đ": "@d;2.8,8.6 5.8,8.6",
    "Ð": "@D;-1,5.2 2.4,5.2",
    "Þ": "0,0 0,10;0,7.9 5.2,7.9(2.5) 5.2,2.8(2.5) 0,2.8",
    "þ": "0,7(2.3) 4.6,7(2.3) 4.6,0(2.3) 0,0(2.3) z;0,10 0,-3",
    "←": "7,4.5 0,4.5;2.4,6.6 0,4.5 2.4,2.4",
    "→": "0,4.5 7,4.5;4.6,6.6 7,4.5 4.6,2.4",
    "↑": "2.1,0 2.1,9;0,6.6 2.1,9 4.2,6.6",
    "↓": "2.1,9 2.1,0;0,2.4 2.1,0 4.2,2.4",
    "€": "5.2,7.6 5.2,10(2.6) .8,10(2.6) .8,0(2.6) 5.2,0(2.6) 5.2,2.4;-.5,6.1 4,6.1;-.5,3.9 4,3.9",
    "£": "5,8 5,10(2) 1.4,10(2) 1.4,0;0,0 5.2,0;0,4.7 3.8,4.7",
    "√": "0,4 1.2,4.6 2.9,0 5,11 7.6,11",
}  # fmt: skip

# combining mark: strokes about x = 0; the height is that of a mark over a capital
MARKS = {
    "\u0300": "-1,13.2 .5,11.7", "\u0301": "1,13.2 -.5,11.7", "\u0302": "-1.5,11.7 0,13.2 1.5,11.7",
    "\u0303": "-1.8,11.9 -1.8,13(.8) 0,12.8(.5) 0,12.1(.5) 1.8,11.9(.8) 1.8,13", "\u0304": "-1.5,12.3 1.5,12.3",
    "\u0306": "-1.5,13.2 -1.5,11.7(1.4) 1.5,11.7(1.4) 1.5,13.2", "\u0307": "0,12.4 0,12.4",
    "\u0308": "-1.3,12.4 -1.3,12.4;1.3,12.4 1.3,12.4",
    "\u030a": "-1.1,13.6(1.1) 1.1,13.6(1.1) 1.1,11.4(1.1) -1.1,11.4(1.1) z",
    "\u030b": ".1,13.2 -1.2,11.7;2,13.2 .7,11.7", "\u030c": "-1.5,13.2 0,11.7 1.5,13.2",
    "\u0327": "0,0 .2,-1.2 1,-1.4(.7) .9,-2.7(.7) -.7,-2.7", "\u0328": "1,0 -.3,-1.2(.6) -.1,-2.6(.7) 1.2,-2.5",
    "\u0326": ".3,-1.4 -.3,-2.9",
}  # fmt: skip
HANGING = {"\u0327", "\u0328", "\u0326"}
COMPOSED = [chr(c) for c in (*range(0xC0, 0x180), *range(0x218, 0x21C))]


def _corner(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], radius: float
) -> Iterator[tuple[float, float]]:
    """Points of the arc that rounds corner b between a and c, no larger than both sides allow."""
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    la, lc = math.hypot(ax - bx, ay - by), math.hypot(cx - bx, cy - by)
    ux, uy, vx, vy = (ax - bx) / la, (ay - by) / la, (cx - bx) / lc, (cy - by) / lc
    half = math.acos(max(-1.0, min(1.0, ux * vx + uy * vy))) / 2
    cut = min(radius / math.tan(half), la, lc)
    r = cut * math.tan(half)
    mx, my = (ux + vx) / math.hypot(ux + vx, uy + vy), (uy + vy) / math.hypot(ux + vx, uy + vy)
    ox, oy = bx + mx * r / math.sin(half), by + my * r / math.sin(half)
    start = math.atan2(by + uy * cut - oy, bx + ux * cut - ox)
    turn = math.remainder(math.atan2(by + vy * cut - oy, bx + vx * cut - ox) - start, math.tau)
    n = max(2, round(abs(turn) / (math.pi / 2) * STEPS))
    yield from (
        (ox + r * math.cos(start + turn * k / n), oy + r * math.sin(start + turn * k / n)) for k in range(n + 1)
    )


def _stroke(text: str) -> Stroke:
    closed = text.endswith("z")
    found = re.findall(r"(-?[\d.]+),(-?[\d.]+)(?:\(([\d.]+)\))?", text)
    points = [(float(x), float(y)) for x, y, _ in found]
    line: Stroke = []
    for k, (*_, radius) in enumerate(found):
        if radius and (closed or 0 < k < len(points) - 1):
            line += _corner(points[k - 1], points[k], points[(k + 1) % len(points)], float(radius))
        else:
            line.append(points[k])
    return [*line, line[0]] if closed else line


def _strokes(text: str) -> list[Stroke]:
    return [
        s
        for part in text.split(";")
        for s in (_strokes(STROKES[part[1:]]) if part[0] == "@" and len(part) == 2 else [_stroke(part)])
    ]


def letter(char: str) -> list[Stroke] | None:
    """The strokes of a letter on the ten-grid, or None when the face has none."""
    if char in STROKES:
        return _strokes(STROKES[char])
    base, mark = (unicodedata.normalize("NFD", char) + " ")[:2]
    if base not in STROKES or mark not in MARKS or len(unicodedata.normalize("NFD", char)) != 2:
        return None
    body = _strokes(STROKES[{"i": "ı", "j": "ȷ"}.get(base, base) if mark not in HANGING else base])
    xs = [x for stroke in body for x, _ in stroke]
    tall = base.isupper() or base in "bdfhkl"
    dx, dy = (min(xs) + max(xs)) / 2, 0.0 if mark in HANGING or tall else -2.9
    return body + [[(x + dx, y + dy) for x, y in stroke] for stroke in _strokes(MARKS[mark])]


def _ink(strokes: Iterable[Stroke]) -> BaseGeometry:
    lines = [Point(s[0]) if len(set(s)) == 1 else LineString(s) for s in strokes]
    grow = [1.3 if isinstance(line, Point) else 1.0 for line in lines]  # a full stop a little wider than a stroke
    return union_all(
        [line.buffer(STROKE / 2 * g, quad_segs=STEPS) for line, g in zip(lines, grow, strict=True)]
        or [GeometryCollection()]
    )


def _advance(char: str, strokes: list[Stroke]) -> tuple[float, float]:
    """Width of the field and shift of the strokes in it; figures share one field."""
    if char.isdigit():
        return 5 + 2 * BEARING, BEARING
    xs = [x for stroke in strokes for x, _ in stroke]
    return max(xs) - min(xs) + 2 * BEARING, BEARING - min(xs)


def _glyph(char: str, strokes: list[Stroke]) -> tuple[object, tuple[int, int]]:
    width, shift = _advance(char, strokes)
    pen = TTGlyphPen(None)
    for area in get_parts(_ink(strokes).simplify(0.004)):
        if isinstance(area, Polygon):
            for ring, clockwise in [(area.exterior, True), *((hole, False) for hole in area.interiors)]:
                points = list(ring.coords)[:-1]
                if ring.is_ccw == clockwise:
                    points.reverse()
                placed = [(round((x + shift) * UNIT), round(y * UNIT)) for x, y in points]
                pen.moveTo(placed[0])
                for point in placed[1:]:
                    pen.lineTo(point)
                pen.closePath()
    glyph = pen.glyph()
    return glyph, (round(width * UNIT), 0)


def build(target: Path = TARGET) -> None:
    """Write the face."""
    drawn = {char: strokes for char in [*STROKES, *COMPOSED] if (strokes := letter(char))}
    glyphs: dict[str, object] = {".notdef": TTGlyphPen(None).glyph(), "space": TTGlyphPen(None).glyph()}
    metrics = {".notdef": (400, 0), "space": (round(4.6 * UNIT), 0)}
    names = {0x20: "space", 0xA0: "space"}
    for char, strokes in drawn.items():
        name = f"uni{ord(char):04X}"
        names[ord(char)] = name
        glyphs[name], metrics[name] = _glyph(char, strokes)
    _write(target, glyphs, metrics, names)


def _write(target: Path, glyphs: dict[str, object], metrics: dict[str, tuple[int, int]], names: dict[int, str]) -> None:
    font = FontBuilder(EM, isTTF=True)
    font.setupGlyphOrder(list(glyphs))
    font.setupCharacterMap(names)
    font.setupGlyf(glyphs)
    table = font.font["glyf"]
    font.setupHorizontalMetrics({n: (w, getattr(table[n], "xMin", 0)) for n, (w, _) in metrics.items()})
    font.setupHorizontalHeader(ascent=960, descent=-240)
    font.setupNameTable({
        "copyright": "Copyright (c) The Snapcomb authors", "familyName": FAMILY, "styleName": "Regular",
        "uniqueFontIdentifier": "Snapcomb Lettering 1.0", "fullName": FAMILY, "version": "Version 1.0",
        "psName": "SnapcombLettering-Regular",
        "licenseDescription": "Licensed under the SIL Open Font License, Version 1.1.",
        "licenseInfoURL": "https://openfontlicense.org",
    })  # fmt: skip
    font.setupOS2(
        sTypoAscender=960, sTypoDescender=-240, usWinAscent=1000, usWinDescent=260, sxHeight=490, sCapHeight=700
    )
    font.setupPost()
    font.font["head"].created = font.font["head"].modified = 0  # the same strokes give the same file
    font.font.recalcTimestamp = False
    font.save(target)


if __name__ == "__main__":
    build()
