"""What the job sheet says of one row: every dimension, where it stands, what it takes and what it adds.

Words and figures only; nothing here knows of paper. Lengths mm, forces N, angles degrees from vertical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from core.design.coupon import SPEED
from core.design.plan import AUTOMATIC, RowPlan, RowWishes, Shape
from core.design.setup import PrintSetup
from core.design.shapes import added_shapes
from core.design.span import Span
from core.geometry.mesh import F64, Mesh
from core.geometry.pose import Pose
from core.job.fit import Added
from core.job.job import Job
from core.job.pipeline import RowDesign
from core.job.sheet_wall import wall_told
from core.proof.prove import Proof
from core.proof.snap import Force

#: What a printer loses for every tooth in every layer: a travel there, once back and forth, s. From memory.
HOP: Final = 0.3
#: The usual diameter of filament, mm; common practice.
FILAMENT: Final = 1.75
#: Two figures that differ less are one, mm: the last place that is shown.
SAME: Final = 0.005

SHAPE_WORDS: Final[dict[Shape, str]] = {
    "straight": "straight taper",
    "arc_tip": "arc, upright at the tip",
    "arc_ledge": "arc, lying down on the ledge",
    "rake": "rake, one flank upright",
    "post": "post, as wide at the tip as at the foot",
}


def shape_words(shape: Shape) -> str:
    """What a form is, for a person; an added one in the words of its package."""
    return SHAPE_WORDS.get(shape) or next((s.words for s in added_shapes() if s.name == shape), shape)


_MEASURED, _SET, _RULE = "measured", "as set", "by rule"


@dataclass(frozen=True)
class Measure:
    """A length of a row, mm, and where it comes from: measured, set by the person, by rule, or a limit."""

    name: str
    mm: float
    origin: str = _MEASURED


class Fact(NamedTuple):
    """Something that is not a length: its name and what is said."""

    name: str
    text: str


@dataclass(frozen=True)
class Pull:
    """A way of getting a row off, N: for one tooth and for the whole row at once."""

    name: str
    tooth: Force
    row: Force


@dataclass(frozen=True, eq=False)
class SheetRow:
    """One row of the sheet. ``title`` and ``where`` name it; the tables follow in the order in which they are read.

    ``seconds`` and ``volume`` (mm³) are what it adds to the print, with the wall that is built for it; ``words`` are
    sentences about that wall.
    """

    design: RowDesign
    proof: Proof
    title: str
    where: str
    measures: tuple[Measure, ...]
    facts: tuple[Fact, ...]
    pulls: tuple[Pull, ...]
    seconds: float
    volume: float
    words: tuple[str, ...] = ()

    @property
    def number(self) -> int:
        """The number of the row within its job."""
        return self.design.row.number

    @property
    def plan(self) -> RowPlan:
        """Its plan."""
        return self.design.plan

    @property
    def span(self) -> Span:
        """Its span."""
        return self.design.span


def sheet_row(added: Added, job: Job, part: Mesh) -> SheetRow:
    """The row as the sheet tells it; places are told in file mm. ``part`` is the part in bed mm."""
    design, proof, setup = added.design, added.proof, job.setup
    wall = None if design.wall is None else wall_told(design.wall, part, setup)
    facts, measures = _facts(design, proof, setup), (*_span_measures(design.span), *_row_measures(design))
    if wall is not None:
        facts += tuple(Fact(*f) for f in wall.facts)
        measures += tuple(Measure(n, mm, _RULE if rule else _SET) for n, mm, rule in wall.lengths)
    return SheetRow(
        design=design,
        proof=proof,
        title=_title(design),
        where=_where(design, job.pose),
        measures=(*measures, *_trims(design.row.wishes)),
        facts=facts,
        pulls=_pulls(proof),
        seconds=seconds_added(design, proof.volume, setup) + (wall.seconds if wall else 0.0),
        volume=proof.volume + (wall.volume if wall else 0.0),
        words=wall.sentences if wall else (),
    )


def seconds_added(design: RowDesign, volume: float, setup: PrintSetup) -> float:
    """Printing time that a row adds, s: its volume (mm³) laid down at SPEED, and a hop to every tooth in every layer.

    An estimate: plain kinematics, without acceleration and cooling pauses.
    """
    plan, span = design.plan, design.span
    tall = plan.height if span.direction == "up" else plan.foot
    hops = plan.teeth * max(math.ceil(tall / setup.layer_height), 1) * HOP
    return volume / (setup.line_width * setup.layer_height * SPEED) + hops


def _title(design: RowDesign) -> str:
    span, plan = design.span, design.plan
    way = "upright teeth" if span.direction == "up" else "side teeth"
    count = f"{plan.teeth} {way}" if plan.teeth != 1 else f"1 {way.removesuffix('teeth')}tooth"
    shape = "round" if span.closed else "long"
    on = ", on a wall built for them" if design.wall is not None else ""
    return f"{count} in a gap {_range(*span.gap_range)} mm, {span.length:.2f} mm {shape}{on}"


def _range(low: float, high: float) -> str:
    return f"{low:.2f}" if high - low < SAME else f"{low:.2f} to {high:.2f}"


def _where(design: RowDesign, pose: Pose) -> str:
    """From where to where the row stands, in the coordinates of the file and above the bed."""
    line = design.span.edge_line
    low, high = (round(float(f(line.array[:, 2])), 2) + 0.0 for f in (np.min, np.max))
    above = f"{_range(low, high)} mm above the bed"
    if line.closed:
        return f"Round the middle {_point(pose.inverse.apply(line.array.mean(axis=0)))} of the file, {above}."
    ends = pose.inverse.apply(line.array[[0, -1]])
    return f"From {_point(ends[0])} to {_point(ends[1])} of the file, {above}. Teeth are counted that way."


def _point(p: F64) -> str:
    x, y, z = np.round(p, 2) + 0.0
    return f"({x:.2f}, {y:.2f}, {z:.2f})"


def _span_measures(span: Span) -> tuple[Measure, ...]:
    low, high = span.gap_range
    gaps = [Measure("Gap", low)] if high - low < SAME else [Measure("Gap, least", low), Measure("Gap, greatest", high)]
    edge, ledge = span.edge_line.array[:, 2], span.ledge_line.array[:, 2]
    heights = [Measure("Edge above the bed", float(edge.min())), Measure("Ledge above the bed", float(ledge.max()))]
    return (
        Measure("Length of the span", span.length),
        Measure("Length of the picked edge", span.edge_length),
        *gaps,
        *(heights if span.direction == "up" else ()),
        Measure("Shared width across", span.width),
    )


def _row_measures(design: RowDesign) -> tuple[Measure, ...]:
    plan = design.plan

    def by(name: str) -> str:
        return _RULE if name in plan.automatic and name in AUTOMATIC else _SET

    return (
        Measure("Pitch", plan.pitch, by("pitch")),
        Measure("Foot", plan.foot, by("foot")),
        Measure("Tip", plan.tip, by("tip")),
        Measure("Thickness", plan.thickness, by("thickness")),
        Measure("Clear bridge, longest", plan.clear_bridge, "by pitch"),
        Measure("Clear bridge allowed", plan.clear_limit, "limit" if by("clear_bridge") == _RULE else _SET),
        Measure("End clearance", plan.end_clearance, by("end_clearance")),
        Measure("Sink into the ledge", plan.sink_ledge, by("sink_ledge")),
        Measure("Sink into the part", plan.sink_part, by("sink_part")),
        Measure("Left empty below the edge", plan.air, by("air_layers")),
    )


def _trims(wishes: RowWishes) -> tuple[Measure, ...]:
    ends = (("Trimmed at the start", wishes.start), ("Trimmed at the end", wishes.stop))
    moved = ((f"Tooth {number + 1} moved along the edge", mm) for number, mm in wishes.moved)
    return tuple(Measure(name, mm, _SET) for name, mm in (*ends, *moved) if abs(mm) >= SAME)


def _facts(design: RowDesign, proof: Proof, setup: PrintSetup) -> tuple[Fact, ...]:
    plan, span = design.plan, design.span
    facts = [
        Fact("Teeth", str(plan.teeth)),
        Fact("Form", shape_words(plan.shape)),
        Fact("Flank", f"{flank_angle(plan):.1f}° from vertical"),
        Fact("Across the edge", "flush with the edge and inward" if plan.across == "flush" else "centred"),
        Fact("Volume and mass", f"{proof.volume:.1f} mm³, {proof.mass:.2f} g {setup.filament.name}"),
        Fact("Scars", f"{proof.snap.scar:.1f} mm² together"),
        Fact("Lost layers", _lost(proof)),
    ]
    if span.direction == "side":
        facts[2] = Fact("Flank", f"{flank_angle(plan):.1f}° to the way across the gap")
    left = sorted(design.row.wishes.left_out)
    if left:
        facts.append(Fact("Left out", ", ".join(f"tooth {n + 1}" for n in left)))
    return tuple(facts)


def flank_angle(plan: RowPlan) -> float:
    """Mean angle of the flanks to the way across the gap, degrees: atan(run / height) of the straight taper; a rake's
    one leaning flank."""
    run = plan.foot - plan.tip if plan.shape == "rake" else (plan.foot - plan.tip) / 2
    return math.degrees(math.atan2(run, plan.height)) if plan.height else 0.0


def _lost(proof: Proof) -> str:
    lost = int(np.count_nonzero(proof.lost_teeth))
    if not lost:
        return "none, every tip prints whole"
    worst = proof.survival.worst
    layers = f"up to {worst} layer{'s' if worst != 1 else ''} of a tip" if worst > 0 else "the hold of the edge"
    return f"{layers}, at {lost} of {len(proof.lost_teeth)} teeth"


def _pulls(proof: Proof) -> tuple[Pull, ...]:
    snap = proof.snap
    share = 1 / max(snap.necks.teeth, 1)
    ways = (
        ("Rocked across the edge", snap.sideways), ("Pushed along the edge", snap.along),
        ("Pulled straight off", snap.pull), ("Sheared off", snap.shear),
    )  # fmt: skip
    return tuple(Pull(name, force.times(share), force) for name, force in ways)
