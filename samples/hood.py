"""The rain hood: a louvred sensor hood that prints leaning on a sacrificial fin, and its two relatives.

The flat back leans 38° from the vertical. The front lip hangs 18 mm above the bed and the fin stops short of it,
without a tooth. The designer did tooth the fin beside the left ear and the one below the right ear.
All overhangs but the lip stay within 45° from vertical, bridges within 4.5 mm and ledges within 1 mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d as m3
import numpy as np

from samples.record import ADVANCE, Gap, Piece, Row, Sample, Weak
from samples.solids import (
    F64,
    Points,
    Tooth,
    box,
    circle,
    plate,
    prism_x,
    prism_y,
    prism_z,
    rounded,
    row_side,
    row_up,
    stadium,
    united,
)

# Hood body, mm and degrees in the design frame
WALL = 2.4
LIP_Z = 18.0
LIP_HALF = 37.0  # half the length of the free lip, between the two end boards
LIP_WIDTH = 1.6  # flat strip of the underside
STRAIGHT = 0.4  # how far the inner side of a lip goes straight up before its chamfer
BOARD = 2.4  # thickness of the end boards
BOARD_PROUD = 1.5
FRONT_FROM, FRONT_TO, FRONT_LENGTH = 4.0, 32.0, 28.0  # lean of the curved front at the lip and at the roof; arc length
ROOF_LEAN, BACK_LEAN = 42.0, 38.0
RIDGE_Z, RIDGE_WIDTH, SKIRT_Z = 64.0, 2.8, 26.0
CHIN_FROM, CHIN_SLOPE = (-1.5, 19.5), 0.9375  # lower front edge of the end boards: 43.15° from vertical

# Front fin
FIN = 1.2
FIN_HALF = 36.0
FIN_Y = 0.8  # middle of the fin and of the strip above it
FOOT = 2.0

# Left ear and the fin beside it
EAR_X, EAR_Y, EAR = -58.0, 11.5, 3.0
SIDE_GAP, SIDE_TOP = 1.5, 44.0
SIDE_ROW = {"teeth": 13, "first": 3.4, "pitch": 3.2, "foot": 1.6, "tip": 0.6, "thickness": 1.0}

# Right ear and the fin below it
SHORT_X, SHORT_HALF, SHORT_Y, SHORT_Z = 49.0, 6.0, 4.4, 20.0
SHORT_FIN_HALF, SHORT_GAP, SHORT_STRIP = 7.0, 2.4, 1.4
SHORT_ROW = {"teeth": 4, "pitch": 3.2, "foot": 2.0, "tip": 0.6, "thickness": 1.2}

FRONT_R = FRONT_LENGTH / np.radians(FRONT_TO - FRONT_FROM)
FRONT_C = (FRONT_R * np.cos(np.radians(FRONT_FROM)), LIP_Z - FRONT_R * np.sin(np.radians(FRONT_FROM)))


@dataclass(frozen=True)
class Hood:
    """One hood: how far the fin stops below the lip at its left and its right end, mm."""

    gap_left: float = 1.6
    gap_right: float = 1.6

    def solids(self) -> list[m3.Manifold]:
        """Shells in the order of the file: hood with fins and teeth in one skin, then the lapped foot plate and tab."""
        foot = plate((-44, -13), (61, 8.5), FOOT, radius=7, chamfer=0.6)
        held = [*self._front_fin(), *_side_fin(), *_short_fin(), *_teeth()]
        skin = united([_body(), _left_ear(), _right_ear(), foot, *held])
        return [skin, plate((-75, 2), (-60, 21), FOOT, radius=5, chamfer=0.6), _pull_tab()]

    def _front_fin(self) -> list[m3.Manifold]:
        left, right = LIP_Z - self.gap_left, LIP_Z - self.gap_right
        outline = [(-FIN_HALF, 0.0), (FIN_HALF, 0.0), (FIN_HALF, right), (-FIN_HALF, left)]
        front = FIN_Y - FIN / 2
        return [
            prism_y(outline, front, FIN_Y + FIN / 2),
            *(_brace(x, front + 0.3, -10.5, 12.5) for x in (-27.0, -9.0, 9.0, 27.0)),
        ]


def _front(offset: float, first: float = FRONT_FROM, count: int = 28) -> list[tuple[float, float]]:
    """The curved front from below upward, (y, z); ``offset`` outward."""
    lean = np.radians(np.linspace(first, FRONT_TO, count + 1))
    radius = FRONT_R + offset
    return [(float(FRONT_C[0] - radius * np.cos(t)), float(FRONT_C[1] + radius * np.sin(t))) for t in lean]


def _roof_y(z: float, offset: float = 0.0) -> float:
    """y of the roof plane at a height; ``offset`` outward along its normal."""
    y, foot = _front(0.0)[-1]
    lean = np.radians(ROOF_LEAN)
    return float(y - offset * np.cos(lean) + (z - foot - offset * np.sin(lean)) * np.tan(lean))


def _back_y(z: float, inward: float = 0.0) -> float:
    """y of the leaning back plane at a height."""
    lean = np.radians(BACK_LEAN)
    ridge = _roof_y(RIDGE_Z) + RIDGE_WIDTH
    return float(ridge - inward * np.cos(lean) + (RIDGE_Z - z - inward * np.sin(lean)) * np.tan(lean))


def _tent() -> Points:
    """The wall from lip over ridge to the skirt on the bed, (y, z)."""
    skirt = _back_y(SKIRT_Z)
    outer = rounded([(_roof_y(RIDGE_Z), RIDGE_Z), (_back_y(RIDGE_Z), RIDGE_Z), (skirt, SKIRT_Z), (skirt, 0.0)], [0] * 4)
    lean_sum = np.tan(np.radians(ROOF_LEAN)) + np.tan(np.radians(BACK_LEAN))
    apex = RIDGE_Z + (_back_y(RIDGE_Z, WALL) - _roof_y(RIDGE_Z, -WALL)) / lean_sum
    kink = SKIRT_Z + (_back_y(SKIRT_Z, WALL) - (skirt - WALL)) / np.tan(np.radians(BACK_LEAN))
    inside = [(skirt - WALL, 0.0), (skirt - WALL, float(kink)), (_roof_y(apex, -WALL), float(apex))]
    chamfer = np.degrees(np.arcsin((LIP_Z + STRAIGHT + 1.2 - FRONT_C[1]) / (FRONT_R - WALL)))
    strip = [(LIP_WIDTH, LIP_Z + STRAIGHT), (LIP_WIDTH, LIP_Z)]
    return [*_front(0.0), *outer, *inside, *reversed(_front(-WALL, float(chamfer))), *strip]


def _board() -> Points:
    """An end board, (y, z): proud of front and roof, flush with the back, its chin rising to the lip."""
    lean_sum = np.tan(np.radians(ROOF_LEAN)) + np.tan(np.radians(BACK_LEAN))
    apex = RIDGE_Z + (_back_y(RIDGE_Z) - _roof_y(RIDGE_Z, BOARD_PROUD)) / lean_sum
    skirt = _back_y(SKIRT_Z)
    front = [p for p in _front(BOARD_PROUD, FRONT_FROM) if p[1] > CHIN_FROM[1] + 0.5]
    chin = (CHIN_FROM[0] + CHIN_FROM[1] * CHIN_SLOPE, 0.0)
    points = [chin, CHIN_FROM, *front, (_roof_y(apex, BOARD_PROUD), float(apex)), (skirt, SKIRT_Z), (skirt, 0.0)]
    radii = [0.0, 0.8, *[0.0] * len(front), 2.5, 0.0, 0.0]
    return rounded(points, radii)


def _body() -> m3.Manifold:
    vents = [stadium(y, z, 2.4, long, 24.0) for y, z, long in ((14.0, 27.0, 18), (22.0, 31.0, 24), (31.0, 28.0, 26))]
    boards = [
        prism_x(_board(), LIP_HALF, LIP_HALF + BOARD, *vents),
        prism_x(_board(), -LIP_HALF - BOARD, -LIP_HALF, *vents),
    ]
    ribs = [prism_x(_rib(), x - 1.2, x + 1.2) for x in (-27.0, -9.0, 9.0, 27.0)]
    shell = united([prism_x(_tent(), -LIP_HALF - 1.0, LIP_HALF + 1.0), *boards, prism_x(_drip(), -34.0, 34.0), *ribs])
    louvres = [prism_y(stadium(7.4 * i, 31.0, 4.2, 17.0), -6.0, 16.0) for i in range(-4, 5)]
    return shell - united([*louvres, *_back_openings()])


def _rib() -> Points:
    """A roof rib, (y, z): 1.8 proud of the roof, running out of the drip edge and ending on the ridge."""
    low, high = 46.0, RIDGE_Z
    return [(_roof_y(low, 1.8), low), (_roof_y(high - 1.4, 1.8), high - 1.4), (_roof_y(high, 0.6), high),
            (_roof_y(high, -1.2), high), (_roof_y(low, -1.2), low)]  # fmt: skip


def _drip() -> Points:
    """The drip edge where front meets roof, (y, z): its underside leans out 41° from vertical."""
    start = _front(0.0)[-5]
    nose = (start[0] - 2.6, start[1] + 3.0)
    top = nose[1] + 1.7
    bevel = 1.6
    return [start, nose, (nose[0] + 0.1, top), (_roof_y(top + bevel, 0.0), top + bevel), (_roof_y(top, -1.0), top),
            (start[0] + 1.0, start[1])]  # fmt: skip


def _back_openings() -> list[m3.Manifold]:
    """Two screw holes square to the leaning back and a gabled cable gate in the skirt."""
    lean = BACK_LEAN
    y, z = _back_y(44.0), 44.0
    hole = m3.Manifold.cylinder(12.0, 2.2, 2.2, 40).translate((0, 0, -6)).rotate((-(90 - lean), 0, 0))
    holes = [hole.translate((x, y, z)) for x in (-22.0, 22.0)]
    skirt = _back_y(SKIRT_Z)
    gate = [(-6.0, -1.0), (6.0, -1.0), (6.0, 8.0), (1.0, 14.0), (-1.0, 14.0), (-6.0, 8.0)]
    return [*holes, prism_y(gate, skirt - 5, skirt + 2)]


def _ear(outline: Points, y: float, *holes: Points) -> m3.Manifold:
    return prism_y(outline, y - EAR / 2, y + EAR / 2, *holes)


def _left_ear() -> m3.Manifold:
    inner = -LIP_HALF - BOARD / 2
    outline = rounded([(inner, 0), (inner, 45), (-44.0, 52), (EAR_X, 52), (EAR_X, 0)], [0, 0, 3, 6, 0])
    return _ear(outline, EAR_Y, circle(-49.5, 14.0, 2.6), circle(-49.5, 40.0, 2.6))


def _right_ear() -> m3.Manifold:
    """Its lower edge is chamfered on both faces down to a strip little wider than its teeth."""
    inner, low, high = LIP_HALF + BOARD / 2, SHORT_X - SHORT_HALF, SHORT_X + SHORT_HALF
    rise = 1.2  # the corner lines rise 1.2 for 1 across: 39.8° from vertical
    outline = rounded(
        [(low, SHORT_Z), (high, SHORT_Z), (high + 4, SHORT_Z + 4 * rise), (high + 4, 40), (high, 45), (low, 45),
         (inner, 38.0), (inner, SHORT_Z + (low - inner) * rise)],
        [0, 0, 1.5, 2, 2, 2, 0, 0],
    )  # fmt: skip
    ear = _ear(outline, SHORT_Y, circle(SHORT_X + 1.5, 33.0, 2.9))
    return ear - united([prism_x(_ear_chamfer(side), low - 9, high + 9) for side in (-1.0, 1.0)])


def _ear_chamfer(side: float) -> Points:
    """What the lower edge of the right ear loses on one face, (y, z): two layers upright, then 36° from vertical."""
    strip, face, out = SHORT_Y + side * SHORT_STRIP / 2, SHORT_Y + side * EAR / 2, SHORT_Y + side * EAR
    low, top = SHORT_Z + STRAIGHT, SHORT_Z + STRAIGHT + 1.1
    return [(strip, SHORT_Z - 1), (strip, low), (face, top), (out, top), (out, SHORT_Z - 1)]


def _brace(x: float, y_in: float, y_out: float, height: float) -> m3.Manifold:
    """A triangular brace against a fin: from ``y_in`` in the fin to ``y_out`` on the plate."""
    nose = 0.8 if y_out > y_in else -0.8
    outline = [(y_in, 0.0), (y_out, 0.0), (y_out, FOOT + 0.6), (y_in + nose, height), (y_in, height)]
    return prism_x(outline, x - 0.6, x + 0.6)


def _side_fin() -> list[m3.Manifold]:
    edge = EAR_X - SIDE_GAP
    outline = rounded([(edge, 0), (edge, SIDE_TOP), (edge - 11, SIDE_TOP), (edge - 11, 0)], [0, 0, 3, 0])
    fin = prism_y(outline, EAR_Y - FIN / 2, EAR_Y + FIN / 2)
    return [fin, _brace(edge - 6.5, EAR_Y - 0.3, 4.0, 30.0), _brace(edge - 6.5, EAR_Y + 0.3, 19.0, 30.0)]


def _short_fin() -> list[m3.Manifold]:
    low, high = SHORT_X - SHORT_FIN_HALF, SHORT_X + SHORT_FIN_HALF
    front = SHORT_Y - FIN / 2
    return [
        box((low, front, 0.0), (high, SHORT_Y + FIN / 2, SHORT_Z - SHORT_GAP)),
        _brace(SHORT_X, front + 0.3, -7.0, 12.0),
    ]


def _pull_tab() -> m3.Manifold:
    """A tab on the right end of the front foot plate to take hold of when the fins are snapped off."""
    return plate((57, -7), (73, 3), 1.4, radius=4.5, chamfer=0.4) - prism_z(circle(68.0, -2.0, 2.2), -1, 3)


def side_centres() -> list[float]:
    """Heights of the side teeth."""
    return [SIDE_ROW["first"] + SIDE_ROW["pitch"] * i for i in range(int(SIDE_ROW["teeth"]))]


def short_centres() -> list[float]:
    """x of the teeth below the right ear."""
    n = int(SHORT_ROW["teeth"])
    return [SHORT_X + SHORT_ROW["pitch"] * (i - (n - 1) / 2) for i in range(n)]


def _teeth() -> list[m3.Manifold]:
    side = row_side(side_centres(), EAR_Y, Tooth(SIDE_ROW["foot"], SIDE_ROW["tip"], SIDE_ROW["thickness"]),
                    ledge=EAR_X - SIDE_GAP, edge=EAR_X)  # fmt: skip
    short = row_up(short_centres(), SHORT_Y, Tooth(SHORT_ROW["foot"], SHORT_ROW["tip"], SHORT_ROW["thickness"]),
                   ledge=SHORT_Z - SHORT_GAP, edge=SHORT_Z)  # fmt: skip
    return [*side, *short]


def sample(label: tuple[str, str, str], hood: Hood, to_file: F64, unit: str = "millimeter") -> Sample:
    """A hood as a sample with all that is known about it; ``label`` is name, title and one line."""
    return Sample(
        label=label,
        solids=hood.solids(),
        to_file=to_file,
        unit=unit,
        weak=[_lip_spot()],
        gaps=[_lip_gap(hood), _side_gap(), _short_gap()],
        rows=[_side_row(), _short_row()],
        pieces=_pieces(),
        not_listed=_sound_places(),
    )


def _lip_spot() -> Weak:
    middle = LIP_WIDTH / 2
    clear = 2 * LIP_HALF
    chord = clear - 2 * ADVANCE
    path = [(-LIP_HALF, middle, LIP_Z), (LIP_HALF, middle, LIP_Z)]
    what = "front lip, hanging free between the end boards"
    return Weak("front_lip", "bridge", LIP_Z, path, clear, chord, clear / 2, chord * LIP_WIDTH, what)


def _lip_gap(hood: Hood) -> Gap:
    left, right = LIP_Z - hood.gap_left, LIP_Z - hood.gap_right
    return Gap(
        id="front_lip",
        direction="up",
        edge=[(-FIN_HALF, FIN_Y, LIP_Z), (FIN_HALF, FIN_Y, LIP_Z)],
        ledge=[(-FIN_HALF, FIN_Y, left), (FIN_HALF, FIN_Y, right)],
        length=2 * FIN_HALF,
        gap_min=min(hood.gap_left, hood.gap_right),
        gap_max=max(hood.gap_left, hood.gap_right),
        strip=LIP_WIDTH,
        ledge_thickness=FIN,
        lip=[(-LIP_HALF, 0.0, LIP_Z), (LIP_HALF, 0.0, LIP_Z)],
        lip_length=2 * LIP_HALF,
        weak="front_lip",
    )


def _side_gap() -> Gap:
    ledge = EAR_X - SIDE_GAP
    return Gap(
        id="left_side",
        direction="side",
        edge=[(EAR_X, EAR_Y, 0.0), (EAR_X, EAR_Y, SIDE_TOP)],
        ledge=[(ledge, EAR_Y, 0.0), (ledge, EAR_Y, SIDE_TOP)],
        length=SIDE_TOP,
        gap_min=SIDE_GAP,
        gap_max=SIDE_GAP,
        strip=EAR,
        ledge_thickness=FIN,
        lip=[(EAR_X, EAR_Y - EAR / 2, 0.0), (EAR_X, EAR_Y - EAR / 2, 46.0)],
        lip_length=46.0,
        row="left_side",
    )


def _short_gap() -> Gap:
    low, high = SHORT_X - SHORT_HALF, SHORT_X + SHORT_HALF
    front = SHORT_Y - SHORT_STRIP / 2
    return Gap(
        id="short_lip",
        direction="up",
        edge=[(low, SHORT_Y, SHORT_Z), (high, SHORT_Y, SHORT_Z)],
        ledge=[(low, SHORT_Y, SHORT_Z - SHORT_GAP), (high, SHORT_Y, SHORT_Z - SHORT_GAP)],
        length=2 * SHORT_HALF,
        gap_min=SHORT_GAP,
        gap_max=SHORT_GAP,
        strip=SHORT_STRIP,
        ledge_thickness=FIN,
        lip=[(low, front, SHORT_Z), (high, front, SHORT_Z)],
        lip_length=2 * SHORT_HALF,
        row="short_lip",
    )


def _side_row() -> Row:
    centres = [(EAR_X - SIDE_GAP / 2, EAR_Y, z) for z in side_centres()]
    return Row("left_side", "left_side", "side", centres, SIDE_ROW["pitch"], SIDE_ROW["foot"], SIDE_ROW["tip"],
               SIDE_ROW["thickness"], SIDE_GAP)  # fmt: skip


def _short_row() -> Row:
    centres = [(x, SHORT_Y, SHORT_Z - SHORT_GAP / 2) for x in short_centres()]
    return Row("short_lip", "short_lip", "up", centres, SHORT_ROW["pitch"], SHORT_ROW["foot"], SHORT_ROW["tip"],
               SHORT_ROW["thickness"], SHORT_GAP)  # fmt: skip


def _pieces() -> list[Piece]:
    return [
        Piece("hood", False, (0.0, _back_y(40.0) - 1.0, 40.0), limb_of=0),
        Piece("front fin with foot plate", True, (0.0, FIN_Y, 8.0), limb_of=0),
        Piece("fin below the right ear", True, (SHORT_X, SHORT_Y, 8.0), limb_of=0),
        Piece("fin beside the left ear", True, (EAR_X - SIDE_GAP - 4, EAR_Y, 20.0), limb_of=0),
        Piece("foot plate of the left fin", True, (-67.0, 6.0, 1.0), shells=[1]),
        Piece("pull tab", True, (71.2, -2.0, 0.7), shells=[2]),
    ]


def _sound_places() -> list[tuple[str, list[tuple[float, float, float]]]]:
    drip = _drip()[1]
    return [
        ("underside of the drip edge, 41° from vertical", [(-34.0, *drip), (34.0, *drip)]),
        ("round tops of the louvres, 4.2 wide", [(7.4 * i, 7.0, 39.5) for i in range(-4, 5)]),
        ("top of the gate in the back, 2 wide", [(-1.0, _back_y(SKIRT_Z), 14.0), (1.0, _back_y(SKIRT_Z), 14.0)]),
        ("lower edge of the right ear, held by its teeth", [(43.0, SHORT_Y, SHORT_Z), (55.0, SHORT_Y, SHORT_Z)]),
        ("inside of the leaning back, 38° from vertical", [(-37.0, 40.0, 45.0), (37.0, 40.0, 45.0)]),
        ("chins of the end boards, 43° from vertical", [(-38.0, 7.0, 10.0), (38.0, 7.0, 10.0)]),
    ]
