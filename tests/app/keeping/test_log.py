"""The log file, and what happens to errors that nobody expected."""

from __future__ import annotations

import logging
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer, qWarning
from pytestqt.qtbot import QtBot

from app.keeping import log


@pytest.fixture
def logging_on(state: Path) -> Iterator[Path]:
    level = logging.getLogger().level
    path = log.start(faults=False)
    assert path is not None
    yield path
    log.stop()
    logging.getLogger().setLevel(level)


def test_lines_are_written_and_read_back(logging_on: Path) -> None:
    logging.getLogger("app.test").warning("the lip is %s mm long", 72)
    assert log.last_lines()[-1].endswith("WARNING app.test: the lip is 72 mm long")
    assert log.start() == logging_on  # twice is once
    assert len(log.last_lines()) == 1


def test_the_log_does_not_grow_for_long(logging_on: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    handler = log._Logging.handler
    monkeypatch.setattr(handler, "maxBytes", 4000)
    for k in range(400):
        logging.getLogger("app.test").info("line %d", k)
    files = sorted(p for p in logging_on.parent.iterdir() if p.name.startswith("snapcomb.log") and p.suffix != ".lock")
    assert len(files) == log.KEPT_FILES + 1
    assert all(p.stat().st_size < 4200 for p in files)
    lines = log.last_lines(60)
    assert [line.rsplit(" ", 1)[1] for line in lines] == [str(k) for k in range(340, 400)]


WRITE = """
import logging, sys
from app.keeping import log
log.start(faults=False)
log._Logging.handler.maxBytes = 20000
for k in range(500):
    logging.getLogger("app.test").info("%s %d", sys.argv[1], k)
"""


def test_processes_share_the_log_while_it_turns_over(state: Path) -> None:
    """Nothing that is still within the kept files is torn or doubled."""
    processes = [subprocess.Popen([sys.executable, "-c", WRITE, name]) for name in ("one", "two")]
    assert [p.wait() for p in processes] == [0, 0]
    lines = log.last_lines(5000)
    assert len(lines) > 100
    assert all("INFO app.test: " in line for line in lines)
    for name in ("one", "two"):
        numbers = [int(line.rsplit(" ", 1)[1]) for line in lines if f" {name} " in line]
        assert len(set(numbers)) == len(numbers)


def test_an_unexpected_error_is_logged_and_said(
    qtbot: QtBot, logging_on: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said: list[str] = []
    before = sys.excepthook
    undo = log.watch_exceptions(said.append)
    try:
        try:
            raise ZeroDivisionError("a pitch of nothing")
        except ZeroDivisionError:
            sys.excepthook(*sys.exc_info())
        qtbot.waitUntil(lambda: bool(said), timeout=1000)
    finally:
        undo()
    assert sys.excepthook is before
    assert "ZeroDivisionError" in said[0]
    assert "log" in said[0]
    assert any("a pitch of nothing" in line for line in log.last_lines())


def test_an_error_in_another_thread_is_said_in_the_windows(qtbot: QtBot, logging_on: Path) -> None:
    said: list[tuple[str, threading.Thread]] = []
    undo = log.watch_exceptions(lambda words: said.append((words, threading.current_thread())))

    def fail() -> None:
        raise RuntimeError("in a thread")

    try:
        thread = threading.Thread(target=fail)
        thread.start()
        thread.join()
        qtbot.waitUntil(lambda: bool(said), timeout=1000)
    finally:
        undo()
    assert said[0][1] is threading.main_thread()
    assert any("in a thread" in line for line in log.last_lines())


def test_warnings_of_the_toolkit_are_logged(qtbot: QtBot, logging_on: Path) -> None:
    undo = log.watch_exceptions(lambda _: None)
    try:
        qWarning("a layout is in trouble")
    finally:
        undo()
    assert any("a layout is in trouble" in line for line in log.last_lines())


def test_a_failing_slot_does_not_end_the_window(qtbot: QtBot, logging_on: Path) -> None:
    said: list[str] = []
    undo = log.watch_exceptions(said.append)

    def slot() -> None:
        raise KeyError("tooth 7")

    try:
        with qtbot.captureExceptions() as caught:
            QTimer.singleShot(0, slot)
            qtbot.wait(50)
    finally:
        undo()
    assert said or caught  # pytest-qt may catch it before our hook does
