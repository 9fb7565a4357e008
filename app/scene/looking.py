"""Where the part is looked at from: flights to a gap, a spot or a place, seen from outside."""

from __future__ import annotations

import numpy as np

from app.bench import Bench
from app.scene.showing import Showing
from app.spots import Entry
from app.view.viewport import Viewport
from core.design.span import Span
from core.geometry.defects import Defect
from core.job.pipeline import RowDesign

#: A part is looked at from this much to the side and above, radians and slope.
ASIDE_RAD, ABOVE = 0.45, 0.42
#: A place under an edge is looked at nearly from its own height.
LEVEL_LOOK = 0.08


class Looking(Showing):
    """Flies to what was chosen."""

    def __init__(self, bench: Bench, view: Viewport) -> None:
        super().__init__(bench, view)
        self._faced: object = None
        self._faced_part: object = None

    def _fly(self, entry: Entry) -> None:
        """Fly to what the list's entry stands for, and look at it from outside."""
        found = self.bench.results.inspection
        if found is None:
            return
        gap = next((g for g in found.gaps if g.id == entry.gap), None)
        if gap is not None:
            line, outward = gap.span.edge_line, _outward(gap.span, self.bench.bed_mesh().bounds.mean(axis=0))
        else:
            spot = next((s for s in found.weak_spots if s.key == entry.spot), None)
            if spot is None:
                return
            line, outward = spot.path, self._away_from_middle(spot.path.array)
        box = np.array([line.array.min(axis=0), line.array.max(axis=0)])
        self.view.fly_to(box, self._seen_from(outward))

    def _face_worst(self) -> None:
        """Turn the whole part so that its worst spot faces the eye; once for every part."""
        found = self.bench.results.inspection
        if found is None or self._faced is found.split:
            return
        fresh, self._faced = self._faced_part is not self.bench.job.part, found.split
        if not fresh:
            return
        self._faced_part = self.bench.job.part
        gap = next((g for g in found.gaps if not g.enough), None)
        spot = found.weak_spots[0] if found.weak_spots else None
        if gap is not None:
            bounds = self.bench.bed_mesh().bounds
            self.view.fly_to(bounds, self._seen_from(_outward(gap.span, bounds.mean(axis=0))))
        elif spot is not None:
            outward = self._away_from_middle(spot.path.array)
            self.view.fly_to(self.bench.bed_mesh().bounds, self._seen_from(outward))

    def _fly_to_place(self, place: np.ndarray) -> None:
        """Fly to one place of the row that is shown, looked at from outside and nearly level, below its edge."""
        row = next((r for r, _ in self.bench.proved()), None)
        design = None if row is None else self.bench.row_design(row)
        direction = None
        if isinstance(design, RowDesign):
            direction = self._seen_from(_outward(design.span, self.bench.bed_mesh().bounds.mean(axis=0)))
        if direction is not None:
            direction[2] = LEVEL_LOOK
        self.view.fly_to(np.array([place, place]), direction)

    def _fly_to_defect(self, defect: Defect) -> None:
        """Fly to what is wrong with the mesh, looked at from outside."""
        mesh = self.bench.bed_mesh()
        if mesh is not None:
            box = defect.places(mesh)
            self.view.fly_to(box, self._seen_from(self._away_from_middle(box)))

    def _away_from_middle(self, points: np.ndarray) -> np.ndarray:
        away = points.mean(axis=0) - self.bench.bed_mesh().bounds.mean(axis=0)
        return np.array([away[0], away[1], 0.0])

    def _seen_from(self, outward: np.ndarray) -> np.ndarray | None:
        """Where to look from: a little to the right of the way out, and from above; None keeps the present side."""
        length = float(np.hypot(outward[0], outward[1]))
        if length < 1e-6:
            return None
        x, y = outward[:2] / length
        c, s = np.cos(ASIDE_RAD), np.sin(ASIDE_RAD)
        return np.array([c * x - s * y, s * x + c * y, ABOVE])


def _outward(span: Span, middle: np.ndarray) -> np.ndarray:
    """The horizontal way square to a span that leads away from the part's middle (bed mm)."""
    across = span.at(span.length / 2).across[0]
    out = span.to_bed @ np.array([-across[0], -across[1], 0.0])
    away = span.edge_line.at(span.edge_line.length / 2)[0] - middle
    return out if float(out @ away) >= 0 else -out
