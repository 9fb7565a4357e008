"""Parts of a garden weather station to try the program on, with everything that is true of them.

The files are made by ``python -m samples.make``; nothing else is needed to read them.
"""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple


class SampleInfo(NamedTuple):
    """A sample for a start page: file name without suffix, title, one line, file name."""

    name: str
    title: str
    line: str
    file: str


def sample_path(name: str) -> Path:
    """Where a sample lies, by its name (``rain_hood``) or file name. Raises KeyError for a name that is none."""
    known = {entry.name: entry.file for entry in SAMPLES} | {entry.file: entry.file for entry in SAMPLES}
    return Path(str(files(__name__).joinpath(known[name])))


def truth() -> dict[str, Any]:
    """Everything that is known about the samples by construction; ``truth()["samples"]["rain_hood"]`` is the hood."""
    text = files(__name__).joinpath("truth.json").read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return data


SAMPLES = [
    SampleInfo("rain_hood", "Lip over a fin", "the everyday case", "rain_hood.stl"),
    SampleInfo("round_shroud", "Round rim", "a closed row", "round_shroud.stl"),
    SampleInfo("bare_bracket", "Bare bracket", "builds the fin too", "bare_bracket.stl"),
    SampleInfo("sloping_hood", "Sloping fin", "the gap grows along the lip", "sloping_hood.stl"),
    SampleInfo("busy_panel", "Busy panel", "three problems among many details", "busy_panel.stl"),
    SampleInfo("rain_hood_inch", "The hood in inches", "a file that does not say so", "rain_hood_inch.stl"),
]
