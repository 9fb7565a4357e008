"""One gap measured: its span, what stands in it, and what both sides are made of. Lengths mm, bed frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from core.design.measure_span import measure_span
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.span_section import NearSpan
from core.diagnose.candidates import Candidate
from core.diagnose.rows_present import RowPresent, read_row
from core.diagnose.sacrificial import Joint
from core.diagnose.standing import LEVEL
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import I64, Mesh, among
from core.geometry.polyline import Polyline

#: Points of an edge this far outside a span's strip still belong to the same strip, mm; from memory.
SAME_STRIP: Final = 1.2
#: What lies farther beside an edge than this does not matter to its gap, mm: the reach of a span and a little.
BESIDE_EDGE: Final = 7.0
#: What a row widens from edge to ledge by at least if it is to tell which side is which, mm.
TAPER: Final = 0.05
#: No triangles.
_NOBODY: Final = np.zeros(0, np.int64)


@dataclass(frozen=True, eq=False)
class Measured:
    """A span with what stands in it and the triangles on both sides; ``wanted`` says why it was measured."""

    span: Span
    row: RowPresent | None
    joint: Joint
    wanted: str

    @property
    def is_row(self) -> bool:
        """Whether a row of teeth stands there."""
        return self.row is not None and self.row.is_row


def measured_at(
    mesh: Mesh, setup: PrintSetup, candidate: Candidate, reason: str, may_turn: bool = True
) -> Measured | None:
    """One candidate measured; a sideways row that widens the wrong way is taken from the other side."""
    near = _Near.to(mesh, candidate.edge, candidate.gap_direction)
    try:
        span = measure_span(
            near.mesh, candidate.edge, setup, ledge=candidate.ledge, gap_direction=candidate.gap_direction
        )
    except SpanProblem:
        return None
    out = _looked_at(near, span, reason)
    if may_turn and candidate.ledge is not None and out.row is not None and out.row.foot < out.row.tip - TAPER:
        return measured_at(mesh, setup, turned_over(candidate), reason, may_turn=False) or out
    return out


def measured_along(mesh: Mesh, setup: PrintSetup, line: Polyline) -> Measured | None:
    """The upward gap below a line that no mesh edge names, as below a round underside; None where there is none."""
    near = _Near.to(mesh, line, None)
    try:
        span = measure_span(near.mesh, line, setup)
    except SpanProblem:
        return None
    return _looked_at(near, span, "weak")


def turned_over(candidate: Candidate) -> Candidate:
    """The same sideways candidate with edge and ledge exchanged."""
    assert candidate.ledge is not None
    assert candidate.gap_direction is not None
    x, y, z = candidate.gap_direction
    return replace(
        candidate, edge=candidate.ledge, ledge=candidate.edge, gap_direction=(-x, -y, -z),
        edge_faces=candidate.ledge_faces, ledge_faces=candidate.edge_faces,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Near:
    """The columns of a mesh along a gap direction that pass an edge, bed mm, and where their triangles come from."""

    mesh: Mesh
    ids: I64

    @classmethod
    def to(cls, mesh: Mesh, edge: Polyline, gap_direction: tuple[float, float, float] | None) -> _Near:
        """What can matter when the gap at ``edge`` is measured: cutting it out once saves doing so again and again."""
        up = np.array(gap_direction or (0.0, 0.0, 1.0))
        chord = edge.array[-1] - edge.array[0]
        a = chord - up * (up @ chord)
        if edge.closed or np.linalg.norm(a) < 1e-6:
            a = np.cross(up, [0.0, 0.0, 1.0] if abs(up[2]) < 0.5 else [0.0, 1.0, 0.0])
        a /= np.linalg.norm(a)
        code = np.zeros(len(mesh.vertices), np.uint8)
        for k, way in enumerate((a, np.cross(up, a))):
            at, ends = mesh.vertices @ way, edge.array @ way
            code |= ((at < ends.min() - BESIDE_EDGE) << (2 * k)).astype(np.uint8)
            code |= ((at > ends.max() + BESIDE_EDGE) << (2 * k + 1)).astype(np.uint8)
        tri = mesh.triangles
        ids = np.flatnonzero((code[tri[:, 0]] & code[tri[:, 1]] & code[tri[:, 2]]) == 0)
        used, own = among(len(mesh.vertices), tri[ids])
        return cls(Mesh.trusted(mesh.vertices[used], own), ids)


def _looked_at(near: _Near, span: Span, reason: str) -> Measured:
    """A span with what stands in it and what lies on both sides."""
    row = read_row(near.mesh, span)
    if row is None and reason == "teeth":
        return Measured(span, None, _joint(span, None, _NOBODY, _NOBODY), reason)
    if row is not None:
        row = replace(row, cuts=tuple(near.ids[c] for c in row.cuts))
    ledge, edge = (near.ids[t] for t in sides_of(near.mesh, span))
    return Measured(span, row, _joint(span, row, ledge, edge), reason)


def _joint(span: Span, row: RowPresent | None, ledge: I64, edge: I64) -> Joint:
    """What a span and its row, if any, mean for the pieces."""
    if row is None or not row.is_row:
        return Joint(_NOBODY, np.zeros(0), ledge, edge, span.gap_range[0], 0)
    at = span.at(row.centres)
    low, high = at.ledge.max(axis=1), at.edge.min(axis=1)
    level = low + LEVEL * (high - low) if span.direction == "up" else np.full(len(low), np.nan)
    levels = np.repeat(level, [len(c) for c in row.cuts])
    return Joint(np.concatenate(row.cuts), levels, ledge, edge, span.gap_range[0], row.teeth)


def sides_of(mesh: Mesh, span: Span) -> tuple[I64, I64]:
    """Triangles of ``mesh`` (bed mm) that the ledge and the edge of a span are made of, (a,) and (b,) int64."""
    st = span.stations
    few = np.unique(np.linspace(0, len(st.s) - 1, 32).astype(int))
    v = (st.lo + st.hi)[few] / 2
    near = NearSpan.of(mesh, span, float(np.abs(v).max()) + 1.0)
    plan = st.axis[few] + st.across[few] * v[:, None]
    low, high = plan.min(axis=0) - 1, plan.max(axis=0) + 1
    line, height, sign, triangle = Columns.over(near.mesh, low, high).hits(plan)
    slack = 0.1 + (st.hi - st.lo)[few]
    on_ledge = (sign < 0) & (np.abs(height - st.ledge[few].max(axis=1)[line]) <= slack[line])
    on_edge = (sign > 0) & (np.abs(height - st.edge[few].min(axis=1)[line]) <= slack[line])
    return near.triangles[np.unique(triangle[on_ledge])], near.triangles[np.unique(triangle[on_edge])]


def same_strip(span: Span, candidate: Candidate) -> bool:
    """Whether the edge of a candidate runs along a strip that is measured already."""
    if candidate.direction != span.direction:
        return False
    if candidate.gap_direction is not None:
        way = np.asarray(candidate.gap_direction) @ span.frame[2, :3]
        if way < -0.9:
            return same_strip(span, turned_over(candidate))
        if way < 0.9:
            return False
    return _share_in_strip(span, candidate.edge) >= 0.5


def _share_in_strip(span: Span, line: Polyline) -> float:
    """The share of a line (bed mm) that lies beside the span, close to its strip and at the height of its edge."""
    points = line.at((np.arange(24) + 0.5) / 24 * line.length) @ span.frame[:3, :3].T
    st = span.stations
    distance, nearest = cKDTree(st.axis).query(points[:, :2])
    v = np.einsum("ij,ij->i", points[:, :2] - st.axis[nearest], st.across[nearest])
    within = (v >= st.lo[nearest] - SAME_STRIP) & (v <= st.hi[nearest] + SAME_STRIP)
    beside = distance <= np.abs(v) + 1.0
    level = np.abs(points[:, 2] - st.edge[nearest].mean(axis=1)) <= 0.5
    return float((within & beside & level).mean())


def overlap(a: Span, b: Span) -> bool:
    """Whether two spans are mostly one and the same."""
    if a.direction != b.direction or abs(a.frame[2, :3] @ b.frame[2, :3]) < 0.9:
        return False
    short, long = (a, b) if a.length <= b.length else (b, a)
    return _share_in_strip(long, short.edge_line) >= 0.5
