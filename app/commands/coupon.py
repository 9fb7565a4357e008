"""``snapcomb coupon``: the break-off test piece for a printer and a filament."""

from __future__ import annotations

from typing import Annotated, Any

from cyclopts import Parameter

from app.commands.options import Json, Out, SetupOptions
from app.commands.output import print_json, say, table
from app.commands.status import DONE, UsageError

COLUMNS = ("row", "graded", "teeth", "pitch mm", "foot mm", "tip mm", "thick mm", "high mm", "clear bridge mm")


def coupon(
    *,
    output: Annotated[Out, Parameter(help="The mesh to write, STL or 3MF.")],
    json: Json = False,
    options: SetupOptions = SetupOptions(),  # noqa: B008  (frozen)
) -> int:
    """Write the break-off test piece: small gates, each holding a fin by a row, graded in tip, thickness and bridge."""
    setup = options.setup()
    if output.suffix.lower() not in (".stl", ".3mf"):
        raise UsageError(f"“{output.name}” does not end like a mesh that Snapcomb writes.", "Use .stl or .3mf.")
    from core.design.coupon import coupon as build
    from core.files.write import write_part

    mesh, plan = build(setup)
    written = write_part(mesh, output, unit="millimeter", name="Snapcomb break-off coupon")
    if json:
        print_json(coupon_json(plan))
    else:
        table(COLUMNS, [_row(r) for r in plan.rows])
        for line in plan.lines:
            print(line)
    size = " × ".join(f"{s:.1f}" for s in plan.size)
    say(f"Wrote {output} ({written.triangles:,} triangles, {size} mm, about {plan.minutes:.0f} minutes of printing).")
    return DONE


def coupon_json(plan: Any) -> dict[str, Any]:
    """What the coupon carries, lengths mm, volume mm³."""
    return {
        "rows": [
            {
                "row": r.number, "graded": r.about, "teeth": r.teeth, "pitch_mm": round(r.pitch, 4),
                "foot_mm": round(r.foot, 4), "tip_mm": round(r.tip, 4), "thickness_mm": round(r.thickness, 4),
                "height_mm": round(r.height, 4), "clear_bridge_mm": round(r.clear_bridge, 4),
            }
            for r in plan.rows
        ],
        "size_mm": [round(s, 3) for s in plan.size],
        "volume_mm3": round(plan.volume, 2),
        "minutes": round(plan.minutes, 1),
    }  # fmt: skip


def _row(r: Any) -> tuple[str, ...]:
    figures = (r.pitch, r.foot, r.tip, r.thickness, r.height, r.clear_bridge)
    return (str(r.number), r.about, str(r.teeth), *(f"{f:.2f}" for f in figures))
