"""The proof in the running window: every finding is provoked on a sample, looked at, and cured by its button.

What is weak in the samples, and where, is known from ``truth.json``; limits are those of the usual setup.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from app.panels.job_sheet import HAND_OVER, PROOF
from app.panels.steps.finding_banner import REMEDY
from app.panels.widgets import State
from app.window import Window
from core.job.job import Pick, pick_edge
from samples import sample_path
from tests.app.window.proving import banner, body, click, settled

Opened = Callable[[Path], Window]
Until = Callable[..., None]


@pytest.fixture
def in_hand(opened: Opened, until: Until) -> Callable[..., Window]:
    """A sample with a row in hand at its open gap (or a gap by name), with these wishes, proved."""

    def take(name: str, gap: str = "", **wishes: object) -> Window:
        window = opened(sample_path(name))
        window.bench.take_gap(gap or window.bench.open_gaps()[0].id)
        until(lambda: window.bench.draft_design() is not None)
        window.bench.wish("Some wishes", **wishes)
        window.sheet.unfold(PROOF)
        until(lambda: settled(window))
        return window

    return take


CURED = [
    ("tip_thinner_than_line", "rain_hood", {"tip": 0.2}),
    ("tooth_thinner_than_line", "rain_hood", {"thickness": 0.3}),
    ("clear_bridge", "rain_hood", {"teeth": 6}),
    ("clear_bridge", "rain_hood", {"left_out": (5, 6)}),
    ("clear_bridge", "rain_hood", {"start": 8.0}),
    ("edge_in_air", "rain_hood", {"air_layers": 2}),
    ("off_ledge", "rain_hood", {"end_clearance": 0.0}),
    ("too_close", "rain_hood", {"teeth": 60, "tip": 0.9, "foot": 1.0}),
    ("too_close", "rain_hood", {"foot": 4.9}),
    ("locked_in", "rain_hood", {}),
    ("hard_to_snap", "round_shroud", {}),
    ("hard_to_snap", "rain_hood", {"teeth": 25, "tip": 1.2, "foot": 2.0, "thickness": 1.1}),
]


@pytest.mark.parametrize(("code", "sample", "wishes"), CURED, ids=lambda x: x if isinstance(x, str) else "")
def test_a_finding_is_provoked_and_cured_by_its_button(
    in_hand: Callable[..., Window], until: Until, code: str, sample: str, wishes: dict[str, object]
) -> None:
    window = in_hand(sample, **wishes)
    found = banner(window, code)
    assert found is not None
    assert found.title.text() == found.finding.heading
    assert found.text.text() == found.finding.text
    assert found.finding.source in found.toolTip()
    steps = len(window.store.history)
    click(found.buttons[REMEDY])
    assert len(window.store.history) == steps + 1  # one step, which undo takes back
    until(lambda: settled(window))
    assert banner(window, code) is None
    window.store.undo()
    until(lambda: settled(window))
    assert banner(window, code) is not None


def picked(window: Window, until: Until, chain: int, seconds: float = 3.0, **wishes: object) -> None:
    """An edge of the part picked by its number, as a click would, with wishes, proved."""
    job, edges = window.bench.job, window.bench.results.edges
    assert job is not None
    assert edges is not None
    feature = int(np.flatnonzero(edges.chain_of == chain)[0])
    pick = Pick(edges.chain(feature).polyline(job.part.mesh.vertices))
    window.store.apply("Pick", lambda j: pick_edge(j, pick))
    until(lambda: window.bench.draft_design() is not None, seconds)
    window.bench.wish("Some wishes", **wishes)
    window.sheet.unfold(PROOF)
    until(lambda: settled(window))


def chains(window: Window, low: float, high: float) -> list[int]:
    """Lower edges of the part over something, with a length between these, longest first."""
    edges = window.bench.results.edges
    assert edges is not None
    fits = edges.lower & np.isfinite(edges.gap) & (edges.length > low) & (edges.length < high)
    return [int(c) for c in np.argsort(-edges.length) if fits[c]]


def test_an_open_run_of_the_rim_hangs_free_where_it_was_trimmed(opened: Opened, until: Until) -> None:
    """Half a rim picked alone ends in mid-air on both sides: a fact of the sample's shape."""
    window = opened(sample_path("round_shroud"))
    chain = next(c for c in chains(window, 50, 80))
    picked(window, until, chain, stop=3.0)
    found = banner(window, "free_end")
    assert found is not None
    click(found.buttons[REMEDY])
    until(lambda: settled(window))
    assert banner(window, "free_end") is None


