"""What lies under the pointer: pure geometry on a view, in logical pixels."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from app.panels.elevation.model import DrawnTooth
from app.panels.elevation.sheet import Rect, View

Kind = Literal[
    "start", "stop", "tooth", "foot_left", "foot_right", "tip_left", "tip_right", "dimension", "layer", "place"
]
CORNERS: Final[tuple[Kind, ...]] = ("foot_left", "foot_right", "tip_left", "tip_right")

# Logical pixels.
NEAR = 8.0  # how near the pointer must be to an end stop
CORNER = 5.5  # … to a corner of a tooth
BODY = 3.0  # … to the flank of a tooth, from outside
LEAST_FOOT, LEAST_GAP = 16.0, 12.0  # smaller teeth on the screen have no corners to take


@dataclass(frozen=True)
class Handle:
    """Something that can be taken: what kind, of which tooth (number from 0), or which dimension (its key)."""

    kind: Kind
    number: int | None = None
    key: str = ""

    @property
    def corner(self) -> bool:
        return self.kind in CORNERS


def stops_shown(view: View) -> bool:
    """End stops are there on open spans, and on closed ones that are cut where they begin."""
    return not view.model.closed or view.model.cut == 0.0


def handle_at(view: View, x: float, y: float, fields: Iterable[tuple[str, Rect]] = ()) -> Handle | None:
    """What the pointer at (x, y) would take. ``fields`` are the figures of dimensions by key."""
    for key, field in fields:
        if field.holds(x, y, 2.0):
            return Handle("dimension", key=key)
    if on_rule(view, x, y):
        return Handle("layer")
    if not view.window.holds(x, y, NEAR):
        return None
    return (
        _stop_at(view, x, y, flag=True)
        or _corner_at(view, x, y)
        or _tooth_at(view, x, y)
        or _stop_at(view, x, y, flag=False)
    )


def on_rule(view: View, x: float, y: float) -> bool:
    """Whether the pointer is on the height rule."""
    field = rule_field(view)
    return field.holds(x, y, 4.0)


def rule_field(view: View) -> Rect:
    """The strip that the height rule takes: right of an upward gap, below a sideways one."""
    model, sheet = view.model, view.sheet
    if model.layers.axis == "u":
        x0, x1 = view.x_of_span()
        return Rect(max(x0, view.window.left), view.floor + 2, min(x1, view.window.right), view.floor + 12)
    low, high = model.z_range
    x = rule_x(view)
    return Rect(x - 2, max(sheet.y(high), view.field.top), x + 16, min(sheet.y(low), view.field.bottom))


def rule_x(view: View) -> float:
    """Where the height rule of an upward gap stands, px."""
    return view.window.right + 9.0 + view.far_gap


def _stop_at(view: View, x: float, y: float, *, flag: bool) -> Handle | None:
    """The end stop under the pointer: its flag at the dimension line, or its chain line."""
    if not stops_shown(view):
        return None
    lane = view.top_lane
    for kind, u, side in (("start", view.model.stops[0], -1), ("stop", view.model.stops[1], 1)):
        at = view.sheet.x(u)
        if flag and abs(y - lane) <= 9 and -4 <= (x - at) * side <= 16:
            return Handle(kind)
        if not flag and abs(x - at) <= NEAR / 2 and lane <= y <= view.floor:
            return Handle(kind)
    return None


def corners_of(view: View, tooth: DrawnTooth) -> list[tuple[Kind, float, float]]:
    """The corners of a tooth that can be taken, px; none when it is too small on the screen."""
    sheet, model = view.sheet, view.model
    if (tooth.foot[1] - tooth.foot[0]) * sheet.scale < LEAST_FOOT or model.gap_at(
        tooth.centre
    ) * sheet.scale < LEAST_GAP:
        return []
    post = model.plan is not None and model.plan.shape == "post"
    rake = model.plan is not None and model.plan.shape == "rake"
    places: list[tuple[Kind, float, float]] = []
    for kind, u, line in (
        ("foot_left", tooth.foot[0], model.ledge_at), ("foot_right", tooth.foot[1], model.ledge_at),
        ("tip_left", tooth.tip[0], model.edge_at), ("tip_right", tooth.tip[1], model.edge_at),
    ):  # fmt: skip
        if not (post and kind.startswith("foot")) and not (rake and kind == "tip_left"):
            places.append((kind, sheet.x(u), sheet.y(float(line(u)))))
    return places


def _corner_at(view: View, x: float, y: float) -> Handle | None:
    best: tuple[float, Handle] | None = None
    for tooth in view.model.teeth:
        if not view.sheet.x(tooth.foot[0]) - CORNER <= x <= view.sheet.x(tooth.foot[1]) + CORNER:
            continue
        for kind, cx, cy in corners_of(view, tooth):
            away = math.hypot(x - cx, y - cy)
            if away <= CORNER and (best is None or away < best[0]):
                best = (away, Handle(kind, tooth.number))
    return best[1] if best else None


def _tooth_at(view: View, x: float, y: float) -> Handle | None:
    """The tooth whose body is under the pointer; of overlapping ones that with the nearest centre."""
    best: tuple[float, Handle] | None = None
    u, z = view.sheet.u(x), view.sheet.z(y)
    margin = BODY / view.sheet.scale
    for tooth in view.model.teeth:
        away = abs(u - tooth.centre)
        if _covers(tooth, u, z, margin) and (best is None or away < best[0]):
            best = (away, Handle("tooth", tooth.number))
    return best[1] if best else None


def _covers(tooth: DrawnTooth, u: float, z: float, margin: float) -> bool:
    bottom, top = float(tooth.outline[:, 1].min()), float(tooth.outline[:, 1].max())
    if not bottom - margin <= z <= top + margin:
        return False
    share = min(max((z - bottom) / max(top - bottom, 1e-9), 0.0), 1.0)
    left = tooth.foot[0] + share * (tooth.tip[0] - tooth.foot[0])
    right = tooth.foot[1] + share * (tooth.tip[1] - tooth.foot[1])
    return left - margin <= u <= right + margin


def in_gap(view: View, x: float, y: float) -> bool:
    """Whether the pointer is between ledge and edge, within the span."""
    u, z = view.sheet.u(x), view.sheet.z(y)
    model = view.model
    return (
        0 <= u <= model.length and float(model.ledge_at(u)) <= z <= float(model.edge_at(u)) and view.window.holds(x, y)
    )


def empty_place(view: View, x: float, y: float) -> int | None:
    """The number of a left-out tooth whose place is under the pointer."""
    u, z = view.sheet.u(x), view.sheet.z(y)
    margin = BODY / view.sheet.scale
    found = [t for t in view.model.left_out if _covers(t, u, z, margin)]
    return min(found, key=lambda t: abs(t.centre - u)).number if found else None


def layer_at(view: View, x: float, y: float) -> int | None:
    """The layer whose stretch of the rule is under the pointer, the nearest one beyond its ends."""
    layers = view.model.layers
    if not layers.numbers:
        return None
    place = view.sheet.u(x) if layers.axis == "u" else view.sheet.z(y)
    tops = layers.at
    rising = len(tops) < 2 or tops[-1] > tops[0]
    count = sum(1 for t in tops if (t < place) == rising and t != place)
    return layers.numbers[min(count, len(tops) - 1)]
