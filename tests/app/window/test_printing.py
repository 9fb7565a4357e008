"""The job sheet from the menu: in the window's own thread, and in a worker process as it is done in earnest."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QFileDialog, QLineEdit

from app.printing import make
from app.window import Window
from app.work.runner import WorkerRunner
from core.design.plan import RowWishes
from core.files.read import read_part
from core.geometry.polyline import Polyline
from core.job.job import Job, Pick, add_rows, new_job
from samples import sample_path, truth


def job_with_a_row() -> Job:
    gap = next(g for g in truth()["samples"]["rain_hood"]["gaps"] if g["id"] == "front_lip")
    part = read_part(sample_path("rain_hood"))
    return add_rows(new_job(part), ((Pick(Polyline.of(gap["edge"])), RowWishes()),))


def test_the_menu_asks_for_a_name_and_the_sheet_is_made(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path
) -> None:
    window = opened(sample_path("rain_hood"))
    window.store.apply("row", lambda job: add_rows(job, job_with_a_row_pick()))
    path = tmp_path / "sheet.pdf"

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, QFileDialog)
        box = dialog.findChild(QLineEdit, "fileNameEdit")
        assert box.text() == "rain_hood_job_sheet.pdf"
        box.selectAll()
        QTest.keyClicks(box, str(path))
        accept = dialog.findChild(QDialogButtonBox).buttons()[0]
        assert "Print" in accept.text()
        QTest.mouseClick(accept, Qt.MouseButton.LeftButton)

    QTimer.singleShot(300, answer)
    window.actions_by_name["print_sheet"].trigger()
    until(path.exists)
    until(lambda: not window.runner.busy("sheet"))
    words = " ".join(pypdf.PdfReader(path).pages[0].extract_text().split())
    assert "rain_hood" in words
    assert "row 1" in words  # the inspection that was there tells what is done about the weak spot
    window.store.mark_saved()


def job_with_a_row_pick() -> tuple[tuple[Pick, RowWishes], ...]:
    return tuple((row.pick, row.wishes) for row in job_with_a_row().rows)


def test_without_a_row_the_window_says_so(opened: Callable[[Path], Window], tmp_path: Path) -> None:
    window = opened(sample_path("rain_hood"))
    window.actions_by_name["print_sheet"].trigger()
    assert "no row of teeth" in window.banner.text.text()


def test_a_place_that_cannot_be_written_is_told(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path
) -> None:
    window = opened(sample_path("rain_hood"))
    window.store.apply("row", lambda job: add_rows(job, job_with_a_row_pick()))
    make(window, tmp_path / "nowhere" / "sheet.pdf")
    until(lambda: not window.runner.busy("sheet"))
    assert "folder is not there" in window.banner.text.text()
    window.store.mark_saved()


def test_a_worker_process_draws_it(looked: QApplication, until: Callable[..., None], tmp_path: Path) -> None:
    runner, answers = WorkerRunner(), []
    try:
        runner.post(
            "sheet", "sheet", job_with_a_row(), tmp_path / "sheet.html", None, None,
            then=answers.append, fail=answers.append,
        )  # fmt: skip
        until(lambda: answers, 120)
    finally:
        runner.close()
    assert answers == [()]
    assert "<svg" in (tmp_path / "sheet.html").read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def _quiet(window: Window) -> None:
    window.banner.hide()
