"""What other installed packages add: tooth shapes, materials and file formats, found by their entry points.

A package offers an object by a line in its metadata, one group for each kind. What cannot be loaded, or is not of its
kind, is left out and told, so that a package that is broken never keeps the program from working.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.metadata import EntryPoint, entry_points
from typing import Final, TypeVar

SHAPES: Final = "snapcomb.shapes"
MATERIALS: Final = "snapcomb.materials"
FORMATS: Final = "snapcomb.formats"
GROUPS: Final = (SHAPES, MATERIALS, FORMATS)

T = TypeVar("T")


@lru_cache
def _loaded(group: str) -> tuple[tuple[str, object], ...]:
    """What a group offers, by the name of its package; an exception where it could not be loaded."""
    out: list[tuple[str, object]] = []
    for point in sorted(entry_points(group=group), key=lambda p: (p.name, p.value)):
        try:
            out.append((_owner(point), point.load()))
        except Exception as error:  # whatever a foreign package does
            out.append((_owner(point), error))
    return tuple(out)


def offered(group: str, kind: type[T]) -> tuple[T, ...]:
    """The objects of a kind that installed packages offer in a group, in the order of their names."""
    return tuple(thing for _, thing in _loaded(group) if isinstance(thing, kind))


def owners() -> tuple[tuple[str, str, object], ...]:
    """Everything that is offered: its group, its package, and the object or what went wrong in loading it."""
    return tuple((group, owner, thing) for group in GROUPS for owner, thing in _loaded(group))


def look_again() -> None:
    """Forget what was found, for packages that were installed meanwhile."""
    _loaded.cache_clear()


def _owner(point: EntryPoint) -> str:
    return point.dist.name if point.dist is not None else point.value
