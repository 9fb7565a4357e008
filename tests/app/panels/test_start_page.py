"""The start page is filled as pictures and kept jobs come to hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QPixmap
from pytestqt.qtbot import QtBot

from app.panels.kept_jobs import KeptJob
from app.panels.start_page import RecentEntry, SampleEntry, StartPage


@pytest.fixture
def page(qtbot: QtBot, looked: object) -> StartPage:
    made = StartPage()
    qtbot.addWidget(made)
    made.resize(1440, 900)
    made.show()
    return made


def picture() -> QPixmap:
    made = QPixmap(448, 260)
    made.fill(QColor("#0072B2"))
    made.setDevicePixelRatio(2.0)
    return made


def blue(page: StartPage, card: object) -> bool:
    grabbed = card.grab().toImage()  # type: ignore[attr-defined]
    return bool(grabbed.pixelColor(grabbed.width() // 2, grabbed.height() // 4).name() == "#0072b2")


def test_pictures_are_put_on_cards_that_are_there(page: StartPage) -> None:
    paths = [Path(f"/parts/{k}.stl") for k in range(8)]
    page.set_recent([RecentEntry(p) for p in paths])
    page.set_samples([SampleEntry("rain_hood", "Lip over a fin")])
    card, sample = page._recent_cards[paths[2]], page._sample_cards["rain_hood"]
    assert not blue(page, card)
    page.set_recent_picture(paths[2], picture())
    page.set_recent_picture(paths[7], picture())  # not shown yet
    page.set_sample_picture("rain_hood", picture())
    page.set_sample_picture("gone", picture())
    assert blue(page, card)
    assert blue(page, sample)
    page.show_all.click()
    assert blue(page, page._recent_cards[paths[7]])


def test_kept_jobs_are_offered_one_by_one_with_picture_and_time(qtbot: QtBot, page: StartPage) -> None:
    hood = KeptJob("a", "rain_hood.stl", "2 rows, not yet handed over.", "today at 14:02", picture())
    page.set_kept_jobs([hood, KeptJob("b", "gauge_stand.stl", "One row.")])
    first, second = page.kept.banners["a"], page.kept.banners["b"]
    assert first.isVisible()
    assert second.isVisible()
    assert first.picture.isVisible()
    assert not second.picture.isVisible()
    assert "rain_hood.stl" in first.title.text()
    assert "today at 14:02" in first.text.text()
    with qtbot.waitSignal(page.recovery_accepted) as taken:
        first.buttons["take"].click()
    with qtbot.waitSignal(page.recovery_declined) as left:
        second.buttons["leave"].click()
    assert (taken.args, left.args) == (["a"], ["b"])
    page.set_kept_jobs([])
    assert not page.kept.isVisible()
