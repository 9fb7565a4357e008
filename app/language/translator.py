"""Translators that look words up in a catalogue of ours, so that no compiled files and no tools are needed.

A catalogue is JSON: context, source text, translation. Contexts are class names, as ``tr`` asks by them.
"""

from __future__ import annotations

import json
import logging
import re
from importlib.resources import files
from typing import Final

from PySide6.QtCore import QCoreApplication, QLibraryInfo, QLocale, QTranslator

from app.language.sentences import speak

log = logging.getLogger(__name__)

Catalogue = dict[str, dict[str, str]]
#: Languages with a catalogue; English is what the program is written in.
LANGUAGES: Final = ("de",)
_PLACE: Final = re.compile(r"(\{[^}]*\}|&(?=\w)|<[^>]*>)")
_ACCENTS: Final = str.maketrans("aeiounsyAEIOUNSY", "åéîöüñšýÅÉÎÖÜÑŠÝ")
#: How much longer the words of the pretended language are; German and Finnish come near it.
LONGER: Final = 0.5


def catalogue(language: str) -> Catalogue:
    """The catalogue of a language. Raises FileNotFoundError for one that there is none for."""
    data: Catalogue = json.loads(files(__package__).joinpath(f"{language}.json").read_text(encoding="utf-8"))
    return data


class CatalogueTranslator(QTranslator):
    """Looks a text up by its context; what is missing stays English.

    A text that is said the same way everywhere is found in any context: a control may ask by the name of its panel.
    """

    def __init__(self, words: Catalogue) -> None:
        super().__init__()
        self._words = words
        ways: dict[str, set[str]] = {}
        for texts in words.values():
            for text, said in texts.items():
                ways.setdefault(text, set()).add(said)
        self._anywhere = {text: next(iter(said)) for text, said in ways.items() if len(said) == 1}

    def translate(self, context: str, text: str, disambiguation: str | None = None, n: int = -1) -> str | None:
        return self._words.get(context, {}).get(text) or self._anywhere.get(text)

    def isEmpty(self) -> bool:  # noqa: N802 - Qt's name
        return not self._words


class PseudoTranslator(QTranslator):
    """A pretended language: accents, and half as long again, so that one sees what is not translated or has no room."""

    def translate(self, context: str, text: str, disambiguation: str | None = None, n: int = -1) -> str | None:
        return pseudo(text)

    def isEmpty(self) -> bool:  # noqa: N802 - Qt's name
        return False


def pseudo(text: str) -> str:
    """The text in the pretended language; places for figures, mnemonics and tags stay.

    >>> pseudo("Row {0}")
    'Röw {0} ·····'[:-2]
    """
    parts = _PLACE.split(text)
    said = "".join(part if k % 2 else part.translate(_ACCENTS) for k, part in enumerate(parts))
    letters = sum(len(part) for part in parts[::2])
    tail = "…" if said.endswith("…") else ""
    return said.removesuffix("…") + " " + "·" * max(round(letters * LONGER) - 1, 1) + tail if letters else text


def chosen_language(wish: str) -> str:
    """The language for a setting: "system" follows the desktop where there is a catalogue, else English."""
    name = QLocale.system().name().partition("_")[0] if wish == "system" else wish
    return name if name in LANGUAGES else "en"


#: Qt does not keep its translators alive.
_installed: list[QTranslator] = []


def install(language: str) -> None:
    """Speak a language from now on: "en", "de", or "pseudo" for tests. What is built already keeps its words."""
    for translator in _installed:
        QCoreApplication.removeTranslator(translator)
    _installed.clear()
    speak(language)
    if language == "pseudo":
        _add(PseudoTranslator())
    elif language != "en":
        _add_toolkit(language)
        _add(CatalogueTranslator(catalogue(language)))


def _add_toolkit(language: str) -> None:
    """Qt's own words, as in the file dialog; below ours, which are asked first."""
    toolkit = QTranslator()
    if toolkit.load(f"qtbase_{language}", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)):
        _add(toolkit)
    else:
        log.info("The toolkit has no words of its own in “%s”.", language)


def _add(translator: QTranslator) -> None:
    _installed.append(translator)
    QCoreApplication.installTranslator(translator)
