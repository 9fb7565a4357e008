"""Keeping the job in hand."""

from __future__ import annotations

import os
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtGui import QColor, QImage
from pytestqt.qtbot import QtBot

from app.keeping import autosave
from app.keeping.autosave import Keeper
from app.keeping.places import claim
from app.store import Store
from core.errors import WriteFailed
from core.job.job import Job
from core.job.job_file import load_job, read_record


def note(store: Store, words: str) -> None:
    store.apply("Note", lambda j: replace(j, notes=(words,)))


def test_an_edit_is_kept_within_two_seconds(qtbot: QtBot, store: Store, state: Path) -> None:
    keeper = Keeper(store)
    started = time.monotonic()
    with qtbot.waitSignal(keeper.kept, timeout=4000):
        note(store, "lip first")
    assert time.monotonic() - started < 2.0
    assert keeper.folder is not None
    assert load_job(keeper.folder.job).notes == ("lip first",)
    keeper.close()


def test_a_fresh_job_is_not_kept(qtbot: QtBot, store: Store, keeper: Keeper) -> None:
    qtbot.wait(80)
    keeper.flush()
    assert keeper.folder is not None
    assert not keeper.folder.job.exists()


def test_the_latest_of_many_edits_is_kept(store: Store, keeper: Keeper) -> None:
    for k in range(200):
        note(store, str(k))
    keeper.flush()
    assert keeper.folder is not None
    assert read_record(keeper.folder.job).notes == ("199",)


def test_saved_and_undone_work_needs_no_keeping(store: Store, keeper: Keeper) -> None:
    assert keeper.folder is not None
    note(store, "a")
    keeper.flush()
    store.mark_saved()
    keeper.flush()
    assert not keeper.folder.job.exists()
    note(store, "b")
    keeper.flush()
    assert keeper.folder.job.exists()
    store.undo()
    keeper.flush()
    assert not keeper.folder.job.exists()


def test_closing_in_order_leaves_nothing(store: Store, keeper: Keeper, state: Path) -> None:
    note(store, "a")
    keeper.flush()
    keeper.close()
    keeper.close()
    assert list((state / "windows").iterdir()) == []
    note(store, "b")  # a late edit is no error
    keeper.flush()


def test_the_window_does_not_wait_for_the_disk(store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a disk hangs, keeping comes back to the window at once: nothing has been written by then."""
    gate, written = threading.Event(), threading.Event()

    def hanging(job: Job, path: Path, **_: object) -> None:
        gate.wait(30)
        written.set()

    monkeypatch.setattr(autosave, "save_job", hanging)
    note(store, "a")
    keeper._keep()
    assert not written.is_set()
    gate.set()
    assert written.wait(30)


def test_a_full_disk_is_said_once_and_tried_again(
    qtbot: QtBot, store: Store, keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(job: Job, path: Path, **_: object) -> None:
        raise WriteFailed("The disk is full.", "Free some space.")

    said: list[str] = []
    keeper.failed.connect(said.append)
    with monkeypatch.context() as patch:
        patch.setattr(autosave, "save_job", full)
        patch.setattr(autosave, "AGAIN_MS", 10)
        note(store, "a")
        qtbot.waitUntil(lambda: bool(said), timeout=2000)
        qtbot.wait(150)
    assert said == ["The disk is full. Free some space."]
    with qtbot.waitSignal(keeper.kept, timeout=2000):
        pass
    assert keeper.folder is not None
    assert read_record(keeper.folder.job).notes == ("a",)


def test_a_state_folder_that_cannot_be_made_costs_only_the_keeping(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setenv("SNAPCOMB_STATE", str(blocked))
    keeper = Keeper(store)
    assert keeper.folder is None
    note(store, "a")
    keeper.flush()
    keeper.close()


def test_the_picture_is_made_in_the_writing_thread(store: Store, state: Path) -> None:
    threads: list[str] = []

    def take() -> object:
        asked_in = threading.current_thread()

        def make() -> QImage:
            threads.extend((asked_in.name, threading.current_thread().name))
            image = QImage(40, 30, QImage.Format.Format_RGB32)
            image.fill(QColor("#0072B2"))
            return image

        return make

    keeper = Keeper(store, picture=take)
    note(store, "a")
    keeper.flush()
    assert keeper.folder is not None
    kept = QImage(str(keeper.folder.picture))
    assert kept.width() == 40
    assert kept.pixelColor(3, 3).name() == "#0072b2"
    assert threads == [threading.main_thread().name, "keeper"]
    note(store, "b")
    keeper.flush()
    assert len(threads) == 2  # no new picture that soon
    keeper.close()


def test_two_windows_have_two_folders(state: Path) -> None:
    one, other = claim(), claim()
    assert one.path != other.path
    assert one.lock.held
    assert other.lock.held
    assert f"-{os.getpid()}-" in one.path.name
    for folder in (one, other):
        folder.remove()
