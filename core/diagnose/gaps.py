"""The gaps and rows of a survey as they are listed: named, linked with weak spots, with the cause in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from core.design.plan import RowPlan, RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.span import Direction, Span
from core.diagnose.measured import Measured
from core.diagnose.rows_present import RowPresent
from core.diagnose.spot_lines import Spot, SpotLines
from core.diagnose.survey import Survey
from core.errors import PlanRefused


@dataclass(frozen=True, eq=False)
class Gap:
    """A gap as it is listed; ``weak_spot`` and ``row`` are ids of what belongs to it, ``cause`` says what is there.

    ``standing`` are the tip intervals (mm along the span) of everything that stands in it. ``enough``: nothing weak
    asks for teeth, or those that stand leave no longer clear bridge than the setup allows. ``suggested`` is the row
    that it would get, if it lacks one; ``refused`` says why it gets none.
    """

    id: str
    direction: Direction
    span: Span
    weak_spot: str | None
    row: str | None
    enough: bool
    cause: str
    standing: tuple[tuple[float, float], ...] = ()
    suggested: RowPlan | None = None
    refused: str = ""

    @cached_property
    def length(self) -> float:
        """Length of the stretch along the middle of its strip, mm."""
        st = self.span.stations
        middle = np.full(len(st.s), np.median((st.lo + st.hi) / 2))
        line = st.points(middle, st.edge.mean(axis=1))
        return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def listed(
    survey: Survey, spots: Sequence[Spot], dismissed: frozenset[str] = frozenset()
) -> tuple[tuple[Gap, ...], tuple[RowPresent, ...]]:
    """Gaps g1, g2 … and rows r1, r2 … of a survey: those under the worst spots first, those with enough teeth last.

    ``dismissed`` holds ids of spots that the person called fine as they are: they ask for nothing. A gap that was
    measured for a spot that is not there any more is left out.
    """
    near = SpotLines.of(spots, survey.setup)
    entries = [(m, max(near.over(m.span), key=lambda s: s.severity, default=None)) for m in survey.measured]
    entries = [(m, s) for m, s in entries if m.is_row or s is not None or m.wanted == "fin"]
    entries.sort(key=lambda e: (-(e[1].severity if e[1] else -1.0), e[0].row is None, -round(e[0].span.length, 3)))
    gaps: list[Gap] = []
    rows: list[RowPresent] = []
    for i, (found, spot) in enumerate(entries, start=1):
        row = found.row
        if found.is_row and row is not None:
            rows.append(replace(row, id=f"r{len(rows) + 1}", gap=f"g{i}"))
        gaps.append(
            _gap(f"g{i}", found, spot, rows[-1].id if found.is_row else None, survey, frozenset(dismissed))
        )
    return tuple(gaps), tuple(rows)


def held_by_teeth(survey: Survey, spots: Sequence[Spot]) -> frozenset[str]:
    """Ids of spots that hang over a gap whose teeth suffice, nowhere farther from support than half a clear bridge.

    Half a line is added: so far the line beside a tooth reaches. Teeth too thin to print leave the spot where it is.
    """
    setup = survey.setup
    limit = setup.clear_bridge / 2 + setup.line_width / 2
    enough = [m.span for m in survey.measured if m.row is not None and m.row.enough(m.span, setup)]
    near = SpotLines.of((s for s in spots if s.reach <= limit), setup)
    return frozenset(s.id for span in enough for s in near.over(span))


def _gap(
    name: str, found: Measured, spot: Spot | None, row: str | None, survey: Survey, dismissed: frozenset[str]
) -> Gap:
    setup, span = survey.setup, found.span
    row_there = found.row
    nothing_asked = spot is None or spot.id in dismissed
    enough = nothing_asked and (row_there is None or row_there.enough(span, setup))
    standing = () if row_there is None else _once_round(span, row_there.standing)
    suggested, refused = (None, "") if enough else _suggested(span, setup, standing)
    gap = Gap(name, span.direction, span, spot.id if spot else None, row, enough, "", standing, suggested, refused)
    return replace(gap, cause=_cause(found, survey, gap.length))


def _once_round(span: Span, standing: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """Intervals of a closed span brought within its length, cut in two where they lie across its start."""
    if not span.closed:
        return standing
    out = []
    for start, stop in standing:
        a = start % span.length
        b = a + stop - start
        out += [(a, b)] if b <= span.length else [(a, span.length), (0.0, b - span.length)]
    return tuple(sorted(out))


def _suggested(
    span: Span, setup: PrintSetup, standing: tuple[tuple[float, float], ...]
) -> tuple[RowPlan | None, str]:
    """The row that a gap would get between what stands there, or why it gets none."""
    try:
        plan = plan_row(span, RowWishes(), setup, standing)
    except PlanRefused as problem:
        return None, str(problem)
    return (plan, "") if plan.teeth else (None, "There is no room for a tooth.")


def _cause(found: Measured, survey: Survey, length: float) -> str:
    """What is there, in words: how far, how long, which teeth, and what else holds the same fin."""
    span, pieces = found.span, survey.pieces
    piece = pieces.piece_of(found.joint.ledge)
    thrown = piece >= 0 and pieces.pieces[piece].sacrificial is True
    low, high = span.gap_range
    far = f"{low:.1f} mm" if high - low < 0.05 else f"{low:.1f} to {high:.1f} mm"
    what = "fin" if thrown else "ledge"
    place = f"stops {far} short of this edge" if span.direction == "up" else f"stands {far} beside this upright edge"
    words = [f"the {what} {place} for {length:.0f} mm", _teeth_words(found, survey.setup)]
    if thrown:
        words += _other_rows(found, survey, piece)
    text = "; ".join(words)
    return text[0].upper() + text[1:] + "."


def _teeth_words(found: Measured, setup: PrintSetup) -> str:
    row = found.row
    if row is None:
        return "no teeth here"
    count = len(row.tips)
    clear = float(row.clear_distances(found.span).max())
    name = "tooth stands" if count == 1 else "teeth stand"
    verdict = "" if row.enough(found.span, setup) else f", more than the {setup.clear_bridge:g} mm allowed"
    return f"{count} {name} here, at most {clear:.1f} mm apart{verdict}"


def _other_rows(found: Measured, survey: Survey, piece: int) -> list[str]:
    """What the same piece is held by elsewhere."""
    out = []
    for other in survey.measured:
        if other is found or not other.is_row or other.row is None:
            continue
        if survey.pieces.piece_of(other.joint.ledge) == piece:
            side = "upright side" if other.span.direction == "side" else "other edge"
            out.append(f"its {side} has {other.row.teeth}")
    return out
