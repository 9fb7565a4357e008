"""Feet of curved teeth read back from meshes that were made of exact arcs, right here in the test."""

from __future__ import annotations

import math

import numpy as np
import pytest
from manifold3d import CrossSection

from core.design.measure_span import measure_span
from core.design.setup import PrintSetup
from core.diagnose.rows_present import read_row
from core.geometry.mesh import Mesh, joined
from core.geometry.polyline import Polyline
from tests.meshes import bar_over_ledge

SETUP = PrintSetup()
TIP = 0.5


def half_outline(shape: str, run: float, gap: float) -> np.ndarray:
    """Half width (n,) and height of a flank, mm, from the circle through tip and foot that is tangent at one end."""
    if shape == "tip":  # upright at the tip: R = (r² + g²) / 2r
        radius = (run**2 + gap**2) / (2 * run)
        turn = np.linspace(math.asin(gap / radius), 0, 60)
        return np.column_stack([TIP / 2 + radius * (1 - np.cos(turn)), gap - radius * np.sin(turn)])
    radius = (run**2 + gap**2) / (2 * gap)  # lying down at the ledge: R = (r² + g²) / 2g
    turn = np.linspace(0, math.asin(run / radius), 60)
    return np.column_stack([TIP / 2 + run - radius * np.sin(turn), radius * (1 - np.cos(turn))])


def tooth(shape: str, run: float, gap: float, x: float) -> Mesh:
    """A tooth on the ledge at z = 10, 0.8 mm thick, 0.3 mm sunk at both ends."""
    right = half_outline(shape, run, gap)
    right = np.vstack([[right[0, 0], -0.3], right, [right[-1, 0], gap + 0.3]])
    outline = np.vstack([right, (right * [-1, 1])[::-1]])
    solid = CrossSection([outline]).extrude(0.8).to_mesh64()
    along, up, through = np.array(solid.vert_properties)[:, :3].T
    return Mesh(np.column_stack([x + along, 0.4 - through, 10 + up]), np.array(solid.tri_verts).astype(np.int32))


@pytest.mark.parametrize(
    ("shape", "run", "gap"),
    [
        ("tip", 0.5, 1.2), ("tip", 0.9, 1.2), ("tip", 0.6, 0.8), ("tip", 1.0, 3.0),
        ("ledge", 0.9, 0.8), ("ledge", 1.3, 1.2), ("ledge", 1.4, 0.8),
    ],
)  # fmt: skip
def test_feet_of_arcs_are_read_where_they_end(shape: str, run: float, gap: float) -> None:
    made = bar_over_ledge(40.0, gap)
    mesh = joined([made.mesh, *(tooth(shape, run, gap, x) for x in np.arange(3.0, 38, 4.25))])
    mesh = Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.triangles)
    row = read_row(mesh, measure_span(mesh, Polyline.of(made.edge), SETUP))
    assert row is not None
    assert (row.foot, row.tip) == pytest.approx((TIP + 2 * run, TIP), abs=0.03)
