"""All samples: which part, how it stands in its file, and the two lines said about it on the start page."""

from __future__ import annotations

from samples import bracket, hood, panel, shroud
from samples.record import Sample
from samples.solids import placement

HOOD_PLACE = placement(27.3, (41.37, -18.92, 0.0))


def everything() -> list[Sample]:
    """Every sample, built anew."""
    everyday = ("rain_hood", "Lip over a fin", "the everyday case")
    rim = ("round_shroud", "Round rim", "a closed row")
    bare = ("bare_bracket", "Bare bracket", "builds the fin too")
    busy = ("busy_panel", "Busy panel", "three problems among many details")
    inch = ("rain_hood_inch", "The hood in inches", "a file that does not say so")
    sloping = ("sloping_hood", "Sloping fin", "the gap grows along the lip")
    return [
        hood.sample(everyday, hood.Hood(), HOOD_PLACE),
        shroud.sample(rim, placement(-63.9, (-8.6, 54.2, -7.25))),
        bracket.sample(bare, placement(112.4, (33.3, 71.9, 4.5))),
        hood.sample(sloping, hood.Hood(1.0, 3.0), placement(-141.8, (-12.4, 96.1, 0.0))),
        panel.sample(busy, placement(71.7, (12.8, -41.9, 2.75))),
        hood.sample(inch, hood.Hood(), HOOD_PLACE, "inch"),
    ]