def test_a_row_up_to_the_very_end_of_an_edge_is_told_and_cured(opened: Opened, until: Until) -> None:
    window = opened(sample_path("round_shroud"))
    picked(window, until, next(c for c in chains(window, 50, 80)), end_clearance=0.0)
    found = banner(window, "past_end_of_edge")
    assert found is not None
    click(found.buttons[REMEDY])
    until(lambda: settled(window))
    assert banner(window, "past_end_of_edge") is None


@pytest.mark.parametrize(
    ("sample", "code", "low", "high"),
    [("rain_hood", "outside_part", 18.0, 18.5), ("rain_hood", "no_path", 18.0, 18.5)],
)  # fmt: skip
def test_a_row_on_an_unfit_edge_is_told_and_its_bad_teeth_left_out(
    opened: Opened, until: Until, sample: str, code: str, low: float, high: float
) -> None:
    """Short edges of louvres, where part of a row has nothing above it."""
    window = opened(sample_path(sample))
    for chain in chains(window, low, high):
        try:
            picked(window, until, chain)
        except AssertionError:
            continue  # no row can stand there at all
        found = banner(window, code)
        if found is not None and REMEDY in found.buttons:
            click(found.buttons[REMEDY])
            until(lambda: settled(window))
            assert banner(window, code) is None
            return
    pytest.fail("no such edge")


def test_a_slender_wall_is_told_and_a_stouter_edge_cures_it(opened: Opened, until: Until) -> None:
    window = opened(sample_path("sloping_hood"))
    found = None
    for chain in chains(window, 1.5, 1.7):
        try:
            picked(window, until, chain)
        except AssertionError:
            continue
        found = banner(window, "wall_slender")
        if found is not None:
            break
    assert found is not None
    assert found.finding.figure > 15  # height over thickness, common practice
    window.bench.take_gap(window.bench.open_gaps()[0].id)
    until(lambda: settled(window) and banner(window, "wall_slender") is None)


def test_soft_material_is_cut_and_another_one_cures_it(in_hand: Callable[..., Window], until: Until) -> None:
    window = in_hand("rain_hood")
    window.bench.set_setup("Material", material="TPU")
    until(lambda: settled(window) and banner(window, "cut_not_snap") is not None)
    window.store.undo()
    until(lambda: settled(window) and banner(window, "cut_not_snap") is None)
    window.bench.setup = window.bench.job.setup


def test_side_teeth_that_lean_too_far_are_told(in_hand: Callable[..., Window], until: Until) -> None:
    window = in_hand("sloping_hood", gap="g2")
    found = banner(window, "steep_underside")
    assert found is not None
    assert "from vertical" in found.text.text()
    window.bench.wish("Wider foot", foot=4.4)  # 0.45 + 2 · 1.5 / tan 45° = 3.45: now nothing leans beyond 45°
    until(lambda: settled(window))
    assert banner(window, "steep_underside") is None


def test_findings_come_worst_first_and_the_line_says_look(in_hand: Callable[..., Window]) -> None:
    window = in_hand("rain_hood", tip=0.2, teeth=9)
    levels = [f.finding.level for f in body(window).findings]
    assert levels == sorted(levels, key=["stop", "warn", "note"].index)
    assert len(levels) >= 2
    assert window.sheet.lines[PROOF].state() is State.LOOK
    assert "1 warning" in window.sheet.lines[PROOF].header.figure


def test_a_click_on_a_finding_flies_there_and_marks_the_tooth(in_hand: Callable[..., Window]) -> None:
    window = in_hand("rain_hood", left_out=(5, 6))
    found = banner(window, "clear_bridge")
    assert found is not None
    QTest.mouseClick(found, Qt.MouseButton.LeftButton, pos=QPoint(8, 8))
    window.view.finish()
    place = np.array(found.finding.place)
    screen, _ = window.view.lens().project(place[None])
    middle = np.array([window.view.width() / 2, window.view.height() / 2])
    assert np.linalg.norm(screen[0] - middle) < 60  # near the middle of a view that is some 1100 wide
    selected = window.elevation.drawing.canvas.selected
    assert selected is None or selected.number in (4, 7)  # the neighbours of the hole


def test_the_keyboard_looks_and_cures_too(in_hand: Callable[..., Window], until: Until) -> None:
    window = in_hand("rain_hood", tip=0.2)
    found = banner(window, "tip_thinner_than_line")
    assert found is not None
    before = window.view.camera_state()
    found.setFocus()
    QTest.keyClick(found, Qt.Key.Key_Return)
    window.view.finish()
    assert window.view.camera_state() != before
    assert window.bench.job.draft is not None  # Enter did not add the row
    found.buttons[REMEDY].setFocus()
    QTest.keyClick(found.buttons[REMEDY], Qt.Key.Key_Space)
    until(lambda: settled(window))
    assert banner(window, "tip_thinner_than_line") is None


