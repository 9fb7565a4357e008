"""Every text that the program may say is found in its source."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.language.extract import catalogue_of, everything

#: Functions that ask for texts by a name; what they ask for is listed from the settings and the print setup.
BY_NAME = {"_setting", "_setup", "_control", "set_samples", "source_words", "_caption"}


@pytest.fixture
def source(tmp_path: Path) -> Path:
    folder = tmp_path / "app"
    folder.mkdir()
    (folder / "words.py").write_text(
        """
from PySide6.QtCore import QCoreApplication
translate = QCoreApplication.translate

def _tr(text):
    return QCoreApplication.translate("Spots", text)

def said(context, text):
    return translate(context, text) if text else ""

def names():
    def tr(text):
        return translate("Steps", text)
    return [tr("first"), tr("second")]
"""
    )
    (folder / "panel.py").write_text(
        """
from app.words import _tr as words, said

class Panel(QWidget):
    class Inner:
        def paint(self, painter):
            painter.translate(3, 4)
            return self.tr("inside")

    def fill(self, many, name):
        self.tr("{0} teeth").format(9)
        self.tr("many" if many else "one")
        tr = self.other.tr
        tr("by a shorter name")
        self.tr("a long text "
                "in two pieces")
        words("worst first")
        said("Other", "said there")
        QCoreApplication.translate("Free", "standing")
        self.tr(name)
        self.tr(f"{name} teeth")
"""
    )
    return tmp_path


def test_all_ways_of_asking_are_found(source: Path) -> None:
    asked, _ = everything(source)
    found = {(a.context, a.text) for a in asked if a.where != "listed"}
    assert found == {
        ("Panel", "{0} teeth"),
        ("Panel", "many"),
        ("Panel", "by a shorter name"),
        ("Panel", "one"),
        ("Panel", "a long text in two pieces"),
        ("Inner", "inside"),
        ("Spots", "worst first"),
        ("Other", "said there"),
        ("Free", "standing"),
        ("Steps", "first"),
        ("Steps", "second"),
    }


def test_what_cannot_be_read_is_reported(source: Path) -> None:
    _, unclear = everything(source)
    assert [(u.function, u.source) for u in unclear] == [
        ("fill", "self.tr(name)"),
        ("fill", "self.tr(f'{name} teeth')"),
    ]


def test_settings_and_setup_are_listed() -> None:
    listed = {(a.context, a.text) for a in everything()[0] if a.where == "listed"}
    assert ("Settings", "Theme") in listed
    assert ("Settings", "Deutsch") in listed
    assert ("SetupDialog", "Layer height") in listed


def test_the_programs_own_source_can_be_read_whole() -> None:
    asked, unclear = everything()
    assert len(asked) > 400
    assert {u.function for u in unclear} <= BY_NAME
    assert set(catalogue_of(asked)) >= {"Actions", "StartPage", "Bench", "Tour", "Elevation"}
