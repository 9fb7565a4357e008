"""Rows of controls that break where their words have no room."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from app.panels.widgets import SideBySide, VerbButton


def test_a_row_breaks_and_joins_again(qtbot: QtBot, looked: object) -> None:
    page = QWidget()
    qtbot.addWidget(page)
    column = QVBoxLayout(page)
    one, other = VerbButton("Seat on a face"), VerbButton("Turn a quarter")
    row = SideBySide([one, other])
    column.addWidget(row)
    column.addStretch(1)
    page.resize(400, 200)
    page.show()
    assert not row.broken()
    assert one.y() == other.y()
    page.resize(200, 200)
    qtbot.waitUntil(row.broken)
    qtbot.waitUntil(lambda: other.y() >= one.y() + one.height())
    assert one.width() >= one.sizeHint().width()
    page.resize(400, 200)
    qtbot.waitUntil(lambda: not row.broken())
    other.setText("Turn it by a quarter about its own upright axis, and then once more")
    qtbot.waitUntil(row.broken)
    other.hide()
    qtbot.waitUntil(lambda: not row.broken())
