"""Setups kept by name, own materials, sources in sight, and what prints have taught, in the running window."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import trimesh
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox

from app import settings
from app.panels.coupon_dialog import CouponDialog, TrialDialog
from app.panels.job_sheet import PROOF
from app.panels.outcomes_dialog import CouponResultsDialog, OutcomesDialog
from app.panels.setup_dialog import SetupDialog
from app.setups import Shelf
from app.window import Window
from core.design.coupon import coupon
from core.design.setup import FIGURES, PrintSetup
from core.job.job_file import load_job, save_job
from core.proof.learn import Outcome
from samples import sample_path

Opened = Callable[[Path], Window]
Until = Callable[..., None]


def _as_new(window: Window) -> None:
    kept = window.remembered
    kept.setup, kept.setup_name, kept.setups, kept.materials, kept.lessons = {}, "", [], [], []
    window.bench.setup, window.bench.lessons = PrintSetup(), ()


@pytest.fixture
def fresh(window: Window) -> Iterator[Window]:
    """The window with nothing on the shelf, before and after."""
    _as_new(window)
    yield window
    for dialog in (window.side.setup_dialog, window.side.piece, window.side.outcomes):
        if dialog is not None:
            dialog.close()
    window.bench.close()
    _as_new(window)


@pytest.fixture
def setup(fresh: Window) -> SetupDialog:
    """The setup dialog, open."""
    fresh.actions_by_name["setup"].trigger()
    dialog = fresh.side.setup_dialog
    assert dialog is not None
    return dialog


def click(button: object) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    QApplication.processEvents()


def choose(box: QComboBox, value: object) -> None:
    index = next(i for i in range(box.count()) if box.itemData(i) == value)
    box.setCurrentIndex(index)
    box.activated.emit(index)
    QApplication.processEvents()


def type_into(box: object, text: str) -> None:
    box.edit.setFocus()
    box.edit.selectAll()
    QTest.keyClicks(box.edit, text)
    QTest.keyClick(box.edit, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_every_default_says_in_sight_where_it_comes_from(setup: SetupDialog) -> None:
    words = {name: label.text() for name, label in setup.figures.sources.items()}
    assert set(words) == {f.name for f in FIGURES} - {"material"}
    assert all(w.startswith(("Common practice", "From memory", "Published: ")) for w in words.values())
    assert words["free_overhang"].startswith("Published: Mazlan")  # Mazlan et al. 2020, JAITA
    assert all(cells[2].text() for cells in setup.material.cells)
    type_into(setup.boxes["nozzle"], "0.6")
    assert setup.figures.sources["nozzle"].text() == "Set by you"


def test_a_setup_is_kept_by_name_and_comes_back(setup: SetupDialog, fresh: Window) -> None:
    type_into(setup.boxes["line_width"], "0.65")
    type_into(setup.boxes["layer_height"], "0.3")
    setup.name.setText("Shed printer")
    QTest.keyClick(setup.name, Qt.Key.Key_Return)
    assert [k.name for k in Shelf(settings.load()).kept()] == ["Shed printer"]  # on the disk already
    setup.choose("")
    assert fresh.bench.setup == PrintSetup()
    choose(setup.chosen, "Shed printer")
    assert (fresh.bench.setup.line_width, fresh.bench.setup.layer_height) == (0.65, 0.3)
    again = Shelf(settings.load()).current()  # what the next start begins with
    assert (again.name, again.setup.line_width) == ("Shed printer", 0.65)
    click(setup.drop_button)
    assert Shelf(settings.load()).kept() == ()
    assert fresh.bench.setup.line_width == 0.65  # its figures stay in use


def test_a_setup_without_a_name_is_not_kept_and_says_so(setup: SetupDialog, fresh: Window) -> None:
    setup.name.setText("   ")
    QTest.keyClick(setup.name, Qt.Key.Key_Return)
    assert "no name" in setup.trouble.text()
    assert fresh.shelf.kept() == ()


def test_a_kept_entry_that_makes_no_sense_costs_only_itself(fresh: Window) -> None:
    shelf = fresh.shelf
    shelf.keep(shelf.current().__class__("Good", PrintSetup(nozzle=0.6)))
    fresh.remembered.setups = [{"name": "Bad", "setup": {"nozzle_mm": -1}}, *fresh.remembered.setups, {}]
    assert [k.name for k in shelf.kept()] == ["Good"]


def test_an_own_material_is_added_used_and_forgotten(setup: SetupDialog, fresh: Window) -> None:
    setup.pages.setCurrentIndex(1)
    page, form = setup.material, setup.material.form
    click(page.open_form)
    form.name.setText("PLA")
    form.keep()
    assert "in the table already" in form.trouble.text()
    form.name.setText("Grey from the shed")
    type_into(form.boxes["density"], "30")
    form.keep()
    assert "30 g/cm³" in form.trouble.text()
    type_into(form.boxes["density"], "1.29")
    form.keep()
    assert fresh.bench.setup.filament.name == "Grey from the shed"
    assert page.cells[0][1].text() == "1.29 g/cm³"
    assert page.cells[0][2].text() == "your own figure"
    assert Shelf(settings.load()).current().setup.filament.density == 1.29
    page.drop()
    assert fresh.bench.setup.material == "PLA"
    assert fresh.shelf.materials() == ()


def results(window: Window, until: Until) -> CouponResultsDialog:
    """The coupon's dialog, and the form for what it showed."""
    window.actions_by_name["coupon"].trigger()
    dialog = window.side.piece
    assert isinstance(dialog, CouponDialog)
    until(lambda: dialog.plan is not None)
    click(dialog.enter)
    assert dialog.results is not None
    return dialog.results


