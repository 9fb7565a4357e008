"""The bare bracket: a sensor shelf on a mast saddle, with nothing at all below the shelf."""

from __future__ import annotations

import manifold3d as m3

from samples.record import ADVANCE, Piece, Sample, Weak
from samples.solids import F64, Points, circle, hull, prism_x, prism_y, prism_z, rounded, united

SHELF_HALF, SHELF_DEPTH, SHELF_Z, SHELF = 15.0, 18.0, 25.0, 4.0
HOLE_R, HOLE_X, HOLE_Y = 2.25, 8.0, -11.0
CORNER = 4.0
PLATE_HALF, PLATE, HEIGHT = 23.0, 6.0, 64.0
MAST_R, MAST_Y = 14.0, 22.0
SCREWS = [(x, z) for x in (-18.0, 18.0) for z in (12.0, 52.0)]
FINE = 2.5  # degrees of a chord


def _plate() -> m3.Manifold:
    """The upright plate: rounded upper corners, edges chamfered in front."""
    corners = [(-PLATE_HALF, 0.0), (PLATE_HALF, 0.0), (PLATE_HALF, HEIGHT), (-PLATE_HALF, HEIGHT)]
    outline = rounded(corners, [0, 0, 12, 12], FINE)
    small = rounded([(x * (1 - 0.8 / PLATE_HALF), z - 0.8 if z else 0.0) for x, z in corners], [0, 0, 11.2, 11.2], FINE)
    return hull([(x, 0.0, z) for x, z in small], [(x, 0.8, z) for x, z in outline], [(x, PLATE, z) for x, z in outline])


def _saddle() -> m3.Manifold:
    """The mast saddle behind the plate with two strap slots and a lengthwise groove for the mast."""
    outline = rounded([(-15.0, PLATE - 1), (15.0, PLATE - 1), (15.0, 15.0), (-15.0, 15.0)], [0, 0, 2, 2], FINE)
    low = [(x, y, z) for z in (0.0, HEIGHT - 6.0) for x, y in outline]
    top = [(x * 0.86, min(y, 12.5), HEIGHT - 2.0) for x, y in outline]
    mast = prism_z(circle(0.0, MAST_Y, MAST_R, 144), -1, HEIGHT + 1)
    return hull(low, top) - mast


def _shelf() -> m3.Manifold:
    corners = [(-SHELF_HALF, 1.0), (-SHELF_HALF, -SHELF_DEPTH), (SHELF_HALF, -SHELF_DEPTH), (SHELF_HALF, 1.0)]
    outline = rounded(corners, [0, CORNER, CORNER, 0], FINE)
    half, front = SHELF_HALF - 1.8, -SHELF_DEPTH + 1.8
    rim = rounded([(-half, 2.0), (-half, front), (half, front), (half, 2.0)], [0, CORNER - 1.8, CORNER - 1.8, 0], FINE)
    floor = SHELF_Z + SHELF
    holes = [prism_z(circle(x, HOLE_Y, HOLE_R), SHELF_Z - 1, floor + 1) for x in (-HOLE_X, HOLE_X)]
    tray = prism_z(outline, SHELF_Z, floor + 2.4) - prism_z(rim, floor, floor + 9)
    web = rounded([(1.0, floor - 1), (-13.4, floor - 1), (-13.4, floor + 3.0), (-0.0, floor + 20), (1.0, floor + 20)],
                  [0, 0, 2, 0, 0], FINE)  # fmt: skip
    webs = [prism_x(web, x - 1.5, x + 1.5) for x in (-SHELF_HALF + 1.5, SHELF_HALF - 1.5)]
    return united([tray, *webs]) - united(holes)


def solids() -> list[m3.Manifold]:
    """The bracket in one shell."""
    slots = [prism_x(_slot(z), -30.0, 30.0) for z in (12.0, 47.0)]
    screws = [prism_y(circle(x, z, 2.2, 64), -1.0, 30.0) for x, z in SCREWS]
    sink = m3.Manifold.cylinder(1.8, 3.9, 2.1, 64).rotate((-90, 0, 0))
    sinks = [sink.translate((x, -0.01, z)) for x, z in SCREWS]
    return [united([_plate(), _saddle(), _shelf()]) - united([*slots, *screws, *sinks])]


def _slot(z: float) -> Points:
    """A strap slot with a gabled ceiling, (y, z): 39° from vertical."""
    return [(7.6, z), (10.2, z), (10.2, z + 4.0), (8.9, z + 5.6), (7.6, z + 4.0)]


def sample(label: tuple[str, str, str], to_file: F64) -> Sample:
    """The bracket as a sample with all that is known about it."""
    corners = [(-SHELF_HALF, 0.0, SHELF_Z), (-SHELF_HALF, -SHELF_DEPTH, SHELF_Z), (SHELF_HALF, -SHELF_DEPTH, SHELF_Z),
               (SHELF_HALF, 0.0, SHELF_Z)]  # fmt: skip
    area = prism_z([(x, y) for x, y, _ in corners], 0, 1).volume()
    lost = ADVANCE * 2 * SHELF_HALF + (2 - 3.1416 / 2) * CORNER**2 + 2 * 3.1416 * HOLE_R**2
    spot = Weak("shelf", "cantilever", SHELF_Z, corners, 2 * SHELF_HALF, 2 * SHELF_HALF, SHELF_DEPTH, area - lost,
                "flat underside of the shelf, held by the plate behind it alone")  # fmt: skip
    sound = [
        ("gabled ceilings of the strap slots", [(-15.0, 8.9, 17.6), (15.0, 8.9, 17.6)]),
        ("round tops of the screw holes", [(x, 3.0, z + 2.2) for x, z in SCREWS]),
    ]
    return Sample(label=label, solids=solids(), to_file=to_file, weak=[spot],
                  pieces=[Piece("bracket", False, (0.0, 3.0, 10.0), shells=[0])], not_listed=sound)  # fmt: skip
