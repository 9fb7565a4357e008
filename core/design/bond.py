"""Joining teeth to the part: as lapped shells that leave every original facet alone, or as one skin."""

from __future__ import annotations

from typing import Literal

from core.geometry.mesh import Mesh, joined
from core.geometry.skin import added_to, one_surface

Bond = Literal["shells", "skin"]


def bonded(part: Mesh, teeth: list[Mesh], bond: Bond, mm_per_unit: float = 1.0) -> Mesh:
    """The part with its teeth (all mm, one frame). Lapped shells come after the part's own triangles, in order.

    Raises NotASolid when one skin is asked of a part that is not closed.
    """
    if bond == "shells" or not teeth:
        return joined([part, *teeth])
    return added_to(one_surface(part), teeth, mm_per_unit)
