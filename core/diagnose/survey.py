"""The gaps of a part: where an edge hangs over a ledge, or stands beside a fin, and teeth stand or could stand.

Every slot of a part has edges that face something, so not everything that could be measured is listed. An upward gap
is listed when the edge is weak, when a row of teeth stands in it, or when its ledge belongs to a piece that is thrown
away; a sideways one when a row stands in it or the fin is thrown away. Two mesh edges of one strip give one gap.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
from scipy.spatial import cKDTree

from core.design.measure_span import measure_span
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.span_section import NearSpan
from core.diagnose.candidates import Candidate, find_candidates
from core.diagnose.plumb import PlumbLines
from core.diagnose.rows_present import RowPresent, read_row
from core.diagnose.sacrificial import Joint, Split, split
from core.diagnose.standing import LEVEL
from core.errors import SpanProblem
from core.geometry.columns import Columns
from core.geometry.mesh import F64, I64, Bool, Mesh
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology

#: A spot lies on an edge within this distance in plan, and this many layers above it.
NEAR_SPOT: Final = 1.2
LAYERS_OFF: Final = 2.5
#: This share of an edge (or of a spot's line) must lie there.
SHARE: Final = 0.25
#: An edge runs along a spot's line when the cosine between them is more than this.
ALONG: Final = 0.5
#: Points of an edge this far outside a span's strip still belong to the same strip, mm; from memory.
SAME_STRIP: Final = 1.2
#: What lies farther beside an edge than this does not matter to its gap, mm: the reach of a span and a little.
BESIDE_EDGE: Final = 7.0
#: Most spans measured for each reason; the longest edges first.
MOST_SPANS: Final = 16
#: Teeth that do not part a piece from the rest count as teeth up to this tip and this neck: what a hand can snap.
#: In lines and square lines; from memory.
SNAPPABLE_TIP, SNAPPABLE_NECK = 3.0, 12.0
#: A gap that carries nothing yet is told only from this length, mm: room for three teeth at a usual pitch.
LEAST_EMPTY: Final = 4.0
#: Beside a fin, only from this length and distance, mm: nearer by, a fin is merely kept clear of the part.
LEAST_EMPTY_SIDE: Final = 10.0
NEAREST_EMPTY_SIDE: Final = 0.8
#: And only when it is no higher than this, mm: what nothing weak asks for is told where teeth would be usual.
HIGHEST_EMPTY: Final = 4.0
#: What a row widens from edge to ledge by at least if it is to tell which side is which, mm.
TAPER: Final = 0.05
#: No triangles.
_NOBODY: Final = np.zeros(0, np.int64)


class Spot(Protocol):
    """What is needed of a weak spot."""

    @property
    def id(self) -> str:
        """Its name in this inspection."""

    @property
    def z(self) -> float:
        """Height above the bed, mm."""

    @property
    def reach(self) -> float:
        """Farthest distance to support, mm."""

    @property
    def severity(self) -> float:
        """0…1."""

    @property
    def path(self) -> Polyline:
        """The line that carries it, bed mm."""


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


@dataclass(frozen=True, eq=False)
class Survey:
    """Everything found before it is decided what to list. ``mesh`` in bed mm."""

    mesh: Mesh
    topology: Topology
    setup: PrintSetup
    measured: tuple[Measured, ...]
    pieces: Split


def survey(
    mesh: Mesh,
    topology: Topology,
    setup: PrintSetup,
    spots: Sequence[Spot],
    overrides: dict[str, bool] | None = None,
    check: Callable[[], None] = lambda: None,
) -> Survey:
    """Measure every gap of ``mesh`` (bed mm) that may have to be listed, and part the mesh into its pieces.

    ``check`` is called between steps and may raise to give up.
    """
    if not len(mesh.triangles):
        return Survey(mesh, topology, setup, (), Split((), np.zeros(0, np.int64)))
    lines = PlumbLines.through(mesh)
    candidates = find_candidates(mesh, topology, lines, setup, check)
    check()
    toothed = [c for c in candidates if c.toothed]
    weak = [c for c in candidates if c.direction == "up" and not c.toothed and _near_a_spot(c, spots, setup)]
    found = _measure(mesh, setup, [(c, "teeth") for c in toothed[:MOST_SPANS]], [], check)
    found = [m for m in found if m.is_row]
    found = _measure(mesh, setup, [(c, "weak") for c in weak[:MOST_SPANS]], found, check)
    found = _along_spots(mesh, setup, spots, found, check)
    pieces = split(mesh, topology, lines, [m.joint for m in found], overrides)
    kept = [m for m in found if not m.is_row or m.wanted == "weak" or _breaks_away(m, pieces, setup)]
    if len(kept) < len(found):
        found, pieces = kept, split(mesh, topology, lines, [m.joint for m in kept], overrides)
    more = [(_fin_as_ledge(c, pieces), "fin") for c in candidates if _beside_a_fin(c, pieces)]
    found = _measure(mesh, setup, more[:MOST_SPANS], found, check)
    found = [m for m in found if m.wanted != "fin" or _fin_carries(m, pieces)]
    return Survey(mesh, topology, setup, tuple(found), pieces)


def _near_a_spot(candidate: Candidate, spots: Sequence[Spot], setup: PrintSetup) -> bool:
    """Whether a weak spot lies on the edge of a candidate and runs along it."""
    edge = candidate.edge
    s = np.linspace(0, edge.length, max(8, int(edge.length)))
    points, along = edge.at(s), edge.directions(s)
    return any(_on_line(points, spot, setup) and _along(points, along, spot) for spot in spots)


def _along(points: F64, directions: F64, spot: Spot) -> bool:
    """Whether an edge runs along a spot's line rather than across its end."""
    stations = np.linspace(0, spot.path.length, max(8, int(spot.path.length)))
    nearest = cKDTree(spot.path.at(stations)[:, :2]).query(points[:, :2])[1]
    cosine = np.abs(np.einsum("ij,ij->i", directions, spot.path.directions(stations)[nearest]))
    return bool(np.median(cosine) > ALONG)


