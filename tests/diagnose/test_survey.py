"""The survey leaves nothing out in silence."""

from __future__ import annotations

import numpy as np
import pytest

from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.diagnose.survey import MOST_SPANS
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.pose import as_filed
from tests.meshes import bar_over_ledge


@pytest.mark.parametrize("count", [2, MOST_SPANS + 5, 2 * MOST_SPANS + 5])
def test_gaps_beyond_the_most_that_are_measured_are_told_in_a_note(count: int) -> None:
    one = bar_over_ledge().mesh
    bars = joined([Mesh(one.vertices + np.float64([0, 30 * i, 0]), one.triangles) for i in range(count)])
    found = inspect_part(Part("bars", bars), as_filed(bars), PrintSetup())
    assert len(found.gaps) == min(count, 2 * MOST_SPANS)
    told = [n for n in found.notes if "Not every place" in n]
    assert bool(told) == (len(found.gaps) < count)
