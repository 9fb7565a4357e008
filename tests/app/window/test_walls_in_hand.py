"""Walls in the running window: built at a weak spot or below a picked edge, taken in hand, changed and taken back."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from app.panels.job_sheet import HAND_OVER, SPAN, SPOTS, TEETH
from app.window import Window
from core.files.write import write_part
from core.geometry.mesh import joined
from core.job.job_file import load_job, save_job
from core.job.pipeline import RowDesign
from samples import sample_path
from tests.app.window.conftest import Hand
from tests.meshes import box

Opened = Callable[[Path], Window]
Until = Callable[..., None]


def type_into(box: object, text: str) -> None:
    """Type a figure with the keys and finish with Enter."""
    box.edit.setFocus()
    box.edit.selectAll()
    QTest.keyClicks(box.edit, text)
    QTest.keyClick(box.edit, Qt.Key.Key_Return)
    QApplication.processEvents()


@pytest.fixture
def in_hand(opened: Opened, until: Until) -> Window:
    """The bare bracket with the first of its walls in hand."""
    window = opened(sample_path("bare_bracket"))
    spots = window.sheet.bodies[SPOTS]
    window.sheet.unfold(SPOTS)
    QTest.mouseClick(spots.take, Qt.MouseButton.LeftButton)
    until(lambda: window.bench.job.rows and all(
        isinstance(window.bench.row_design(r), RowDesign) for r in window.bench.job.rows))  # fmt: skip
    window.sheet.unfold(SPOTS)
    spots.list.setCurrentRow(next(i for i, e in enumerate(spots._entries) if e.row))
    assert "solid block" in spots.entry().line
    QTest.mouseClick(spots.take, Qt.MouseButton.LeftButton)
    until(lambda: window.bench.draft_design() is not None)
    window.sheet.unfold(SPAN)
    return window


def test_a_wall_in_hand_shows_its_figures_and_takes_others(in_hand: Window, until: Until, tmp_path: Path) -> None:
    window, bench = in_hand, in_hand.bench
    wall = window.sheet.bodies[SPAN].wall
    first = bench.draft_design()
    assert wall.isVisible()
    assert wall.boxes["lines"].value() == first.wall.plan.lines
    type_into(wall.boxes["lines"], "6")
    assert bench.job.draft.wall.lines == 6
    sketch = bench.draft_design()
    assert sketch.wall.plan.thickness == pytest.approx(6 * bench.job.setup.line_width)  # before it is built
    until(lambda: bench.pipeline.wall_known(bench.job, bench.job.draft))
    built = bench.draft_design()
    assert built.wall.solid.volume > first.wall.solid.volume
    type_into(wall.boxes["gap"], "1.8")
    until(lambda: bench.pipeline.wall_known(bench.job, bench.job.draft))
    assert bench.draft_design().span.gap_range == pytest.approx((1.8, 1.8), abs=1e-3)
    until(lambda: bench.results.proof is not None)
    save_job(bench.job, tmp_path / "wall.snapcomb")
    again = load_job(tmp_path / "wall.snapcomb", sample_path("bare_bracket"))
    assert again.draft == bench.job.draft
    window.store.undo()
    window.store.undo()
    assert bench.job.draft.wall == first.row.wall
    assert bench.draft_design().wall.plan.lines == first.wall.plan.lines
    rows = len(bench.job.rows)
    window.sheet.unfold(TEETH)
    assert "wall" in window.sheet.bodies[TEETH].add.text()
    QTest.mouseClick(window.sheet.bodies[TEETH].add, Qt.MouseButton.LeftButton)
    assert len(bench.job.rows) == rows + 1
    assert bench.job.draft is None


def test_figures_that_are_typed_are_shown_within_a_tenth_of_a_second(in_hand: Window) -> None:
    bench = in_hand.bench
    bench.preview_wall("", gap=1.25)  # the first look along the edge
    for gap in (1.3, 1.45, 1.6, 1.75):
        start = time.process_time()
        bench.preview_wall("", gap=gap)
        shown = bench.draft_design()
        spent = time.process_time() - start
        assert shown.wall.plan.gap == pytest.approx(gap)
        assert shown.plan.heights == pytest.approx(gap, abs=1e-3)  # the teeth follow at once
        assert spent < 0.1
    bench.store.end_drag(commit=False)
    assert bench.job.draft.wall.gap is None


def test_a_figure_that_cannot_be_kept_is_refused_at_its_box(in_hand: Window) -> None:
    wall = in_hand.sheet.bodies[SPAN].wall
    before = in_hand.bench.job
    type_into(wall.boxes["clearance"], "0.1")
    assert in_hand.bench.job is before
    assert "0.5 mm" in wall.boxes["clearance"].error.text()


def test_an_edge_with_no_ledge_is_given_a_wall_by_one_click(opened: Opened, until: Until) -> None:
    window = opened(sample_path("bare_bracket"))
    bench = window.bench
    spot = bench.results.inspection.weak_spots[0]
    edge = spot.path.moved(bench.job.pose.inverse.matrix)
    bench._propose(edge, None)
    until(lambda: bench.results.trouble.get("pick"))
    window.sheet.unfold(SPAN)
    span = window.sheet.bodies[SPAN]
    assert [word for word, _ in span._steps()] == ["wall", "ledge", "go"]
    span._step("wall")
    until(lambda: bench.draft_design() is not None)
    assert bench.draft_design().wall is not None
    assert bench.draft_design().plan.teeth > 2
    bench.store.undo()
    assert bench.job.draft is None


def under_the_shelf(window: Window, *offsets: float) -> list[np.ndarray]:
    """Points of the bracket's flat underside, moved across by so much from its middle, bed mm."""
    spot = window.bench.results.inspection.weak_spots[0]
    ring = np.concatenate(spot.region)
    middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
    return [np.array([middle[0] + dx, middle[1], spot.z]) for dx in offsets]


