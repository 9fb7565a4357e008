"""Small solids made, united, cut away and cut out. All lengths mm, any one frame."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType
from numpy.typing import ArrayLike

from core.errors import MeshProblem
from core.geometry.mesh import F64, Mesh
from core.geometry.solids import SETTLE_STEPS, mesh_of, rounded, solid_of
from core.geometry.topology import Topology


def box(low: ArrayLike, high: ArrayLike) -> Mesh:
    """The box from corner ``low`` (3,) to corner ``high`` (3,)."""
    a, b = np.asarray(low, np.float64), np.asarray(high, np.float64)
    return mesh_of(Manifold.cube(tuple(b - a)), a)


def extruded(outlines: Sequence[ArrayLike], low: float, high: float) -> Mesh:
    """Upright prisms over closed plan outlines, each (k, 2), filled by the positive rule, from ``low`` to ``high``."""
    section = CrossSection([np.asarray(o, np.float64) for o in outlines], FillRule.Positive)
    return mesh_of(section.extrude(high - low), np.array([0.0, 0.0, low]))


def carved(whole: Sequence[Mesh], away: Sequence[Mesh] = ()) -> Mesh:
    """One skin around all of ``whole`` less all of ``away``, closed also after rounding to a file's float32.

    Raises MeshProblem when nothing is left or the skin would not stay closed, NotASolid when a mesh is open.
    """
    origin = np.mean([m.bounds.mean(axis=0) for m in whole], axis=0)
    solid = Manifold.batch_boolean([solid_of(m, origin) for m in whole], OpType.Add)
    if away:
        solid = solid - Manifold.batch_boolean([solid_of(m, origin) for m in away], OpType.Add)
    return settled(solid, origin)


def cut_out(mesh: Mesh, frame: Mesh) -> list[Mesh]:
    """What of a closed ``mesh`` lies within the solid ``frame``, each connected piece by itself, largest first."""
    origin = frame.bounds.mean(axis=0)
    pieces = (solid_of(mesh, origin) ^ solid_of(frame, origin)).decompose()
    pieces.sort(key=lambda p: -p.volume())
    return [mesh_of(p, origin) for p in pieces]


def settled(solid: Manifold, origin: F64) -> Mesh:
    """The surface of a solid, closed also as it reads back from a file of float32 numbers. Raises MeshProblem."""
    if solid.is_empty():
        raise MeshProblem("Nothing is left of the piece.", "Choose another place.")
    for tolerance in SETTLE_STEPS:
        mesh = rounded(mesh_of(solid.simplify(tolerance) if tolerance else solid, origin))
        if Topology.of(mesh).watertight:
            return mesh
    raise MeshProblem("The piece would not be closed after rounding to the numbers of a file.", "Choose another place.")
