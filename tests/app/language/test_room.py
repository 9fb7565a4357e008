"""The window in a language half as long again, and in German with the largest letters: nothing is cut off."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]


@pytest.mark.parametrize(("language", "letters"), [("pseudo", "1.0"), ("de", "1.436")])
def test_words_have_room(language: str, letters: str, tmp_path: Path) -> None:
    """Buttons and labels of every panel and dialog, while a row is made on the hood."""
    script = Path(__file__).with_name("show_window.py")
    done = subprocess.run(
        [sys.executable, str(script), language, letters, str(tmp_path)],
        env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, timeout=240, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    found = json.loads(done.stdout.splitlines()[-1])
    assert len(found) >= 18
    assert {place: words for place, words in found.items() if words} == {}
