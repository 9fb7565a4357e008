"""What is known about a sample by construction, and how that becomes the truth file.

Points are given in the design frame and written in file coordinates × unit, in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import manifold3d as m3
import numpy as np

from samples.solids import F64, in_file, united

Point = Sequence[float]
MM_PER_UNIT = {"millimeter": 1.0, "inch": 25.4}  # inch: exact since 1 July 1959 (NIST)

# The limits that the weak spots below are meant for; angles from vertical. Common practice, no source.
SETUP = {
    "layer_height_mm": 0.2,
    "line_width_mm": 0.44,
    "overhang_deg": 45.0,
    "clear_bridge_mm": 5.0,
    "free_overhang_mm": 1.0,
}
ADVANCE = SETUP["layer_height_mm"] * np.tan(np.radians(SETUP["overhang_deg"]))  # what a layer may jut out freely, mm


@dataclass(frozen=True)
class Weak:
    """A true weak spot.

    ``clear`` is the length between the things that hold it (of a cantilever: its extent), ``length`` the longest
    unsupported chord (``clear`` less the allowed advance at each held end), ``reach`` the farthest distance of one of
    its points to the section of the layer below, ``area`` that of the first layer less what the advance allows.
    """

    id: str
    kind: str
    z: float
    path: Sequence[Point]
    clear: float
    length: float
    reach: float
    area: float
    what: str


@dataclass(frozen=True)
class Gap:
    """A gap: axis of the stretch where edge (or strip) and ledge face each other; ``lip`` is the whole outer edge."""

    id: str
    direction: str
    edge: Sequence[Point]
    ledge: Sequence[Point]
    length: float
    gap_min: float
    gap_max: float
    strip: float  # width of the underside strip (or of the upright edge face)
    ledge_thickness: float
    lip: Sequence[Point] = ()
    lip_length: float = 0.0
    closed: bool = False
    row: str | None = None
    weak: str | None = None

    @property
    def enough(self) -> bool:
        """Whether teeth that suffice stand in the gap already, or nothing asks for any."""
        return self.weak is None


@dataclass(frozen=True)
class Row:
    """Teeth that are there: foot and tip in the ledge and edge planes; ``centres`` at half the gap."""

    id: str
    gap: str
    direction: str
    centres: Sequence[Point]
    pitch: float
    foot: float
    tip: float
    thickness: float
    height: float
    flank: str = "straight"


@dataclass(frozen=True)
class Piece:
    """A body or limb: the ``shells`` of the file that are it wholly, or the shell it is a limb of; a point inside."""

    name: str
    sacrificial: bool
    inside: Point
    shells: Sequence[int] = ()
    limb_of: int | None = None


@dataclass(frozen=True)
class Sample:
    """One sample file with everything that is true of it."""

    label: tuple[str, str, str]
    solids: Sequence[m3.Manifold]
    to_file: F64
    unit: str = "millimeter"
    weak: Sequence[Weak] = ()
    gaps: Sequence[Gap] = ()
    rows: Sequence[Row] = ()
    pieces: Sequence[Piece] = ()
    not_listed: Sequence[tuple[str, Sequence[Point]]] = field(default=())

    @property
    def name(self) -> str:
        """Name, also of the file."""
        return self.label[0]

    @property
    def file(self) -> str:
        """File name."""
        return f"{self.name}.stl"

    def corners(self) -> np.ndarray[Any, np.dtype[np.float32]]:
        """The facets as they stand in the file, (n, 3, 3) float32, in the unit of the file."""
        return in_file(self.solids, self.to_file, MM_PER_UNIT[self.unit])


def as_record(sample: Sample) -> dict[str, Any]:
    """The truth about one sample as plain data."""
    corners = sample.corners()
    solid = united(sample.solids)
    placed = corners.reshape(-1, 3).astype(float) * MM_PER_UNIT[sample.unit]
    low, high = np.array(solid.bounding_box()).reshape(2, 3)
    return {
        "title": sample.label[1],
        "line": sample.label[2],
        "file": sample.file,
        "unit": sample.unit,
        "triangles": len(corners),
        "shells": len(sample.solids),
        "pose": _matrix(_pose(sample.to_file)),
        "design": _matrix(np.linalg.inv(sample.to_file).astype(np.float64)),
        "size_mm": _figures(np.ptp(placed, axis=0)),
        "size_design_mm": _figures(high - low),
        "volume_mm3": round(solid.volume(), 3),
        "shell_volumes_mm3": [round(s.volume(), 3) for s in sample.solids],
        "weak_spots": [_weak(sample, w) for w in sample.weak],
        "gaps": [_gap(sample, g) for g in sample.gaps],
        "rows": [_row(sample, r) for r in sample.rows],
        "pieces": [_piece(sample, p) for p in sample.pieces],
        "not_listed": [{"what": what, "path": _points(sample, path)} for what, path in sample.not_listed],
    }


def _pose(to_file: F64) -> F64:
    """File mm → bed mm for the pose as filed: nothing but the height may have to change."""
    pose = np.eye(4)
    pose[2, 3] = -to_file[2, 3]
    return pose


def _figures(values: Sequence[float] | F64) -> list[float]:
    return [round(float(v), 6) + 0.0 for v in values]


def _matrix(matrix: F64) -> list[list[float]]:
    return [[round(float(v), 12) + 0.0 for v in row] for row in matrix]


def _points(sample: Sample, points: Sequence[Point]) -> list[list[float]]:
    placed = np.array(points, dtype=float).reshape(-1, 3) @ sample.to_file[:3, :3].T + sample.to_file[:3, 3]
    return [_figures(p) for p in placed]


def _weak(sample: Sample, weak: Weak) -> dict[str, Any]:
    return {
        "id": weak.id,
        "what": weak.what,
        "kind": weak.kind,
        "z_mm": weak.z,
        "clear_mm": round(weak.clear, 4),
        "length_mm": round(weak.length, 4),
        "reach_mm": round(weak.reach, 4),
        "area_mm2": round(weak.area, 3),
        "path": _points(sample, weak.path),
    }


def _gap(sample: Sample, gap: Gap) -> dict[str, Any]:
    return {
        "id": gap.id,
        "weak_spot": gap.weak,
        "direction": gap.direction,
        "closed": gap.closed,
        "length_mm": round(gap.length, 4),
        "gap_min_mm": round(gap.gap_min, 4),
        "gap_max_mm": round(gap.gap_max, 4),
        "strip_width_mm": round(gap.strip, 4),
        "ledge_thickness_mm": round(gap.ledge_thickness, 4),
        "edge": _points(sample, gap.edge),
        "ledge": _points(sample, gap.ledge),
        "lip": _points(sample, gap.lip),
        "lip_length_mm": round(gap.lip_length, 4),
        "row_present": gap.row,
        "enough": gap.enough,
    }


def _row(sample: Sample, row: Row) -> dict[str, Any]:
    centres = _points(sample, row.centres)
    return {
        "id": row.id,
        "gap": row.gap,
        "direction": row.direction,
        "teeth": len(centres),
        "pitch_mm": row.pitch,
        "foot_mm": row.foot,
        "tip_mm": row.tip,
        "thickness_mm": row.thickness,
        "height_mm": row.height,
        "flank": row.flank,
        "from": centres[0],
        "to": centres[-1],
        "centres": centres,
    }


def _piece(sample: Sample, piece: Piece) -> dict[str, Any]:
    return {
        "name": piece.name,
        "sacrificial": piece.sacrificial,
        "shells": list(piece.shells),
        "limb_of": piece.limb_of,
        "inside": _points(sample, [piece.inside])[0],
    }
