"""The part: the mesh that the person opened, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from core.geometry.landmarks import Landmarks
from core.geometry.mesh import Mesh
from core.geometry.repair import Repair, mended
from core.geometry.topology import Topology
from core.units import MM_PER, UnitName


@dataclass(frozen=True)
class Source:
    """The file behind a part, as it was when it was read. ``format`` is "stl", "obj", "ply" or "3mf".

    ``choice`` is the word with which the person answered a question of the reader, if there was one. ``mtime_ns`` and
    ``ctime_ns`` are the times of its last change, of contents and of anything, as the system tells them; 0 if unknown.
    """

    path: Path
    size: int
    sha256: str
    format: str
    mtime_ns: int = 0
    choice: str | None = None
    ctime_ns: int = 0


@dataclass(frozen=True, eq=False)
class Part:
    """A mesh in file coordinates scaled to mm, with its unit, source and what was noticed while reading.

    ``unit`` is what one number of the file means; ``unit_stated`` tells whether the file itself said so.
    ``notes`` are plain sentences for the person. ``metadata`` holds designer and licence notes of the file.
    ``repairs`` were done to the mesh, one after the other, because the person chose them; ``filed`` is then the mesh
    as it is in the file.
    """

    name: str
    mesh: Mesh
    unit: UnitName = "millimeter"
    unit_stated: bool = False
    source: Source | None = None
    notes: tuple[str, ...] = ()
    metadata: tuple[tuple[str, str], ...] = field(default=())
    repairs: tuple[Repair, ...] = ()
    filed: Mesh | None = None

    @property
    def mm_per_unit(self) -> float:
        """Millimetres in one unit of the file."""
        return MM_PER[self.unit]

    @cached_property
    def topology(self) -> Topology:
        """Edges, dihedral angles and shells of the mesh, computed once."""
        return Topology.of(self.mesh)

    @cached_property
    def landmarks(self) -> Landmarks:
        """The feature edges by which the part is known on another mesh, file mm, computed once."""
        return Landmarks.of(self.topology)

    def in_unit(self, unit: UnitName) -> Part:
        """The same file read in another unit: coordinates are rescaled, nothing else changes."""
        if unit == self.unit:
            return self
        scale = MM_PER[unit] / self.mm_per_unit
        filed = None if self.filed is None else Mesh(self.filed.vertices * scale, self.filed.triangles)
        return replace(self, mesh=Mesh(self.mesh.vertices * scale, self.mesh.triangles), unit=unit, filed=filed)

    def mended(self, repair: Repair) -> Part:
        """The part with one repair done to its mesh, which is said in its notes. Raises what ``repair.mended`` does."""
        done = mended(self.mesh, repair, self.mm_per_unit, self.topology)
        return replace(
            self, mesh=done.mesh, notes=(*self.notes, done.text), repairs=(*self.repairs, repair),
            filed=self.mesh if self.filed is None else self.filed,
        )  # fmt: skip

    def unmended(self) -> Part:
        """The part as it is in its file, without any repair."""
        if self.filed is None:
            return self
        notes = self.notes[: len(self.notes) - len(self.repairs)]
        return replace(self, mesh=self.filed, notes=notes, repairs=(), filed=None)
