"""Files are read in a worker process under limits; what they cost is a sentence, and the window works on."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

from app.work.runner import WorkerRunner
from core.design.setup import PrintSetup
from core.errors import RefusedFile, SnapcombError
from core.files.guard import DEFAULT, MIB, Limits
from samples import sample_path
from tests.files import build

LARGE = 300_000
"""Facets of a text file: far more than a second of reading, some 60 MB."""


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A text file that takes long to read, and is right."""
    path = tmp_path_factory.mktemp("large") / "mesh of a hood.stl"
    text = build.facet_text(build.TETRA[build.TETRA_FACES[0]])
    path.write_text("solid hood\n" + text * LARGE + "endsolid hood\n")
    return path


@pytest.fixture
def running(looked: QApplication) -> Iterator[Callable[..., WorkerRunner]]:
    """Starts runners with limits of their own, and ends them."""
    runners: list[WorkerRunner] = []

    def start(limits: Limits = DEFAULT) -> WorkerRunner:
        runners.append(WorkerRunner(limits))
        return runners[-1]

    yield start
    for runner in runners:
        runner.close()


def ask(runner: WorkerRunner, path: Path, lane: str = "open") -> list[Any]:
    answers: list[Any] = []
    runner.post(lane, "open", path, None, None, PrintSetup(), then=answers.append, fail=answers.append)
    return answers


def wait(holds: Callable[[], object], seconds: float = 120.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come to be"
        QApplication.processEvents()
        time.sleep(0.005)


def opens(runner: WorkerRunner) -> bool:
    """Whether an ordinary file opens after what went before."""
    answers = ask(runner, sample_path("rain_hood"))
    wait(lambda: answers)
    return not isinstance(answers[0], SnapcombError)


def test_reading_that_takes_too_long_is_stopped_and_said(running: Callable[..., WorkerRunner], large: Path) -> None:
    runner = running(replace(DEFAULT, seconds=0.3))
    answers = ask(runner, large)
    wait(lambda: answers)
    assert isinstance(answers[0], RefusedFile)
    assert str(answers[0]).startswith("“mesh of a hood.stl”: Reading it took longer than 0.3 s and was stopped. Reduce")


@pytest.mark.skipif(sys.platform != "linux", reason="the ceiling needs Linux")
def test_reading_that_wants_too_much_memory_is_refused(running: Callable[..., WorkerRunner], large: Path) -> None:
    runner = running(replace(DEFAULT, memory_bytes=40 * MIB))
    answers = ask(runner, large)
    wait(lambda: answers)
    assert isinstance(answers[0], RefusedFile)
    assert "“mesh of a hood.stl” needs more memory than there is" in str(answers[0])


def test_a_reader_that_the_system_kills_is_a_sentence(running: Callable[..., WorkerRunner], large: Path) -> None:
    """What waits behind it is asked for again, and the next file opens."""
    runner = running()
    answers = ask(runner, large)
    behind = ask(runner, sample_path("round_shroud"), lane="sheet")  # another lane of the same process
    wait(lambda: runner._processes["slow"].ticket)
    runner._processes["slow"].process.kill()
    wait(lambda: answers and behind)
    assert isinstance(answers[0], RefusedFile)
    assert "Reading it was stopped by the system" in str(answers[0])
    assert not isinstance(behind[0], SnapcombError)
    assert opens(runner)


def test_a_process_that_dies_idle_comes_back(running: Callable[..., WorkerRunner]) -> None:
    runner = running()
    assert opens(runner)
    runner._processes["slow"].process.kill()
    wait(lambda: "slow" not in runner._processes)
    assert opens(runner)


def test_work_on_what_was_read_is_not_limited(running: Callable[..., WorkerRunner]) -> None:
    """The watch ends with the reading."""
    runner = running(replace(DEFAULT, seconds=20.0))
    assert opens(runner)
    assert not runner._processes["slow"].watch.isActive()