def test_one_picked_point_gets_a_post(opened: Opened, until: Until, hand: Hand, tmp_path: Path) -> None:
    window = opened(sample_path("bare_bracket"))
    bench = window.bench
    window.view.view_named("below")
    window.view.finish()
    QTest.keyClick(window, Qt.Key.Key_P)
    assert bench.view.mode == "points"
    hand.click(under_the_shelf(window, 1.5)[0])
    assert len(bench.view.points) == 1
    QTest.keyClick(window, Qt.Key.Key_Return)
    (pick,) = bench.job.posts
    ((_, post),) = bench.posts()
    assert post.height == pytest.approx(25.0, abs=0.01)  # the shelf hangs 25 mm above the bed, as it was drawn
    window.sheet.unfold(HAND_OVER)
    assert "Post 1" in " ".join(x.text() for x in window.sheet.bodies[HAND_OVER].findChildren(QLabel))
    save_job(bench.job, tmp_path / "post.snapcomb")
    assert load_job(tmp_path / "post.snapcomb", sample_path("bare_bracket")).posts == (pick,)
    bench.hand_over(tmp_path / "with_post.stl")
    until(lambda: bench.results.handed is not None)
    shells = trimesh.load(tmp_path / "with_post.stl").split(only_watertight=False)
    assert any(s.is_watertight and s.bounds[1, 2] - s.bounds[0, 2] == pytest.approx(25.1, abs=0.02) for s in shells)
    window.store.undo()
    assert bench.job.posts == ()


def test_several_picked_points_get_a_wall(opened: Opened, until: Until, hand: Hand) -> None:
    window = opened(sample_path("bare_bracket"))
    bench = window.bench
    window.view.view_named("below")
    window.view.finish()
    QTest.keyClick(window, Qt.Key.Key_P)
    for point in under_the_shelf(window, 1.5, 9.0):
        hand.click(point)
    assert len(bench.view.points) == 2
    QTest.keyClick(window, Qt.Key.Key_Return)
    assert bench.job.draft is not None
    until(lambda: bench.draft_design() is not None)
    design = bench.draft_design()
    assert design.wall is not None
    assert design.wall.plan.length == pytest.approx(7.5, abs=0.3)
    assert bench.view.points == []


def test_a_point_on_a_top_face_is_not_taken(opened: Opened) -> None:
    window = opened(sample_path("bare_bracket"))
    bench = window.bench
    bench.set_mode("points")
    up = int(np.argmax(bench.bed_mesh().normals[:, 2]))
    bench.click_point(up, np.zeros(3))
    assert bench.view.points == []


def test_edges_that_meet_are_joined_into_one_row_by_shift(window: Window, until: Until, tmp_path: Path) -> None:
    # A table 30 × 20 mm on a stout leg, 20 mm high: its lower edges meet at right angles.
    table = joined([box((12, 7, 0), (18, 13, 21)), box((0, 0, 20), (30, 20, 24))])
    write_part(table, tmp_path / "table.stl", unit="millimeter", name="table")
    window.open(tmp_path / "table.stl")
    bench = window.bench
    until(lambda: bench.results.inspection is not None and bench.results.edges is not None)
    edges, mesh = bench.results.edges, bench.bed_mesh()
    lower = {}
    for i in range(len(edges.edges)):
        line = edges.chain(i).polyline(mesh.vertices)
        if not line.closed and np.allclose(line.array[:, 2], 20.0):
            lower[tuple(np.round(line.array.mean(axis=0), 3))] = i
    front, side = (lower[p] for p in ((15.0, 0.0, 20.0), (30.0, 10.0, 20.0)))
    bench.click_edge(front)
    until(lambda: bench.results.trouble.get("pick"))
    bench.build_wall_here()
    until(lambda: bench.pipeline.wall_known(bench.job, bench.job.draft))
    bench.join_edge(side)
    until(lambda: bench.pipeline.wall_known(bench.job, bench.job.draft))
    assert bench.job.draft.pick.edge.length == pytest.approx(50.0)
    assert bench.job.draft.wall is not None
    span = bench.draft_design().span
    (corner,) = span.corners
    assert np.abs(bench.draft_design().plan.centres - corner).min() > bench.draft_design().plan.tip / 2
    said: list[str] = []
    bench.said.connect(lambda _level, words, _steps: said.append(words))
    before = bench.job
    bench.join_edge(front)  # both of its ends are taken
    assert bench.job is before
    assert "does not meet" in said[-1]
