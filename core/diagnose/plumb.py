"""Vertical lines through a whole part, prepared once and used by every step that looks up and down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.geometry.columns import Columns
from core.geometry.mesh import F64, I32, I64, Bool, Mesh
from core.geometry.pose import about_z


@dataclass(frozen=True, eq=False)
class PlumbLines:
    """Vertical lines through a part, asked for in bed mm.

    The grid behind them is turned with the part's own walls: along the grid, the plan boxes of walls are thin.
    ``turn`` (2, 2) carries plan points of the bed to the grid.
    """

    turn: F64
    columns: Columns

    @classmethod
    def through(cls, mesh: Mesh) -> PlumbLines:
        """Prepare for lines anywhere through ``mesh`` (bed mm)."""
        x, y = mesh.area_vectors[:, 0], mesh.area_vectors[:, 1]
        square = x * x - y * y + 2j * x * y  # the fourth power of a direction is the same for all four walls of a box
        size = np.abs(square)
        fourfold = np.sum(np.divide(square * square, size * np.sqrt(size), out=np.zeros_like(square), where=size > 0))
        angle = float(np.angle(fourfold)) / 4
        turn = about_z(-float(np.rad2deg(angle)))
        turned = Mesh(mesh.vertices @ turn.T, mesh.triangles)
        low, high = turned.bounds
        return cls(turn[:2, :2].T, Columns.over(turned, low[:2] - 2, high[:2] + 2))

    def hits(self, plan: F64) -> tuple[I64, F64, F64, I32]:
        """As ``Columns.hits``: line, height, sign and triangle of every crossing of lines at ``plan`` (q, 2)."""
        return self.columns.hits(plan @ self.turn)

    def filled(self, plan: F64, z: F64) -> Bool:
        """Whether points at heights ``z`` (n,) over ``plan`` (n, 2) lie in material."""
        floor, _ = self.columns.air_around(plan @ self.turn, z)
        return np.asarray(np.isnan(floor))
