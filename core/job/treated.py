"""Which gaps and weak spots of an inspection the rows of a job treat.

Names of gaps last only as long as the inspection that gave them: on a newer revision, or with another print setup, they
are counted anew. So a row on a ledge that is there is told by its place, and only a row on a wall of its own by name.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from core.diagnose.found import Inspection
from core.geometry.mesh import F64
from core.job.job import Job, Row

#: A row treats a gap when its edge passes the middle of the gap this near, mm: a strip is hardly wider.
SAME_GAP: Final = 2.5


def treated_by(job: Job, found: Inspection) -> dict[str, Row]:
    """Rows by the name of the gap, or of the weak spot without a ledge, that they treat in this inspection."""
    out: dict[str, Row] = {row.pick.gap: row for row in job.all_rows if row.wall is not None and row.pick.gap}
    rows = [row for row in job.all_rows if row.wall is None]
    if not rows or not found.gaps:
        return out
    middles = np.concatenate([g.span.edge_line.at(g.span.edge_line.length / 2) for g in found.gaps])
    for row in rows:
        line = row.pick.edge.moved(job.pose.matrix)
        near = _distance(middles, line.ring) <= SAME_GAP
        out.update((gap.id, row) for gap, here in zip(found.gaps, near, strict=True) if here)
    return out


def _distance(points: F64, line: F64) -> F64:
    """How far points (n, 3) are from a line through (k, 3), (n,) mm."""
    start, step = line[:-1], np.diff(line, axis=0)
    square = np.maximum((step * step).sum(axis=1), 1e-300)
    rel = points[:, None] - start
    share = np.clip((rel * step).sum(axis=2) / square, 0, 1)
    return np.asarray(np.linalg.norm(rel - share[..., None] * step, axis=2).min(axis=1))
