"""The forms that a tooth can have: our own, and those that other packages bring."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from core.design.row import SHAPES, Shape
from core.errors import BadValue
from core.extensions import SHAPES as GROUP
from core.extensions import offered
from core.geometry.mesh import F64

#: The most rows of corners a flank may have; from memory: a hundred teeth of it are then still small.
MOST_ROWS = 400
#: How far off foot and tip may be, mm.
_SAME = 1e-6

Flank = Callable[[float, float, float], tuple[F64, F64]]


@dataclass(frozen=True)
class ToothShape:
    """A form that another package adds, by the entry point group ``snapcomb.shapes``.

    ``name`` is the word in job files and commands, ``words`` what lists show. ``flank`` is called with foot, tip and
    gap (mm) and gives heights (m,) from 0 at the ledge to the gap at the edge, rising, and half widths (m,) there, from
    foot / 2 to tip / 2 and nowhere growing: a tooth that grows towards the edge would need support itself.
    """

    name: str
    words: str
    flank: Flank


def added_shapes() -> tuple[ToothShape, ...]:
    """Forms that installed packages add; a name that is one of ours, or used twice, counts only once."""
    known: dict[str, ToothShape] = {}
    for shape in offered(GROUP, ToothShape):
        if shape.name not in SHAPES:
            known.setdefault(shape.name, shape)
    return tuple(known.values())


def shape_names() -> tuple[Shape, ...]:
    """The words for all forms, our own first."""
    return (*SHAPES, *(shape.name for shape in added_shapes()))


def vet_shape(name: str) -> None:
    """Raise BadValue for a form that nothing here knows."""
    if name not in shape_names():
        known = ", ".join(n.replace("_", "-") for n in shape_names())
        raise BadValue(
            f"Nothing here knows teeth of the shape “{name}”.", f"Install the package that adds it. Known are {known}."
        )


def added_flank(name: str, foot: float, tip: float, gap: float) -> tuple[F64, F64]:
    """A flank of an added form: heights and half widths (m,), mm. Raises BadValue for one that makes no solid."""
    vet_shape(name)
    shape = next(s for s in added_shapes() if s.name == name)
    try:
        y, half = (np.asarray(values, np.float64) for values in shape.flank(foot, tip, gap))
    except Exception as error:  # whatever a foreign package does
        raise _refused(shape, f"it ends with {type(error).__name__}") from error
    if y.ndim != 1 or y.shape != half.shape or not 2 <= len(y) <= MOST_ROWS:
        raise _refused(shape, f"it must give 2 to {MOST_ROWS} heights and as many half widths")
    if not (np.isfinite(y).all() and np.isfinite(half).all() and (np.diff(y) > 0).all()):
        raise _refused(shape, "its heights must rise")
    if abs(y[0]) > _SAME or abs(y[-1] - gap) > _SAME:
        raise _refused(shape, "its heights must go from the ledge to the edge")
    if abs(half[0] - foot / 2) > _SAME or abs(half[-1] - tip / 2) > _SAME:
        raise _refused(shape, "it must be as wide as the foot at the ledge and as the tip at the edge")
    if (np.diff(half) > _SAME).any() or (half <= 0).any():
        raise _refused(shape, "it must nowhere grow towards the edge, and have a width everywhere")
    return y, half


def _refused(shape: ToothShape, why: str) -> BadValue:
    return BadValue(f"The added tooth shape “{shape.words}” cannot be built: {why}.", "Choose another shape.")
