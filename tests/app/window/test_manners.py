"""Measuring, seating, dropping a file, and the question about work that would be lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

from app.window import Window
from core.files.write import write_part
from core.geometry.pose import as_filed
from samples import sample_path
from tests import meshes
from tests.app.window.conftest import Hand

Opened = Callable[[Path], Window]


@pytest.fixture
def block(tmp_path: Path) -> Path:
    """A block of 10 × 20 × 30 mm."""
    path = tmp_path / "block.stl"
    write_part(meshes.box(), path, unit="millimeter", name="block")
    return path


def test_two_clicked_corners_are_measured_and_can_be_copied(opened: Opened, hand: Hand, block: Path) -> None:
    window = opened(block)
    QTest.keyClick(window, Qt.Key.Key_M)
    window.view.view_named("front")
    window.view.finish()
    hand.click(np.array([0.0, 0, 0]))
    hand.click(np.array([10.0, 0, 30]))
    # Pythagoras: √(10² + 30²) = 31.62.
    assert window.scene.measure_words() == "Distance 31.62 mm, dx 10.00, dy 0.00, dz 30.00"
    QTest.keyClick(window, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == window.scene.measure_words()
    QTest.keyClick(window, Qt.Key.Key_Escape)
    assert window.bench.view.mode == "pick"
    assert not window.bench.view.measured


def test_a_clicked_face_is_seated_on_the_bed_and_undo_brings_it_back(
    opened: Opened, hand: Hand, until: Callable[..., None], block: Path
) -> None:
    window = opened(block)
    before = window.bench.job.pose
    QTest.keyClick(window, Qt.Key.Key_S)
    window.view.view_named("right")
    window.view.finish()
    hand.click(np.array([10.0, 10, 15]))
    until(lambda: window.bench.job.pose != before)
    assert np.ptp(window.bench.bed_mesh().bounds, axis=0)[2] == pytest.approx(10)
    np.testing.assert_array_equal(window.bench.job.part.mesh.bounds, [[0, 0, 0], [10, 20, 30]])  # the file is untouched
    window.store.undo()
    assert window.bench.job.pose == before == as_filed(window.bench.job.part.mesh)


def test_working_axes_are_only_for_looking(opened: Opened, hand: Hand, until: Callable[..., None]) -> None:
    window = opened(sample_path("rain_hood"))
    found = window.bench.results.inspection
    pose = window.bench.job.pose
    QTest.keyClick(window, Qt.Key.Key_L)
    middle = window.bench.bed_mesh().bounds.mean(axis=0)
    screen, _ = window.view.lens().project(middle[None])
    QTest.mouseClick(window.view, Qt.MouseButton.LeftButton, pos=QPointF(*screen[0]).toPoint())
    until(lambda: window.bench.job.working is not None)
    until(lambda: not window.runner.busy("inspect"))
    assert window.bench.job.pose == pose
    assert window.bench.results.inspection is found  # nothing was diagnosed again


def test_a_dropped_file_is_opened(window: Window, until: Callable[..., None], block: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(block))])
    buttons, keys = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.dropEvent(QDropEvent(QPointF(300, 300), Qt.DropAction.CopyAction, data, buttons, keys))
    until(lambda: window.bench.job is not None)
    assert window.bench.job.part.name.startswith("block")


@pytest.mark.parametrize(("answer", "closed"), [("Cancel", False), ("Discard", True)])
def test_unsaved_work_is_asked_about(
    opened: Opened, until: Callable[..., None], answer: str, closed: bool
) -> None:
    window = opened(sample_path("rain_hood"))
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: window.bench.draft_design() is not None)
    window.bench.add_row()
    assert window.store.unsaved

    def reply() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        next(b for b in box.buttons() if answer in b.text()).click()

    QTimer.singleShot(200, reply)
    window.put_away()
    assert (window.bench.job is None) == closed


def test_a_file_that_is_none_is_said_and_the_work_stays(
    opened: Opened, until: Callable[..., None], tmp_path: Path
) -> None:
    window = opened(sample_path("rain_hood"))
    job = window.bench.job
    bad = tmp_path / "broken.stl"
    bad.write_bytes(b"solid nothing\nfacet\n")
    window.open(bad)
    until(window.banner.isVisible)
    assert "broken.stl" in window.banner.text.text()
    assert window.bench.job is job


def test_a_part_with_nothing_weak_says_so_and_offers_nothing(opened: Opened, block: Path) -> None:
    window = opened(block)
    body = window.sheet.bodies[3]
    assert "Nothing here will sag" in body.words.text()
    assert body.take.isHidden()
    assert body.figure() == "none"


def test_fine_as_it_is_can_be_undone(opened: Opened, until: Callable[..., None]) -> None:
    window = opened(sample_path("busy_panel"))
    body = window.sheet.bodies[3]
    assert body.figure() == "3 of 3 open"
    QTest.mouseClick(body.fine, Qt.MouseButton.LeftButton)
    until(lambda: body.figure() == "2 of 3 open")
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    until(lambda: body.figure() == "3 of 3 open")


def test_both_themes_are_drawn(window: Window) -> None:
    light = window.grab().toImage().pixelColor(5, 200).name()
    QTest.keyClick(window, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    QApplication.processEvents()
    dark = window.grab().toImage().pixelColor(5, 200).name()
    QTest.keyClick(window, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    assert (light, dark) == ("#f8f5ee", "#1d2023")
