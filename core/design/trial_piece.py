"""The trial piece: a short stretch of the real edge with its teeth and the top of what carries them, to print first.

A coupon tells about a printer; this tells about the place itself, in minutes. It is cut out of part and teeth along
the span, closed, and set on the bed in the direction in which the whole will print.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from core.design.cautions import CAUTIONS
from core.design.plan import RowPlan
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.tooth import Teeth
from core.errors import MeshProblem
from core.geometry.carving import box, carved, cut_out
from core.geometry.mesh import F64, Mesh

# Lengths mm, from memory.
#: How long the piece is when the span allows, and the fewest teeth that make it worth printing.
LENGTH, FEWEST = 26.0, 3
#: How far below the ledge, above the edge and to either side of the strip the cut reaches.
BELOW, ABOVE, BESIDE = 4.0, 5.0, 6.0
#: A foot under the carrier's cut, so that it stands: how far it reaches out, how high it is, air to anything else.
FOOT, FOOT_HEIGHT, FOOT_AIR = 4.0, 0.8, 0.6
#: A piece of the cut lower than this above the bed stands on it; others that hold nothing are left out.
_ON_BED: Final = 1e-3


@dataclass(frozen=True)
class TrialPlan:
    """What the piece shows: arc lengths (mm) of its ends, the teeth in it, its size (3,) mm and volume mm³."""

    start: float
    stop: float
    teeth: tuple[int, ...]
    size: tuple[float, float, float]
    volume: float

    @property
    def lines(self) -> tuple[str, ...]:
        """What to do with it."""
        return (
            f"{self.stop - self.start:.0f} mm of the edge with {len(self.teeth)} teeth, {self.size[2]:.0f} mm high.",
            "Print it as it stands, in the same setup as the part; look at the edge, then rock the lower piece off.",
            *CAUTIONS,
        )


def trial_piece(
    mesh: Mesh, span: Span, plan: RowPlan, teeth: Teeth, setup: PrintSetup, *, middle: float | None = None
) -> tuple[Mesh, TrialPlan]:
    """Cut the piece out of ``mesh`` (the part) and ``teeth``, both bed mm; the result stands on the bed at z = 0.

    ``middle`` is the arc length about which it is cut (mm; the middle of the row when left out). Raises NotASolid when
    the part is open and MeshProblem when the stretch has no tooth.
    """
    start, stop = _stretch(span, plan, middle)
    inside = [i for i, s in enumerate(plan.centres) if start <= _unrolled(span, float(s), start) <= stop]
    if not inside:
        raise MeshProblem("That stretch of the edge has no tooth.", "Choose another middle.")
    frame = _frame(span, start, stop)
    bodies = [*cut_out(mesh, frame), *(Mesh(teeth.vertices[i], teeth.triangles[i]) for i in inside)]
    whole = carved(_that_stand(cut_out(carved(bodies), frame), float(frame.bounds[0, 2])))
    foot = _foot(span, whole, (start, stop), setup) if span.direction == "up" else []
    solid = carved([whole, *foot])
    low = solid.bounds[0]
    done = Mesh(_snapped(solid.vertices - low), solid.triangles)
    size = done.bounds[1]
    numbers = tuple(plan.numbers[i] for i in inside)
    return done, TrialPlan(start, stop, numbers, (float(size[0]), float(size[1]), float(size[2])), done.volume)


def _stretch(span: Span, plan: RowPlan, middle: float | None) -> tuple[float, float]:
    """Where to cut: about LENGTH mm around the middle, between two teeth rather than through one."""
    centres = np.sort(plan.centres)
    centre = float(centres[len(centres) // 2] if middle is None else middle)
    need = min(span.length, max(LENGTH, min(FEWEST, len(centres)) * plan.pitch))
    start = centre - need / 2
    if not span.closed:
        start = float(np.clip(start, 0.0, span.length - need))
    stop = start + need
    half = max(plan.foot, plan.tip) / 2 + 0.2
    ends = []
    for end, inward in ((start, 1), (stop, -1)):
        offset = np.array([_unrolled(span, float(c), end - span.length / 2) for c in centres]) - end
        hit = np.flatnonzero(np.abs(offset) < half)
        ends.append(end if not len(hit) else end + offset[hit[0]] + inward * half)
    a, b = ends
    return (a, b) if span.closed else (max(a, 0.0), min(b, span.length))


def _unrolled(span: Span, s: float, first: float) -> float:
    """The arc length on a closed span, counted on from ``first``."""
    return first + (s - first) % span.length if span.closed else s


def _frame(span: Span, start: float, stop: float) -> Mesh:
    """The box to cut out, bed mm: along the chord of the stretch, from below the ledge to above the edge."""
    at = span.at(np.linspace(start, stop, 9))
    along = at.axis[-1] - at.axis[0]
    along = along / np.linalg.norm(along)
    across = np.array([-along[1], along[0]])
    corners = np.concatenate([at.axis + at.across * at.lo[:, None], at.axis + at.across * at.hi[:, None]])
    v = corners @ across
    u = at.axis[[0, -1]] @ along
    low = (u.min(), v.min() - BESIDE, float(at.ledge.min()) - BELOW)
    high = (u.max(), v.max() + BESIDE, float((at.edge.max(axis=1) + at.reach).max()) + ABOVE)
    upright = box(low, high)
    turn = np.array([[along[0], along[1], 0], [across[0], across[1], 0], [0, 0, 1.0]])
    bed = Mesh(span.bed_points(upright.vertices @ turn), upright.triangles)
    return _above_the_bed(bed) if span.direction == "side" else bed


def _above_the_bed(frame: Mesh) -> Mesh:
    """The same box, no lower than the bed."""
    points = frame.vertices.copy()
    points[:, 2] = np.maximum(points[:, 2], 0.0)
    return Mesh(points, frame.triangles)


def _that_stand(pieces: Sequence[Mesh], floor: float) -> list[Mesh]:
    """The pieces that stand on the cut's floor; what would hang in the air alone is left out."""
    standing = [p for p in pieces if p.bounds[0, 2] < floor + _ON_BED]
    if not standing:
        raise MeshProblem("Nothing of that stretch reaches down to the cut.", "Choose another middle.")
    return standing


