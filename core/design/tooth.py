"""The solids of a row: closed, outward, exact, one template for all teeth of a row.

A tooth is drawn by its two flanks, seen along the thickness: u along the edge, y from the ledge (0) to the edge (gap).
Flanks run straight on through the ledge plane and the edge plane and turn upright just beyond them, so that no corner
of a tooth lies in either plane and the widths in the planes are exactly foot and tip. Only where a flank meets a plane
flat (an arc tangent to the ledge) the turn sits just inside the gap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.design.plan import SHAPES, RowPlan, Shape
from core.design.shapes import added_flank
from core.design.span import Span
from core.geometry.mesh import F64, I32, Mesh, frozen, joined

#: How far beyond a plane (or inside the gap) a flank turns upright, mm. From memory: well above float32 steps.
KINK = 0.02
#: An arc is replaced by chords that stay this close to it, mm.
ARC_TOLERANCE = 0.002
#: A flank that runs flatter than this (mm along per mm up) is stopped inside the gap instead of being carried on.
FLAT = 8.0
#: The least a tip keeps of its width above the edge plane, as a fraction.
LEAST_TOP = 0.3


@dataclass(frozen=True, eq=False)
class Profile:
    """Flanks of a tooth at m rows from foot to tip: ``y`` (m,), ``left`` and ``right`` (m,) mm along the edge."""

    y: F64
    left: F64
    right: F64


def flank(shape: Shape, foot: float, tip: float, gap: float) -> tuple[F64, F64]:
    """Heights y (m,) from 0 to ``gap`` and half widths (m,) of one flank, mm.

    Arc tangent to the upright at the tip: R = (r² + g²) / 2r while r ≤ g; arc tangent to the ledge: R = (r² + g²) / 2g
    while g ≤ r (r the run of the flank, g the gap; from the right triangle of centre, tip and foot). Beyond a quarter
    circle either becomes the quarter ellipse with semi-axes r and g. Raises BadValue for an added shape that is not
    there or makes no solid.
    """
    run = (foot - tip) / 2
    if shape in ("straight", "post", "rake") or run <= 1e-9:
        return np.array([0.0, gap]), np.array([foot / 2, tip / 2])
    if shape not in SHAPES:
        return added_flank(shape, foot, tip, gap)
    if shape == "arc_tip" and run <= gap:
        radius = (run**2 + gap**2) / (2 * run)
        angle = _steps(math.asin(min(gap / radius, 1.0)), radius)[::-1]
        y, x = gap - radius * np.sin(angle), tip / 2 + radius * (1 - np.cos(angle))
    elif shape == "arc_ledge" and gap <= run:
        radius = (run**2 + gap**2) / (2 * gap)
        angle = _steps(math.asin(min(run / radius, 1.0)), radius)
        y, x = radius * (1 - np.cos(angle)), foot / 2 - radius * np.sin(angle)
    else:
        angle = _steps(math.pi / 2, max(run, gap))
        y, x = gap * (1 - np.cos(angle)), foot / 2 - run * np.sin(angle)
    y[0], y[-1], x[0], x[-1] = 0.0, gap, foot / 2, tip / 2
    return y, x


def _steps(sweep: float, radius: float) -> F64:
    """Angles from 0 to ``sweep`` whose chords stay within ARC_TOLERANCE of the arc."""
    step = 2 * math.acos(max(1 - ARC_TOLERANCE / radius, -1.0))
    return np.linspace(0, sweep, max(4, math.ceil(sweep / step)) + 1)


def _through(y: F64, x: F64, below: float, above: float) -> tuple[F64, F64]:
    """A flank carried through both planes: to ``below`` mm under the ledge and ``above`` mm over the edge.

    A negative ``above`` cuts the flank that far below the edge instead.
    """
    gap, whole = float(y[-1]), (y, x)
    slope_foot = float((x[1] - x[0]) / (y[1] - y[0]))
    slope_tip = float((x[-1] - x[-2]) / (y[-1] - y[-2]))
    if abs(slope_foot) > FLAT:
        keep = y > 1.5 * KINK
        x = np.r_[np.interp(KINK, y, x), x[keep]]
        y = np.r_[KINK, y[keep]]
        foot_rows = ([-below], [float(x[0])])
        if below <= 0:
            foot_rows = ([], [])
    else:
        kink = min(KINK, below / 2)
        wide = float(x[0]) - slope_foot * kink
        foot_rows = ([-below, -kink], [wide, wide]) if below > 0 else ([0.0], [float(x[0])])
        x, y = x[1:], y[1:]
    if above > 0:
        kink = min(KINK, above / 2)
        narrow = max(float(x[-1]) + slope_tip * kink, LEAST_TOP * float(x[-1]))
        top_rows = ([gap + kink, gap + above], [narrow, narrow])
        x, y = x[:-1], y[:-1]
    else:
        top = gap + above
        top_rows = ([top], [float(np.interp(top, *whole))])
        keep = y < top - 1e-9
        x, y = x[keep], y[keep]
    return np.r_[foot_rows[0], y, top_rows[0]], np.r_[foot_rows[1], x, top_rows[1]]


@lru_cache(maxsize=4096)
def profile(shape: Shape, foot: float, tip: float, gap: float, below: float, above: float) -> Profile:
    """The outline of a tooth of height ``gap`` that reaches ``below`` under the ledge and ``above`` over the edge, mm.

    A rake keeps its left flank upright at the left end of the foot.
    """
    y, half = _through(*flank(shape, foot, tip, gap), below, above)
    if shape == "rake":
        full = 2 * half
        left = np.full(len(y), -foot / 2)
        return Profile(y, left, left + full)
    return Profile(y, -half, half)


@dataclass(frozen=True, eq=False)
class Teeth:
    """The solids of a row, bed mm: one (k, 3) float64 array and one (t, 3) int32 array for each tooth."""

    vertices: tuple[F64, ...]
    triangles: tuple[I32, ...]

    def mesh(self) -> Mesh:
        """All teeth in one mesh, each a shell of its own, bed mm."""
        return joined(self.each())

    def each(self) -> list[Mesh]:
        """One mesh a tooth, bed mm."""
        return [Mesh(v, t) for v, t in zip(self.vertices, self.triangles, strict=True)]


def row_solids(span: Span, plan: RowPlan) -> Teeth:
    """The teeth of a planned row as solids, bed mm, each as high as the gap where it stands.

    Foot and tip follow the slope of ledge and edge, along and across.
    """
    at = span.at(plan.centres)
    ledge, edge = _planes(span, plan)
    vertices, triangles = [], []
    for i in range(plan.teeth):
        above = float(at.reach[i]) + plan.sink_part if plan.air == 0 else float(at.reach[i]) - plan.air
        shape = profile(plan.shape, plan.foot, plan.tip, float(plan.heights[i]), plan.sink_ledge, above)
        local = _stand(shape, plan.across_range[i], ledge[i], edge[i])
        vertices.append(span.bed_points(_to_gap_frame(local, at.axis[i], at.across[i], _run_sign(span))))
        triangles.append(template(len(shape.y), _run_sign(span)))
    return Teeth(tuple(vertices), tuple(triangles))


def _run_sign(span: Span) -> int:
    """+1 when along × across points up, −1 when the inward side lies to the right of the edge's run."""
    st = span.stations
    step = st.axis[1] - st.axis[0]
    return 1 if step[0] * st.across[0, 1] - step[1] * st.across[0, 0] > 0 else -1


