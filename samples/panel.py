"""The busy panel: lettering, rivets, fillets, holes and counterbores, and among them exactly three true problems.

True: the flat ceiling of the cable window, the label ledge, the floor of the wide bore below.
Sound: all lettering, the rivets, the round holes, the narrow counterbores, the visor and the nibs below it.
"""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from samples.letters import lettering, on_front
from samples.record import ADVANCE, Piece, Sample, Weak
from samples.solids import F64, box, circle, hull, prism_x, prism_y, prism_z, rounded, turned, united

HALF, HEIGHT, THICK = 48.0, 62.0, 6.0
BASE_Y, BASE = (-15.0, 22.0), 6.0
PROUD = 0.6  # of raised letters; engraved ones are as deep

WINDOW_X, WINDOW_Z = (-38.0, -24.0), (14.0, 30.0)
LEDGE_X, LEDGE_Z, LEDGE_DEPTH, LEDGE = (-8.0, 18.0), 24.0, 6.0, 2.4
BORE_R, BORE_HOLE_R, BORE_Z, BORE_Y = 5.0, 2.0, 3.4, 14.0
NARROW_R, NARROW_HOLE_R, NARROW_Z = 2.6, 1.9, 3.0
NARROW_AT = [(-42.0, -9.0), (42.0, -9.0), (-42.0, 15.0), (42.0, 15.0)]
PORT_X, PORT_Z, PORT_R = 33.0, 24.0, 6.0
NIBS = (-30.0, -15.0, 0.0, 15.0, 30.0)


def _base() -> m3.Manifold:
    """The base with rounded corners and 1 mm fillets at its lower and upper edges."""

    def ring(inset: float, z: float) -> list[tuple[float, float, float]]:
        x, y0, y1 = HALF - inset, BASE_Y[0] + inset, BASE_Y[1] - inset
        return [(a, b, z) for a, b in rounded([(-x, y0), (x, y0), (x, y1), (-x, y1)], [6.0 - inset] * 4)]

    steps = np.radians(np.linspace(0, 90, 7))
    low = [ring(1 - float(np.sin(t)), 1 - float(np.cos(t))) for t in steps]
    high = [ring(1 - float(np.cos(t)), BASE - 1 + float(np.sin(t))) for t in steps]
    return hull(*low, *high)


def _wall() -> m3.Manifold:
    corners = [(-HALF + 1, BASE - 2), (HALF - 1, BASE - 2), (HALF - 1, HEIGHT), (-HALF + 1, HEIGHT)]
    wall = prism_y(rounded(corners, [0, 0, 7, 7], 3.0), 0.0, THICK)
    window = [(WINDOW_X[0], WINDOW_Z[0]), (WINDOW_X[1], WINDOW_Z[0]), (WINDOW_X[1], WINDOW_Z[1]),
              (WINDOW_X[0], WINDOW_Z[1])]  # fmt: skip
    holes = [
        prism_y(rounded(window, [2.5, 2.5, 0, 0]), -1, THICK + 1),
        prism_y(circle(PORT_X, PORT_Z, PORT_R, 96), -1, THICK + 1),
        *(prism_y(circle(x, 53.0, 1.7, 40), -1, THICK + 1) for x in (-41.0, 41.0)),
    ]
    return wall - united(holes)


def _fillet() -> m3.Manifold:
    """The concave fillet between base and wall in front, radius 4."""
    turn = np.radians(np.linspace(0, 90, 13))
    arc = [(-4.0 + 4.0 * float(np.sin(t)), BASE + 4.0 - 4.0 * float(np.cos(t))) for t in turn]
    return prism_x([(0.5, BASE - 0.5), (-4.0, BASE - 0.5), *arc, (0.5, BASE + 4.0)], -HALF + 1, HALF - 1)


def _visor() -> m3.Manifold:
    """A rain visor at the top, its underside 40° from vertical."""
    return prism_x([(0.5, 56.0), (0.0, 56.0), (-4.0, 60.8), (-4.0, 61.4), (-3.4, HEIGHT), (0.5, HEIGHT)], -40.0, 40.0)


def _nib(x: float) -> m3.Manifold:
    """A drip nib below the visor: 0.36 wide, hanging 0.8 below it, so that its first layers are islands."""
    return box((x - 0.18, -2.18, 57.6), (x + 0.18, -1.82, 59.2))


def _ledge() -> m3.Manifold:
    corners = [(LEDGE_X[0], 0.5), (LEDGE_X[0], -LEDGE_DEPTH), (LEDGE_X[1], -LEDGE_DEPTH), (LEDGE_X[1], 0.5)]
    top = LEDGE_Z + LEDGE
    lip = box((LEDGE_X[0], -LEDGE_DEPTH, top - 0.5), (LEDGE_X[1], -LEDGE_DEPTH + 1.4, top + 1.6))
    return united([prism_z(corners, LEDGE_Z, LEDGE_Z + LEDGE), lip])


def _rivets() -> list[m3.Manifold]:
    """Rivet heads: flat domes round the port, 0.7 proud."""
    arc = [(1.3 * float(np.cos(t)), 0.7 * float(np.sin(t))) for t in np.radians(np.linspace(0, 90, 6))]
    head = turned([(0.0, -0.5), (1.3, -0.5), *arc[:-1], (0.0, 0.7)], 24).rotate((90, 0, 0))
    at = [(PORT_X + 8.6 * np.cos(t), PORT_Z + 8.6 * np.sin(t)) for t in 2 * np.pi * (np.arange(8) + 0.5) / 8]
    return [head.translate((float(x), 0.0, float(z))) for x, z in at]


