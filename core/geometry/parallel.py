"""Stretches and parallels of lines seen in plan. Lengths mm, frame of the owner, mostly the bed frame."""

from __future__ import annotations

import numpy as np
import shapely

from core.errors import PlanRefused
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline


def cut(line: Polyline, start: float, stop: float) -> Polyline:
    """The stretch of a line between two arc lengths in plan (mm), corners and heights kept; all of it when it covers
    the whole line."""
    plan = Polyline.of(line.array * [1, 1, 0], line.closed)
    if stop - start >= plan.length - 1e-9:
        return line
    turns = np.r_[plan.stations, plan.stations[1:] + plan.length] if line.closed else plan.stations
    inner = turns[(turns > start + 1e-6) & (turns < stop - 1e-6)]
    s = np.r_[start, inner, stop]
    points = plan.at(s)
    points[:, 2] = np.interp(np.mod(s, plan.length) if line.closed else s, plan.stations, line.ring[:, 2])
    return Polyline.of(points)


def parallel(line: Polyline, shift: float) -> Polyline:
    """A parallel (plan) of a line at ``shift`` mm to the left of its run; corners stay corners where they can.

    Raises PlanRefused when the line is too tightly bent for it.
    """
    plan = line.array[:, :2]
    if abs(shift) < 1e-9:
        return Polyline.of(np.column_stack([plan, np.zeros(len(plan))]), line.closed)
    found = (
        _ring(plan, shift)
        if line.closed
        else shapely.offset_curve(shapely.LineString(plan), shift, join_style="mitre", mitre_limit=2.0)
    )
    parts = [p for p in shapely.get_parts(found) if not p.is_empty and p.length > 0.2]
    if not parts:
        raise PlanRefused(
            "The edge is bent too tightly for a wall beside it.", "Move the wall nearer to the edge.", "shift", 0.0
        )
    points = shapely.get_coordinates(max(parts, key=lambda p: p.length))
    points = points[:-1] if line.closed else points
    if not line.closed and np.dot(points[-1] - points[0], plan[-1] - plan[0]) < 0:
        points = points[::-1]
    return Polyline.of(np.column_stack([points, np.zeros(len(points))]), line.closed)


def _ring(plan: F64, shift: float) -> shapely.Geometry:
    """The outline of a closed line moved to its left, started near to the old start and run the same way."""
    ring = shapely.LinearRing(plan)
    inward = shift if ring.is_ccw else -shift
    grown = shapely.buffer(shapely.Polygon(plan), -inward, join_style="mitre", mitre_limit=2.0)
    parts = [p for p in shapely.get_parts(grown) if not p.is_empty]
    if not parts:
        return shapely.LineString()
    points = shapely.get_coordinates(max(parts, key=lambda p: p.area).exterior)[:-1]
    if shapely.LinearRing(points).is_ccw != ring.is_ccw:
        points = points[::-1]
    first = int(np.argmin(((points - plan[0]) ** 2).sum(axis=1)))
    points = np.roll(points, -first, axis=0)
    return shapely.LineString(np.vstack([points, points[:1]]))
