"""The whole job in the running window, with real mouse and key events, on the sample with the free lip."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QFileDialog, QLineEdit, QPushButton

from app.panels.job_sheet import HAND_OVER, TEETH
from app.panels.widgets.card import Card
from app.window import Window
from samples import sample_path, truth
from tests.app.window.conftest import Hand

HOOD = truth()["samples"]["rain_hood"]
#: A little from below, so that the lip is seen.
LOWER = np.array([0, 0, 0.35])
LIP = np.array(next(g for g in HOOD["gaps"] if g["id"] == "front_lip")["lip"])


def on_bed(window: Window, point: np.ndarray) -> np.ndarray:
    job = window.bench.job
    assert job is not None
    return job.pose.apply(point)


def click(button: QPushButton) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    QApplication.processEvents()


def test_four_actions_from_file_to_patched_mesh(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path
) -> None:
    original = tmp_path / "rain_hood.stl"
    original.write_bytes(sample_path("rain_hood").read_bytes())
    window = opened(original)  # 1 open
    QTest.keyClick(window, Qt.Key.Key_Return)  # 2 take the worst
    until(lambda: window.bench.draft_design() is not None)
    assert window.sheet.unfolded() == TEETH  # 3 look
    QTest.keyClick(window, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)  # 4 hand over
    until(lambda: window.bench.results.handed is not None)
    written = tmp_path / "rain_hood_with_teeth.stl"
    before, after = original.read_bytes(), written.read_bytes()
    assert after[84 : 84 + 50 * HOOD["triangles"]] == before[84:]  # every original record, in place
    count = int.from_bytes(after[80:84], "little")
    assert len(after) == 84 + 50 * count  # STL size law, 1989 interface specification
    assert count > HOOD["triangles"]
    assert window.sheet.unfolded() == HAND_OVER
    assert not window.store.unsaved


def test_six_clicks_with_the_mouse_alone_to_a_3mf_as_one_skin(
    window: Window, hand: Hand, until: Callable[..., None], tmp_path: Path
) -> None:
    target = tmp_path / "hood.3mf"
    card = next(c for c in window.start.findChildren(Card) if c.title == "Lip over a fin")
    click(card)  # 1: the sample
    until(lambda: window.bench.job is not None and window.bench.results.inspection is not None)
    window.view.finish()
    hand.click(on_bed(window, LIP.mean(axis=0)))  # 2: the edge, in the view as it comes up
    until(lambda: window.bench.draft_design() is not None)
    design = window.bench.draft_design()
    assert design is not None
    assert design.span.gap_range[0] == pytest.approx(1.6, abs=0.02)
    click(window.sheet.bodies[TEETH].add)  # 3: add
    assert len(window.bench.job.rows) == 1
    click(window.sheet.bodies[HAND_OVER].bond.segment("skin"))  # 4: one skin
    assert window.bench.job.bond == "skin"
    QTimer.singleShot(300, lambda: name_the_file(target))
    click(window.sheet.bodies[HAND_OVER].button)  # 5: hand over, and in the dialog 6: done
    until(lambda: window.bench.results.handed is not None)
    mesh = trimesh.load(target, force="mesh")
    assert mesh.is_watertight
    bodies = mesh.split(only_watertight=True)
    assert len(bodies) == 1
    teeth = sum(t.volume for t in design.teeth.each())
    assert 0.5 * teeth < mesh.volume - united_volume() < teeth
    np.testing.assert_allclose(mesh.bounds, truth_bounds(), atol=0.01)


def name_the_file(target: Path) -> None:
    """Type a name into the file dialog that is open and click its button."""
    dialog = QApplication.activeModalWidget()
    if not isinstance(dialog, QFileDialog):  # a busy machine may take longer to open it
        QTimer.singleShot(100, lambda: name_the_file(target))
        return
    box = dialog.findChild(QLineEdit, "fileNameEdit")
    box.selectAll()
    QTest.keyClicks(box, str(target))
    accept = dialog.findChild(QDialogButtonBox).buttons()[0]
    assert "Hand over" in accept.text()
    QTest.mouseClick(accept, Qt.MouseButton.LeftButton)


def united_volume() -> float:
    import manifold3d

    mesh = trimesh.load(sample_path("rain_hood"))
    raw = manifold3d.Mesh64(np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.uint64))
    return manifold3d.Manifold.batch_boolean(manifold3d.Manifold(raw).decompose(), manifold3d.OpType.Add).volume()


def truth_bounds() -> np.ndarray:
    return np.asarray(trimesh.load(sample_path("rain_hood")).bounds)


def test_hover_shows_before_it_takes(opened: Callable[[Path], Window], hand: Hand) -> None:
    window = opened(sample_path("rain_hood"))
    look = window.bench.job.pose.turn(LIP[1] - LIP[0])
    square = np.array([look[1], -look[0], 0.0]) / np.linalg.norm(look)
    window.view.fly_to(on_bed(window, LIP), square - LOWER)
    window.view.finish()
    hand.move(on_bed(window, LIP.mean(axis=0)))
    assert "74.00 mm long" in window.hint.text()
    assert "gap 1.60 mm" in window.hint.text()
    assert window.bench.job.draft is None


def test_a_drag_turns_the_view_and_picks_nothing(opened: Callable[[Path], Window], hand: Hand) -> None:
    window = opened(sample_path("rain_hood"))
    before = window.view.camera_state()
    hand.drag(QPoint(500, 300), QPoint(600, 340))
    assert window.view.camera_state() != before
    assert window.bench.job.draft is None


def test_the_keyboard_alone_does_the_whole_job(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path
) -> None:
    copy = tmp_path / "hood.stl"
    copy.write_bytes(sample_path("rain_hood").read_bytes())
    window = opened(copy)
    QTest.keyClick(window, Qt.Key.Key_N)  # walk to the likeliest edge
    until(lambda: window.bench.job.draft is not None)
    QTest.keyClick(window, Qt.Key.Key_Return)  # accept the ledge
    QTest.keyClick(window, Qt.Key.Key_Return)  # add the row
    assert len(window.bench.job.rows) == 1
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert window.bench.job.rows == ()
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert len(window.bench.job.rows) == 1
    QTest.keyClick(window, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    until(lambda: window.bench.results.handed is not None)
    assert (tmp_path / "hood_with_teeth.stl").exists()


def test_ghost_teeth_follow_a_figure_while_it_is_typed(
    opened: Callable[[Path], Window], until: Callable[..., None]
) -> None:
    window = opened(sample_path("rain_hood"))
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: window.bench.draft_design() is not None)
    box = window.sheet.bodies[TEETH].boxes["tip"]
    QTest.mouseClick(box.edit, Qt.MouseButton.LeftButton)
    box.edit.selectAll()
    steps = len(window.store.history)
    QTest.keyClicks(box.edit, "0.7")
    assert window.bench.draft_design().plan.tip == pytest.approx(0.7)
    assert len(window.store.history) == steps  # still being typed
    QTest.keyClick(box.edit, Qt.Key.Key_Return)
    assert window.bench.job.draft.wishes.tip == pytest.approx(0.7)
    assert len(window.store.history) == steps + 1


def test_an_impossible_figure_is_refused_where_it_was_typed(
    opened: Callable[[Path], Window], until: Callable[..., None]
) -> None:
    window = opened(sample_path("rain_hood"))
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: window.bench.draft_design() is not None)
    body = window.sheet.bodies[TEETH]
    before = window.bench.job
    box = body.boxes["thickness"]
    QTest.mouseClick(box.edit, Qt.MouseButton.LeftButton)
    box.edit.selectAll()
    QTest.keyClicks(box.edit, "5 mm")
    QTest.keyClick(box.edit, Qt.Key.Key_Return)
    assert "share" in box.error.text()
    assert window.bench.job is before


def test_a_click_on_an_edge_without_a_ledge_says_so_and_changes_nothing(
    opened: Callable[[Path], Window], until: Callable[..., None]
) -> None:
    window = opened(sample_path("bare_bracket"))
    edges = window.bench.results.edges
    shelf = [c for c in range(len(edges.length)) if edges.lower[c] and not np.isfinite(edges.gap[c])]
    feature = int(np.flatnonzero(np.isin(edges.chain_of, shelf))[0])
    before = window.bench.job
    window.bench.click_edge(feature)
    until(lambda: "pick" in window.bench.results.trouble)
    assert window.bench.job is before
    assert window.banner.isVisible()
    assert len(window.banner.text.text()) > 20


def test_unit_switch_shows_inches_everywhere(opened: Callable[[Path], Window], until: Callable[..., None]) -> None:
    window = opened(sample_path("rain_hood"))
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: window.bench.draft_design() is not None)
    QTest.mouseClick(window.units.segment("inch"), Qt.MouseButton.LeftButton)
    assert window.sheet.bodies[TEETH].boxes["foot"].edit.text() == f"{2.0 / 25.4:.4f}"


def test_turning_about_the_vertical_keeps_the_row_on_the_part(
    opened: Callable[[Path], Window], until: Callable[..., None]
) -> None:
    window = opened(sample_path("rain_hood"))
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: window.bench.draft_design() is not None)
    window.bench.add_row()
    before = window.bench.pipeline.teeth_in_file(window.bench.job)
    window.bench.turn(90)
    until(lambda: window.bench.pipeline.span_known(window.bench.job, window.bench.job.rows[0].pick))
    after = window.bench.pipeline.teeth_in_file(window.bench.job)
    assert len(before) == len(after)
    ends = [np.sort([t.vertices.mean(axis=0) @ [1, 2, 3] for t in teeth]) for teeth in (before, after)]
    np.testing.assert_allclose(*ends, atol=0.02)
