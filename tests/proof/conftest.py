"""Benches to prove rows on: a foot plate with a fin, and a beam above it between two posts. Built by manifold3d."""

from dataclasses import dataclass, field

import manifold3d as m3
import numpy as np
import pytest

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.geometry.mesh import Mesh
from core.geometry.polyline import Polyline


def box(low, high):
    low, high = np.asarray(low, float), np.asarray(high, float)
    return m3.Manifold.cube(tuple(high - low)).translate(tuple(low))


def mesh_of(solid):
    raw = solid.to_mesh64()
    return Mesh(np.asarray(raw.vert_properties)[:, :3], np.asarray(raw.tri_verts).astype(np.int32))


@dataclass
class Bench:
    """A fin along x from 0 to ``length`` below a beam between two posts; the strip is the beam's underside."""

    length: float = 40.0
    ledge: float = 6.0
    gap: float = 1.2
    fin: float = 1.2
    strip: float = 1.6
    extras: list = field(default_factory=list)
    setup: PrintSetup = field(default_factory=PrintSetup)

    def solid(self):
        half, length, edge = self.strip / 2, self.length, self.ledge + self.gap
        parts = [
            box((0, -5, 0), (length, 5, 1)),
            box((0, -self.fin / 2, 0), (length, self.fin / 2, self.ledge)),
            box((-6, -half, edge), (length + 6, half, edge + 4)),
            box((-6, -4, 0), (-1, 4, edge + 4)),
            box((length + 1, -4, 0), (length + 6, 4, edge + 4)),
            *self.extras,
        ]
        return m3.Manifold.batch_boolean(parts, m3.OpType.Add)

    @property
    def mesh(self):
        return mesh_of(self.solid())

    def edge(self):
        z, y = self.ledge + self.gap, -self.strip / 2
        return Polyline.of([(-1.0, y, z), (self.length + 1, y, z)])

    def measured(self, **wishes):
        """Mesh, span, plan and teeth."""
        mesh = self.mesh
        span = measure_span(mesh, self.edge(), self.setup)
        plan = plan_row(span, RowWishes(**wishes), self.setup)
        return mesh, span, plan, row_solids(span, plan)


@pytest.fixture(scope="session")
def bench():
    """The class of benches."""
    return Bench


@pytest.fixture(scope="session")
def solid_box():
    """A box from its low to its high corner."""
    return box


@pytest.fixture(scope="session")
def as_mesh():
    """The mesh of a solid."""
    return mesh_of