def _planes(span: Span, plan: RowPlan) -> tuple[F64, F64]:
    """Ledge and edge under each tooth as (n, 2, 2): value and slope along u, at the two sides of the thickness."""
    half = plan.foot / 2
    before, after, here = (span.at(plan.centres + d) for d in (-half, half, 0.0))
    distance = after.s - before.s
    distance = np.where(distance <= 0, distance + span.length, distance) if span.closed else distance
    width = np.maximum(here.hi - here.lo, 1e-9)
    t = (plan.across_range - here.lo[:, None]) / width[:, None]
    out = []
    for name in ("ledge", "edge"):
        b, a, h = (getattr(x, name) for x in (before, after, here))
        value = h[:, :1] + t * (h[:, 1:] - h[:, :1])
        slope = (a - b).mean(axis=1) / distance
        out.append(np.stack([value, np.repeat(slope[:, None], 2, axis=1)], axis=2))
    return out[0], out[1]


def _stand(shape: Profile, across: F64, ledge: F64, edge: F64) -> F64:
    """Corners (4m, 3) of one tooth in its own axes (u along, v across, z up), row by row, left/right, front/back."""
    out = np.empty((len(shape.y), 2, 2, 3))
    out[:, 0, :, 0], out[:, 1, :, 0] = shape.left[:, None], shape.right[:, None]
    out[..., 1] = across
    low = ledge[:, 0] + ledge[:, 1] * out[..., 0]
    high = edge[:, 0] + edge[:, 1] * out[..., 0]
    gap = float(min(edge[:, 0] - ledge[:, 0]))
    y = shape.y[:, None, None]
    inside = np.clip(y / gap, 0, 1)
    out[..., 2] = low + inside * (high - low) + np.minimum(y, 0) + np.maximum(y - gap, 0)
    return out.reshape(-1, 3)


def _to_gap_frame(local: F64, axis: F64, across: F64, sign: int) -> F64:
    """Corners from a tooth's own axes to the gap frame."""
    along = np.array([across[1], -across[0]]) * sign
    plan = axis + local[:, :1] * along + local[:, 1:2] * across
    return np.column_stack([plan, local[:, 2]])


@lru_cache(maxsize=256)
def template(rows: int, sign: int) -> NDArray[np.int32]:
    """Triangles (t, 3) int32 of a tooth of ``rows`` rows, outward; ``sign`` −1 for mirrored axes."""
    i = np.arange(rows - 1)

    def corner(row: NDArray[np.int_], side: int, back: int) -> NDArray[np.int_]:
        return row * 4 + side * 2 + back

    quads = [
        (corner(i, 0, 0), corner(i, 1, 0), corner(i + 1, 1, 0), corner(i + 1, 0, 0)),
        (corner(i, 1, 1), corner(i, 0, 1), corner(i + 1, 0, 1), corner(i + 1, 1, 1)),
        (corner(i, 0, 1), corner(i, 0, 0), corner(i + 1, 0, 0), corner(i + 1, 0, 1)),
        (corner(i, 1, 0), corner(i, 1, 1), corner(i + 1, 1, 1), corner(i + 1, 1, 0)),
    ]
    last = np.array([rows - 1])
    first = np.array([0])
    quads.append((corner(first, 0, 0), corner(first, 0, 1), corner(first, 1, 1), corner(first, 1, 0)))
    quads.append((corner(last, 0, 0), corner(last, 1, 0), corner(last, 1, 1), corner(last, 0, 1)))
    rows_of = [np.column_stack([a, b, c]) for a, b, c, _ in quads] + [
        np.column_stack([a, c, d]) for a, _, c, d in quads
    ]
    out = np.concatenate(rows_of).astype(np.int32)
    out = out if sign > 0 else out[:, ::-1].copy()
    frozen(out)
    return out
