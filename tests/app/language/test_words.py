"""The second language is complete, and a pretended one, half as long again, has room."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QCoreApplication, QObject
from PySide6.QtWidgets import QApplication

from app.language import chosen_language, install
from app.language.extract import catalogue_of, everything
from app.language.translator import LANGUAGES, catalogue, pseudo

_PLACES = re.compile(r"\{[^}]*\}")


@pytest.fixture
def english_again(qapp: QApplication) -> Iterator[None]:
    """English after the test."""
    yield
    install("en")


class Panel(QObject):
    """Asks as a panel does."""

    def words(self) -> str:
        return self.tr("Hand over…")


class HandOverStep(Panel):
    """A class that the catalogue knows."""


@pytest.fixture(scope="module")
def pairs() -> list[tuple[str, str, str, str]]:
    """Language, context, text, translation."""
    return [
        (language, context, text, words)
        for language in LANGUAGES
        for context, texts in catalogue(language).items()
        for text, words in texts.items()
    ]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_catalogue_is_complete(language: str) -> None:
    """When this fails: ``python -m app.language.extract de`` puts the new texts in, to be translated by hand."""
    wanted = {(c, t) for c, texts in catalogue_of(everything()[0]).items() for t in texts}
    words = catalogue(language)
    there = {(c, t) for c, texts in words.items() for t, said in texts.items() if said}
    assert sorted(wanted - there) == []
    assert sorted(there - wanted) == []


def test_places_for_figures_stay(pairs: list[tuple[str, str, str, str]]) -> None:
    for _, context, text, words in pairs:
        assert Counter(_PLACES.findall(words)) == Counter(_PLACES.findall(text)), (context, text, words)


def test_form_stays(pairs: list[tuple[str, str, str, str]]) -> None:
    """Dots of a menu that asks for more, mnemonics, spaces at the ends, and the full stop of a sentence."""
    for _, context, text, words in pairs:
        place = (context, text, words)
        assert words.endswith("…") == text.endswith("…"), place
        assert words.endswith(".") == text.endswith("."), place
        assert (len(words) - len(words.lstrip()), len(words) - len(words.rstrip())) == (
            len(text) - len(text.lstrip()),
            len(text) - len(text.rstrip()),
        ), place
        if context == "Actions":
            assert bool(re.search(r"&\w", words)) == bool(re.search(r"&\w", text)), place
        assert "\n" in words or "\n" not in text, place


def test_words_come_from_the_catalogue(english_again: None) -> None:
    assert HandOverStep().words() == "Hand over…"
    install("de")
    words = catalogue("de")["HandOverStep"]["Hand over…"]
    assert HandOverStep().words() == words != "Hand over…"
    assert Panel().words() == words  # by another name, but there is only one way to say it
    assert QCoreApplication.translate("HandOverStep", "Not a text of ours") == "Not a text of ours"
    install("en")
    assert HandOverStep().words() == "Hand over…"


def test_the_toolkits_own_words_come_along(english_again: None) -> None:
    install("de")
    assert QCoreApplication.translate("QPlatformTheme", "Cancel") == "Abbrechen"  # Qt's own catalogue


def test_the_language_is_chosen_by_setting_and_desktop(monkeypatch: pytest.MonkeyPatch) -> None:
    assert chosen_language("de") == "de"
    assert chosen_language("en") == "en"
    assert chosen_language("xx") == "en"
    assert chosen_language("system") in ("en", "de")


def test_the_pretended_language_is_half_as_long_again() -> None:
    assert pseudo("&Open {0}…").startswith("&Öpéñ {0}")
    assert pseudo("&Open {0}…").endswith("…")
    assert pseudo("{0}") == "{0}"
    for text in ("Teeth", "Snapping teeth off makes small pieces fly: wear eye protection."):
        assert 1.4 * len(text) <= len(pseudo(text)) <= 1.7 * len(text)