@pytest.mark.parametrize("aim", ["better", "easier"])
def test_advice_changes_the_row_and_says_what(in_hand: Callable[..., Window], until: Until, aim: str) -> None:
    window = in_hand("rain_hood", teeth=15, tip=0.9, foot=2.0, thickness=1.0)
    before = window.bench.draft_design().plan
    force = window.bench.results.proof.snap.sideways.high
    click(getattr(body(window), aim))
    until(lambda: settled(window))
    after = window.bench.draft_design().plan
    shown = body(window).changed
    assert shown.isVisible()
    if aim == "easier":
        assert window.bench.results.proof.snap.sideways.high < force
        assert f"{before.thickness:.2f} mm, now {after.thickness:.2f} mm" in shown.text.text()
    else:
        assert after.clear_bridge < before.clear_bridge
        assert f"Teeth: {before.teeth}, now {after.teeth}." in shown.text.text()
    window.bench.wish("Another", tip=0.5)
    assert not shown.isVisible()


def test_the_words_name_both_rows_that_hold_the_fin(in_hand: Callable[..., Window]) -> None:
    """The front fin of the hood hangs together with the one below the right ear, which four teeth hold."""
    window = in_hand("rain_hood")
    words = [body(window).words.itemAt(i).widget().text() for i in range(body(window).words.count())]
    assert any(w.startswith("Start with the row that is there (4 teeth)") for w in words)
    assert any(w.startswith("In practice a bare edge of 7") for w in words)


def test_all_added_rows_are_proved_and_named(in_hand: Callable[..., Window], until: Until) -> None:
    window = in_hand("round_shroud", stop=107.0)
    window.bench.add_row()
    window.bench.take_gap(window.bench.results.inspection.gaps[0].id)
    until(lambda: window.bench.draft_design() is not None)
    window.bench.wish("The other half", start=110.0, tip=0.2)
    window.bench.add_row()
    window.sheet.unfold(PROOF)
    until(lambda: settled(window))
    rows = dict(window.bench.proved())
    assert [r.number for r in rows] == [1, 2]
    assert all(len(p.piece.rows) == 2 for p in rows.values())  # both hold the same ring
    found = banner(window, "tip_thinner_than_line")
    assert found is not None
    assert found.title.text().startswith("Row 2: ")
    click(found.buttons[REMEDY])
    until(lambda: settled(window))
    assert window.bench.job.draft.number == 2  # it is in hand now
    assert window.bench.job.draft.wishes.tip == pytest.approx(0.45)


def test_hand_over_goes_on_and_says_what_stays_open(
    in_hand: Callable[..., Window], until: Until, tmp_path: Path
) -> None:
    window = in_hand("rain_hood", tip=0.2)
    window.bench.hand_over(tmp_path / "hood.stl")
    until(lambda: window.bench.results.handed is not None and settled(window))
    assert (tmp_path / "hood.stl").exists()
    step = window.sheet.bodies[HAND_OVER]
    step.refresh()
    assert "Tips thinner than a line" in step.open.text()


def test_the_height_rule_shows_the_layer_in_the_view(in_hand: Callable[..., Window], until: Until) -> None:
    window = in_hand("rain_hood")
    canvas = window.elevation.drawing.canvas
    numbers = canvas.model.layers.numbers
    canvas.choose_layer(numbers[2])
    until(lambda: bool(window.view.layers.edges.layer))
    lines = window.view.layers.edges.layer
    setup = window.bench.job.setup
    # the middle of layer n: first layer + (n − ½) layers (counted from 0 at the bed)
    height = setup.first_layer + (numbers[2] - 0.5) * setup.layer_height
    assert all(np.allclose(line[:, 2], height) for line in lines)
    low, high = window.bench.bed_mesh().bounds
    points = np.concatenate(lines)
    assert (points[:, :2] >= low[:2] - 1e-6).all()
    assert (points[:, :2] <= high[:2] + 1e-6).all()
    window.bench.choose_layer(None)
    assert not window.view.layers.edges.layer
    assert canvas.layer is None or window.bench.view.layer is None


def test_what_will_not_print_is_cross_hatched_in_the_elevation(in_hand: Callable[..., Window]) -> None:
    window = in_hand("rain_hood", tip=0.2)
    model = window.elevation.drawing.model
    assert model is not None
    assert all(tooth.survival.fate == "lost layers" for tooth in model.teeth)
    assert window.view.rendering.teeth is not None
