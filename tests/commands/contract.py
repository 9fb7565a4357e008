"""What the commands promise to print, field by field: a script may rely on every name, and nothing else may appear."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Point = tuple[float, float, float]
Direction = Literal["up", "side"]
Range = tuple[float, float]


class Strict(Struct, forbid_unknown_fields=True, rename={"from_": "from"}):
    """Fields as named, no others."""


class File(Strict):
    name: str
    triangles: int
    shells: int
    watertight: bool
    unit: str


class WeakSpot(Strict):
    id: str
    kind: Literal["island", "cantilever", "bridge", "slope"]
    z_mm: float
    length_mm: float
    reach_mm: float | None
    area_mm2: float
    severity: float
    path: list[Point]


class Suggested(Strict):
    teeth: int
    pitch_mm: float
    foot_mm: float
    tip_mm: float
    thickness_mm: float
    clear_bridge_mm: float


class Gap(Strict):
    id: str
    weak_spot: str | None
    direction: Direction
    length_mm: float
    gap_min_mm: float
    gap_max_mm: float
    edge: list[Point]
    ledge: list[Point]
    closed: bool
    row_present: str | None
    enough: bool
    row_suggested: Suggested | None


class Row(Strict):
    id: str
    gap: str | None
    direction: Direction
    teeth: int
    pitch_mm: float
    foot_mm: float
    tip_mm: float
    thickness_mm: float
    height_mm: float
    from_: Point
    to: Point


class Piece(Strict):
    shells: list[int]
    sacrificial: bool | None
    why: str


class Inspection(Strict):
    format: Literal["snapcomb.inspection"]
    version: Literal[1]
    file: File
    pose: tuple[tuple[float, float, float, float], ...]
    setup: dict[str, float | int | str]
    weak_spots: list[WeakSpot]
    gaps: list[Gap]
    rows: list[Row]
    pieces: list[Piece]
    notes: list[str]


class Finding(Strict):
    code: str
    level: Literal["note", "warn", "stop"]
    text: str
    figure: float
    limit: float
    source: str


class Snap(Strict):
    pull: Range
    sideways: Range


class Added(Strict):
    gap: str | None
    row: Row
    volume_mm3: float
    mass_g: float
    snap_n: Snap
    findings: list[Finding]


class Skipped(Strict):
    gap: str | None
    why: str


class Post(Strict):
    name: str
    weak_spot: str | None
    at: Point
    height_mm: float
    tip_mm: float
    stands_on: Literal["bed", "part", "both"]
    volume_mm3: float


class Fitted(Strict):
    added: list[Added]
    skipped: list[Skipped]
    posts: list[Post] = []
