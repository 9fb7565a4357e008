"""Closed forms: elastic beams, the printed strand, tipping. Mathematics, not predictions.

A molten strand is no elastic beam, so no deflection worked out here is ever shown as the sag of a print; what may be
shown is a ratio (how much stiffer a shorter bridge is). Units: N, mm, MPa (= N/mm²) throughout.
"""

from __future__ import annotations

import math

#: Standard gravity, m/s² (CGPM 1901).
GRAVITY = 9.80665


def rectangle_inertia(width: float, height: float) -> float:
    """Second moment of area of a rectangle about its middle, mm⁴: b h³ / 12 (Roark's Formulas, Table A.1)."""
    return width * height**3 / 12


def circle_inertia(diameter: float) -> float:
    """Second moment of area of a disc, mm⁴: π d⁴ / 64 (Roark's Formulas, Table A.1)."""
    return math.pi * diameter**4 / 64


def sag_simply_supported(load: float, length: float, modulus: float, inertia: float) -> float:
    """Greatest deflection under an even load (N/mm) on two free bearings, mm: 5 w L⁴ / 384 E I (Roark, Table 8.1)."""
    return 5 * load * length**4 / (384 * modulus * inertia)


def sag_clamped(load: float, length: float, modulus: float, inertia: float) -> float:
    """Greatest deflection under an even load (N/mm), both ends clamped, mm: w L⁴ / 384 E I (Roark, Table 8.1)."""
    return load * length**4 / (384 * modulus * inertia)


def sag_cantilever(load: float, length: float, modulus: float, inertia: float) -> float:
    """Deflection of the free end under an even load (N/mm), mm: w L⁴ / 8 E I (Roark, Table 8.1)."""
    return load * length**4 / (8 * modulus * inertia)


def bend_cantilever(force: float, length: float, modulus: float, inertia: float) -> float:
    """Deflection of the free end under a force (N) there, mm: P L³ / 3 E I (Roark, Table 8.1)."""
    return force * length**3 / (3 * modulus * inertia)


def strand_weight(diameter: float, density: float) -> float:
    """Weight of a round strand, N/mm; ``diameter`` mm, ``density`` g/cm³."""
    return density * 1e-6 * GRAVITY * math.pi * diameter**2 / 4


def bending_ratio(bare: float, clear: float) -> float:
    """How many times less a beam bends when its clear length (mm) falls from ``bare`` to ``clear``: (L/l)⁴."""
    return (bare / clear) ** 4 if clear > 0 else math.inf


def bead_area(width: float, height: float) -> float:
    """Cross-section of a strand pressed flat to ``width`` × ``height``, mm²: a rectangle between two half discs.

    (w − h) h + π h² / 4; the form that printing practice works with, no source.
    """
    return (width - height) * height + math.pi * height**2 / 4


def free_strand_diameter(area: float) -> float:
    """Diameter (mm) of the round strand with the same cross-section (mm²)."""
    return math.sqrt(4 * area / math.pi)


def corner_voids(width: float, height: float) -> float:
    """Share of the rectangle ``width`` × ``height`` that the flattened strand leaves empty at its corners."""
    return 1 - bead_area(width, height) / (width * height)


def tip_angle(margin: float, height: float) -> float:
    """Lean, in degrees, at which a standing body falls: atan(margin / height).

    ``margin``: distance in plan from the centre of mass to the nearest edge of the footprint, mm, negative when it lies
    outside. ``height``: centre of mass above the bed, mm. Plain statics.
    """
    return math.degrees(math.atan2(margin, height))
