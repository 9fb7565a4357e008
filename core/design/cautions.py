"""What to mind when a coupon or a trial piece is broken apart. Common practice, no source."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Wear eye protection: small pieces fly. Let nozzle, bed and part cool first. The stubs are sharp.",
    "Keep the pieces away from children.",
    "A scar weakens: have a part that carries a load or keeps somebody safe checked by someone qualified, and follow "
    "the rules that hold where you are.",
    "What it tells is an estimate for your printer and this filament.",
)