def _gussets() -> list[m3.Manifold]:
    outline = [(THICK - 0.5, BASE - 1), (19.5, BASE - 1), (19.5, BASE + 1), (THICK + 1.5, 40.0), (THICK - 0.5, 40.0)]
    return [prism_x(rounded(outline, [0, 0, 0, 4, 0]), x - 1.5, x + 1.5) for x in (-19.0, 22.0)]


def _bores() -> list[m3.Manifold]:
    narrow = []
    for x, y in NARROW_AT:
        narrow += [prism_z(circle(x, y, NARROW_R), -1, NARROW_Z), prism_z(circle(x, y, NARROW_HOLE_R), -1, BASE + 1)]
    wide = [
        prism_z(circle(0.0, BORE_Y, BORE_R, 96), -1, BORE_Z),
        prism_z(circle(0.0, BORE_Y, BORE_HOLE_R), -1, BASE + 1),
    ]
    return [*narrow, *wide]


def _raised() -> list[m3.Manifold]:
    return [
        on_front(lettering("STATION 7", 7.0, 1.2), 0.0, 47.5, -PROUD, 0.4),
        on_front(lettering("RAIN WIND SUN", 3.6, 0.9), 0.0, 38.0, -PROUD, 0.4),
    ]


def _engraved() -> list[m3.Manifold]:
    below = lettering("RAIN GARDEN", 5.0, 1.1, mirrored=True).extrude(PROUD + 1).translate((0.0, -6.0, -1.0))
    ticks = [box((x - 0.4, -1.0, 31.0), (x + 0.4, PROUD, 33.2)) for x in np.arange(-7.0, 18.0, 3.0)]
    return [below, on_front(lettering("N E S W", 4.2, 0.9), 5.0, 15.5, -1.0, PROUD), *ticks]


def solids() -> list[m3.Manifold]:
    """The panel in one shell."""
    body = united([_base(), _wall(), _fillet(), _visor(), _ledge(), *_gussets(), *_raised(), *_rivets()])
    return [united([body - united([*_bores(), *_engraved()]), *(_nib(x) for x in NIBS)])]


def _window_spot() -> Weak:
    (x0, x1), z = WINDOW_X, WINDOW_Z[1]
    chord = x1 - x0 - 2 * ADVANCE
    path = [(x0, 0.0, z), (x1, 0.0, z), (x1, THICK, z), (x0, THICK, z)]
    return Weak("window", "bridge", z, path, x1 - x0, chord, (x1 - x0) / 2, chord * THICK, "flat ceiling of the window")


def _ledge_spot() -> Weak:
    (x0, x1), z = LEDGE_X, LEDGE_Z
    path = [(x0, 0.0, z), (x0, -LEDGE_DEPTH, z), (x1, -LEDGE_DEPTH, z), (x1, 0.0, z)]
    return Weak("ledge", "cantilever", z, path, x1 - x0, x1 - x0, LEDGE_DEPTH, (x1 - x0) * (LEDGE_DEPTH - ADVANCE),
                "label ledge, held by the wall behind it alone")  # fmt: skip


def _bore_spot() -> Weak:
    middle = (BORE_R + BORE_HOLE_R) / 2
    path = [(x, BORE_Y + y, BORE_Z) for x, y in [*circle(0.0, 0.0, middle, 24), circle(0.0, 0.0, middle, 24)[0]]]
    area = np.pi * ((BORE_R - ADVANCE) ** 2 - BORE_HOLE_R**2)
    around = 2 * np.pi * middle
    return Weak("bore", "cantilever", BORE_Z, path, around, around, BORE_R - BORE_HOLE_R, float(area),
                "ring-shaped floor inside the wide bore below")  # fmt: skip


def sample(label: tuple[str, str, str], to_file: F64) -> Sample:
    """The panel as a sample with all that is known about it."""
    sound = [
        ("raised lettering, 0.6 proud", [(-30.0, -0.3, 44.0), (30.0, -0.3, 51.0)]),
        ("engraved lettering and ticks, 0.6 deep", [(-8.0, 0.3, 13.0), (18.0, 0.3, 33.2)]),
        ("lettering engraved in the bed face", [(-28.0, -6.0, PROUD), (28.0, -6.0, PROUD)]),
        ("narrow counterbores, floors 0.7 wide", [(x, y, NARROW_Z) for x, y in NARROW_AT]),
        ("rivet heads, 0.7 proud", [(PORT_X, -0.35, PORT_Z + 8.6)]),
        ("round top of the port", [(PORT_X, THICK / 2, PORT_Z + PORT_R)]),
        ("drip nibs, narrower than a line", [(x, -2.0, 57.6) for x in NIBS]),
        ("underside of the visor, 40° from vertical", [(-40.0, -2.0, 58.4), (40.0, -2.0, 58.4)]),
        ("fillet at the bed, radius 1", [(-HALF, 0.0, 0.3), (HALF, 0.0, 0.3)]),
    ]
    return Sample(
        label=label,
        solids=solids(),
        to_file=to_file,
        weak=[_window_spot(), _ledge_spot(), _bore_spot()],
        pieces=[Piece("panel", False, (0.0, 3.0, 20.0), shells=[0])],
        not_listed=sound,
    )
