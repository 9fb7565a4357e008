"""An inspection as plain data for scripts: points in file coordinates in mm, heights above the bed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from core.design.plan import RowPlan
from core.design.setup import FIGURES, PrintSetup
from core.diagnose.found import Inspection, ListedSpot
from core.diagnose.gaps import Gap
from core.diagnose.rows_present import RowPresent
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose

FORMAT: Final = "snapcomb.inspection"
VERSION: Final = 1
#: Decimals of lengths and coordinates: a thousandth of what any printer resolves.
DECIMALS: Final = 4


def inspection_json(inspection: Inspection, suggestions: Mapping[str, RowPlan | None] | None = None) -> dict[str, Any]:
    """The inspection as a dictionary that json can write. ``suggestions`` replaces the rows proposed, by gap id."""
    pose = inspection.pose
    chosen = suggestions or {}
    file = inspection.file
    return {
        "format": FORMAT,
        "version": VERSION,
        "file": {
            "name": file.name, "triangles": file.triangles, "shells": file.shells, "watertight": file.watertight,
            "unit": file.unit,
        },
        "pose": [[_figure(x, 12) for x in row] for row in pose.matrix],
        "setup": setup_json(inspection.setup),
        "weak_spots": [_spot(s, pose) for s in inspection.weak_spots if not s.dismissed],
        "gaps": [_gap(g, pose, chosen.get(g.id, g.suggested)) for g in inspection.gaps],
        "rows": [row_present_json(r, pose) for r in inspection.rows],
        "pieces": [
            {"shells": list(p.shells), "sacrificial": p.sacrificial, "why": p.why} for p in inspection.pieces
        ],
        "notes": list(inspection.notes),
    }  # fmt: skip


def setup_json(setup: PrintSetup) -> dict[str, Any]:
    """The setup with the unit in every name, as in ``layer_height_mm``."""
    suffix = {"mm": "_mm", "°": "_deg"}
    return {f.name + suffix.get(f.metadata.get("unit", ""), ""): getattr(setup, f.name) for f in FIGURES}


def _figure(value: float, decimals: int = DECIMALS) -> float | None:
    """A rounded figure; None for what is infinite (the reach of an island)."""
    return round(float(value), decimals) + 0.0 if math.isfinite(value) else None


def _points(points: F64, pose: Pose) -> list[list[float]]:
    return [[round(float(c), DECIMALS) + 0.0 for c in p] for p in pose.inverse.apply(points)]


def _line(line: Polyline, pose: Pose) -> list[list[float]]:
    return _points(line.array, pose)


def _spot(spot: ListedSpot, pose: Pose) -> dict[str, Any]:
    return {
        "id": spot.id, "kind": spot.kind, "z_mm": _figure(spot.z), "length_mm": _figure(spot.length),
        "reach_mm": _figure(spot.reach), "area_mm2": _figure(spot.area), "severity": _figure(spot.severity),
        "path": _line(spot.path, pose),
    }  # fmt: skip


def _gap(gap: Gap, pose: Pose, suggested: RowPlan | None) -> dict[str, Any]:
    low, high = gap.span.gap_range
    return {
        "id": gap.id, "weak_spot": gap.weak_spot, "direction": gap.direction, "length_mm": _figure(gap.length),
        "gap_min_mm": _figure(low), "gap_max_mm": _figure(high),
        "edge": _line(gap.span.edge_line, pose), "ledge": _line(gap.span.ledge_line, pose), "closed": gap.span.closed,
        "row_present": gap.row, "enough": gap.enough,
        "row_suggested": None if suggested is None or gap.enough else plan_json(suggested),
    }  # fmt: skip


def plan_json(plan: RowPlan) -> dict[str, Any]:
    """The figures of a planned row."""
    return {
        "teeth": plan.teeth, "pitch_mm": _figure(plan.pitch), "foot_mm": _figure(plan.foot),
        "tip_mm": _figure(plan.tip), "thickness_mm": _figure(plan.thickness),
        "clear_bridge_mm": _figure(plan.clear_bridge),
    }  # fmt: skip


def row_present_json(row: RowPresent, pose: Pose) -> dict[str, Any]:
    """The figures of a row that is there; from and to are the middles of its first and last tooth."""
    like = np.flatnonzero(row.like)
    first, last = _points(row.points[like[[0, -1]]], pose)
    return {
        "id": row.id, "gap": row.gap, "direction": row.direction, "teeth": row.teeth, "pitch_mm": _figure(row.pitch),
        "foot_mm": _figure(row.foot), "tip_mm": _figure(row.tip), "thickness_mm": _figure(row.thickness),
        "height_mm": _figure(row.height), "from": first, "to": last,
    }  # fmt: skip
