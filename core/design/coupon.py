"""The break-off coupon: a ladder of small gates, each holding a fin by one row, graded about the usual row.

Tip, thickness and clear bridge each go one step down and one step up, so that the person learns from one short print
what their printer lays down, how far it bridges, and what snaps off how. The idea is that of graded test features,
scored by the smallest that was built (ISO/ASTM 52902:2023). Rows are measured, planned and built like any other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from core.design.cautions import CAUTIONS
from core.design.digits import figure_outlines, figure_width
from core.design.measure_span import measure_span
from core.design.plan import (
    END_CLEARANCE,
    FOOT_LINES,
    LEAST_FOOT_AIR,
    RowPlan,
    RowWishes,
    automatic_tip,
    plan_row,
)
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.tooth import Teeth, row_solids
from core.geometry.carving import box, carved, extruded
from core.geometry.mesh import F64, Mesh
from core.geometry.polyline import Polyline

# Lengths mm, from memory unless a reason is given.
#: Length of a fin: the longest graded bridge and three tips fit; longer for lines above that width.
LENGTH, LONGER_FROM = 22.0, 1.0
#: Heights aimed at, each then set on a layer: ledge, gap, beam above the edge, foot plates and rails.
LEDGE, GAP, BEAM, PLATE, RAIL = 5.0, 1.6, 2.0, 0.8, 1.2
#: Air between a fin and the posts of its gate: they must not fuse at the bed.
AIR: Final = 0.8
#: Posts and the feet of the fins; distance from gate to gate.
POST, FOOT_WIDTH, STEP = 2.6, 6.0, 9.5
#: A thinnest fin that stands by itself, and how much wider the edge above it is.
FIN, EDGE_MORE = 1.2, 0.4
#: Height of the engraved figures, layers of their depth, room around them.
FIGURE, FIGURE_LAYERS, MARGIN = 3.0, 2, 0.5
#: Speed that a printer keeps on such small features, mm/s, and time it loses in every layer, s.
SPEED, LAYER_TIME = 40.0, 2.5
#: Longest print, minutes; rows that are less needed are left out to keep it, down to the usual and the narrow tip.
MINUTES, FEWEST = 30.0, 2
#: A tooth no thicker than this: what a ledge is looked for across.
THICKEST: Final = 3.5
#: A foot no wider than this: what is wider counts as a part of the ledge.
WIDEST_FOOT: Final = 5.5
#: Narrower and wider tip, thinner tooth, as shares of the usual one.
NARROW, WIDE, THIN = 0.7, 1.45, 0.65
#: Teeth of the usual row, of the long and of the short bridges.
USUAL, FEW, MANY = 5, 3, 7
_EXTRA: Final = 0.3


@dataclass(frozen=True)
class CouponRow:
    """One graded row. Lengths mm. ``about`` names what is graded in it: usual, tip, thickness or bridge."""

    number: int
    about: str
    teeth: int
    pitch: float
    foot: float
    tip: float
    thickness: float
    height: float
    clear_bridge: float


@dataclass(frozen=True)
class CouponPlan:
    """What a coupon carries and what it costs. ``volume`` mm³; ``minutes`` of printing, estimated; ``size`` (3,) mm."""

    setup: PrintSetup
    rows: tuple[CouponRow, ...]
    volume: float
    minutes: float
    size: tuple[float, float, float]

    @property
    def lines(self) -> tuple[str, ...]:
        """What to do with it, sentence by sentence."""
        return (*_HOW_TO, *(_row_line(r) for r in self.rows), *CAUTIONS)


_HOW_TO: Final = (
    "Print it as it stands, in the setup you use for parts, without supports and without a brim.",
    "Look at each row: did every tip print, did the edge above stay straight?",
    "Then hold the frame and rock each fin off by its foot, row by row, and note how it went.",
    "Engraved at each row: left its number and its thickness, right its tip and its clear bridge, in mm.",
)



@dataclass(frozen=True)
class _Sizes:
    """Dimensions for one setup, mm, heights on layer boundaries."""

    setup: PrintSetup
    fin: float
    edge_width: float
    ledge: float
    edge: float
    top: float
    plate: float
    rail: float
    figure: float
    stroke: float
    length: float
    grades: tuple[tuple[str, RowWishes], ...] = field(default=())

    @classmethod
    def of(cls, setup: PrintSetup) -> _Sizes:
        line = setup.line_width
        fin = max(FIN, _thickness(setup) + _EXTRA)
        ledge = _on_layer(setup, LEDGE)
        edge, top = (max(2, round(d / setup.layer_height)) * setup.layer_height for d in (GAP, BEAM))
        edge += ledge + setup.air_layers * setup.layer_height
        return cls(
            setup, fin, fin + EDGE_MORE, ledge, edge, edge + top,
            _on_layer(setup, PLATE), _on_layer(setup, RAIL), FIGURE * max(1.0, line / 0.6), 1.3 * line,
            length=_length(setup), grades=_grades(setup),
        )  # fmt: skip

    def middle(self, index: int) -> float:
        """y of the gate number ``index`` from 0."""
        return self.step * (index + 0.5)

    @property
    def rail_width(self) -> float:
        """Two figures beside the posts."""
        return POST + 2 * self.figure + 3 * MARGIN

    @property
    def step(self) -> float:
        """Distance from gate to gate: the longest figure fits, and a fin can be taken hold of."""
        return max(STEP, figure_width("0.00", self.figure, self.stroke) + 1.0)


def _on_layer(setup: PrintSetup, height: float) -> float:
    """The layer boundary next to a height."""
    return setup.first_layer + max(1, round((height - setup.first_layer) / setup.layer_height)) * setup.layer_height


def _up(value: float, step: float) -> float:
    return math.ceil(value / step - 1e-9) * step


def _rounded(value: float) -> float:
    return round(round(value / 0.05) * 0.05, 6)


def _thickness(setup: PrintSetup) -> float:
    """Two lines, as a row's own rule has it."""
    return round(min(_up(2 * setup.line_width, 0.1), THICKEST), 6)


