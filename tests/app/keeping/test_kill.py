"""A process that works and is killed at any moment leaves a whole file that is at most two seconds behind.

SIGKILL cannot be caught, so nothing in the process can tidy up (POSIX, ``kill``).
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.keeping.recovery import kept_jobs
from core.job.job_file import read_record

WORK = """
import sys, time
from dataclasses import replace
from PySide6.QtCore import QCoreApplication, QTimer
from app.keeping.autosave import Keeper
from app.store import Store
from core.files.read import read_part
from core.job.job import new_job
from samples import sample_path

wait, every = int(sys.argv[1]), int(sys.argv[2])
app = QCoreApplication([])
store = Store()
store.open(new_job(read_part(sample_path("rain_hood"))))
keeper = Keeper(store, wait_ms=wait)
number = 0

def edit():
    global number
    number += 1
    store.apply("Note", lambda job: replace(job, notes=(str(number), "x" * 20000)))
    print(number, time.time(), flush=True)

timer = QTimer(interval=every)
timer.timeout.connect(edit)
timer.start()
app.exec()
"""


def killed_after(seconds: float, wait_ms: int, every_ms: int) -> tuple[list[tuple[int, float]], float]:
    """Let a process edit and kill it so many seconds after its first edit: its edits with their times, and the end."""
    command = [sys.executable, "-c", WORK, str(wait_ms), str(every_ms)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        first = process.stdout.readline()
        time.sleep(seconds)
        end = time.time()
        process.kill()
        lines = [first, *process.stdout.read().splitlines()]
        process.wait()
    edits = [line.split() for line in lines if len(line.split()) == 2]
    return [(int(number), float(when)) for number, when in edits], end


def check_promise(state: Path, seconds: float) -> None:
    """With the real delay: everything older than two seconds is there."""
    edits, end = killed_after(seconds, 700, 15)
    kept = kept_jobs()
    behind = [number for number, when in edits if when < end - 2.0]
    if behind:
        assert len(kept) == 1
        assert int(read_record(kept[0].job).notes[0]) >= behind[-1]


def check_whole(state: Path, seconds: float) -> None:
    """With no delay the process is killed in the middle of writing more often than not."""
    edits, _ = killed_after(seconds, 0, 1)
    found = kept_jobs()
    for kept in found:
        notes = read_record(kept.job).notes
        assert notes[1] == "x" * 20000
        assert 1 <= int(notes[0]) <= edits[-1][0] + 1
    left = [folder / "job.snapcomb" for folder in (state / "windows").iterdir()]
    assert left == [kept.job for kept in found]  # killed before the first writing: nothing is left, and swept up


@pytest.mark.parametrize("seconds", [2.6, 3.1])
def test_at_most_two_seconds_are_lost(state: Path, seconds: float) -> None:
    check_promise(state, seconds)


@pytest.mark.parametrize("seconds", [0.05, 0.31])
def test_the_file_is_whole_when_killed_in_writing(state: Path, seconds: float) -> None:
    check_whole(state, seconds)


@pytest.mark.soak
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("number", range(60))
def test_many_moments(state: Path, number: int) -> None:
    dice = random.Random(number)
    if number % 4 == 0:
        check_promise(state, dice.uniform(0.0, 5.0))
    else:
        check_whole(state, dice.uniform(0.0, 0.6))
