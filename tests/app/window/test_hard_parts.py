"""Parts with hard edges put right by hand in the window: take what is listed, one after the other, and hand over.

What was written is read back and inspected afresh, as another person would.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.panels.job_sheet import SPOTS
from app.window import Window
from core.diagnose.inspection import inspect_part
from core.files.read import read_part
from core.files.write import write_part
from core.job.job import new_job
from core.job.pipeline import RowDesign
from samples import sample_path
from tests.job.hard_parts import MADE, named

#: More clicks than this do not go into a minute. From memory: one every two seconds.
CLICKS = 30


@pytest.mark.parametrize("name", ["bare_bracket", "round_shroud", *MADE])
def test_a_part_is_put_right_in_under_a_minute_of_clicks(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path, name: str
) -> None:
    source = tmp_path / f"{name}.stl"
    if name in ("bare_bracket", "round_shroud"):
        source.write_bytes(sample_path(name).read_bytes())
    else:
        write_part(named(name).mesh, source, unit="millimeter", name=name)
    window = opened(source)
    bench, spots = window.bench, window.sheet.bodies[SPOTS]
    assert bench.results.inspection.weak_spots
    clicks = 0
    while (waiting := next((i for i, e in enumerate(listed(window)) if e.open), None)) is not None:
        spots.list.setCurrentRow(waiting)
        before = len(bench.job.rows)
        QTest.mouseClick(spots.take, Qt.MouseButton.LeftButton)
        clicks += 2
        until(lambda before=before: bench.job.draft is not None or len(bench.job.rows) > before)
        if bench.job.draft is not None:
            until(lambda: bench.draft_design() is not None)
            bench.add_row()
            clicks += 1
        assert clicks <= CLICKS
    until(lambda: all(isinstance(bench.row_design(r), RowDesign) for r in bench.job.rows))
    bench.hand_over(tmp_path / "out.stl")
    until(lambda: bench.results.handed is not None)
    after = read_part(tmp_path / "out.stl", unit="millimeter")
    assert inspect_part(after, new_job(after).pose, bench.job.setup).weak_spots == ()


def listed(window: Window) -> list:
    """The lines of the list of weak spots, shown."""
    window.sheet.unfold(SPOTS)
    QApplication.processEvents()
    return window.sheet.bodies[SPOTS]._entries
