"""A planned row in its surroundings, and the sources that its limits may have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from core.design.plan import RowPlan
from core.geometry.mesh import F64, Bool
from core.proof.findings import Remedy
from core.proof.near import Near

PRACTICE: Final = "common practice, no source"
MEMORY: Final = "from memory"
CALCULATED: Final = "calculated: a strand needs its own width"


@dataclass(frozen=True, eq=False)
class Case:
    """A planned row in its surroundings: what every judgement starts from."""

    near: Near
    plan: RowPlan

    def place(self, tooth: int) -> tuple[float, float, float]:
        """The middle of a tooth's tip, bed mm."""
        return self.spot(float(self.plan.centres[tooth]), float(self.plan.across_range[tooth].mean()))

    def spot(self, s: float, v: float | None = None) -> tuple[float, float, float]:
        """A point of the edge at arc length ``s``, bed mm."""
        at = self.near.span.at(s)
        across = (at.lo + at.hi) / 2 if v is None else np.array([v])
        x, y, z = self.near.span.bed_points(at.points(across, at.edge.min(axis=1)))[0]
        return float(x), float(y), float(z)

    def worst(self, badness: F64) -> tuple[float, float, float]:
        """The place of the tooth with the greatest figure."""
        return self.place(int(np.argmax(badness)))

    def without(self, which: Bool) -> Remedy | None:
        """The row without these teeth (n,), where others are left to it."""
        count = int(np.sum(which))
        if not 0 < count < self.plan.teeth:
            return None
        kept = {n for n, bad in zip(self.plan.numbers, which, strict=True) if not bad}
        gone = tuple(n for n in range(self.plan.teeth + self.plan.left_out) if n not in kept)
        return Remedy("Leave it out" if count == 1 else f"Leave out those {count}", "left_out", float(count), gone)

    def of_all(self, which: Bool) -> str:
        """“every tooth”, “1 of 9 teeth” …"""
        count, all_of = int(np.sum(which)), self.plan.teeth
        if count == all_of:
            return "every tooth" if all_of > 1 else "the tooth"
        return f"{count} of {all_of} teeth"
