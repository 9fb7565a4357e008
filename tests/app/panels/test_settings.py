"""Settings that are read, kept and shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtWidgets import QCheckBox, QComboBox
from pytestqt.qtbot import QtBot

from app import settings as remembered
from app.dressing import dress
from app.look import fonts
from app.look.current import current
from app.panels.fields import settings_fields, setup_fields
from app.panels.log_view import LogView, system_information
from app.panels.preferences import Preferences
from app.settings import Settings
from app.shortcuts import Shortcuts
from core.design.setup import FIGURES, PrintSetup


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SNAPCOMB_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("SNAPCOMB_STATE", str(tmp_path / "state"))


@pytest.fixture
def preferences(qtbot: QtBot) -> Preferences:
    made = Preferences(Settings(), Shortcuts({}, Settings()))
    qtbot.addWidget(made)
    return made


def test_settings_come_back_as_they_were() -> None:
    kept = Settings(theme="dark", type_scale=1.3, shortcuts={"open": "Ctrl+K"}, setup={"nozzle": 0.6})
    remembered.save(kept)
    assert remembered.load() == kept


def test_one_slip_in_the_file_costs_one_setting(caplog: pytest.LogCaptureFixture) -> None:
    path = remembered.settings_path()
    path.parent.mkdir(parents=True)
    path.write_text('{"theme": "pink", "type_scale": 9.0, "unit": "inch", "unknown": 1, "recent": ["a.stl"]}')
    assert remembered.load() == Settings(unit="inch", recent=["a.stl"])
    assert "theme" in caplog.text


@pytest.mark.parametrize("text", ["", "{", "[1]", "null", "\0\0"])
def test_a_broken_file_is_the_defaults(text: str) -> None:
    path = remembered.settings_path()
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert remembered.load() == Settings()


def test_every_setting_with_a_page_has_a_control(preferences: Preferences) -> None:
    shown = {spec.name for spec in (*settings_fields("look"), *settings_fields("work"))}
    assert shown == {"theme", "type_scale", "animation", "language", "unit", "file_limits"}
    assert shown == set(preferences.look.controls)
    assert {spec.name for spec in setup_fields()} == {f.name for f in FIGURES}
    assert set(preferences.setup.form.controls) == {f.name for f in FIGURES}


def test_a_choice_is_kept_at_once_and_told(qtbot: QtBot, preferences: Preferences) -> None:
    box = preferences.look.controls["theme"]
    assert isinstance(box, QComboBox)
    box.setCurrentIndex(1)
    with qtbot.waitSignal(preferences.changed) as told:
        box.activated.emit(1)
    assert told.args == ["theme"]
    assert remembered.load().theme == "dark"
    switch = preferences.look.controls["animation"]
    assert isinstance(switch, QCheckBox)
    switch.click()
    assert remembered.load().animation is False


def test_showing_settings_tells_nothing(preferences: Preferences) -> None:
    told: list[str] = []
    preferences.changed.connect(told.append)
    preferences.settings.theme = "dark"
    preferences.settings.type_scale = 1.31
    preferences.refresh()
    assert told == []
    box = preferences.look.controls["type_scale"]
    assert isinstance(box, QComboBox)
    assert box.currentText() == "130%"


def test_the_setup_of_new_jobs(qtbot: QtBot, preferences: Preferences) -> None:
    form = preferences.setup.form
    form.edited.emit("nozzle", 0.6)
    assert preferences.setup.setup() == PrintSetup(nozzle=0.6)
    form.edited.emit("nozzle", 9.0)
    box = form.controls["nozzle"]
    assert "Nozzle cannot be 9.0 mm" in box.error.text()  # type: ignore[attr-defined]
    assert PrintSetup(**remembered.load().setup) == PrintSetup(nozzle=0.6)
    preferences.setup.back.click()
    assert preferences.setup.setup() == PrintSetup()


def test_lengths_follow_the_unit(preferences: Preferences) -> None:
    preferences.look.edited.emit("unit", "inch")
    box = preferences.setup.form.controls["line_width"]
    assert float(box.edit.text()) == pytest.approx(0.44 / 25.4, abs=1e-3)  # type: ignore[attr-defined]  # NIST: 25.4


def test_dressing_sets_theme_and_letters(looked: object) -> None:
    try:
        dress(looked, Settings(theme="dark", type_scale=1.3))  # type: ignore[arg-type]
        assert current().dark
        assert fonts.scale() == pytest.approx(1.3)
    finally:
        dress(looked, Settings())  # type: ignore[arg-type]


def test_system_information_names_no_person(qtbot: QtBot) -> None:
    words = system_information("a renderer")
    assert "a renderer" in words
    assert "PySide6-Essentials 6" in words
    assert str(Path.home()) not in words


def test_the_log_is_shown_and_copied(qtbot: QtBot, qapp: object) -> None:
    view = LogView()
    qtbot.addWidget(view)
    path = remembered.settings_path().parents[1] / "state" / "log" / "snapcomb.log"
    path.parent.mkdir(parents=True)
    path.write_text(
        "2026-01-02 03:04:05,678 9 INFO app: opened\n"
        "2026-01-02 03:04:06,678 9 ERROR app: failed\nTraceback of it\n"
        "2026-01-02 03:04:07,678 9 INFO app: closed\n"
    )
    view.show()
    assert view.lines.toPlainText().splitlines()[0].endswith("opened")
    view.grave.click()
    assert [line.rsplit(" ", 1)[-1] for line in view.lines.toPlainText().splitlines()] == ["failed", "it"]
    view.copy.click()
    assert "failed" in qapp.clipboard().text()  # type: ignore[attr-defined]
    view.close()
