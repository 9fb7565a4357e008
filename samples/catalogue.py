"""All samples: which part, how it stands in its file, and the two lines said about it on the start page."""

from __future__ import annotations

from samples import hood
from samples.record import Sample
from samples.solids import placement

HOOD_PLACE = placement(27.3, (41.37, -18.92, 0.0))


def everything() -> list[Sample]:
    """Every sample, built anew."""
    everyday = ("rain_hood", "Lip over a fin", "the everyday case")
    inch = ("rain_hood_inch", "The hood in inches", "a file that does not say so")
    sloping = ("sloping_hood", "Sloping fin", "the gap grows along the lip")
    return [
        hood.sample(everyday, hood.Hood(), HOOD_PLACE),
        hood.sample(inch, hood.Hood(), HOOD_PLACE, "inch"),
        hood.sample(sloping, hood.Hood(1.0, 3.0), placement(-141.8, (-12.4, 96.1, 0.0))),
    ]
