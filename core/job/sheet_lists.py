"""The lists of the job sheet that a person ticks off: handing over, taking off, and what to mind.

They are written for whoever prints the part, who has not seen the program and may use any other one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from core.geometry.pose import Pose, as_filed
from core.job.job import Job
from core.job.sheet_row import SheetRow

#: A pose that is off the pose as filed by less than this (mm, or as part of a direction) is as filed.
SAME_POSE: Final = 1e-6

CAUTIONS: Final = (
    "Wear eye protection whenever you snap teeth off: small pieces fly.",
    "Let nozzle, bed and part cool down first. Pliers and blades slip more easily on warm plastic.",
    "Brace the part on a bench and work away from your hands and from other people; wear gloves when you pry.",
    "Stubs are sharp. Sand or cut them flush, and wear a dust mask while you sand.",
    "A scar is a place where cracks may start. Where the part carries a load or keeps somebody safe, have it checked "
    "by someone qualified and follow the rules that hold where you are.",
    "Keep teeth and other small pieces away from children.",
    "All forces, sags and times on this sheet are estimates.",
)
"""Common practice, no source."""


def pose_words(job: Job) -> str:
    """How the part stands on the bed: as filed, or which direction of the file is up."""
    filed = as_filed(job.part.mesh)
    if np.abs(job.pose.matrix - filed.matrix).max() < SAME_POSE:
        return "as filed, +Z of the file is up"
    x, y, z = up_in_file(job.pose)
    if abs(z - 1) < SAME_POSE:
        return "as filed, turned or shifted on the bed; +Z of the file is up"
    return f"turned: the direction ({x:.3f}, {y:.3f}, {z:.3f}) of the file is up"


def up_in_file(pose: Pose) -> tuple[float, float, float]:
    """The direction of the file that is up on the bed, a unit vector."""
    x, y, z = pose.inverse.turn(np.array([0.0, 0.0, 1.0])) + 0.0
    return float(x), float(y), float(z)


def handing_over(job: Job, rows: Sequence[SheetRow]) -> tuple[str, ...]:
    """What keeps the proof true on the printer, a sentence a line."""
    setup = job.setup
    names = ", ".join(f"row {r.number}" for r in rows)
    return (
        f"Print it in the pose that was proved: {pose_words(job)}. Do not turn it again and do not split it into "
        "bodies.",
        f"Layers {setup.layer_height:g} mm, first layer {setup.first_layer:g} mm, lines {setup.line_width:g} mm, "
        f"{setup.filament.name}: the proof holds for these.",
        f"Keep automatic supports away from the edges that have teeth now ({names}).",
        _thin_features(job, rows),
        _bond(job),
        *(_look_at(job, row) for row in rows if row.span.direction == "up"),
        "No brim between a fin and the part: what is welded together at the bed does not snap off.",
    )


def _thin_features(job: Job, rows: Sequence[SheetRow]) -> str:
    tip, line = min((r.plan.tip for r in rows), default=job.setup.line_width), job.setup.line_width
    wide = f"the narrowest tip is {tip:.2f} mm wide, a line {line:.2f} mm"
    if job.setup.walls == "variable":
        return f"Let lines vary in width, as the proof assumes: {wide}."
    return f"Have thin features printed as well, not only what is wider than a line: {wide}."


def _bond(job: Job) -> str:
    if job.bond == "skin":
        return "Part and teeth are one closed surface; nothing has to be united."
    return (
        "The teeth are bodies of their own that overlap the part. Whatever makes the layers has to unite what "
        "overlaps: if it cuts a tooth loose, have the file written anew as one skin."
    )


def _look_at(job: Job, row: SheetRow) -> str:
    """Which layers to look at before printing: the last of the teeth and the first of the edge."""
    first = first_layer_of_edge(job, row)
    tops = [job.setup.first_layer + (n - 1) * job.setup.layer_height for n in (first - 1, first)]
    lost = int(row.proof.lost_teeth.sum())
    tips = f"{lost} of {row.plan.teeth} tips are at risk" if lost else f"all {row.plan.teeth} tips should be there"
    return (
        f"Before you print, look at layers {first - 1} and {first} (tops at {tops[0]:.2f} and {tops[1]:.2f} mm), the "
        f"last of the teeth of row {row.number} and the first of its edge: {tips}."
    )


def first_layer_of_edge(job: Job, row: SheetRow) -> int:
    """Number (from 1) of the first layer that prints something of the edge: its middle lies above the edge."""
    height = float(row.span.edge_line.array[:, 2].min())
    middles = job.setup.mid_heights(height + 2 * job.setup.layer_height)
    return next((n for n, z in enumerate(middles, start=1) if z > height + 1e-6), len(middles))


def removal(rows: Sequence[SheetRow]) -> tuple[str, ...]:
    """In which order to take off what holds each sacrificial piece; a piece held by several rows is told once."""
    told: list[frozenset[str]] = []
    out: list[str] = []
    for row in rows:
        names = frozenset(s.necks.name for s in row.proof.piece.rows)
        if names in told:
            continue
        told.append(names)
        out += row.proof.piece.order
    return tuple(out)