def _on_line(points: F64, spot: Spot, setup: PrintSetup) -> bool:
    """Whether enough of the points, or of the spot's line, lie at each other."""
    line = spot.path.at(np.linspace(0, spot.path.length, max(8, int(spot.path.length))))
    level = np.abs(points[:, 2] - spot.z) <= LAYERS_OFF * setup.layer_height + 0.05
    if not level.any():
        return False
    away = np.asarray(cKDTree(line[:, :2]).query(points[level, :2])[0])
    back = np.asarray(cKDTree(points[level, :2]).query(line[:, :2])[0])
    reach = NEAR_SPOT + setup.line_width
    return bool(np.sum(away <= reach) >= SHARE * len(points) or np.mean(back <= reach) >= SHARE)


def _measure(
    mesh: Mesh,
    setup: PrintSetup,
    wanted: Sequence[tuple[Candidate, str]],
    known: Sequence[Measured],
    check: Callable[[], None],
) -> list[Measured]:
    """``known`` and what can be measured of ``wanted``, leaving out edges of strips that are measured already."""
    found = list(known)
    for candidate, reason in wanted:
        check()
        if any(_same_strip(m.span, candidate) for m in found):
            continue
        measured = _one(mesh, setup, candidate, reason)
        if measured is not None and not any(_overlaps(measured.span, m.span) for m in found):
            found.append(measured)
    return found


