"""What the computation says, in another language.

The computation knows no window and speaks English, with its figures already in its sentences. Here a sentence is
recognised by its fixed words and said again with the same figures; a piece that nobody has translated stays English.
"""

from __future__ import annotations

import json
import re
from functools import lru_cache
from importlib.resources import files
from typing import Final

Words = dict[str, str]

_PLACE: Final = re.compile(r"\{(\d+)\}")
_NUMBER: Final = r"([-−]?\d[\d.,  ]*(?: [×%°])?)"
#: Anything within one sentence.
_ANYTHING: Final = r"((?:(?!\. [A-Z])[^\n])+?)"
#: A pattern with fewer fixed letters than this would fit too much, so its places take figures only.
_TELLING: Final = 5
#: A word that could be translated; figures, units, names of materials and of files in quotes are none.
_WORD: Final = re.compile(r"(?<![“\w.])[A-Za-z]?[a-z]{3,}(?![\w”.]*”)")
_ENDS: Final = re.compile(r"(?<=[.!?:])( +)(?=[A-Z0-9“])|(\n)")
_HALVES: Final = re.compile(r"(; )")


def sentences(language: str) -> Words:
    """English sentences with their translations; places for figures are ``{0}``, ``{1}``. None for English."""
    path = files(__package__).joinpath(f"core.{language}.json")
    if not path.is_file():
        return {}
    words: Words = json.loads(path.read_text(encoding="utf-8"))
    return words


class Speaker:
    """Says English sentences in another language."""

    def __init__(self, words: Words) -> None:
        self._whole = {text: said for text, said in words.items() if not _PLACE.search(text)}
        patterns = [(text, said) for text, said in words.items() if _PLACE.search(text)]
        patterns.sort(key=lambda pair: -len(_PLACE.sub("", pair[0])))
        self._patterns = [(_compiled(text), _order(text), said) for text, said in patterns]
        self.said = lru_cache(1024)(self._said)

    def _said(self, text: str) -> str:
        """The text, as far as its sentences are known."""
        if not self._whole and not self._patterns:
            return text
        whole = self._one(text)
        if whole is not None:
            return whole
        if not self.knows(text) and len(_split(text, _ENDS)) == 1:
            return text  # half of a sentence in each language helps nobody
        return self._many(text, _ENDS) or self._many(text, _HALVES) or text

    def knows(self, text: str) -> bool:
        """Whether the whole text can be said, with the words that stand in its places."""
        if not _WORD.search(text) or text in self._whole:
            return True
        found = self._match(text)
        if found is not None:
            return all(self.knows(figure) for figure in found[0].groups())
        parts = _split(text, _ENDS)
        if len(parts) == 1:
            parts = _split(text, _HALVES)
        return len(parts) > 1 and all(self.knows(part) for part in parts[::2])

    def _match(self, text: str) -> tuple[re.Match[str], list[int], str] | None:
        for pattern, order, said in self._patterns:
            found = pattern.fullmatch(text)
            if found is not None:
                return found, order, said
        return None

    def _one(self, text: str) -> str | None:
        if text in self._whole:
            return self._whole[text]
        match = self._match(text)
        if match is None:
            return None
        found, order, words = match
        figures = {number: self.said(figure) for number, figure in zip(order, found.groups(), strict=True)}
        return _PLACE.sub(lambda place: figures[int(place[1])], words)

    def _many(self, text: str, ends: re.Pattern[str]) -> str | None:
        """Sentence by sentence, the longest run that is known as one first."""
        parts = _split(text, ends)
        if len(parts) == 1:
            return None
        out, k = "", 0
        while k < len(parts):
            for end in range(len(parts), k, -2):
                run = "".join(parts[k:end])
                said = self._one(run) if end - k > 1 else self.said(run)
                if said is not None:
                    out += said + (parts[end] if end < len(parts) else "")
                    k = end + 1
                    break
        return out


def _split(text: str, ends: re.Pattern[str]) -> list[str]:
    """Sentences and what stands between them, by turns."""
    return [part for part in ends.split(text) if part is not None]


def _compiled(text: str) -> re.Pattern[str]:
    parts = _PLACE.split(text)
    letters = sum(c.isalpha() for part in parts[::2] for c in part)
    place = _ANYTHING if letters >= _TELLING else _NUMBER
    return re.compile("".join(place if k % 2 else re.escape(part) for k, part in enumerate(parts)))


def _order(text: str) -> list[int]:
    return [int(number) for number in _PLACE.findall(text)]


_now: list[Speaker] = [Speaker({})]


def speak(language: str) -> None:
    """Say sentences in this language from now on."""
    _now[0] = Speaker(sentences(language))


def said(text: str) -> str:
    """A sentence of the computation (an error, a finding, a cause, a note) as the person should read it."""
    return _now[0].said(text)
