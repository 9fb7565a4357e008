"""The round radiation shroud: a bell whose lower rim hangs above a ring-shaped fin.

The bell stands on three mounting legs outside its rim; between them the rim starts in mid-air, and the ring below
stops 1.2 mm short of it without a tooth. Everything else leans at most 44° from vertical.
"""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from samples.record import ADVANCE, Gap, Piece, Sample, Weak
from samples.solids import F64, Points, box, circle, hull, prism_x, prism_z, rounded, stadium, turned, united

SEGMENTS = 96  # corners of every circle lie on its radius; the ring fin has its corners below those of the rim
RIM_R, RIM_Z, WALL = 36.0, 14.0, 2.0
LEAN_FROM, LEAN_TO, BELL_R = 3.0, 44.0, 68.0  # lean of the bell at its rim and at its collar; radius of its curve
COLLAR, COLLAR_HEIGHT = 2.4, 7.0
FIN_IN, FIN_OUT, GAP = 34.2, 35.4, 1.2
LEGS, LEG_WIDTH, LEG_OUT = 3, 9.0, 41.0
SLOTS = 27


def _bell(offset: float, count: int = 24) -> list[tuple[float, float]]:
    """The bell from its rim upward, (r, z); ``offset`` outward."""
    lean = np.radians(np.linspace(LEAN_FROM, LEAN_TO, count + 1))
    start = np.radians(LEAN_FROM)
    r = RIM_R - BELL_R * np.cos(start) + (BELL_R + offset) * np.cos(lean)
    z = RIM_Z - BELL_R * np.sin(start) + (BELL_R + offset) * np.sin(lean)
    return [(float(a), float(b)) for a, b in zip(r, z, strict=True)]


def _wall() -> Points:
    """Section of bell, drip bead and collar, (r, z); the underside of the rim is flat and ``WALL`` wide."""
    outer, inner = _bell(0.0), _bell(-WALL)
    inner = [p for p in inner if p[1] > RIM_Z + 0.6]
    r, z = outer[-1]
    bead = [(r + 1.2, z + 1.3), (r + 1.2, z + 2.6), (r, z + 3.6)]
    top = [(r, z + COLLAR_HEIGHT - 0.6), (r - 0.6, z + COLLAR_HEIGHT), (r - COLLAR + 0.6, z + COLLAR_HEIGHT),
           (r - COLLAR, z + COLLAR_HEIGHT - 0.6)]  # fmt: skip
    inside = [(r - COLLAR, inner[-1][1] + 1.0), *reversed(inner)]
    return [*outer, *bead, *top, *inside, (RIM_R - WALL, RIM_Z + 0.5), (RIM_R - WALL, RIM_Z)]


def _keep_out() -> m3.Manifold:
    """What the legs must leave free: the room inside the rim's radius, and above the rim half the wall."""
    middle = _bell(-WALL / 2)
    return turned([(0, -1), (RIM_R, -1), (RIM_R, RIM_Z), (RIM_R - 1, RIM_Z), *middle[1:], (0, middle[-1][1])], SEGMENTS)


def _leg() -> list[m3.Manifold]:
    """A leg in the XZ plane with its foot pad, before it is cut to the bell."""
    half = LEG_WIDTH / 2
    outline = [(30.0, 0.0), (LEG_OUT, 0.0), (LEG_OUT, 15.0), (33.6, 41.0), (28.0, 41.0)]
    web = prism_x(rounded(outline, [0, 0, 5, 0, 0]), -half, half).rotate((0, 0, -90))
    pad_corners = rounded([(33.0, -7.5), (53.0, -7.5), (53.0, 7.5), (33.0, 7.5)], [0, 7, 7, 0])
    pad = hull([(x, y, 0.0) for x, y in pad_corners], [(x, y, 2.6) for x, y in pad_corners],
               [(x - 0.5 if x > 40 else x, y * 0.94, 3.2) for x, y in pad_corners])  # fmt: skip
    return [web, pad - prism_z(circle(46.5, 0.0, 2.3), -1, 5)]


