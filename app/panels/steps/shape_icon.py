"""The icon of a tooth shape that another package adds, drawn from its own flank as ours are."""

from __future__ import annotations

from app.look.icons import put_icon
from app.look.tokens import LIGHT
from core.design.shapes import ToothShape, added_flank
from core.errors import SnapcombError

#: The tooth of the icon: foot, tip and gap in units of the drawing, its middle, and the height of ledge and edge.
FOOT, TIP, GAP, MIDDLE, LEDGE, EDGE = 16.0, 4.0, 15.0, 12.0, 19.5, 4.5


def shape_icon(shape: ToothShape) -> str:
    """Draw the icon and return its name; a shape that cannot be drawn has that of a straight tooth."""
    try:
        y, half = added_flank(shape.name, FOOT, TIP, GAP)
    except SnapcombError:
        return "tooth_straight"
    left = [f"{MIDDLE - x:.2f} {LEDGE - h:.2f}" for h, x in zip(y, half, strict=True)]
    right = [f"{MIDDLE + x:.2f} {LEDGE - h:.2f}" for h, x in zip(y[::-1], half[::-1], strict=True)]
    lines = "".join(f'<path d="M2.5 {h}H21.5" stroke="{LIGHT.ink}" stroke-width="0.9"/>' for h in (EDGE, LEDGE))
    name = f"tooth_{shape.name}"
    put_icon(name, (
        '<svg xmlns="http://www.w3.org/2000/svg" width="24" height="24" viewBox="0 0 24 24" fill="none" '
        f'stroke-linejoin="round"><path d="M{"L".join([*left, *right])}" stroke="{LIGHT.tooth}" stroke-width="1.6"/>'
        f"{lines}</svg>"
    ).encode())  # fmt: skip
    return name
