"""Mending a mesh the way a person chose: each fix a pure function of the mesh, the same every time it is run.

A repair is remembered by its name and parameter, in numbers of the file, so that it can be run again on the same file
however its unit is read. Lapped teeth need none of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from core.errors import BadValue, MeshProblem
from core.geometry.cracks import join_map
from core.geometry.defects import FIXES, Fix, doubled, without_area, wrong_way_round
from core.geometry.mesh import F64, I32, I64, Mesh
from core.geometry.solids import SETTLE_STEPS, mesh_of, rounded, solid_of
from core.geometry.topology import Topology
from core.geometry.winding import turned

#: Rounds in which facets without area are turned away; each needs the edges anew, and one is nearly always enough.
_ROUNDS: Final = 6


@dataclass(frozen=True)
class Repair:
    """A fix by its name; ``within`` is the distance, in numbers of the file, within which "join" joins.

    Raises BadValue for another name, and for a distance that makes no sense.
    """

    fix: Fix
    within: float = 0.0

    def __post_init__(self) -> None:
        if self.fix not in FIXES:
            raise BadValue(f"There is no repair “{self.fix}”.", f"Known are {', '.join(FIXES)}.")
        if not np.isfinite(self.within) or (self.within <= 0) == (self.fix == "join"):
            raise BadValue(f"A repair within {self.within:g} makes no sense.", "Choose the repair again.")


@dataclass(frozen=True, eq=False)
class Mended:
    """The mesh after a repair, and what was done, in a sentence."""

    mesh: Mesh
    text: str


def mended(mesh: Mesh, repair: Repair, mm_per_unit: float = 1.0, topology: Topology | None = None) -> Mended:
    """The mesh (mm, file frame) with one repair done; ``mm_per_unit`` is what one number of its file means.

    Raises MeshProblem when there is nothing for it to do or it would not come out right, NotASolid for "unite" on a
    mesh that is not closed.
    """
    topo = topology or Topology.of(mesh)
    if repair.fix == "join":
        done = _joined(topo, repair.within * mm_per_unit)
    elif repair.fix == "unite":
        done = _united(topo, mm_per_unit)
    else:
        done = {"turn": _turned, "double": _undoubled, "sliver": _without_slivers}[repair.fix](topo)
    if done is None:
        raise MeshProblem("There is nothing to mend of this kind.", "Look at the list again.")
    return done


def _turned(topology: Topology) -> Mended | None:
    flip, shells, facets = wrong_way_round(topology)
    if not flip.any():
        return None
    words = [f"Mended as chosen: shells turned: {shells:,}."] * bool(shells)
    words += [f"Mended as chosen: facets turned: {facets:,}."] * bool(facets)
    return Mended(turned(topology.mesh, flip), " ".join(words))


def _undoubled(topology: Topology) -> Mended | None:
    again = doubled(topology)
    if not len(again):
        return None
    mesh = topology.mesh
    left = _compacted(mesh.vertices, np.delete(mesh.triangles, again, axis=0))
    return Mended(left, f"Mended as chosen: facets that were there twice, left out: {len(again):,}.")


def _without_slivers(topology: Topology) -> Mended | None:
    """Turn the longest side of every facet without area into the other diagonal of it and its neighbour.

    The points of the surface stay what they were. Facets on a border are left out; what resists stays.
    """
    flat = without_area(topology.mesh)
    before = len(flat)
    irregular = int(topology.irregular.sum())
    best = topology
    for _ in range(_ROUNDS):
        if not len(flat):
            break
        after = Topology.of(_flipped(best, flat))
        if int(after.irregular.sum()) > irregular:
            break
        left = without_area(after.mesh)
        if len(left) >= len(flat):
            break
        best, flat = after, left
    gone = before - len(flat)
    if before and not gone:
        raise MeshProblem("Other facets hold these in their place.", "Leave the mesh as it is; they do no harm.")
    if not gone:
        return None
    mesh = best.mesh
    return Mended(
        _compacted(mesh.vertices, mesh.triangles), f"Mended as chosen: facets without area removed: {gone:,}."
    )


def _flipped(topology: Topology, flat: I64) -> Mesh:
    """The mesh with the facets ``flat`` turned away, none of whose pairs share a facet."""
    mesh = topology.mesh
    triangles = mesh.triangles.copy()
    corners = mesh.vertices[mesh.triangles[flat]]
    length = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    side = np.argmax(length, axis=1)
    used: set[int] = set()
    gone: list[int] = []
    for t, k in zip(flat.tolist(), side.tolist(), strict=True):
        edge = int(topology.triangle_edges[t, k])
        pair = topology.edge_triangles[edge]
        other = int(pair[1] if pair[0] == t else pair[0])
        if t in used or other in used or topology.irregular[edge]:
            continue
        used |= {t, other}
        if other < 0:
            gone.append(t)
            continue
        a, b, m = (int(triangles[t, (k + i) % 3]) for i in range(3))
        c = int(next(v for v in triangles[other] if v not in (a, b)))
        if c == m:  # two facets back to back: nothing lies between them
            gone += [t, other]
            continue
        triangles[t], triangles[other] = (m, a, c), (m, c, b)
    return Mesh(mesh.vertices, np.delete(triangles, gone, axis=0))


def _joined(topology: Topology, within: float) -> Mended | None:
    new = join_map(topology, within)
    if new is None:
        return None
    mesh = topology.mesh
    after = _compacted(mesh.vertices, new[mesh.triangles].astype(np.int32))
    closed = int(topology.borders.sum()) - int(Topology.of(after).borders.sum())
    if closed <= 0:
        return None
    text = f"Mended as chosen: open edges closed by joining what lay within {within:.4g} mm: {closed:,}."
    return Mended(after, text)


def _united(topology: Topology, mm_per_unit: float) -> Mended | None:
    """All shells as one surface, closed also after rounding to a file's float32."""
    if topology.shell_count < 2:
        return None
    origin = topology.mesh.bounds.mean(axis=0)
    solid = solid_of(topology.mesh, origin, topology)
    for tolerance in SETTLE_STEPS:
        out = rounded(mesh_of(solid.simplify(tolerance) if tolerance else solid, origin), mm_per_unit)
        after = Topology.of(out)
        if after.watertight:
            before, left = topology.shell_count, after.shell_count
            return Mended(out, f"Mended as chosen: shells united: {before:,} before, {left:,} now.")
    raise MeshProblem(
        "The united shells would not be closed after rounding to the numbers of the file.",
        "Leave them as they are; lapped teeth need no united part.",
    )


def _compacted(vertices: F64, triangles: I32) -> Mesh:
    """Without vertices that no facet uses. Raises MeshProblem when no facet is left."""
    if not len(triangles):
        raise MeshProblem("No facet would be left.", "Leave the mesh as it is.")
    used = np.zeros(len(vertices), np.bool_)
    used[triangles] = True
    if used.all():
        return Mesh(vertices, triangles)
    new = np.cumsum(used, dtype=np.int32) - np.int32(1)
    return Mesh(vertices[used], new[triangles])