def _slots() -> m3.Manifold:
    """Louvres all round but at the legs."""
    cut = prism_x(stadium(0.0, 32.0, 3.4, 21.0), 20.0, 45.0)
    step = 360.0 / SLOTS
    return united([cut.rotate((0, 0, step * i)) for i in range(SLOTS) if i % (SLOTS // LEGS)])


def _ring() -> m3.Manifold:
    """The sacrificial ring with its inner foot and braces."""
    top = RIM_Z - GAP
    fin = turned([(FIN_IN, 0.0), (FIN_OUT, 0.0), (FIN_OUT, top), (FIN_IN, top)], SEGMENTS)
    foot = turned([(27.0, 0.0), (FIN_OUT, 0.0), (FIN_OUT, 1.8), (27.6, 1.8), (27.0, 1.2)], SEGMENTS)
    outline = [(28.2, 0.0), (FIN_IN + 0.6, 0.0), (FIN_IN + 0.6, 10.0), (FIN_IN - 0.8, 10.0), (28.2, 2.4)]
    brace = prism_x(outline, -0.6, 0.6).rotate((0, 0, -90))
    braces = [brace.rotate((0, 0, 30.0 * i + 15)) for i in range(12)]
    return united([fin, foot, *braces])


def solids() -> list[m3.Manifold]:
    """Shells in the order of the file: the shroud, then the ring that is thrown away."""
    legs = united([s.rotate((0, 0, 360.0 / LEGS * i)) for i in range(LEGS) for s in _leg()]) - _keep_out()
    bell = turned(_wall(), SEGMENTS) - _slots()
    keys = united([box((-1.2, 10.0, 61.4), (1.2, 30.0, 70.0)).rotate((0, 0, 120.0 * i + 60)) for i in range(LEGS)])
    return [united([bell, legs]) - keys, _ring()]


def _ring_points(r: float, z: float) -> list[tuple[float, float, float]]:
    turn = 2 * np.pi * np.arange(SEGMENTS + 1) / SEGMENTS
    return [(float(r * np.cos(t)), float(r * np.sin(t)), z) for t in turn]


def _perimeter(r: float) -> float:
    return 2 * SEGMENTS * r * float(np.sin(np.pi / SEGMENTS))


def _reach() -> float:
    """From the rim half-way between two legs to the nearest corner of a leg, both on the outer radius."""
    half = np.arcsin(LEG_WIDTH / 2 / RIM_R)
    return float(2 * RIM_R * np.sin((np.pi / LEGS - half) / 2))


def _area() -> float:
    """Flat rim less the strip beside each leg that the layer below may carry."""
    sector = SEGMENTS / 2 * float(np.sin(2 * np.pi / SEGMENTS))
    return float(sector * (RIM_R**2 - (RIM_R - WALL) ** 2) - LEGS * ADVANCE * (LEG_WIDTH + ADVANCE))


def sample(label: tuple[str, str, str], to_file: F64) -> Sample:
    """The shroud as a sample with all that is known about it."""
    axis, middle = (FIN_IN + FIN_OUT) / 2, RIM_R - WALL / 2
    rim = _ring_points(RIM_R, RIM_Z)
    spot = Weak("rim", "cantilever", RIM_Z, _ring_points(middle, RIM_Z), _perimeter(middle), _perimeter(middle),
                _reach(), _area(), "closed lower rim, held by three legs at its outside")  # fmt: skip
    gap = Gap(
        id="rim", direction="up", edge=_ring_points(axis, RIM_Z), ledge=_ring_points(axis, RIM_Z - GAP),
        length=_perimeter(axis), gap_min=GAP, gap_max=GAP, strip=WALL, ledge_thickness=FIN_OUT - FIN_IN,
        lip=rim, lip_length=_perimeter(RIM_R), closed=True, weak="rim",
    )  # fmt: skip
    pieces = [
        Piece("shroud", False, (LEG_OUT - 2.0, 0.0, 8.0), shells=[0]),
        Piece("ring fin", True, (axis, 0.0, 6.0), shells=[1]),
    ]
    sound = [
        ("round tops of the louvres, 3.4 wide", _ring_points(28.0, 42.5)),
        ("inside of the bell, up to 44° from vertical", _ring_points(24.0, 45.0)),
        ("underside of the bead at the collar", _ring_points(17.5, 58.0)),
    ]
    return Sample(
        label=label, solids=solids(), to_file=to_file, weak=[spot], gaps=[gap], pieces=pieces, not_listed=sound
    )