def test_what_a_coupon_showed_goes_before_our_figures_and_says_so(
    fresh: Window, opened: Opened, until: Until, tmp_path: Path
) -> None:
    window = opened(sample_path("rain_hood"))
    window.bench.take_gap(window.bench.open_gaps()[0].id)
    until(lambda: window.bench.results.proof is not None)
    ours = window.bench.results.proof.snap.pull.high
    form = results(window, until)
    first, narrow = form.table.lines[1], form.table.lines[2]
    for box, value in (
        (first.printed, True), (first.held, True), (first.came_off, "fingers"), (first.scar, "stubs"),
        (narrow.printed, False),
    ):  # fmt: skip
        choose(box, value)
    QTest.keyClicks(first.pulled, "40,5")
    form.name.setText("your coupon of May")
    form.keep()
    learned = window.bench.job.learned
    row = form.plan.rows[0]
    assert learned.source == "your coupon of May"
    assert learned.least_printable == pytest.approx(row.tip)
    # nominal stress of a weighed pull, F / (n w t), give or take a fifth
    stress = 40.5 / (row.teeth * row.tip * row.thickness)
    assert (learned.strength.low, learned.strength.high) == pytest.approx((0.8 * stress, 1.2 * stress))
    until(lambda: window.bench.results.proof is not None and window.bench.results.proof.snap.pull.high != ours)
    window.bench.wish("Thin", tip=0.2)
    window.sheet.unfold(PROOF)
    until(lambda: any(f.finding.code == "tip_thinner_than_line" for f in window.sheet.bodies[PROOF].findings))
    found = next(f for f in window.sheet.bodies[PROOF].findings if f.finding.code == "tip_thinner_than_line")
    assert "your coupon of May" in found.toolTip()
    assert "your coupon of May" in window.sheet.bodies[PROOF].learned.text()
    assert [lesson.source for lesson in Shelf(settings.load()).current().lessons] == ["your coupon of May"]
    save_job(window.bench.job, tmp_path / "hood.snapcomb.json")
    assert load_job(tmp_path / "hood.snapcomb.json").learned == learned


