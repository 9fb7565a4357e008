"""Which stretch of an edge is used, on profiles whose answer can be read off."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from core.design.ledge import best_stretch
from core.design.probe import Look, Probe
from core.design.setup import PrintSetup
from core.errors import SpanProblem


def stretch(gaps: list[float]) -> tuple[int, int]:
    """The stretch for an edge at height 10 whose ledge lies that far below at stations 0.3 mm apart."""
    floor = 10.0 - np.array(gaps)
    probe = SimpleNamespace(s=0.3 * np.arange(len(floor)), z=np.full(len(floor), 10.0))
    return best_stretch(cast(Probe, probe), cast(Look, None), floor, PrintSetup())


def test_the_longest_of_the_near_ledges_is_used() -> None:
    assert stretch([1.2] * 10 + [9.0] * 30 + [1.3] * 20) == (40, 59)


def test_what_lies_above_the_edge_is_no_ledge() -> None:
    assert stretch([-3.0] * 30 + [1.2] * 10) == (30, 39)


def test_an_edge_whose_ledges_all_lie_above_it_is_refused_in_words() -> None:
    with pytest.raises(SpanProblem, match="could not be measured"):
        stretch([-0.6] * 10 + [-2.5] * 10)