def _one(
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
        return _one(mesh, setup, turned_over(candidate), reason, may_turn=False) or out
    return out


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
        used, index = np.unique(tri[ids], return_inverse=True)
        return cls(Mesh(mesh.vertices[used], index.reshape(-1, 3).astype(np.int32)), ids)


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


def _same_strip(span: Span, candidate: Candidate) -> bool:
    """Whether the edge of a candidate runs along a strip that is measured already."""
    if candidate.direction != span.direction:
        return False
    if candidate.gap_direction is not None:
        way = np.asarray(candidate.gap_direction) @ span.frame[2, :3]
        if way < -0.9:
            return _same_strip(span, turned_over(candidate))
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


def _overlaps(a: Span, b: Span) -> bool:
    """Whether two spans are mostly one and the same."""
    if a.direction != b.direction or abs(a.frame[2, :3] @ b.frame[2, :3]) < 0.9:
        return False
    short, long = (a, b) if a.length <= b.length else (b, a)
    return _share_in_strip(long, short.edge_line) >= 0.5


def _along_spots(
    mesh: Mesh, setup: PrintSetup, spots: Sequence[Spot], found: list[Measured], check: Callable[[], None]
) -> list[Measured]:
    """``found`` and the spans along weak spots that no mesh edge names: round undersides."""
    out = list(found)
    for spot in sorted(spots, key=lambda s: -s.severity)[:MOST_SPANS]:
        check()
        if any(spot_lies_over(m.span, spot, setup) for m in out):
            continue
        near = _Near.to(mesh, spot.path, None)
        try:
            span = measure_span(near.mesh, spot.path, setup)
        except SpanProblem:
            continue
        if not any(_overlaps(span, m.span) for m in out):
            out.append(_looked_at(near, span, "weak"))
    return out


def spot_lies_over(span: Span, spot: Spot, setup: PrintSetup) -> bool:
    """Whether a weak spot lies over the strip of an upward span."""
    if span.direction != "up":
        return False
    line = span.edge_line
    points = line.at(np.linspace(0, line.length, max(8, int(line.length))))
    return _on_line(points, spot, setup)


def _breaks_away(measured: Measured, pieces: Split, setup: PrintSetup) -> bool:
    """Whether a row parts two pieces, or has necks that a hand can snap: bars of a grille do neither."""
    row = measured.row
    assert row is not None
    if pieces.piece_of(measured.joint.ledge) != pieces.piece_of(measured.joint.edge):
        return True
    line = setup.line_width
    return row.tip <= SNAPPABLE_TIP * line and row.tip * row.thickness <= SNAPPABLE_NECK * line**2


def _beside_a_fin(candidate: Candidate, pieces: Split) -> bool:
    """Whether just one side of a candidate belongs to a piece that is thrown away, as far as its faces tell."""
    gone: Bool = pieces.thrown_away
    known = len(candidate.ledge_faces) and len(candidate.edge_faces)
    if candidate.distance > HIGHEST_EMPTY or not known or not gone.any():
        return False
    ledge, edge = (float(gone[f].mean()) for f in (candidate.ledge_faces, candidate.edge_faces))
    return ledge > 0.5 > edge or (candidate.direction == "side" and edge > 0.5 > ledge)


def _fin_as_ledge(candidate: Candidate, pieces: Split) -> Candidate:
    """A sideways candidate with the piece that is thrown away as its ledge."""
    if candidate.direction == "side" and pieces.thrown_away[candidate.edge_faces].mean() > 0.5:
        return turned_over(candidate)
    return candidate


def _fin_carries(measured: Measured, pieces: Split) -> bool:
    """Whether the ledge is thrown away and the edge is not, over a length worth telling."""
    ledge, edge = pieces.piece_of(measured.joint.ledge), pieces.piece_of(measured.joint.edge)
    low, high = measured.span.gap_range
    sane = measured.span.length >= LEAST_EMPTY and high <= HIGHEST_EMPTY
    if measured.span.direction == "side":
        sane = sane and measured.span.length >= LEAST_EMPTY_SIDE and low >= NEAREST_EMPTY_SIDE
    if ledge < 0 or edge < 0 or ledge == edge or not sane:
        return False
    return pieces.pieces[ledge].sacrificial is True and pieces.pieces[edge].sacrificial is not True
