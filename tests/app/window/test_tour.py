"""The guided tour, walked by doing the work, by the Next button, and left early."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app import tour as tours
from app.tour import Tour
from app.window import Window

Until = Callable[..., None]


@pytest.fixture
def tour(window: Window, until: Until, monkeypatch: pytest.MonkeyPatch) -> Iterator[Tour]:
    """A tour that has begun and found the weak spots."""
    monkeypatch.setattr(window, "may_leave", lambda: True)
    made = Tour(window)
    made._turning.setInterval(5)
    made.start()
    until(lambda: made.page == 1)
    yield made
    made.stop()
    made.deleteLater()


def test_the_work_turns_the_pages(tour: Tour, window: Window, until: Until, tmp_path: Path) -> None:
    ended: list[bool] = []
    tour.finished.connect(ended.append)
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: tour.page == 2)
    window.bench.wish("One tooth fewer", teeth=7)
    until(lambda: tour.page == 3)
    window.actions_by_name["undo"].trigger()
    until(lambda: tour.page == 4)
    window.bench.add_row()
    until(lambda: tour.page == 5)
    assert window.bench.job is not None
    assert len(window.bench.job.rows) == 1
    window.bench.hand_over(tmp_path / "hood.stl")
    until(lambda: not tour.running)
    assert (tmp_path / "hood.stl").exists()
    assert ended == [True]


def test_next_does_what_the_page_asks_for(tour: Tour, window: Window, until: Until) -> None:
    ended: list[bool] = []
    tour.finished.connect(ended.append)
    for page in range(1, 6):
        until(lambda page=page: tour.page == page)
        assert tour._card is not None
        tour._card.next.click()
        QApplication.processEvents()
    until(lambda: not tour.running)
    assert ended == [True]
    assert window.bench.job is not None
    assert len(window.bench.job.rows) == 1


def test_the_card_stays_inside_the_window_and_leaves_the_keys_alone(tour: Tour, window: Window) -> None:
    card = tour._card
    assert card is not None
    assert window.rect().contains(card.geometry())
    assert not card.next.hasFocus()
    assert window.actions_by_name["take"].shortcut().toString() in card.text.text()
    for width, height in ((1100, 700), (1440, 900)):
        window.resize(width, height)
        QTest.qWait(50)
        assert window.rect().contains(card.geometry())


def test_the_tour_ends_with_its_sample(tour: Tour, window: Window, until: Until) -> None:
    ended: list[bool] = []
    tour.finished.connect(ended.append)
    window.bench.close()
    until(lambda: not tour.running)
    assert ended == [False]


def test_ending_it_leaves_the_work(tour: Tour, window: Window, until: Until) -> None:
    QTest.keyClick(window, Qt.Key.Key_Return)
    until(lambda: tour.page == 2)
    job = window.bench.job
    assert tour._card is not None
    tour._card.skip.click()
    assert not tour.running
    assert window.bench.job is job
    window.bench.change("Note", lambda j: replace(j, notes=("later",)))  # nothing listens any more


def test_the_words_name_keys_that_were_changed(window: Window, until: Until, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(window, "may_leave", lambda: True)
    action = window.actions_by_name["take"]
    before = action.shortcut()
    action.setShortcut("F8")
    try:
        made = Tour(window)
        made.start()
        assert "F8" in made._pages[1].text
        made.stop()
    finally:
        action.setShortcut(before)


def test_every_page_is_about_something_that_is_there(tour: Tour, window: Window) -> None:
    assert tours.LINGER_MS > 0
    for page in tour._pages:
        assert page.about().isVisibleTo(window)
