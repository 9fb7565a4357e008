"""Sentences of the computation in the second language, recognised by their fixed words."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import core
from app.language import install, said
from app.language.sentences import Speaker, sentences
from app.language.translator import LANGUAGES
from app.panels.widgets import Banner, SheetLine, ThemedLabel
from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.errors import SnapcombError
from core.files.read import read_part
from core.job.fit import gap_pick
from core.job.job import Row, new_job
from core.job.pipeline import Pipeline
from core.proof.prove import prove_row
from samples import sample_path

ROOT = Path(core.__file__).resolve().parents[1]  # the packages as installed
_PLACES = re.compile(r"\{\d+\}")
WISHES = (
    RowWishes(), RowWishes(tip=0.3), RowWishes(teeth=3), RowWishes(tip=1.2, foot=2.5), RowWishes(teeth=200),
    RowWishes(thickness=9.0), RowWishes(end_clearance=0.0), RowWishes(air_layers=3), RowWishes(start=500.0),
)  # fmt: skip
SETUPS = (
    PrintSetup(),
    PrintSetup(material="TPU 95A", walls="variable"),
    PrintSetup(clear_bridge=1.5, longest_tooth=3.0),
)


def templates() -> set[str]:
    """Every literal of the computation, with places where it puts figures in."""
    out = set()
    for path in [*(ROOT / "core").rglob("*.py"), *(ROOT / "app" / "work").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                out.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                out.add("".join(v.value if isinstance(v, ast.Constant) else "\0" for v in node.values))  # type: ignore[misc]
    return {text for text in out if text.strip()}


def brought_up() -> Iterator[str]:
    """What the computation says about the hood when it is asked for sane and for foolish rows."""
    part = read_part(sample_path("rain_hood"))
    yield from part.notes
    for setup in SETUPS:
        job, pipeline = new_job(part, setup), Pipeline()
        found = inspect_part(part, job.pose, setup)
        yield from (gap.cause for gap in found.gaps)
        yield from (piece.why for piece in found.pieces)
        for gap in found.gaps[:3]:
            pick = gap_pick(job, gap.id, gap.span)
            pipeline.keep_span(job, pick, gap.span)
            for wishes in WISHES:
                try:
                    design = pipeline.design(job, Row(1, pick, wishes))
                except SnapcombError as problem:
                    yield str(problem)
                    continue
                rows, mesh = [row for row in found.rows if row.gap != gap.id], pipeline.bed_mesh(job)
                proof = prove_row(mesh, design.span, design.plan, setup, teeth=design.teeth, standing=rows)
                yield from (proof.headline, *proof.sentences)
                for finding in proof.findings:
                    yield from (finding.heading, finding.text)
                    yield finding.remedy.text if finding.remedy is not None else ""


@pytest.fixture(scope="module")
def texts() -> set[str]:
    return {text for text in brought_up() if text}


@pytest.mark.parametrize("language", LANGUAGES)
def test_everything_said_about_the_hood_is_known(language: str, texts: set[str]) -> None:
    speaker = Speaker(sentences(language))
    assert len(texts) > 40
    assert [text for text in sorted(texts) if not speaker.knows(text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_figures_come_through_unchanged(language: str, texts: set[str]) -> None:
    speaker = Speaker(sentences(language))
    for text in texts:
        figures = Counter(re.findall(r"\d+(?:\.\d+)?", text))
        assert Counter(re.findall(r"\d+(?:\.\d+)?", speaker.said(text))) == figures, text


@pytest.mark.parametrize("language", LANGUAGES)
def test_places_stay(language: str) -> None:
    for text, words in sentences(language).items():
        assert Counter(_PLACES.findall(words)) == Counter(_PLACES.findall(text)), text
        assert words.endswith(".") == text.endswith("."), text


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_is_kept_that_nobody_says(language: str) -> None:
    """Each is made of words that stand in the source; what was worded anew there is found out here."""
    there = {word for text in templates() for word in re.findall(r"[a-z]{4,}", text.casefold())}
    lost = {text: set(re.findall(r"[a-z]{4,}", text.casefold())) - there for text in sentences(language)}
    assert {text: words for text, words in lost.items() if words} == {}


def test_what_is_not_known_stays_english() -> None:
    speaker = Speaker({"The edge is short.": "Die Kante ist kurz.", "{0} teeth": "{0} Zähne"})
    assert speaker.said("The edge is short. Nobody knows this one.") == "Die Kante ist kurz. Nobody knows this one."
    assert not speaker.knows("The edge is short. Nobody knows this one.")
    assert speaker.said("14 teeth") == "14 Zähne"
    assert speaker.said("") == ""


def test_the_longest_pattern_wins_and_places_may_change_order() -> None:
    words = {
        "{0} teeth at a pitch of {1} mm.": "Bei {1} mm Teilung {0} Zähne.",
        "{0} teeth": "{0} Zähne",
        "a pitch of {0} mm": "eine Teilung von {0} mm",
    }
    assert Speaker(words).said("9 teeth at a pitch of 4.65 mm.") == "Bei 4.65 mm Teilung 9 Zähne."


def test_a_figure_that_is_a_sentence_is_said_too() -> None:
    words = {
        "Comes off {0}: about {1}.": "Löst sich {0}: etwa {1}.",
        "by hand": "von Hand",
        "{0} to {1} N": "{0} bis {1} N",
    }
    assert Speaker(words).said("Comes off by hand: about 3 to 14 N.") == "Löst sich von Hand: etwa 3 bis 14 N."


def test_controls_say_sentences_in_the_persons_language(looked: object) -> None:
    install("de")
    try:
        label, banner, line = ThemedLabel("holds, snaps off"), Banner("Hard to snap"), SheetLine(6, "Proof")
        line.set_figure("2 warnings, 1 note")
        banner.show_message("There is no such file. Check the path.", (("foot", "Make the foot 1.10 mm"),))
    finally:
        install("en")
    assert label.text() == "hält, bricht ab"
    assert banner.text.text() == "Diese Datei gibt es nicht. Prüfen Sie den Pfad."
    assert banner.buttons["foot"].text() == "Fuß auf 1.10 mm"
    assert line.header.figure == "2 Warnungen, 1 Hinweis"
    assert said("Hard to snap") == "Hard to snap"
