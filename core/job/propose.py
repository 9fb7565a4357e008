"""From what was clicked to a pick with its span: which way the gap runs, and where a clicked face is a ledge."""

from __future__ import annotations

import numpy as np

from core.design.span import Span
from core.errors import SnapcombError, SpanProblem
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline
from core.job.job import Job, Pick
from core.job.pipeline import Pipeline

#: An edge that rises more than it runs is upright: what faces it stands beside it.
UPRIGHT = 1.0


def is_upright(edge: Polyline, job: Job) -> bool:
    """Whether an edge (file mm) stands upright in the print pose."""
    ends = job.pose.apply(edge.array[[0, -1]])
    rise = ends[1] - ends[0]
    return bool(not edge.closed and abs(rise[2]) > UPRIGHT * np.hypot(rise[0], rise[1]))


def face_as_ledge(edge: Polyline, point: F64, normal: F64) -> Polyline:
    """A clicked face as a ledge line: the edge carried onto the plane of the face (all bed mm).

    A face that looks up or down is met vertically, one that stands upright horizontally.
    """
    n = normal / np.linalg.norm(normal)
    way = np.array([0.0, 0.0, 1.0]) if abs(n[2]) > 0.5 else np.array([n[0], n[1], 0.0])
    along = float(way @ n)
    distance = (edge.array - point) @ n / along
    return Polyline.of(edge.array - distance[:, None] * way, edge.closed)


def propose(job: Job, edge: Polyline, normals: F64, ledge: Polyline | None, pipeline: Pipeline) -> tuple[Pick, Span]:
    """The pick and span for a clicked edge (file mm) and, when one was clicked, its ledge (file mm).

    ``normals`` (k, 3) are the outward normals, bed frame, of the faces that meet at an upright edge: a fin stands
    before one of them. Raises SpanProblem with the reason of the likeliest reading.
    """
    if ledge is not None or not is_upright(edge, job):
        pick = Pick(edge, ledge)
        return pick, pipeline.span(job, pick)
    found: list[tuple[Pick, Span]] = []
    problem: SnapcombError = SpanProblem(
        "Nothing stands beside this upright edge.", "Pick an edge with a fin beside it."
    )
    for normal in normals:
        flat = np.array([normal[0], normal[1], 0.0])
        if np.linalg.norm(flat) < 0.3:
            continue
        x, y, z = job.pose.inverse.turn(-flat / np.linalg.norm(flat))
        pick = Pick(edge, None, (float(x), float(y), float(z)))
        try:
            found.append((pick, pipeline.span(job, pick)))
        except SpanProblem:
            continue
    if not found:
        raise problem
    return min(found, key=lambda f: f[1].gap_range[0])
