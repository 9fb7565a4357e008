"""Parts whose undersides are no plain edges: a sphere on a stem, an arch, a wavy plate, and meshes out of packages."""

from __future__ import annotations

from pathlib import Path

import manifold3d as m3
import numpy as np
import pyvista

from core.geometry.mesh import Mesh
from core.geometry.part import Part
from tests.design.walls import mesh_of

#: Radius of the sphere, of its stem and of the arch; height of the sphere's middle; mm.
BALL, STEM, ARCH, MIDDLE = 12.0, 4.0, 22.0, 32.0
#: The wavy plate's underside: mean height, amplitude and wave length, mm.
WAVE = (22.0, 2.0, 25.0)


def sphere_on_stem() -> Mesh:
    """A sphere that a thin stem carries on a round base."""
    base = m3.Manifold.cylinder(2, 15, 15, 64) + m3.Manifold.cylinder(24, STEM, STEM, 64)
    return mesh_of(m3.Manifold.sphere(BALL, 96).translate((0, 0, MIDDLE)) + base)


def arch() -> Mesh:
    """A block with half a round hole cut through it from the bed."""
    block = m3.Manifold.cube((60, 20, 35), True).translate((0, 0, 17.5))
    return mesh_of(block - m3.Manifold.cylinder(30, ARCH, ARCH, 128, True).rotate((90, 0, 0)))


def wavy() -> Mesh:
    """A plate with a wavy underside that stands out from an upright one."""
    mean, high, long = WAVE
    x = np.linspace(-25, 25, 101)
    under = np.column_stack([x, mean + high * np.sin(2 * np.pi * x / long)])
    section = m3.CrossSection([np.vstack([[-25.0, 30.0], under, [25.0, 30.0]])])
    back = m3.Manifold.cube((60, 6, 40)).translate((-30, -0.5, 0))
    return mesh_of(m3.Manifold.extrude(section, 14).rotate((90, 0, 0)) + back)


def packaged(name: str, size: float) -> Mesh:
    """A mesh that comes with pyvista, welded, with its longest side ``size`` mm."""
    path = Path(pyvista.__file__).parent / "examples" / f"{name}.ply"
    raw = pyvista.read(path).triangulate().clean()
    mesh = Mesh(np.asarray(raw.points, np.float64), raw.faces.reshape(-1, 4)[:, 1:].astype(np.int32))
    low, high = mesh.bounds
    return Mesh((mesh.vertices - low) * size / float((high - low).max()), mesh.triangles)


def named(name: str) -> Part:
    """One of the parts above by its name."""
    made = {"sphere_on_stem": sphere_on_stem, "arch": arch, "wavy": wavy}
    return Part(name, made[name]())
