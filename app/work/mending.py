"""Worker tasks about what is wrong with a mesh: finding it, and mending what the person chose."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from app.work.context import Context
from core.geometry.defects import Defect, find_defects
from core.geometry.part import Part
from core.geometry.repair import Repair


def defects(context: Context, part: Part) -> tuple[Defect, ...]:
    """What is wrong with the mesh of a part."""
    return find_defects(part.topology)


def mend(context: Context, part: Part, repair: Repair) -> Part:
    """The part with one repair done. Raises MeshProblem, and NotASolid for shells that cannot be united."""
    return part.mended(repair)


TASKS: dict[str, Callable[..., Any]] = {"defects": defects, "mend": mend}
