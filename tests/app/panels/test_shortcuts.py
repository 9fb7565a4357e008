"""Keys that the person chooses."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QKeySequence
from pytestqt.qtbot import QtBot

from app.panels.preferences import KeysPage
from app.settings import Settings
from app.shortcuts import RESERVED, Shortcuts


@pytest.fixture
def actions(qapp: object) -> dict[str, QAction]:
    made = {}
    for name, words, keys in (
        ("open", "&Open…", "Ctrl+O"),
        ("undo", "&Undo: Move tooth 4", "Ctrl+Z"),
        ("about", "About", ""),
    ):
        made[name] = QAction(words)
        made[name].setShortcut(QKeySequence(keys))
    return made


@pytest.fixture
def page(qtbot: QtBot, actions: dict[str, QAction]) -> KeysPage:
    made = KeysPage(Shortcuts(actions, Settings()))
    qtbot.addWidget(made)
    made.show()
    return made


def choose(page: KeysPage, name: str) -> None:
    for k in range(page.list.topLevelItemCount()):
        page.list.setCurrentItem(page.list.topLevelItem(k))
        if page.name() == name:
            return
    raise AssertionError(name)


def keys(action: QAction) -> str:
    return action.shortcut().toString()


def test_chosen_keys_are_put_on_at_the_next_start(actions: dict[str, QAction]) -> None:
    settings = Settings()
    Shortcuts(actions, settings).choose("open", QKeySequence("Ctrl+K"))
    assert settings.shortcuts == {"open": "Ctrl+K"}
    actions["open"].setShortcut("Ctrl+O")  # as a new window makes it
    Shortcuts(actions, settings)
    assert keys(actions["open"]) == "Ctrl+K"


def test_keys_belong_to_one_action(actions: dict[str, QAction]) -> None:
    shortcuts = Shortcuts(actions, Settings())
    assert shortcuts.holder(QKeySequence("Ctrl+Z")) == "undo"
    shortcuts.choose("about", QKeySequence("Ctrl+Z"))
    assert [keys(actions[n]) for n in ("undo", "about")] == ["", "Ctrl+Z"]
    shortcuts.reset("undo")
    assert [keys(actions[n]) for n in ("undo", "about")] == ["Ctrl+Z", ""]
    shortcuts.reset_all()
    assert not any(shortcuts.changed(n) for n in actions)
    assert [keys(actions[n]) for n in ("open", "undo", "about")] == ["Ctrl+O", "Ctrl+Z", ""]


def test_default_keys_chosen_again_are_no_choice(actions: dict[str, QAction]) -> None:
    settings = Settings()
    shortcuts = Shortcuts(actions, settings)
    shortcuts.choose("open", QKeySequence("F4"))
    shortcuts.choose("open", QKeySequence("Ctrl+O"))
    assert settings.shortcuts == {}


def test_keys_are_taken_from_the_keyboard(qtbot: QtBot, page: KeysPage, actions: dict[str, QAction]) -> None:
    choose(page, "about")
    with qtbot.waitSignal(page.changed):
        qtbot.keyClick(page.edit, Qt.Key.Key_F4, Qt.KeyboardModifier.ShiftModifier)
    assert keys(actions["about"]) == "Shift+F4"
    assert page.list.currentItem().text(1) == "Shift+F4"
    page.clear.click()
    assert keys(actions["about"]) == ""


def test_keys_that_belong_to_another_are_asked_for(qtbot: QtBot, page: KeysPage, actions: dict[str, QAction]) -> None:
    choose(page, "about")
    qtbot.keyClick(page.edit, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert "“Undo”" in page.trouble.text.text()
    assert keys(actions["undo"]) == "Ctrl+Z"
    page.trouble.buttons["leave"].click()
    assert page.edit.keySequence().isEmpty()
    qtbot.keyClick(page.edit, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    page.trouble.buttons["take"].click()
    assert [keys(actions[n]) for n in ("undo", "about")] == ["", "Ctrl+Z"]


@pytest.mark.parametrize("text", RESERVED)
def test_keys_that_steer_windows_are_refused(page: KeysPage, actions: dict[str, QAction], text: str) -> None:
    choose(page, "about")
    page.edit.setKeySequence(QKeySequence(text))
    assert keys(actions["about"]) == ""


def test_tab_leaves_the_field(qtbot: QtBot, page: KeysPage) -> None:
    choose(page, "about")
    page.edit.setFocus()
    qtbot.keyClick(page.edit, Qt.Key.Key_Tab)
    assert page.edit.keySequence().isEmpty()


def test_searching_by_name_and_keys(page: KeysPage) -> None:
    def shown() -> list[str]:
        items = [page.list.topLevelItem(k) for k in range(page.list.topLevelItemCount())]
        return [item.text(0) for item in items if not item.isHidden()]

    assert shown() == ["Open", "Undo", "About"]
    page.search.setText("und")
    assert shown() == ["Undo"]
    page.search.setText("ctrl")
    assert shown() == ["Open", "Undo"]
