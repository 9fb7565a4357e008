"""Looking at what stands in a span: the mesh near it, span coordinates of points, and sections along it.

Frame: the span's gap frame (bed turned so that the gap runs along +Z). Lengths mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from core.design.span import Span, thinned
from core.geometry.mesh import F64, I64, Mesh, among
from core.geometry.sheet import Section, sheet_section

#: Bends of the axis smaller than this are left out, mm: below what a file in single precision resolves.
_BEND: Final = 1e-5


@dataclass(frozen=True, eq=False)
class NearSpan:
    """The whole vertical columns of a mesh around a span, in its gap frame.

    ``triangles`` (m,) int64 are the numbers of the triangles in the mesh they come from.
    """

    span: Span
    mesh: Mesh
    triangles: I64

    @classmethod
    def of(cls, mesh: Mesh, span: Span, reach: float = 5.0) -> NearSpan:
        """What lies within ``reach`` mm of the span in its plan. ``mesh`` in bed mm."""
        axis = span.stations.axis
        low, high = axis.min(axis=0) - reach, axis.max(axis=0) + reach
        turn = span.frame[:3, :3]
        x, y = (mesh.vertices @ turn[i] for i in (0, 1))
        code = (x < low[0]).astype(np.uint8) | ((x > high[0]) << 1) | ((y < low[1]) << 2) | ((y > high[1]) << 3)
        tri = mesh.triangles
        kept = np.flatnonzero((code[tri[:, 0]] & code[tri[:, 1]] & code[tri[:, 2]]) == 0)
        used, own = among(len(mesh.vertices), tri[kept])
        return cls(span, Mesh(mesh.vertices[used] @ turn.T, own), kept)

    @cached_property
    def _axis(self) -> F64:
        """The axis as few (k, 3) rows of x, y, s."""
        return thinned(np.column_stack([self.span.stations.axis, self.span.stations.s]), _BEND)

    def along_across(self, plan: F64) -> tuple[F64, F64]:
        """Arc length s (n,) and distance across v (n,), mm, of points ``plan`` (n, 2); s runs on beyond open ends."""
        axis = self._axis
        a, step = axis[:-1, :2], np.diff(axis[:, :2], axis=0)
        length = np.linalg.norm(step, axis=1)
        t, best = np.zeros(len(plan)), np.full(len(plan), np.inf)
        at = np.zeros(len(plan), np.int64)
        for i in range(len(a)):
            here = (plan - a[i]) @ step[i] / length[i] ** 2
            low = -np.inf if i == 0 and not self.span.closed else 0.0
            high = np.inf if i == len(a) - 1 and not self.span.closed else 1.0
            here = np.clip(here, low, high)
            away = ((plan - a[i] - here[:, None] * step[i]) ** 2).sum(axis=1)
            nearer = away < best
            best[nearer], t[nearer], at[nearer] = away[nearer], here[nearer], i
        s = axis[at, 2] + t * (axis[at + 1, 2] - axis[at, 2])
        off = plan - a[at] - t[:, None] * step[at]
        sign = np.sign(np.einsum("ij,ij->i", off, self.span.at(s).across))
        return s, np.sqrt(best) * np.where(sign == 0, 1.0, sign)

    def plan_line(self, v: F64, beyond: float = 0.0, start: float = 0.0) -> tuple[F64, F64]:
        """The plan line (k, 2) at distances ``v`` (one figure, or one a station) across, and its s (k,).

        An open span is carried on straight by ``beyond`` mm at both ends. A closed one is run once round from ``start``
        (mm); its s goes on past its length.
        """
        st = self.span.stations
        rows = np.column_stack([st.axis + st.across * np.broadcast_to(v, st.s.shape)[:, None], st.s])
        if self.span.closed:
            rows = _from(rows, start % self.span.length)
        elif beyond > 0:
            ends = []
            for end, inner, sign in ((rows[0], rows[1], -1), (rows[-1], rows[-2], 1)):
                out = (end - inner)[:2] / np.linalg.norm((end - inner)[:2])
                ends.append(np.r_[end[:2] + out * beyond, end[2] + sign * beyond])
            rows = np.vstack([ends[0], rows, ends[1]])
        rows = thinned(rows, _BEND)
        return rows[:, :2], rows[:, 2]

    def lengthwise(self, v: float | F64, beyond: float = 0.0) -> Section:
        """The section by the sheet that follows the span, ``v`` mm across (one figure, or one a station).

        s is the span's arc length. A closed span is cut open at s = 0.
        """
        line, s = self.plan_line(np.asarray(v, np.float64), beyond)
        return sheet_section(self.mesh, line, s)

    def crosswise(self, s: float, reach: float = 4.0) -> Section:
        """The section square to the span at arc length ``s``; its own s counts across (v), −``reach`` to ``reach``."""
        here = self.span.at(s)
        v = np.array([-reach, reach])
        return sheet_section(self.mesh, here.axis + here.across * v[:, None], v)


def _from(rows: F64, start: float) -> F64:
    """Rows (k, 3) of x, y, s round a closed line, begun at s = ``start`` instead of 0, the first point repeated."""
    if start <= 0:
        return rows
    length = rows[-1, 2]
    cut = np.array([np.interp(start, rows[:, 2], rows[:, i]) for i in range(3)])
    turn = np.array([0.0, 0.0, length])
    return np.vstack([cut, rows[rows[:, 2] > start], rows[1:][rows[1:, 2] < start] + turn, cut + turn])
