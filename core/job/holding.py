"""What a row holds, and what holds it too: the sacrificial piece under its ledge, with every row that keeps it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Protocol

import numpy as np

from core.design.span import Span
from core.diagnose.lower_edges import ON_BED
from core.diagnose.measured import sides_of
from core.diagnose.rows_present import RowPresent
from core.diagnose.sacrificial import Split
from core.geometry.mesh import F64, I32, I64, Mesh, among
from core.job.pipeline import RowDesign
from core.proof.snap import Necks

#: No piece: ledge and edge belong together, so a row between them keeps nothing that could come off.
NO_PIECE: Final = -1
#: Share of a surface that its holes may make up before it says nothing of a body any more; from memory.
LEAST_OPENING: Final = 1e-3


class Diagnosed(Protocol):
    """What is needed of an inspection."""

    @property
    def rows(self) -> tuple[RowPresent, ...]:
        """The rows of teeth that the designer put in, bed mm."""
    @property
    def split(self) -> Split:
        """The pieces of the part once every breakaway tooth is cut."""


@dataclass(frozen=True, eq=False)
class Known:
    """The rows that are there and the pieces of a part: what is sent along when a row is to be proved elsewhere."""

    rows: tuple[RowPresent, ...]
    split: Split


@dataclass(frozen=True, eq=False)
class Company:
    """What holds the same piece as a row.

    ``standing`` are the designer's rows, ``beside`` the necks of the job's other rows; ``piece`` is the piece itself
    (bed mm) where it is a body of its own that stands on the bed.
    """

    standing: tuple[RowPresent, ...] = ()
    beside: tuple[Necks, ...] = ()
    piece: Mesh | None = None


#: Nothing else holds the piece, as far as is known.
ALONE: Final = Company()


def company(mesh: Mesh, found: Diagnosed | None, design: RowDesign, others: Sequence[RowDesign]) -> Company:
    """What holds the same piece as the row of ``design``; ``mesh`` is the inspected part in bed mm."""
    if found is None:
        return ALONE
    piece = piece_held(mesh, design.span, found.split)
    if piece == NO_PIECE:
        return ALONE
    beside = [d for d in others if d is not design and piece_held(mesh, d.span, found.split) == piece]
    return Company(
        rows_holding(found, piece), tuple(necks_of_design(d) for d in beside), body_of(mesh, found.split, piece)
    )


def on_wall(design: RowDesign) -> Company:
    """What holds the wall that was built for a row: the row alone. One that stands on the part is held by its feet."""
    wall = design.wall
    return Company(piece=wall.solid if wall is not None and wall.plan.base == "bed" else None)


@lru_cache(maxsize=32)
def piece_held(mesh: Mesh, span: Span, split: Split) -> int:
    """Number of the piece that a row in ``span`` would hold: that of its ledge. ``mesh`` in bed mm, as it was split.

    NO_PIECE when the ledge is kept, belongs to the same piece as the edge, or was not found.
    """
    ledge, edge = sides_of(mesh, span)
    held, part = split.piece_of(ledge), split.piece_of(edge)
    if held < 0 or held == part or split.pieces[held].sacrificial is False:
        return NO_PIECE
    return held


def rows_holding(found: Diagnosed, piece: int) -> tuple[RowPresent, ...]:
    """The designer's rows whose teeth hold a piece. Cut teeth belong to the piece of their ledge."""
    return tuple(r for r in found.rows if found.split.piece_of(_cuts(r)) == piece)


def necks_of_design(design: RowDesign) -> Necks:
    """A new row as far as its hold goes."""
    plan, name = design.plan, f"row {design.row.number}"
    return Necks(design.span.direction, plan.teeth, plan.tip, plan.thickness, plan.height, name=name)


@lru_cache(maxsize=4)
def body_of(mesh: Mesh, split: Split, piece: int) -> Mesh | None:
    """A piece as a closed mesh of its own (bed mm); None when it does not stand on the bed, or its surface has holes.

    A limb of a skin ends where its teeth are cut through; there it is closed by a fan of triangles.
    """
    shared = {s for i, p in enumerate(split.pieces) if i != piece for s in p.shells}
    used, own = among(len(mesh.vertices), mesh.triangles[split.label == piece])
    points = mesh.vertices[used]
    if not len(own) or float(points[:, 2].min()) > ON_BED:
        return None
    if shared.intersection(split.pieces[piece].shells):
        points, own = _fanned(points, own)
    body = Mesh(points, own)
    areas = body.area_vectors
    open_area = float(np.linalg.norm(areas.sum(axis=0)))  # none on a closed surface, by the divergence theorem
    return None if open_area > LEAST_OPENING * float(np.linalg.norm(areas, axis=1).sum()) else body


def _fanned(points: F64, triangles: I32) -> tuple[F64, I32]:
    """The surface with a triangle from every open side to one point amid them all; that closes it, however many."""
    sides = triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).astype(np.int64)
    there, back = sides[:, 0] * len(points) + sides[:, 1], sides[:, 1] * len(points) + sides[:, 0]
    rim = sides[~np.isin(there, back)]
    if not len(rim):
        return points, triangles
    apex = points[rim[:, 0]].mean(axis=0)
    fan = np.column_stack([rim[:, ::-1], np.full(len(rim), len(points))])
    return np.vstack([points, apex]), np.concatenate([triangles, fan.astype(np.int32)])


def _cuts(row: RowPresent) -> I64:
    return np.concatenate(row.cuts) if row.cuts else np.zeros(0, np.int64)
