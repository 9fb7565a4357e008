"""The whole diagnosis of a part in its print pose: what will sag, which gaps and rows there are, which pieces go.

The result is described in ``found`` and turned into plain data in ``inspection_json``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields, replace

import numpy as np

from core.design.setup import PrintSetup
from core.diagnose.found import FileFacts, Inspection, ListedSpot
from core.diagnose.gaps import held_by_teeth, listed
from core.diagnose.inspection_json import inspection_json
from core.diagnose.layers import hanging, print_layers
from core.diagnose.sacrificial import Split
from core.diagnose.survey import survey
from core.diagnose.weak_spots import WeakSpot, listed_spots, spots_of
from core.errors import Cancelled
from core.geometry.defects import find_defects
from core.geometry.mesh import Bool
from core.geometry.part import Part
from core.geometry.pose import Pose
from core.geometry.topology import Topology
from core.geometry.winding import disagreeing, inside_out, turned

__all__ = ["Inspection", "inspect_part", "inspection_json"]

Progress = Callable[[float, str], None]

#: A spot keeps its lasting name when it moves by less than about half of this, mm.
KEY_STEP = 0.5


def inspect_part(
    part: Part,
    pose: Pose,
    setup: PrintSetup,
    *,
    dismissed: Iterable[str] = (),
    piece_overrides: Iterable[tuple[str, bool]] = (),
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Inspection:
    """Diagnose ``part`` (file mm) in its print ``pose`` (file mm → bed mm).

    ``dismissed`` holds keys of weak spots that are fine as they are, ``piece_overrides`` what the person said about
    pieces: (key, thrown away or not). ``progress`` is told the share done and what is being done. Raises Cancelled soon
    after ``cancelled`` answers True.
    """
    tell = _Teller(progress, cancelled)
    tell(0.0, "Indexing edges")
    as_read = part.topology.carried_to(part.mesh.moved(pose.matrix))
    topology = _outward(as_read)
    mesh = topology.mesh
    if not len(mesh.triangles):
        return Inspection(_facts(part), pose, setup, (), (), (), Split((), np.zeros(0, np.int64)), part.notes)
    tell(0.05, "Cutting layers")
    layers = print_layers(as_read.mesh, setup, topology=as_read, progress=tell.part(0.05, 0.4, "Cutting layers"))
    tell(0.4, "Comparing layers")
    hangs = hanging(layers, setup, topology)
    tell(0.5, "Finding weak spots")
    every = spots_of(hangs, setup, topology, progress=tell.part(0.5, 0.65, "Finding weak spots"))
    spots = listed_spots(every, setup)
    tell(0.65, "Finding gaps and teeth")
    found = survey(mesh, topology, setup, spots, dict(piece_overrides), lambda: tell(0.65, "Finding gaps and teeth"))
    tell(0.9, "Linking what was found")
    ignore: Bool = found.pieces.thrown_away
    if ignore.any() and spots:
        spots = listed_spots(every, setup, ignore)
    held = held_by_teeth(found, spots)
    spots = [replace(s, id=f"w{i}") for i, s in enumerate((s for s in spots if s.id not in held), start=1)]
    named = _named(spots, pose, frozenset(dismissed))
    gaps, rows = listed(found, named, frozenset(s.id for s in named if s.dismissed))
    tell(1.0, "Done")
    notes = tuple(dict.fromkeys((*part.notes, *layers.notes, *found.notes, *_notes(part.topology))))
    return Inspection(_facts(part), pose, setup, named, gaps, rows, found.pieces, notes)


class _Teller:
    """Passes progress on, and raises when nobody waits any more."""

    def __init__(self, progress: Progress | None, cancelled: Callable[[], bool] | None) -> None:
        self._progress, self._cancelled = progress, cancelled

    def __call__(self, share: float, text: str) -> None:
        if self._cancelled is not None and self._cancelled():
            raise Cancelled("The inspection was given up.")
        if self._progress is not None:
            self._progress(share, text)

    def part(self, start: float, stop: float, text: str) -> Callable[[float], None]:
        """The same for a step that tells its own share."""
        return lambda share: self(start + share * (stop - start), text)


def _outward(topology: Topology) -> Topology:
    """The topology of the mesh with facets and shells that are inside out turned, so that winding numbers are right."""
    flip = disagreeing(topology)
    if flip.any():
        topology = Topology.of(turned(topology.mesh, flip))
    if (topology.shell_volumes() < 0).any():
        shells = inside_out(topology)
        if shells.any():
            topology = Topology.of(turned(topology.mesh, shells[topology.shell_of_triangle]))
    return topology


def _facts(part: Part) -> FileFacts:
    topology, source = part.topology, part.source
    name = source.path.name if source is not None else part.name
    return FileFacts(name, len(part.mesh.triangles), topology.shell_count, topology.watertight, part.unit)


def _named(spots: list[WeakSpot], pose: Pose, dismissed: frozenset[str]) -> tuple[ListedSpot, ...]:
    """Spots with lasting names: the kind, and where the middle of the line lies in the file."""
    out: list[ListedSpot] = []
    for spot in spots:
        middle = pose.inverse.apply(spot.path.at(spot.path.length / 2)[0])
        place = ",".join(f"{round(float(c) / KEY_STEP) * KEY_STEP + 0.0:g}" for c in middle)
        key = f"{spot.kind}@{place}"
        twin = sum(s.key == key or s.key.startswith(f"{key}#") for s in out)
        key = f"{key}#{twin}" if twin else key
        known = {f.name: getattr(spot, f.name) for f in fields(WeakSpot)}
        out.append(ListedSpot(**known, key=key, dismissed=key in dismissed))
    return tuple(out)


def _notes(topology: Topology) -> tuple[str, ...]:
    """What is wrong with the mesh and was not told while cutting it."""
    out = []
    holes = int(topology.borders.sum())
    if holes:
        out.append(f"The mesh has holes: {holes:,} of its edges belong to one facet only.")
    crowded = int((topology.irregular & ~topology.borders).sum())
    if crowded:
        out.append(f"At {crowded:,} edges more than two facets meet.")
    told = ("turn",)  # while cutting, together with what was done about it
    return (*out, *(defect.text for defect in find_defects(topology) if defect.fix not in told))
