"""The gaps of a part: where an edge hangs over a ledge, or stands beside a fin, and teeth stand or could stand.

Every slot of a part has edges that face something, so not everything that could be measured is listed. An upward gap
is listed when the edge is weak, when a row of teeth stands in it, or when its ledge belongs to a piece that is thrown
away; a sideways one when a row stands in it or the fin is thrown away. Two mesh edges of one strip give one gap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from core.design.setup import PrintSetup
from core.diagnose.candidates import Candidate, find_candidates
from core.diagnose.measured import Measured, measured_along, measured_at, overlap, same_strip, turned_over
from core.diagnose.plumb import PlumbLines
from core.diagnose.sacrificial import Split, split
from core.diagnose.spot_lines import Spot, SpotLines
from core.geometry.mesh import Bool, Mesh
from core.geometry.topology import Topology

#: Most spans measured for each reason, the longest edges and the worst spots first; what is left out is said.
MOST_SPANS: Final = 24
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


@dataclass(frozen=True, eq=False)
class Survey:
    """Everything found before it is decided what to list. ``mesh`` in bed mm; ``notes`` are for the person."""

    mesh: Mesh
    topology: Topology
    setup: PrintSetup
    measured: tuple[Measured, ...]
    pieces: Split
    notes: tuple[str, ...] = ()


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
    near = SpotLines.of(spots, setup)
    work = _Measuring(mesh, setup, check)
    work.measure((c for c in candidates if c.toothed), "teeth")
    work.found = [m for m in work.found if m.is_row]
    work.measure((c for c in candidates if c.direction == "up" and not c.toothed and near.along(c.edge)), "weak")
    work.measure_spots(near)
    pieces = split(mesh, topology, lines, [m.joint for m in work.found], overrides)
    kept = [m for m in work.found if not m.is_row or m.wanted == "weak" or _breaks_away(m, pieces, setup)]
    if len(kept) < len(work.found):
        work.found, pieces = kept, split(mesh, topology, lines, [m.joint for m in kept], overrides)
    work.measure((_fin_as_ledge(c, pieces) for c in candidates if _beside_a_fin(c, pieces)), "fin")
    found = [m for m in work.found if m.wanted != "fin" or _fin_carries(m, pieces)]
    return Survey(mesh, topology, setup, tuple(found), pieces, work.notes())


@dataclass
class _Measuring:
    """The spans measured so far, at most MOST_SPANS for each reason, and what was left out."""

    mesh: Mesh
    setup: PrintSetup
    check: Callable[[], None]
    found: list[Measured] = field(default_factory=list)
    left_out: list[Candidate] = field(default_factory=list)
    spots_left_out: bool = False

    def measure(self, wanted: Iterable[Candidate], reason: str) -> None:
        """Measure some candidates, but for those whose strips are measured already."""
        tried = 0
        for candidate in wanted:
            self.check()
            if any(same_strip(m.span, candidate) for m in self.found):
                continue
            tried += 1
            if tried > MOST_SPANS:
                self.left_out.append(candidate)
            else:
                self.add(measured_at(self.mesh, self.setup, candidate, reason))

    def measure_spots(self, near: SpotLines) -> None:
        """Measure along weak spots that no mesh edge names: round undersides."""
        tried = 0
        taken = {spot.id for m in self.found for spot in near.over(m.span)}
        for spot in sorted(near.spots, key=lambda s: -s.severity):
            self.check()
            if spot.id in taken:
                continue
            tried += 1
            if tried > MOST_SPANS:
                self.spots_left_out = True
                return
            more = measured_along(self.mesh, self.setup, spot.path)
            if more is not None and self.add(more):
                taken |= {s.id for s in near.over(more.span)}

    def add(self, measured: Measured | None) -> bool:
        """Keep a measured gap unless it is one that is known; says whether it was kept."""
        new = measured is not None and not any(overlap(measured.span, m.span) for m in self.found)
        if measured is not None and new:
            self.found.append(measured)
        return new

    def notes(self) -> tuple[str, ...]:
        """What was left out, in words."""
        missing = [c for c in self.left_out if not any(same_strip(m.span, c) for m in self.found)]
        if not missing and not self.spots_left_out:
            return ()
        return (f"Not every place was searched for gaps: of each kind only the first {MOST_SPANS} are.",)


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
