"""What is told about a wall that was built for a row: figures for the commands and the job sheet."""

from __future__ import annotations

from core.design.coupon import print_minutes
from core.design.wall import WallPlan
from core.design.wall_reach import sentences, ways_out
from core.geometry.mesh import Mesh
from core.job.job import Job


def wall_json(plan: WallPlan, solid: Mesh, job: Job) -> dict[str, object]:
    """A wall as plain data: lengths mm, volume mm³, mass g, minutes of printing as far as they can be estimated."""
    ways = ways_out(job.part.mesh.moved(job.pose.matrix), plan)
    return {
        "length_mm": round(plan.length, 3), "height_mm": round(plan.height, 3),
        "thickness_mm": round(plan.thickness, 3), "gap_mm": round(plan.gap, 3), "stands_on": plan.base,
        "foot_mm": round(plan.foot_width, 3), "windows": len(plan.windows), "break_lines": len(plan.breaks),
        "ribs": len(plan.ribs), "volume_mm3": round(solid.volume, 3),
        "mass_g": round(solid.volume * job.setup.filament.density / 1000, 4),
        "minutes": round(print_minutes(solid, job.setup), 1), "comes_out": [
            {"bearing_deg": round(w.bearings[0], 1) if w.free else None, "with": w.tool} for w in ways
        ],
        "notes": [*plan.notes, *sentences(ways)],
    }  # fmt: skip
