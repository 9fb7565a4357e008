"""The table of odd and hostile files: every one is right, asks, or is refused by name. None is thinned in silence."""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
import pytest

from core.errors import NeedsChoice, RefusedFile, UnreadableFile
from core.files.read import read_part
from tests.files import hostile_3mf, hostile_obj, hostile_ply, hostile_stl
from tests.files.build import Ask, Refuse, Right

CASES = [*hostile_stl.CASES, *hostile_obj.CASES, *hostile_ply.CASES, *hostile_3mf.CASES]

SECONDS = 2.0
MEMORY = 300 << 20
TOO_LONG_TO_TRACE = 0.5
"""Seconds: tracing every allocation makes it ten times as long."""


def test_there_are_at_least_two_hundred():
    assert len(CASES) >= 200
    assert len({(c.suffix, c.name) for c in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.suffix[1:]} {c.name}")
def test_outcome(case, tmp_path):
    path = tmp_path / f"hood{case.suffix}"
    path.write_bytes(case.data())
    started = time.process_time()  # of all threads: what else the machine does is no matter
    _vet(path, case.outcome)
    spent = time.process_time() - started
    assert spent < SECONDS
    if spent > TOO_LONG_TO_TRACE:
        return
    tracemalloc.start()
    try:
        _vet(path, case.outcome)
        assert tracemalloc.get_traced_memory()[1] < MEMORY
    finally:
        tracemalloc.stop()


def _vet(path, outcome):
    match outcome:
        case Right(triangles, volume, says):
            part = read_part(path)
            assert len(part.mesh.triangles) == triangles
            if volume is not None:
                assert part.mesh.volume == pytest.approx(volume, rel=2e-6)
            for words in says:
                assert words in " ".join(part.notes)
            assert part.source is not None
            assert np.isfinite(part.mesh.vertices).all()
        case Ask(then):
            with pytest.raises(NeedsChoice) as asked:
                read_part(path)
            assert set(asked.value.choices) == set(then)
            for choice, triangles in then.items():
                part = read_part(path, choice=choice)
                assert len(part.mesh.triangles) == triangles
                assert part.source.choice == choice
        case Refuse(words):
            with pytest.raises((UnreadableFile, RefusedFile)) as refused:
                read_part(path)
            assert path.name in str(refused.value)
            assert refused.value.next_step
            for word in words:
                assert word in str(refused.value)
