"""The start page is filled as pictures and kept jobs come to hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QPixmap
from pytestqt.qtbot import QtBot

from app.panels.start_page import KeptJob, RecentEntry, SampleEntry, StartPage


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


def test_a_kept_job_is_offered_with_picture_and_time(qtbot: QtBot, page: StartPage) -> None:
    page.set_kept_job(KeptJob("rain_hood.stl", "2 rows, not yet handed over.", "today at 14:02", picture()))
    assert page.kept.isVisible()
    assert page.kept.picture.isVisible()
    assert "rain_hood.stl" in page.kept.title.text()
    assert "today at 14:02" in page.kept.text.text()
    with qtbot.waitSignal(page.recovery_accepted):
        page.kept.buttons["take"].click()
    page.set_kept_job(KeptJob("rain_hood.stl"))
    assert not page.kept.picture.isVisible()
    with qtbot.waitSignal(page.recovery_declined):
        page.kept.buttons["leave"].click()
    page.set_kept_job(None)
    assert not page.kept.isVisible()