def _length(setup: PrintSetup) -> float:
    return LENGTH * max(1.0, setup.line_width / LONGER_FROM)


def _foot(setup: PrintSetup, teeth: int) -> float | None:
    """By the rule of any row, or the widest that is still told from a ledge where a wide line asks for more."""
    if FOOT_LINES * setup.line_width <= WIDEST_FOOT:
        return None
    pitch = (_length(setup) - 2 * END_CLEARANCE - automatic_tip(setup)) / (teeth - 1)
    return max(min(WIDEST_FOOT, pitch - LEAST_FOOT_AIR), _rounded(WIDE * automatic_tip(setup)))


def _grades(setup: PrintSetup) -> tuple[tuple[str, RowWishes], ...]:
    """The rows, most needed first: each leaves the usual row in one figure only."""
    tip, thick = automatic_tip(setup), _thickness(setup)
    usual = {"tip": round(tip, 6), "thickness": thick, "teeth": USUAL, "across": "centred"}

    def row(about: str, **changes: float) -> tuple[str, RowWishes]:
        wishes = usual | changes
        return about, RowWishes(**wishes, foot=_foot(setup, int(wishes["teeth"])))  # type: ignore[arg-type, call-overload]

    return (
        row("usual"),
        row("tip", tip=_rounded(NARROW * tip)),
        row("bridge", teeth=FEW),
        row("tip", tip=_rounded(WIDE * tip)),
        row("thickness", thickness=_rounded(THIN * thick)),
        row("bridge", teeth=MANY),
    )


def coupon(setup: PrintSetup) -> tuple[Mesh, CouponPlan]:
    """The coupon for a setup, one closed skin standing on the bed (bed mm), and what it carries."""
    sizes = _Sizes.of(setup)
    count = len(sizes.grades)
    while True:
        mesh, plans = _built(sizes, count)
        minutes = print_minutes(mesh, setup)
        if minutes <= MINUTES or count <= FEWEST:
            break
        count -= 1
    rows = tuple(_row(i + 1, about, p) for i, ((about, _), p) in enumerate(zip(sizes.grades, plans, strict=False)))
    size = mesh.bounds[1] - mesh.bounds[0]
    return mesh, CouponPlan(setup, rows, mesh.volume, minutes, (float(size[0]), float(size[1]), float(size[2])))


def print_minutes(mesh: Mesh, setup: PrintSetup) -> float:
    """Minutes of printing, roughly: volume over line × layer × speed, and time lost in every layer (from memory)."""
    layers = len(setup.mid_heights(float(mesh.bounds[1, 2])))
    return (mesh.volume / (setup.line_width * setup.layer_height * SPEED) + layers * LAYER_TIME) / 60


