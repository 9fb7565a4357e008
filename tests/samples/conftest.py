"""The sample files as general libraries read them, and the truth beside them."""

from __future__ import annotations

from functools import cache

import manifold3d as m3
import numpy as np
import pytest
import shapely
import trimesh

from samples import SAMPLES, sample_path, truth

MM = {"millimeter": 1.0, "inch": 25.4}  # inch: NIST, exact since 1959


class Known:
    """One sample: its truth, and its mesh on the bed in mm, read by trimesh."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.truth = truth()["samples"][name]
        self.path = sample_path(name)
        self.raw = trimesh.load(self.path)
        self.mesh = self.raw.copy()
        self.mesh.apply_scale(MM[self.truth["unit"]])
        self.pose = np.array(self.truth["pose"])
        self.mesh.apply_transform(self.pose)
        self.shells = list(self.mesh.split(only_watertight=False))

    def on_bed(self, points: list) -> np.ndarray:
        """Points of the truth (file mm) on the bed."""
        return np.array(points) @ self.pose[:3, :3].T + self.pose[:3, 3]

    @cache  # noqa: B019 - one object per test run
    def solids(self) -> list[m3.Manifold]:
        """Every shell as a solid of manifold3d."""
        return [m3.Manifold(m3.Mesh64(np.array(s.vertices), np.array(s.faces, np.uint64))) for s in self.shells]

    def region(self, z: float) -> shapely.Geometry:
        """Everything filled at a height above the bed: all shells united."""
        return shapely.union_all([_filled(s.slice(z)) for s in self.solids()])


def _filled(section: m3.CrossSection) -> shapely.Geometry:
    out: shapely.Geometry = shapely.Polygon()
    for ring in section.to_polygons():
        out = out.symmetric_difference(shapely.Polygon(ring))
    return out


@cache
def _known(name: str) -> Known:
    return Known(name)


@pytest.fixture(params=[s.name for s in SAMPLES])
def known(request: pytest.FixtureRequest) -> Known:
    """Every sample in turn."""
    return _known(request.param)


@pytest.fixture
def hood() -> Known:
    """The rain hood."""
    return _known("rain_hood")


@pytest.fixture
def inch_hood() -> Known:
    """The rain hood in inches."""
    return _known("rain_hood_inch")


@pytest.fixture
def panel() -> Known:
    """The busy panel."""
    return _known("busy_panel")
