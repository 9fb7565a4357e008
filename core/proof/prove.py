"""The proof of one row: what prints, what it stands clear of, what it holds and how it lets go, with all findings.

Everything follows from the mesh, the span, the plan and the setup; nothing is remembered but the sections of the part,
which do not depend on the plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np

from core.design.learned import UNTAUGHT, Learned
from core.design.plan import RowPlan
from core.design.setup import PrintSetup
from core.design.span import Direction, Span
from core.design.tooth import Teeth, profile, row_solids
from core.geometry.mesh import F64, Bool, Mesh
from core.geometry.pose import Pose
from core.proof.case import Case
from core.proof.clearance import Clearance, clearance
from core.proof.findings import Finding, worst_first
from core.proof.hold import Hold, hold, topple
from core.proof.holes import in_the_way
from core.proof.island import on_an_island
from core.proof.judge import printing, standing_clear
from core.proof.judge_hold import holding, letting_go
from core.proof.near import Near
from core.proof.snap import Force, Necks, PieceSnap, RowSnap, snap_piece, snap_row
from core.proof.survival import Survival, survive

#: Surroundings kept for the rows that are being worked on.
_KEPT = 6


class StandingRow(Protocol):
    """What is known of a row that is there already (lengths mm)."""

    @property
    def direction(self) -> Direction:
        """Whether its gap runs up or sideways."""
    @property
    def teeth(self) -> int:
        """How many teeth it has."""
    @property
    def tip(self) -> float:
        """Their width in the edge plane."""
    @property
    def thickness(self) -> float:
        """Their thickness across the edge."""
    @property
    def height(self) -> float:
        """Their height from ledge to edge."""


class Designed(Protocol):
    """A row that was worked out: its span and its plan."""

    @property
    def span(self) -> Span:
        """Where it stands, bed mm."""
    @property
    def plan(self) -> RowPlan:
        """Its figures, mm."""


@dataclass(frozen=True, eq=False)
class Proof:
    """All that is known about a planned row before it is printed. ``volume`` mm³ added in the gap, ``mass`` g."""

    findings: tuple[Finding, ...]
    survival: Survival
    clearance: Clearance
    hold: Hold
    snap: RowSnap
    piece: PieceSnap
    volume: float
    mass: float

    @property
    def lost_teeth(self) -> Bool:
        """Teeth (n,) that do not reach the edge in print, or lose layers in the worst phase."""
        out: Bool = (self.survival.lost != 0) | (self.survival.lost_worst > 0) | ~self.survival.connected
        return out

    @property
    def headline(self) -> str:
        """A few words for a narrow line."""
        counts = [sum(f.level == level for f in self.findings) for level in ("stop", "warn", "note")]
        words = [_count(n, word) for n, word in zip(counts, ("stop", "warning", "note"), strict=True) if n]
        return ", ".join(words) or "holds, snaps off"

    @property
    def summary(self) -> str:
        """How the row comes off, in one sentence with both forces."""
        pull, side = self.snap.per_tooth
        tool = {"fingers": "by hand", "pliers": "with pliers", "knife": "with a knife"}[self.snap.how]
        return (
            f"Comes off {tool}: rocking the row takes about {_newtons(self.snap.sideways)} ({_newtons(side)} a tooth), "
            f"a straight pull {_newtons(self.snap.pull)} ({_newtons(pull)} a tooth)."
        )

    @property
    def sentences(self) -> tuple[str, ...]:
        """The proof in words: what is added, the bridge with and without teeth, forces, order of removal."""
        bridge = (self._bridge(),) if self.snap.necks.direction == "up" else ()
        return (self._added(), *bridge, self.summary, *self.piece.order)

    def _added(self) -> str:
        return (
            f"{_teeth(self.snap.necks.teeth)} {self.volume:.1f} mm³ ({self.mass:.2f} g) and leave scars of "
            f"{self.snap.scar:.1f} mm² together."
        )

    def _bridge(self) -> str:
        bare, left = (_sag(*s) for s in (self.hold.sag_bare, self.hold.sag_left))
        return (
            f"In practice a bare edge of {self.hold.bare:.1f} mm shows {bare}; the longest bridge left, "
            f"{self.hold.longest:.2f} mm, shows {left}."
        )


def prove_row(
    mesh: Mesh,
    span: Span,
    plan: RowPlan,
    setup: PrintSetup,
    *,
    teeth: Teeth | None = None,
    standing: Sequence[StandingRow] = (),
    others: Sequence[Teeth] = (),
    beside: Sequence[Necks] = (),
    learned: Learned = UNTAUGHT,
    piece: Mesh | None = None,
    name: str = "this row",
) -> Proof:
    """Prove a planned row. ``mesh`` (the part) and ``piece`` (the sacrificial body, where it is a shell) in bed mm.

    ``teeth`` are the solids of the plan (built here when left out), ``others`` those of the other new rows, bed mm.
    ``standing`` are the designer's rows that hold the same piece, ``beside`` the other new rows that do.
    """
    near = surroundings(mesh, span, setup, learned)
    solids = row_solids(span, plan) if teeth is None else teeth
    case = Case(near, plan)
    survival, clear, held = survive(near, plan, solids), clearance(near, plan, solids, others), hold(near, plan)
    there = [necks_of(row, f"the row that is there ({row.teeth} teeth)") for row in standing]
    mine = Necks(span.direction, plan.teeth, plan.tip, plan.thickness, plan.height, survival.worst > 0, name)
    snap = snap_row(mine, setup, learned)
    findings = [
        *printing(case, survival),
        *standing_clear(case, clear),
        *in_the_way(case),
        *on_an_island(case),
        *holding(case, held, None if piece is None else topple(piece)),
        *letting_go(case, snap, there, roof(near, plan)),
    ]
    volume = row_volume(span, plan)
    return Proof(
        worst_first(findings), survival, clear, held, snap, snap_piece([*there, *beside, mine], setup, learned),
        volume, volume * setup.filament.density / 1000,
    )  # fmt: skip


@lru_cache(maxsize=_KEPT)
def surroundings(mesh: Mesh, span: Span, setup: PrintSetup, learned: Learned = UNTAUGHT) -> Near:
    """The part around a span, kept for the next plan in the same span."""
    return Near(mesh, span, setup, learned)


def necks_of(row: StandingRow, name: str) -> Necks:
    """A row that is there, as far as its hold goes."""
    return Necks(row.direction, row.teeth, row.tip, row.thickness, row.height, False, name)


def row_volume(span: Span, plan: RowPlan) -> float:
    """Volume that the teeth add between ledge plane and edge plane, mm³; sinks are inside what is there already."""
    at, total = span.at(plan.centres), 0.0
    width = np.maximum(at.hi - at.lo, 1e-9)
    t = (plan.across_range.mean(axis=1) - at.lo) / width
    middle = [e[:, 0] + t * (e[:, 1] - e[:, 0]) for e in (at.edge, at.ledge)]
    for i in range(plan.teeth):
        gap = float(plan.heights[i])
        shape = profile(plan.shape, plan.foot, plan.tip, gap, plan.sink_ledge, plan.sink_part)
        y = np.unique(np.r_[0.0, np.clip(shape.y, 0, gap - plan.air), gap - plan.air])
        area = float(np.trapezoid(np.interp(y, shape.y, shape.right - shape.left), y))
        stretch = (float(middle[0][i] - middle[1][i]) - plan.air) / (gap - plan.air) if gap > plan.air else 1.0
        total += area * stretch * float(np.ptp(plan.across_range[i]))
    return total


def roof(near: Near, plan: RowPlan) -> F64:
    """Thickness (n,) of the part above every tip along the gap, mm; infinite without end, zero without part."""
    at = near.span.at(plan.centres)
    points = at.axis + at.across * plan.across_range.mean(axis=1)[:, None]
    middle = at.edge.min(axis=1) - 0.4 * at.gap
    line, floor, ceiling = near.columns.air(points)
    out = np.zeros(plan.teeth)
    for i in range(plan.teeth):
        mine = np.flatnonzero(line == i)
        here = mine[(floor[mine] < middle[i]) & (ceiling[mine] > middle[i])]
        above = floor[mine][floor[mine] > ceiling[here[0]]] if len(here) else np.zeros(0)
        out[i] = float(above.min() - ceiling[here[0]]) if len(above) else np.inf
    return out


def row_json(
    proof: Proof, design: Designed, pose: Pose, *, gap: str | None = None, name: str = "new"
) -> dict[str, object]:
    """One entry of what fitting prints. ``pose`` is the print pose; points are given in file mm."""
    span, plan = design.span, design.plan
    at = span.at(plan.centres[[0, -1]])
    middle = at.points(plan.across_range[[0, -1]].mean(axis=1), (at.edge.min(axis=1) + at.ledge.max(axis=1)) / 2)
    ends = pose.inverse.apply(span.bed_points(middle))
    return {
        "gap": gap,
        "row": {
            "id": name, "gap": gap, "direction": span.direction, "teeth": plan.teeth, "pitch_mm": _mm(plan.pitch),
            "foot_mm": _mm(plan.foot), "tip_mm": _mm(plan.tip), "thickness_mm": _mm(plan.thickness),
            "height_mm": _mm(plan.height), "from": [_mm(x) for x in ends[0]], "to": [_mm(x) for x in ends[1]],
        },
        "volume_mm3": round(proof.volume, 3),
        "mass_g": round(proof.mass, 4),
        "snap_n": {"pull": proof.snap.pull.as_list(), "sideways": proof.snap.sideways.as_list()},
        "findings": [f.as_json() for f in proof.findings],
    }  # fmt: skip


def _mm(value: float) -> float:
    return round(float(value), 4)


def _newtons(force: Force) -> str:
    digits = 0 if force.high >= 10 else 1
    return f"{force.low:.{digits}f} to {force.high:.{digits}f} N"


def _teeth(number: int) -> str:
    return "1 tooth adds" if number == 1 else f"{number} teeth add"


def _count(number: int, word: str) -> str:
    return f"{number} {word}s" if number > 1 else f"{number} {word}"


def _sag(low: float, high: float) -> str:
    return "no sag" if high == 0 else f"{low:g} to {high:g} mm of sag"
