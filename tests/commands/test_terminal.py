"""On a terminal there are tables and progress bars; in a pipe there are none."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.commands.conftest import HOME, snapcomb

pty = pytest.importorskip("pty", reason="terminals of this kind are there on POSIX")


def on_a_terminal(*arguments: object) -> tuple[int, str]:
    """Run the program with a terminal for output and errors; what it wrote there."""
    master, slave = pty.openpty()
    env = os.environ | {"PYTHONPATH": str(HOME), "TERM": "xterm-256color", "COLUMNS": "120"}
    command = [sys.executable, "-c", "from app.main import main; main()", *map(str, arguments)]
    with subprocess.Popen(command, stdin=slave, stdout=slave, stderr=slave, env=env) as running:
        os.close(slave)
        text = b""
        while True:
            try:
                piece = os.read(master, 65536)
            except OSError:  # the other side has closed: that is how Linux ends a terminal
                break
            if not piece:
                break
            text += piece
    os.close(master)
    return running.returncode, text.decode("utf-8")


def test_a_terminal_gets_a_table_and_a_bar_and_a_pipe_gets_neither(samples: Path) -> None:
    code, text = on_a_terminal("inspect", samples / "bare_bracket.stl")
    assert code == 1
    assert "\x1b[" in text
    assert "━" in text, "a progress bar"
    assert "───" in text, "the rule of a table"
    ran = snapcomb("inspect", samples / "bare_bracket.stl")
    assert ran.err == ""
    assert not {"\x1b", "━", "─"} & set(ran.out)
    figures = [word for line in ran.out.splitlines()[:3] for word in line.split()]
    assert all(word in text for word in figures if word[0].isdigit())


def test_json_on_a_terminal_is_still_json(samples: Path) -> None:
    _code, text = on_a_terminal("inspect", samples / "bare_bracket.stl", "--json")
    assert '"format": "snapcomb.inspection"' in text