def test_results_say_nothing_about_another_material_and_can_be_forgotten(fresh: Window, until: Until) -> None:
    form = results(fresh, until)
    choose(form.table.lines[1].printed, True)
    choose(form.table.lines[1].held, True)
    form.keep()
    bench = fresh.bench
    assert bench.learned().clear_bridge is not None
    bench.set_setup("Material", material="PETG")
    assert bench.learned().clear_bridge is None
    bench.set_setup("Material", material="PLA")
    fresh.actions_by_name["setup"].trigger()
    page = fresh.side.setup_dialog.taught
    assert "Longest bridge that held" in page.facts.text()
    bench.forget("Forget", bench.lessons[0])
    assert page.facts.isHidden()
    assert Shelf(settings.load()).current().lessons == ()


def test_an_empty_form_and_a_senseless_pull_are_refused_in_words(fresh: Window, until: Until) -> None:
    form = results(fresh, until)
    form.keep()
    assert "Nothing was entered yet" in form.trouble.text()
    choose(form.table.lines[1].printed, True)
    QTest.keyClicks(form.table.lines[1].pulled, "a lot")
    form.keep()
    assert "not a force" in form.trouble.text()
    assert fresh.bench.lessons == ()


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_the_coupon_is_written_from_its_dialog(fresh: Window, until: Until, tmp_path: Path, ending: str) -> None:
    fresh.actions_by_name["coupon"].trigger()
    dialog = fresh.side.piece
    assert isinstance(dialog, CouponDialog)
    until(lambda: dialog.plan is not None)
    assert "minutes" in dialog.about.text()
    assert "eye protection" in dialog.lines.text()
    target = tmp_path / f"coupon.{ending}"
    dialog.write(target)
    until(dialog.done_words.isVisible)
    scene = trimesh.load(target)
    mesh = scene.to_geometry() if isinstance(scene, trimesh.Scene) else scene
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(coupon(PrintSetup())[1].volume, rel=1e-3)


def test_a_trial_piece_is_cut_from_the_row_in_hand(
    fresh: Window, opened: Opened, until: Until, tmp_path: Path
) -> None:
    window = opened(sample_path("rain_hood"))
    window.actions_by_name["trial"].trigger()
    assert window.side.piece is None or not isinstance(window.side.piece, TrialDialog)  # there is no row yet
    assert window.banner.isVisible()
    window.banner.hide()
    window.bench.take_gap(window.bench.open_gaps()[0].id)
    until(lambda: window.bench.draft_design() is not None)
    window.actions_by_name["trial"].trigger()
    dialog = window.side.piece
    assert isinstance(dialog, TrialDialog)
    until(dialog.write_button.isEnabled)
    type_into(dialog.middle, "20")
    until(dialog.write_button.isEnabled)
    target = tmp_path / "trial.stl"
    dialog.write(target)
    until(dialog.done_words.isVisible)
    mesh = trimesh.load(target)
    assert mesh.is_watertight
    assert mesh.bounds[0] == pytest.approx([0, 0, 0], abs=1e-4)
    assert "minutes" in dialog.about.text()


def test_how_it_printed_stays_with_the_job_and_teaches(fresh: Window, opened: Opened, until: Until) -> None:
    window = opened(sample_path("rain_hood"))
    window.bench.take_gap(window.bench.open_gaps()[0].id)
    until(lambda: window.bench.draft_design() is not None)
    bridge = window.bench.draft_design().plan.clear_bridge
    window.bench.add_row()
    window.actions_by_name["outcomes"].trigger()
    dialog = window.side.outcomes
    assert isinstance(dialog, OutcomesDialog)
    line = dialog.table.lines[1]
    for box, value in (
        (line.printed, True), (line.held, True), (line.came_off, "pliers"), (line.scar, "torn"),
    ):  # fmt: skip
        choose(box, value)
    dialog.keep()
    assert window.bench.job.outcomes == ((1, Outcome(came_off="pliers", scar="torn")),)
    learned = window.bench.job.learned
    assert learned.source == "your print of rain_hood"
    assert learned.clear_bridge == pytest.approx(bridge)
    assert window.bench.lessons  # and for the next job
    window.actions_by_name["outcomes"].trigger()
    assert window.side.outcomes.table.lines[1].scar.currentData() == "torn"
