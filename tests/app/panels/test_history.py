"""Jumping to a step of the job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from app.panels.history import _STATE, DONE, HERE, UNDONE, HistoryPanel
from app.store import Store
from core.geometry.part import Part
from core.job.job import Job, new_job
from tests.meshes import box

STEPS = ("Pick an edge", "Move tooth 4", "Add 9 teeth", "Take row 1 out")


def worked() -> Store:
    """A job with four steps, each of which leaves its name in the notes."""
    store = Store()
    store.open(new_job(Part("box", box((0, 0, 0), (4, 4, 4)))))
    for label in STEPS:
        store.apply(label, lambda job, words=label: replace(job, notes=(*job.notes, words)))
    return store


def notes(store: Store) -> tuple[str, ...]:
    assert store.job is not None
    return store.job.notes


@pytest.mark.parametrize("index", range(5))
def test_a_jump_is_as_many_undos(qapp: object, index: int) -> None:
    store, by_steps = worked(), worked()
    told: list[Job] = []
    store.changed.connect(lambda old, new: told.append(new))
    store.jump(index)
    for _ in range(4 - index):
        by_steps.undo()
    assert notes(store) == notes(by_steps) == STEPS[:index]
    assert (store.history, store.undone) == (list(STEPS[:index]), list(STEPS[index:]))
    assert len(told) == (index != 4)  # one move, however far


@given(st.lists(st.integers(-1, 6), max_size=12))
def test_jumping_about_loses_nothing(places: list[int]) -> None:
    store = worked()
    here = 4
    for place in places:
        store.jump(place)
        here = place if 0 <= place <= 4 else here
        assert notes(store) == STEPS[:here]
        assert [*store.history, *store.undone] == list(STEPS)
    store.jump(4)
    assert notes(store) == STEPS


def test_an_edit_after_a_jump_begins_another_future(qapp: object) -> None:
    store = worked()
    store.jump(1)
    store.apply("Bond", lambda job: replace(job, bond="skin"))
    assert (store.history, store.undone) == (["Pick an edge", "Bond"], [])


def test_a_jump_gives_a_drag_up(qapp: object) -> None:
    store = worked()
    store.begin_drag("Move tooth 5")
    store.preview(lambda job: replace(job, notes=()))
    store.jump(2)
    assert notes(store) == STEPS[:2]


@pytest.fixture
def panel(qtbot: QtBot, looked: object) -> Iterator[HistoryPanel]:
    below = QWidget()
    qtbot.addWidget(below)
    below.show()
    made = HistoryPanel(worked(), below)
    made.open_at(below)
    yield made
    made.close()


def states(panel: HistoryPanel) -> list[str]:
    return [panel.list.item(k).data(_STATE) for k in range(panel.list.count())]


def test_steps_are_listed_by_name(panel: HistoryPanel) -> None:
    assert [panel.list.item(k).text() for k in range(panel.list.count())] == ["As opened", *STEPS]
    assert states(panel) == [DONE] * 4 + [HERE]


def test_a_click_jumps_and_the_list_stays(qtbot: QtBot, panel: HistoryPanel) -> None:
    place = panel.list.visualItemRect(panel.list.item(1)).center()
    qtbot.mouseClick(panel.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert notes(panel._store) == STEPS[:1]
    assert states(panel) == [DONE, HERE, UNDONE, UNDONE, UNDONE]
    assert panel.isVisible()
    assert panel.list.item(2).data(Qt.ItemDataRole.AccessibleTextRole) == "Move tooth 4, undone"


def test_keys_jump_too(qtbot: QtBot, panel: HistoryPanel) -> None:
    qtbot.keyClick(panel.list, Qt.Key.Key_Up)
    qtbot.keyClick(panel.list, Qt.Key.Key_Return)
    assert notes(panel._store) == STEPS[:3]
    qtbot.keyClick(panel.list, Qt.Key.Key_Escape)
    assert not panel.isVisible()