def _foot(span: Span, whole: Mesh, ends: tuple[float, float], setup: PrintSetup) -> list[Mesh]:
    """A thin foot under the carrier, so that the narrow cut does not fall over; kept away from whatever else stands."""
    at = span.at(np.linspace(*ends, 9))
    low = float(whole.bounds[0, 2])
    height = max(1, round(FOOT_HEIGHT / setup.layer_height)) * setup.layer_height
    middle = span.bed_points(at.points((at.lo + at.hi) / 2, np.full(9, low)))
    reach = _free_reach(whole, middle, span, at.across, low + height)
    if reach <= 0:
        return []
    half = float((at.hi - at.lo).max()) / 2 + reach
    along = middle[-1, :2] - middle[0, :2]
    along = along / np.linalg.norm(along)
    across = np.array([-along[1], along[0]])
    turn = np.array([along, across])
    local = middle[:, :2] @ turn.T
    plate = box(
        (local[:, 0].min(), local[:, 1].min() - half, low), (local[:, 0].max(), local[:, 1].max() + half, low + height)
    )
    points = plate.vertices.copy()
    points[:, :2] = plate.vertices[:, :2] @ turn
    return [Mesh(points, plate.triangles)]


def _free_reach(whole: Mesh, middle: F64, span: Span, across: F64, level: float) -> float:
    """How far a foot may reach out on both sides (mm) without coming near another thing that stands on the bed."""
    sideways = span.bed_points(np.column_stack([across, np.zeros(len(across))]))
    points = whole.vertices[whole.vertices[:, 2] < level]
    width = float(np.median(span.stations.width)) / 2
    away = points[:, None, :2] - middle[None, :, :2]
    nearest = np.argmin((away**2).sum(axis=2), axis=1)
    off = np.abs((away[np.arange(len(points)), nearest] * sideways[nearest, :2]).sum(axis=1))
    others = off[off > width + FOOT_AIR + 1.0]
    free = float(others.min(initial=np.inf)) - width - FOOT_AIR
    return min(FOOT, free)


def _snapped(points: F64) -> F64:
    """Points with rounding errors at zero removed, so that the piece truly stands on the bed."""
    out = points.copy()
    out[np.abs(out) < 1e-6] = 0.0
    return out
