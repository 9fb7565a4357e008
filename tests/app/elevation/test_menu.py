"""The menu of the right button, asked for by real events, and the clipboard that it fills."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent, QGuiApplication, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu

from core.design.plan import RowWishes
from tests.app.elevation.bench import Bench


@pytest.fixture
def menu() -> Callable[..., QMenu]:
    """Opens the menu at a place of a bench's canvas, by the mouse or by the menu key."""

    def ask(b: Bench, at: QPoint, by: QContextMenuEvent.Reason = QContextMenuEvent.Reason.Mouse) -> QMenu:
        QApplication.sendEvent(b.canvas, QContextMenuEvent(by, at, b.canvas.mapToGlobal(at), Qt.NoModifier))
        b.settle()
        opened = QApplication.activePopupWidget()
        assert isinstance(opened, QMenu)
        return opened

    return ask


def take(menu: QMenu, words: str) -> None:
    """Take a line by clicking it."""
    action = next(a for a in menu.actions() if a.text().split("\t")[0] == words)
    assert action.isEnabled(), words
    QTest.mouseClick(menu, Qt.MouseButton.LeftButton, pos=menu.actionGeometry(action).center())
    QApplication.processEvents()


def words_of(menu: QMenu) -> list[str]:
    found = [a.text().split("\t")[0] for a in menu.actions() if a.isEnabled() and not a.isSeparator()]
    menu.close()
    return found


def test_a_tooth_is_left_out_and_put_back(bench, menu):
    b = bench()
    place = b.on_tooth(5)
    take(menu(b, place), "Leave tooth 6 out")
    assert b.wishes.left_out == (5,)
    assert b.heard.edits[-1][0] == "Leave out tooth 6"
    take(menu(b, place), "Put tooth 6 back")
    assert b.wishes == RowWishes()
    assert len(b.steps) == 2


def test_a_tooth_is_added_where_there_is_none(bench, menu):
    b = bench()
    count = len(b.model.teeth)
    between = (b.tooth(4).centre + b.tooth(5).centre) / 2
    take(menu(b, b.at(between, 17.7)), "Add a tooth here")
    assert len(b.model.teeth) == count + 1
    take(menu(b, b.at(between, 28.0)), "One tooth fewer")
    assert len(b.model.teeth) == count


def test_a_tooth_is_centred_between_its_neighbours(bench, menu):
    b = bench(wishes=RowWishes(moved=((4, 0.6), (5, 0.9))))
    take(menu(b, b.on_tooth(5)), "Centre it between its neighbours")
    left, right = b.model.neighbours(5)
    assert left.clear == pytest.approx(right.clear, abs=1e-6)
    take(menu(b, b.on_tooth(5)), "Back to its place in the row")
    assert dict(b.wishes.moved) == {4: 0.6}
    take(menu(b, b.on_tooth(2)), "All teeth back in their places")
    assert b.wishes.moved == ()


def test_a_trimmed_end_goes_back(bench, menu):
    b = bench(wishes=RowWishes(start=3.0))
    assert "Back to the end of the edge" not in words_of(menu(b, b.on_stop(1)))
    take(menu(b, b.on_stop(0)), "Back to the start of the edge")
    assert b.wishes.start == 0.0


def test_a_figure_is_typed(bench, menu):
    b = bench()
    take(menu(b, b.on_figure("length")), "Type this figure…")
    assert b.canvas.editor is not None
    b.type("60")
    assert b.wishes.stop == pytest.approx(12.0, abs=1e-3)


def test_the_menu_key_asks_about_the_selected_tooth(bench, menu):
    b = bench()
    b.click(b.on_tooth(3))
    assert "Leave tooth 4 out" in words_of(menu(b, QPoint(0, 0), QContextMenuEvent.Reason.Keyboard))


def test_no_menu_opens_in_the_middle_of_a_pull(bench):
    b = bench()
    start = b.on_tooth(5)
    b.drag(start, (14, 0), release=False)
    QApplication.sendEvent(
        b.canvas, QContextMenuEvent(QContextMenuEvent.Reason.Mouse, start, b.canvas.mapToGlobal(start), Qt.NoModifier)
    )
    assert QApplication.activePopupWidget() is None
    b.release(start)


def test_the_drawing_is_copied_in_either_form(bench, menu):
    b = bench()
    take(menu(b, b.at(36.0, 28.0)), "Copy as SVG")
    data = QGuiApplication.clipboard().mimeData()
    assert data.text().startswith("<?xml") or data.text().startswith("<svg")
    assert "image/svg+xml" in data.formats()
    take(menu(b, b.at(36.0, 28.0)), "Copy as a picture")
    assert isinstance(QGuiApplication.clipboard().image(), QImage)
    assert QGuiApplication.clipboard().image().width() > 600
    assert "image/svg+xml" not in QGuiApplication.clipboard().mimeData().formats()
