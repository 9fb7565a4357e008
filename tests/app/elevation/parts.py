"""Small parts with one gap each, built from convex solids, for drawing and for pulling at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import trimesh

from core.design.measure_span import measure_span
from core.design.setup import PrintSetup
from core.design.span import Span
from core.geometry.mesh import Mesh
from core.geometry.polyline import Polyline

SETUP = PrintSetup(clear_bridge=4.6)


@dataclass(frozen=True, eq=False)
class Case:
    mesh: Mesh
    span: Span
    setup: PrintSetup
    standing: tuple[tuple[float, float], ...] = ()


def _hull(points: list[tuple[float, float, float]]) -> trimesh.Trimesh:
    return trimesh.convex.convex_hull(np.array(points))


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> trimesh.Trimesh:
    return _hull([(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])


def wedge(length: float, left: float, right: float) -> trimesh.Trimesh:
    """A fin 1.2 thick whose top runs from ``left`` to ``right`` mm high."""
    return _hull([(x, y, z) for x, top in ((0, left), (length, right)) for y in (0.2, 1.4) for z in (0, top)])


def tooth(centre: float, low: float, high: float, foot: float, tip: float) -> trimesh.Trimesh:
    ends = ((low - 0.2, foot + 0.1), (high + 0.1, tip - 0.05))
    return _hull([(centre + k * w / 2, y, z) for z, w in ends for k in (-1, 1) for y in (0.2, 1.4)])


def as_mesh(*solids: trimesh.Trimesh) -> Mesh:
    vertices, triangles, n = [], [], 0
    for solid in solids:
        vertices.append(np.asarray(solid.vertices))
        triangles.append(np.asarray(solid.faces) + n)
        n += len(solid.vertices)
    return Mesh(np.concatenate(vertices), np.concatenate(triangles).astype(np.int32))


def _case(
    mesh: Mesh, edge: Polyline, setup: PrintSetup = SETUP, standing: tuple[tuple[float, float], ...] = ()
) -> Case:
    return Case(mesh, measure_span(mesh, edge, setup), setup, standing)


def straight_edge(length: float, over: float = 1.0, z: float = 18.0) -> Polyline:
    return Polyline.of([(-over, 0, z), (length + over, 0, z)])


@lru_cache
def straight(length: float = 72.0, gap: float = 2.4, over: float = 1.0) -> Case:
    """A lip 12 mm high over a fin; the lip is longer than the fin by ``over`` at both ends."""
    mesh = as_mesh(box((-over, 0, 18), (length + over, 6, 30)), box((0, 0.2, 0), (length, 1.4, 18 - gap)))
    return _case(mesh, straight_edge(length, over))


@lru_cache
def sloping(length: float = 60.0) -> Case:
    """The fin falls from 16.4 to 13.2, so the gap grows from 1.6 to 4.8."""
    mesh = as_mesh(box((-1, 0, 18), (length + 1, 6, 21.5)), wedge(length, 16.4, 13.2))
    return _case(mesh, straight_edge(length))


@lru_cache
def rising_edge(length: float = 50.0) -> Case:
    """The lip itself rises by 4 mm over a level fin."""
    points = [(x, y, z) for x, z in ((-1, 18.0), (length + 1, 22.0)) for y in (0, 6) for z in (z, 32)]
    mesh = as_mesh(_hull(points), box((0, 0.2, 0), (length, 1.4, 15.6)))
    return _case(mesh, Polyline.of([(-1, 0, 18), (length + 1, 0, 22)]))


@lru_cache
def ridge(length: float = 40.0) -> Case:
    """A sharp edge: the part is a roof turned upside down, 45° on both sides."""
    roof = _hull([(x, y, z) for x in (-0.5, length + 0.5) for y, z in ((0, 14), (-6, 20), (6, 20))])
    mesh = as_mesh(roof, box((0, -0.8, 0), (length, 0.8, 12)))
    return _case(mesh, Polyline.of([(-0.5, 0, 14), (length + 0.5, 0, 14)]))


@lru_cache
def ring(radius: float = 10.0) -> Case:
    """A ring over a ring: the edge closes on itself."""
    upper = trimesh.creation.annulus(radius - 3, radius, 8, sections=96)
    upper.apply_translation((0, 0, 12 + 4))
    lower = trimesh.creation.annulus(radius - 1.6, radius - 0.2, 9.6, sections=96)
    lower.apply_translation((0, 0, 4.8))
    angle = 2 * np.pi * np.arange(96) / 96
    edge = Polyline.of(
        np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.full(96, 12.0)]), closed=True
    )
    return _case(as_mesh(upper, lower), edge)


@lru_cache
def with_teeth(length: float = 40.0) -> Case:
    """Three teeth stand already on the left, foot 2.0 and tip 0.6."""
    centres = (3.0, 7.0, 11.0)
    teeth = [tooth(c, 15.6, 18.0, 2.0, 0.6) for c in centres]
    mesh = as_mesh(box((-1, 0, 18), (length + 1, 6, 30)), box((0, 0.2, 0), (length, 1.4, 15.6)), *teeth)
    return _case(mesh, straight_edge(length), standing=tuple((c - 0.3, c + 0.3) for c in centres))


@lru_cache
def sideways(length: float = 30.0) -> Case:
    """A fin beside an upright edge, 1.5 away."""
    mesh = as_mesh(box((0, 0, 0), (8, 8, length)), box((-2.7, 0.2, 0), (-1.5, 4, length - 2)))
    edge = Polyline.of([(0, 0, 0), (0, 0, length)])
    return Case(mesh, measure_span(mesh, edge, SETUP, gap_direction=(1.0, 0.0, 0.0)), SETUP)
