"""Plays with the window at random: nothing breaks, nothing is complained of, and memory stays where it was."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PySide6.QtGui import QDesktopServices

from app.window import Window
from core.job.hand_over import suggested_path
from tests.app.window.walk.walker import Walker, small_files
from tests.app.window.walk.watch import resident, watched

#: Memory may grow by so much between the time when everything was opened once and the end. The heap settles only after
#: some thousand steps (measured: within ± 10 % before), so the short walk can only tell a leak that is plain to see.
GROWTH, GROWTH_SHORT = 1.05, 1.25
#: Another seed and length, to look for what these do not find: ``WALK_SEED=7 WALK=2000 pytest -m soak …``.
SEED = int(os.environ.get("WALK_SEED", "20261125"))


def walk(
    window: Window, folder: Path, monkeypatch: pytest.MonkeyPatch, count: int, rounds: int, again: bool = False
) -> list[float]:
    """Walk in rounds, each the same steps ``again``; the memory held on the start page after each of them, MiB."""
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda _: True)
    monkeypatch.setattr("app.window.files.suggested_path", lambda job: folder / suggested_path(job).name)
    walker, held = Walker(window, small_files(folder), folder, SEED), []
    with watched() as complaints:
        for number in range(rounds):
            if again:
                walker.chance.seed(SEED)
            walker.walk(count // rounds, lambda: complaints)
            told = "\n".join([*complaints, "after:", *walker.done[-25:], f"({len(walker.done)} steps, seed {SEED})"])
            assert not complaints, told
            walker.rest()
            assert not complaints, complaints
            held.append(resident())
            print(f"round {number + 1} of {rounds}: {held[-1]:.0f} MiB", flush=True)
    assert len(walker.done) == count // rounds * rounds
    return held


def test_five_hundred_steps(window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same steps over and over, so that whatever is made at its first use is there after the first round."""
    held = walk(window, tmp_path, monkeypatch, 500, 4, again=True)
    assert held[-1] <= GROWTH_SHORT * held[1], held


@pytest.mark.soak
@pytest.mark.timeout(7200)
def test_ten_thousand_steps(window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    held = walk(window, tmp_path, monkeypatch, int(os.environ.get("WALK", "10000")), 10)
    assert held[-1] <= GROWTH * held[1], held
