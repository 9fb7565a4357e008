"""Parts whose undersides are no plain edges: a sphere on a stem, an arch, a wavy plate, and meshes out of packages."""

from __future__ import annotations

from collections.abc import Callable

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


def letter(text: str, size: float) -> Mesh:
    """Letters of VTK's own vector font, standing upright, with their longest side ``size`` mm."""
    return _sized(pyvista.Text3D(text, depth=0.3).rotate_x(90), size)


def arrow(size: float) -> Mesh:
    """pyvista's arrow, pointing up: the underside of its head hangs all round the shaft."""
    return _sized(pyvista.Arrow(direction=(0, 0, 1)), size)


def _sized(raw: pyvista.PolyData, size: float) -> Mesh:
    """A mesh of a package welded, outward, with its longest side ``size`` mm and a corner of its box at the origin."""
    clean = raw.triangulate().clean()
    points = np.asarray(clean.points, np.float64)
    points = (points - points.min(axis=0)) * size / float(np.ptp(points, axis=0).max())
    mesh = Mesh(points, clean.faces.reshape(-1, 4)[:, 1:].astype(np.int32))
    return mesh if mesh.volume > 0 else Mesh(points, mesh.triangles[:, ::-1])


MADE: dict[str, Callable[[], Mesh]] = {
    "sphere_on_stem": sphere_on_stem, "arch": arch, "wavy": wavy, "letter_t": lambda: letter("T", 40.0),
    "letter_f": lambda: letter("F", 40.0), "arrow": lambda: arrow(60.0),
}  # fmt: skip


def named(name: str) -> Part:
    """One of the parts above by its name."""
    return Part(name, MADE[name]())
