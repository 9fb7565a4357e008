"""How far beyond the limit each point of the part reaches, for colouring."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from core.diagnose.pieces import Piece
from core.diagnose.weak_spots import WeakSpot
from core.geometry.mesh import F64, Mesh
from core.geometry.regions import Region
from core.geometry.slicing import Layers

#: Longest side of a triangle that is coloured, mm; and the least share by which an underside looks down. From memory.
STEP = 0.8
_LOOKS_DOWN = 0.2
#: A vertex belongs to a hanging region when it lies in it or nearer to it than this in plan, mm.
_RIM = 0.05


def heat(mesh: Mesh, layers: Layers, spots: Sequence[WeakSpot]) -> F64:
    """Reach beyond what a layer may advance, (n,) float64 mm, at every vertex of ``mesh`` (bed mm); zero where all
    is well.

    Counted at vertices of the underside of what hangs: those between the layer of a hanging piece and the one below
    it, in plan within the piece. Islands get half their own width, since no support is there to measure from.
    """
    out = np.zeros(len(mesh.vertices))
    looks_down = np.zeros(len(out), np.bool_)
    looks_down[mesh.triangles[mesh.normals[:, 2] < 0].ravel()] = True
    below = np.searchsorted(layers.heights, mesh.vertices[:, 2], side="left")
    order = np.argsort(below, kind="stable")
    start = np.searchsorted(below[order], np.arange(len(layers) + 1))
    for piece in (p for spot in spots for p in spot.pieces):
        ids = order[start[piece.layer] : start[piece.layer + 1]]
        ids = ids[looks_down[ids]]
        x0, y0, x1, y1 = piece.region.bounds
        plan = mesh.vertices[ids, :2]
        near = ((plan >= [x0 - _RIM, y0 - _RIM]) & (plan <= [x1 + _RIM, y1 + _RIM])).all(axis=1)
        ids, plan = ids[near], plan[near]
        hit = piece.region.grown(_RIM).contains(plan)
        beyond = _beyond(piece, plan[hit])
        out[ids[hit]] = np.maximum(out[ids[hit]], beyond)
    return out


def heat_patch(mesh: Mesh, layers: Layers, spots: Sequence[WeakSpot]) -> tuple[Mesh, F64]:
    """The undersides that hang, cut small enough to be coloured, and the heat at their vertices (mm).

    A large flat underside of a machined part has vertices only at its rim, where it is held and cold. The patch
    (bed mm) lies on the part; its triangles have no side longer than a hundredth of it or STEP.
    """
    facets = np.unique(np.concatenate([spot.facets for spot in spots])) if spots else np.zeros(0, np.int64)
    down = facets[mesh.normals[facets, 2] < -_LOOKS_DOWN]
    if not len(down):
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)), np.zeros(0)
    area = float(np.linalg.norm(mesh.area_vectors[down], axis=1).sum())
    step = max(STEP, float(np.sqrt(area)) / 100)
    used, index = np.unique(mesh.triangles[down], return_inverse=True)
    corners = index.reshape(-1, 3)
    from trimesh.remesh import subdivide_to_size  # noqa: PLC0415 - half of a worker's start, and seldom asked for

    points, triangles = subdivide_to_size(mesh.vertices[used], corners, step, 16)  # type: ignore[no-untyped-call]
    patch = Mesh(points, np.asarray(triangles, np.int32))
    return patch, heat(patch, layers, spots)


def _beyond(piece: Piece, plan: F64) -> F64:
    away = piece.loose.below.distance(plan)
    if piece.kind == "island":
        return np.full(len(plan), half_width(piece.region))
    return np.maximum(away - piece.loose.advance, 0.0)


def half_width(region: Region) -> float:
    """Half the mean width of a region: area over half the perimeter, halved, mm."""
    return region.area / region.perimeter if region.perimeter else 0.0
