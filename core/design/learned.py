"""What a printed coupon or a finished print has taught about one printer, in place of our own figures."""

from __future__ import annotations

from dataclasses import dataclass

from core.design.materials import Range


@dataclass(frozen=True)
class Learned:
    """Figures measured by the person; None where nothing was learned and the setup's own figure stays.

    ``least_printable`` mm; ``clear_bridge`` mm; ``strength`` MPa of a neck, low to high; ``fingers`` N, the greatest
    rocking force, as worked out here with that strength, that still went by hand. ``source`` names it beside a limit.
    """

    least_printable: float | None = None
    clear_bridge: float | None = None
    strength: Range | None = None
    fingers: float | None = None
    source: str = "your coupon"


#: Nothing learned yet.
UNTAUGHT = Learned()