def _row(number: int, about: str, plan: RowPlan) -> CouponRow:
    return CouponRow(
        number, about, plan.teeth, plan.pitch, plan.foot, plan.tip, plan.thickness, plan.height, plan.clear_bridge
    )


def _row_line(row: CouponRow) -> str:
    return (
        f"Row {row.number} ({row.about}): {row.teeth} teeth, tip {row.tip:.2f} mm, {row.thickness:.2f} mm thick, "
        f"clear bridge {row.clear_bridge:.1f} mm."
    )


def _built(sizes: _Sizes, count: int) -> tuple[Mesh, list[RowPlan]]:
    """The first ``count`` rows as one skin, and their plans."""
    frame = [*_rails(sizes, count), *(m for i in range(count) for m in _gate(sizes, i))]
    bare = carved(frame)
    done = [_toothed(sizes, i, bare) for i in range(count)]
    figures = [f for i, (_, plan, _) in enumerate(done) for f in _figures(sizes, i, plan)]
    teeth = [t for _, _, solids in done for t in solids.each()]
    return _on_bed(carved([*frame, *teeth], figures)), [plan for _, plan, _ in done]


def _on_bed(mesh: Mesh) -> Mesh:
    """The mesh moved so that all of it lies at x, y ≥ 0 and stands at z = 0."""
    low = mesh.bounds[0]
    points = mesh.vertices - low
    points[np.abs(points) < 1e-9] = 0.0
    return Mesh(points, mesh.triangles)


def _rails(sizes: _Sizes, count: int) -> list[Mesh]:
    """The two rails that join the gates."""
    high = count * sizes.step
    return [
        box((x, 0.0, 0.0), (x + sizes.rail_width, high, sizes.rail))
        for x in (-AIR - sizes.rail_width, sizes.length + AIR)
    ]


def _gate(sizes: _Sizes, index: int) -> list[Mesh]:
    """Fin, foot, posts and beam of one gate."""
    y, length = sizes.middle(index), sizes.length
    fin, edge, post = sizes.fin / 2, sizes.edge_width / 2, max(POST, sizes.edge_width) / 2
    return [
        box((0.0, y - FOOT_WIDTH / 2, 0.0), (length, y + FOOT_WIDTH / 2, sizes.plate)),
        box((0.0, y - fin, 0.0), (length, y + fin, sizes.ledge)),
        box((-AIR - POST, y - edge, sizes.edge), (length + AIR + POST, y + edge, sizes.top)),
        box((-AIR - POST, y - post, 0.0), (-AIR, y + post, sizes.top)),
        box((length + AIR, y - post, 0.0), (length + AIR + POST, y + post, sizes.top)),
    ]


def _toothed(sizes: _Sizes, index: int, bare: Mesh) -> tuple[Span, RowPlan, Teeth]:
    """The row of one gate, measured, planned and built like any other."""
    y = sizes.middle(index) - sizes.edge_width / 2
    edge = Polyline.of([(-AIR, y, sizes.edge), (sizes.length + AIR, y, sizes.edge)])
    span = measure_span(bare, edge, sizes.setup)
    plan = plan_row(span, sizes.grades[index][1], sizes.setup)
    return span, plan, row_solids(span, plan)


def _figures(sizes: _Sizes, index: int, plan: RowPlan) -> list[Mesh]:
    """The engraved figures of one gate, to be taken away from the rails."""
    left, right = MARGIN - AIR - sizes.rail_width, sizes.length + AIR + POST + MARGIN
    low = sizes.rail - FIGURE_LAYERS * sizes.setup.layer_height
    second = sizes.figure + MARGIN
    places = [
        (str(index + 1), left), (f"{plan.thickness:.2f}", left + second),
        (f"{plan.tip:.2f}", right), (f"{plan.clear_bridge:.1f}", right + second),
    ]  # fmt: skip
    out = []
    for text, x in places:
        turned = [_upward(o, x, sizes.middle(index), figure_width(text, sizes.figure, sizes.stroke), sizes.figure)
                  for o in figure_outlines(text, sizes.figure, sizes.stroke)]  # fmt: skip
        out.append(extruded(turned, low, sizes.rail + 1.0))
    return out


def _upward(outline: F64, x: float, y: float, width: float, height: float) -> F64:
    """An outline turned to run up along y, its middle at ``y`` and its lower side at x + height."""
    return np.column_stack([x + height - outline[:, 1], y - width / 2 + outline[:, 0]])
