"""Everything can be done from the keyboard and is named for a screen reader: each line, each dialog, looked through."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMenu, QWidget

from app.panels.kept_jobs import KeptJob
from app.panels.widgets.finder import actions_of
from app.window import Window
from core.files.write import write_part
from core.job.job import take_in_hand
from tests import meshes
from tests.app.window.within_reach import jumps_back, out_of_reach, path, stops, unheard, unnamed, usable

DIALOGS = {
    "preferences": "preferences", "setup": "setup_dialog", "log": "log", "coupon": "piece", "trial": "piece",
    "outcomes": "outcomes", "history": "history", "finder": "finder",
}  # fmt: skip


@pytest.fixture
def with_rows(opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path) -> Window:
    """A small part with a row added, which is taken in hand again."""
    write_part(meshes.bar_over_ledge().mesh, tmp_path / "bar.stl", unit="millimeter", name="bar")
    window = opened(tmp_path / "bar.stl")
    window.bench.take_all()
    until(lambda: window.bench.results.proof is not None)
    number = window.bench.job.rows[0].number
    window.bench.change("Change the row", lambda job: take_in_hand(job, number))
    until(lambda: window.bench.draft_design() is not None)
    return window


def look(place: str, top: QWidget) -> list[str]:
    """What is wrong there, in words."""
    QTest.qWait(60)
    wrong = [f"{place}, without a name: {w}" for w in unnamed(top)]
    wrong += [f"{place}, unknown to a screen reader: {w}" for w in unheard(top)]
    return wrong + [f"{place}, no key leads to: {w}" for w in out_of_reach(top)]


def test_the_start_page(window: Window) -> None:
    window.start.set_kept_jobs([KeptJob("a", "hood.stl", "One row."), KeptJob("b", "stand.stl", "Two rows.")])
    try:
        assert look("start page", window) == []
        found = stops(window)
        assert len(found) > 8
        assert jumps_back(found, window.start.kept) == []
        cards = list(window.start._sample_cards.values())
        assert [w for w in found if w in cards] == cards
        assert found.index(window.start.drop.button) < found.index(cards[0])
    finally:
        window.start.set_kept_jobs([])


def test_each_line_of_the_job_sheet(with_rows: Window) -> None:
    for number in with_rows.sheet.lines:
        one_line(with_rows, number)


def one_line(with_rows: Window, number: int) -> None:
    with_rows.sheet.unfold(number)
    assert look(f"line {number}", with_rows) == []
    found = stops(with_rows)
    reached = {w for w in found if with_rows.sheet.isAncestorOf(w)}
    wanted = {w for w in usable(with_rows.sheet) if w.focusPolicy() & Qt.FocusPolicy.TabFocus}
    assert wanted - reached == set()
    assert jumps_back(found, with_rows.sheet) == []
    tools, canvas = with_rows.tools.buttons, with_rows.elevation.drawing.canvas
    order = [with_rows.sheet.setup, *(t for t in tools if t.isEnabled()), with_rows.view, canvas]
    assert [w for w in found if w in order] == order


def test_each_dialog(with_rows: Window) -> None:
    with_rows.bench.add_row()
    for name in DIALOGS:
        one_dialog(with_rows, name)


def one_dialog(with_rows: Window, name: str) -> None:
    getattr(with_rows.side, f"show_{name}")()
    dialog: QWidget = getattr(with_rows.side, DIALOGS[name])
    try:
        pages = getattr(dialog, "pages", None)
        wrong = []
        for k in range(pages.count() if pages is not None else 1):
            if pages is not None:
                pages.setCurrentIndex(k)
            found = look(f"{name}, page {k}", dialog)
            if name == "finder":  # its list is led from the line above it
                wrong += [w for w in found if "Commands found" not in w]
            else:
                wrong += found
                reached = set(stops(dialog))
                wanted = {w for w in usable(dialog) if w.focusPolicy() & Qt.FocusPolicy.TabFocus}
                wrong += [f"{name}, page {k}: Tab passes by {path(w, dialog)}" for w in wanted - reached]
        assert wrong == []
    finally:
        dialog.close()


def test_every_action_stands_in_a_menu_and_the_finder(with_rows: Window) -> None:
    listed = {found.action for found in actions_of(with_rows)}
    assert set(with_rows.actions_by_name.values()) <= listed
    for action in with_rows.menuBar().actions():
        assert re.search(r"&\w", action.text()), f"no key opens {action.text()}"
        menu = action.menu()
        assert isinstance(menu, QMenu)
        letters = Counter(m.group(1).lower() for a in menu.actions() if (m := re.search(r"&(\w)", a.text())))
        assert [k for k, n in letters.items() if n > 1] == [], f"{action.text()} has a letter twice"
    titles = Counter(a.text()[a.text().index("&") + 1].lower() for a in with_rows.menuBar().actions())
    assert max(titles.values()) == 1


def test_no_two_actions_want_the_same_keys(with_rows: Window) -> None:
    keys = Counter(a.shortcut().toString() for a in with_rows.actions_by_name.values() if not a.shortcut().isEmpty())
    assert [k for k, n in keys.items() if n > 1] == []


def test_alt_and_a_letter_open_a_menu(with_rows: Window) -> None:
    QTest.keyClick(with_rows, Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    open_menus = [m for m in with_rows.menuBar().findChildren(QMenu) if m.isVisible()]
    assert len(open_menus) == 1
    assert "another" in " ".join(a.text() for a in open_menus[0].actions())
    open_menus[0].close()
