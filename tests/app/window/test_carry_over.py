"""Rows carried over to a newer file in the window: looked at before anything is taken, and undone in one step.

The parts are shelves of stated heights on a wall, so where each row must go is known from their dimensions.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QFileDialog, QLineEdit

from app.panels.revision_dialog import RevisionDialog
from app.panels.widgets import ThemedLabel
from app.spots import entries
from app.window import Window
from core.design.plan import RowWishes
from core.files.write import write_part
from core.geometry.mesh import Mesh
from core.geometry.polyline import Polyline
from core.job.job import Job, Pick, add_rows
from core.job.job_file import save_job
from tests.meshes import box, joined


def shelves(folder: Path, name: str, *heights: float, wide: float = 40.0) -> Path:
    """Shelves of a width at these heights, each over a ledge 1.5 mm below its front edge, and a knob."""
    boards = [box((0, -8, z), (wide, 1, z + 1)) for z in heights]
    ledges = [box((0, -8, z - 2.5), (wide, -6.5, z - 1.5)) for z in heights]
    posts = [box((-3, -8, 0), (0, 1, 60)), box((5, 3, 50), (9, 6, 57))]
    mesh: Mesh = joined([box((0, 0, 0), (max(wide, 40.0), 3, 60)), *posts, *boards, *ledges])
    write_part(mesh, folder / name, unit="millimeter", name=name)
    return folder / name


def with_row(job: Job, *heights: float) -> Job:
    return add_rows(job, tuple((Pick(Polyline(((1.0, -8.0, z), (39.0, -8.0, z)))), RowWishes()) for z in heights))


@pytest.fixture
def shelf(opened: Callable[[Path], Window], tmp_path: Path) -> Window:
    """A job with a row below the one shelf."""
    window = opened(shelves(tmp_path, "old.stl", 30.0))
    window.store.apply("row", lambda job: with_row(job, 30.0))
    window.banner.hide()
    return window


def asked(window: Window, path: Path, until: Callable[..., None]) -> RevisionDialog:
    """Choose the action, answer its file dialog, and wait for the table."""
    window.side.revision = None

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        if not isinstance(dialog, QFileDialog):  # a busy machine may take longer to open it
            QTimer.singleShot(100, answer)
            return
        box_ = dialog.findChild(QLineEdit, "fileNameEdit")
        box_.selectAll()
        QTest.keyClicks(box_, str(path))
        QTest.mouseClick(dialog.findChild(QDialogButtonBox).buttons()[0], Qt.MouseButton.LeftButton)

    QTimer.singleShot(300, answer)
    window.actions_by_name["carry_over"].trigger()
    until(lambda: window.side.revision is not None)
    assert window.side.revision is not None
    return window.side.revision


def texts(dialog: RevisionDialog) -> str:
    return " ".join(label.text() for label in dialog.findChildren(ThemedLabel))


def test_nothing_is_taken_before_it_is_looked_at_and_one_undo_brings_it_back(
    shelf: Window, until: Callable[..., None], tmp_path: Path
) -> None:
    before = shelf.store.job
    dialog = asked(shelf, shelves(tmp_path, "new.stl", 32.0), until)
    words = texts(dialog)
    assert "moved: its edge went 2.00 mm up" in words
    assert shelf.store.job is before
    QTest.mouseClick(dialog.take_button, Qt.MouseButton.LeftButton)
    job = shelf.store.job
    assert job.part.name == "new"
    assert job.rows[0].pick.edge.array[:, 2] == pytest.approx(32.0, abs=0.05)
    until(lambda: shelf.bench.results.inspection is not None and shelf.bench.results.proof is not None)
    assert shelf.bench.results.inspected.part is job.part
    shelf.actions_by_name["undo"].trigger()
    assert shelf.store.job is before
    until(lambda: shelf.bench.results.edges is not None and shelf.bench.results.inspection is not None)
    shelf.actions_by_name["redo"].trigger()
    assert shelf.store.job is job
    shelf.store.mark_saved()


def test_leaving_the_table_takes_nothing(shelf: Window, until: Callable[..., None], tmp_path: Path) -> None:
    before, steps = shelf.store.job, shelf.store.history
    dialog = asked(shelf, shelves(tmp_path, "new.stl", 32.0), until)
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    assert (shelf.store.job, shelf.store.history) == (before, steps)
    shelf.store.mark_saved()


def test_a_longer_shelf_is_told_as_changed_side_by_side(
    shelf: Window, until: Callable[..., None], tmp_path: Path
) -> None:
    dialog = asked(shelf, shelves(tmp_path, "wider.stl", 30.0, wide=46.0), until)
    words = texts(dialog)
    assert "changed" in words
    (row,) = dialog.revision.rows
    assert f"{row.before.length:.2f}" in words
    assert f"{row.after.length:.2f}" in words
    assert row.after.length - row.before.length == pytest.approx(6.0, abs=0.2)
    dialog.reject()
    shelf.store.mark_saved()


def test_a_row_in_doubt_stays_out_until_a_place_is_chosen(
    shelf: Window, until: Callable[..., None], tmp_path: Path
) -> None:
    dialog = asked(shelf, shelves(tmp_path, "two.stl", 27.0, 33.0), until)
    assert "in doubt" in texts(dialog)
    choice = dialog.choices[1]
    assert choice.currentText() == "leave it out"
    assert "0 of 1 rows go on" in dialog.summary.text()
    place = next(i for i in range(choice.count()) if choice.itemText(i).endswith("33.0"))
    choice.setCurrentIndex(place)
    choice.activated.emit(place)
    assert "1 of 1 rows go on" in dialog.summary.text()
    dialog.decide()
    assert shelf.store.job.rows[0].pick.edge.array[:, 2] == pytest.approx(33.0, abs=0.05)
    shelf.store.mark_saved()


def test_an_edge_that_is_gone_is_said_and_stays_out(shelf: Window, until: Callable[..., None], tmp_path: Path) -> None:
    shelf.store.apply("more", lambda job: job)
    dialog = asked(shelf, shelves(tmp_path, "bare.stl"), until)
    words = texts(dialog)
    assert "gone" in words
    assert "stays out" in words
    dialog.decide()
    assert shelf.store.job.rows == ()
    shelf.store.mark_saved()


def test_the_former_job_file_is_not_written_over(shelf: Window, until: Callable[..., None], tmp_path: Path) -> None:
    former = tmp_path / "old.snapcomb.json"
    shelf.keep.job_path = former
    asked(shelf, shelves(tmp_path, "new.stl", 32.0), until).decide()
    assert shelf.keep.job_path is None
    shelf.actions_by_name["undo"].trigger()
    assert shelf.keep.job_path == former
    shelf.store.mark_saved()


def test_a_job_file_whose_mesh_is_gone_is_opened_on_a_newer_one(
    shelf: Window, until: Callable[..., None], tmp_path: Path
) -> None:
    kept = tmp_path / "kept.snapcomb.json"
    save_job(shelf.store.job, kept)
    shelf.store.mark_saved()
    shelf.bench.close()
    (tmp_path / "old.stl").unlink()
    newer = shelves(tmp_path, "new.stl", 32.0)
    shelf.open(kept)
    until(shelf.banner.isVisible)
    assert "find" in shelf.banner.buttons
    shelf.side.revision = None

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        if not isinstance(dialog, QFileDialog):
            QTimer.singleShot(100, answer)
            return
        dialog.findChild(QLineEdit, "fileNameEdit").setText(str(newer))
        QTest.mouseClick(dialog.findChild(QDialogButtonBox).buttons()[0], Qt.MouseButton.LeftButton)

    QTimer.singleShot(300, answer)
    shelf.banner.buttons["find"].click()
    until(lambda: shelf.side.revision is not None)
    assert shelf.store.job is None
    shelf.side.revision.decide()
    assert [r.number for r in shelf.store.job.rows] == [1]
    assert shelf.store.unsaved
    shelf.store.mark_saved()


def test_without_a_row_there_is_nothing_to_carry(opened: Callable[[Path], Window], tmp_path: Path) -> None:
    window = opened(shelves(tmp_path, "old.stl", 30.0))
    window.actions_by_name["carry_over"].trigger()
    assert "no row to carry over" in window.banner.text.text()


def test_a_spot_is_treated_by_the_row_that_is_there_whatever_its_gap_was_called(
    shelf: Window, until: Callable[..., None], tmp_path: Path
) -> None:
    """On the newer file there is a second shelf whose gap takes the name of the first; only one has the row."""
    asked(shelf, shelves(tmp_path, "two.stl", 31.0, 12.0), until).decide()
    until(lambda: shelf.bench.results.inspection is not None and len(shelf.bench.results.inspection.gaps) == 2)
    told = {entry.gap: entry.open for entry in entries(shelf.bench)}
    upper = max(shelf.bench.results.inspection.gaps, key=lambda g: g.span.edge_line.array[0, 2])
    assert {gap for gap, waits in told.items() if not waits} == {upper.id}
    assert len(shelf.bench.open_gaps()) == 1
    shelf.store.mark_saved()
