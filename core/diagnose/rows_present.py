"""Reading the teeth that stand in a gap already: how many, how wide at foot and tip, how thick, of what form.

The gap is cut lengthwise through the middle of what stands in it, on the mesh itself. The flanks are read at several
shares of the gap and carried on to the ledge plane and the edge plane. It makes no difference whether the teeth are
shells of their own or part of one united skin.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from core.design.plan import Shape
from core.design.setup import PrintSetup
from core.design.span import Direction, Span
from core.design.span_section import NearSpan
from core.design.tooth import flank
from core.diagnose.flanks import FORM_TOLERANCE, carried, feet, flanks, shares_of
from core.diagnose.standing import Standing, standing_in
from core.geometry.mesh import F64, I64, Bool, Mesh
from core.geometry.sheet import Section, sheet_section

#: This many things of like width and spacing make a row.
LEAST_TEETH: Final = 3
#: Teeth of one row differ by less than this share in width, and in spacing from a whole number of pitches; from memory.
LIKE: Final = 0.25


@dataclass(frozen=True, eq=False)
class RowPresent:
    """Teeth that stand in a span. Lengths mm; ``foot`` and ``tip`` in the ledge plane and the edge plane.

    ``centres`` (n,) arc length of every tooth at half the gap, ``tips`` (n, 2) what it covers of the edge, ``across``
    (n, 2) what it covers across; ``points`` (n, 3) its middle, bed mm. ``like`` (n,) bool tells which of them are
    alike; ``is_row`` when there are enough of those. The figures are those of the alike ones. ``cuts`` names for every
    tooth the triangles of the mesh that pass through the middle of the gap. ``walls`` (w, 2) are stretches that the
    part itself fills. ``id`` and ``gap`` are set when listed.
    """

    direction: Direction
    shape: Shape
    pitch: float
    foot: float
    tip: float
    thickness: float
    height: float
    centres: F64
    tips: F64
    across: F64
    points: F64
    like: Bool
    cuts: tuple[I64, ...]
    walls: F64
    id: str = ""
    gap: str | None = None

    @property
    def teeth(self) -> int:
        """How many teeth alike there are."""
        return int(self.like.sum())

    @property
    def is_row(self) -> bool:
        """Whether they make a row."""
        return self.teeth >= LEAST_TEETH

    @property
    def standing(self) -> tuple[tuple[float, float], ...]:
        """Arc-length intervals of edge that are held, mm, for planning between them, in rising order."""
        return tuple(sorted((float(a), float(b)) for a, b in (*self.tips, *self.walls)))

    def clear_distances(self, span: Span) -> F64:
        """Lengths of edge left free, mm: before, between and behind the tips; round a closed span only between."""
        starts, stops = np.array(self.standing).T  # round a closed span s runs on past its length
        if span.closed:
            return np.asarray(np.r_[starts[1:], starts[0] + span.length] - stops)
        return np.asarray(np.r_[starts, span.length] - np.r_[0.0, stops])

    def enough(self, span: Span, setup: PrintSetup) -> bool:
        """Whether no free length of edge is longer than the longest clear bridge of the setup."""
        return bool(self.clear_distances(span).max() <= setup.clear_bridge + 1e-6)


def read_row(mesh: Mesh, span: Span) -> RowPresent | None:
    """The teeth that stand in ``span``; ``mesh`` in bed mm. None when the gap is empty.

    Three things or more of like width and spacing make a row (``is_row``); fewer are told all the same.
    """
    near = NearSpan.of(mesh, span)
    things = standing_in(near)
    teeth = [t for t in things if not t.wall]
    return _read(near, teeth, np.array([t.s for t in things if t.wall]).reshape(-1, 2)) if teeth else None


def _read(near: NearSpan, things: list[Standing], walls: F64) -> RowPresent | None:
    """Cut lengthwise through the things and read their flanks."""
    span = near.span
    things, start = _opened(span, things)
    section, measure = _through(near, things, start)
    centres = np.array([t.centre for t in things])
    if span.closed:
        centres = (centres - start) % span.length + start
    shares = shares_of(span, centres)
    left, right = flanks(section, np.interp(centres, measure[0], measure[1]), shares)
    real = np.isfinite(left).sum(axis=1) >= 2
    if not real.any():
        return None
    things = [t for t, r in zip(things, real, strict=True) if r]
    left, right, centres = left[real], right[real], centres[real]
    foot_at, tip_at = feet(shares, left, right, span.at(centres).gap), carried(shares, left, right, 1.0)
    foot, tip = (np.maximum(at[:, 1] - at[:, 0], 0.0) for at in (foot_at, tip_at))
    like, pitch = _alike(span, centres, np.array([t.width for t in things]))
    at = span.at(centres)
    middles = np.column_stack([[t.middle for t in things], (at.ledge.max(axis=1) + at.edge.min(axis=1)) / 2])
    figures = [float(np.median(values[like])) for values in (foot, tip, np.array([t.thickness for t in things]))]
    height = float(at.gap[like].mean())
    return RowPresent(
        direction=span.direction,
        shape=_shape(shares, left[like], right[like], (figures[0], figures[1]), height),
        pitch=pitch,
        foot=figures[0],
        tip=figures[1],
        thickness=figures[2],
        height=height,
        centres=centres,
        tips=np.interp(np.sort(tip_at, axis=1), measure[1], measure[0]),
        across=np.array([t.v for t in things]),
        points=span.bed_points(middles),
        like=like,
        cuts=tuple(t.cut for t in things),
        walls=walls,
    )


def _opened(span: Span, things: list[Standing]) -> tuple[list[Standing], float]:
    """Things in their order from where a closed span is best cut open, in the widest space between two; and where."""
    if not span.closed:
        return things, 0.0
    things = sorted(things, key=lambda t: t.centre % span.length)
    starts = np.array([t.centre % span.length - t.width / 2 for t in things])
    stops = np.array([t.centre % span.length + t.width / 2 for t in things])
    space = np.r_[starts[1:], starts[0] + span.length] - stops
    widest = int(np.argmax(space))
    at = float(stops[widest] + space[widest] / 2)
    return things[widest + 1 :] + things[: widest + 1], at % span.length


def _through(near: NearSpan, things: list[Standing], start: float) -> tuple[Section, tuple[F64, F64]]:
    """The lengthwise section through the middle of the things, heights as shares of the gap, in true length.

    A closed span is cut open at ``start``. Also the pairs (s of the span, length along the sheet) that translate
    between the two.
    """
    span = near.span
    st = span.stations
    middle = np.array([sum(t.v) / 2 for t in things])
    centres = np.array([t.centre for t in things])
    v = np.interp(st.s, *_rising(centres % span.length if span.closed else centres, middle))
    line, s = near.plan_line(v, beyond=1.0, start=start)
    length = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))]
    width = np.maximum(st.hi - st.lo, 1e-9)
    t = np.clip((v - st.lo) / width, 0, 1)
    low = st.ledge[:, 0] + t * (st.ledge[:, 1] - st.ledge[:, 0])
    high = st.edge[:, 0] + t * (st.edge[:, 1] - st.edge[:, 0])
    section = sheet_section(near.mesh, line, length)
    at = np.r_[st.s, st.s[1:] + span.length] if span.closed else st.s
    low, high = (np.r_[h, h[1:]] if span.closed else h for h in (low, high))
    return section.between(np.interp(at, s, length), low, high), (s, length)


def _rising(x: F64, y: F64) -> tuple[F64, F64]:
    order = np.argsort(x)
    return x[order], y[order]


def _alike(span: Span, centres: F64, widths: F64) -> tuple[Bool, float]:
    """Which things are alike in width and stand at whole numbers of one pitch, (n,) bool; and that pitch, mm."""
    alike = np.abs(widths[:, None] - widths) <= LIKE * widths[:, None]
    like = alike[int(np.argmax(alike.sum(axis=1)))]
    where = centres[like]
    steps = np.diff(where)
    if span.closed and len(where) > 1:
        steps = np.r_[steps, where[0] + span.length - where[-1]]
    if not len(steps):
        return like, 0.0
    pitch = _common_step(steps)
    count = steps / pitch
    regular = np.abs(count - np.round(count)) <= LIKE
    if regular.mean() < 0.5:
        like &= False
        like[:1] = True
    return like, pitch


def _common_step(steps: F64) -> float:
    """The commonest step: the median of those within LIKE of the step that most others resemble, mm."""
    near = np.abs(steps[:, None] - steps) <= 0.1 * steps[:, None]
    best = int(np.argmax(near.sum(axis=1)))
    return float(np.mean(steps[near[best]]))


def _shape(shares: F64, left: F64, right: F64, widths: tuple[float, float], gap: float) -> Shape:
    """The form whose flanks lie nearest to those that were read."""
    usable = np.isfinite(left).all(axis=0)
    y = shares[usable] * gap
    middle = (left + right)[:, usable].mean(axis=1, keepdims=True) / 2
    a, b = (np.median(side[:, usable] - middle, axis=0) for side in (left, right))
    lean = np.polyfit(y, (a + b) / 2, 1)[0] * gap if len(y) > 1 else 0.0
    half = (b - a) / 2
    foot, tip = widths
    if abs(lean) > max(FORM_TOLERANCE, 0.2 * (foot - tip)):
        return "rake"
    if foot - tip <= 2 * FORM_TOLERANCE:
        return "post"
    forms: tuple[Shape, ...] = ("straight", "arc_tip", "arc_ledge")
    off = [float(np.abs(half - np.interp(y, *flank(form, foot, tip, gap))).mean()) for form in forms]
    return forms[int(np.argmin(off))]
