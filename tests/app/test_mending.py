"""Repairs are found and done in a worker process; what comes back is the part with its mesh as filed beside it."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

from app.work.runner import WorkerRunner
from core.errors import MeshProblem, SnapcombError
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import joined
from core.geometry.repair import Repair
from tests.meshes import ball, box, flipped


def asked(runner: WorkerRunner, lane: str, *args: Any) -> Any:
    answers: list[Any] = []
    runner.post(lane, lane, *args, then=answers.append, fail=answers.append)
    end = time.monotonic() + 120
    while not answers:
        assert time.monotonic() < end
        QApplication.processEvents()
        time.sleep(0.005)
    return answers[0]


def test_a_part_is_looked_through_and_mended_in_the_worker(looked: QApplication, tmp_path: Path) -> None:
    wrong = joined([ball(), flipped(box((30, 0, 0), (40, 10, 10))), box((35, 0, 0), (45, 10, 10))])
    write_part(wrong, tmp_path / "wrong.stl", unit="millimeter", name="wrong")
    part = read_part(tmp_path / "wrong.stl")
    runner = WorkerRunner()
    try:
        (defect,) = asked(runner, "defects", part)
        assert (defect.fix, defect.count) == ("turn", 1)
        better = asked(runner, "mend", part, Repair("turn"))
        assert better.repairs == (Repair("turn"),)
        assert better.source == part.source
        assert np.array_equal(better.filed.triangles, part.mesh.triangles)
        assert better.mesh.volume == pytest.approx(part.mesh.volume + 2000.0)
        (overlap,) = asked(runner, "defects", better)
        assert overlap.fix == "unite"
        whole = asked(runner, "mend", better, Repair("unite"))
        assert whole.repairs == (Repair("turn"), Repair("unite"))
        assert whole.mesh.volume == pytest.approx(better.mesh.volume - 500.0, rel=1e-6)
        assert np.array_equal(whole.unmended().mesh.triangles, part.mesh.triangles)
        refused = asked(runner, "mend", whole, Repair("double"))
        assert isinstance(refused, MeshProblem)
        assert isinstance(refused, SnapcombError)
    finally:
        runner.close()
