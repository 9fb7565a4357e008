"""What a dead window left behind, and windows that are alive beside each other."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from app.keeping import recovery
from app.keeping.autosave import Keeper
from app.keeping.locks import FileLock, told
from app.keeping.neighbours import Neighbours
from app.keeping.places import HALF_MADE, LOCK, claim
from app.store import Store
from core.design.plan import RowWishes
from core.errors import RefusedFile
from core.files.read import read_part
from core.geometry.polyline import Polyline
from core.job.job import Job, Pick, Row, new_job
from core.job.job_file import MeshNotFound, save_job
from samples import sample_path

EDGE = Pick(Polyline(((0.0, 0.0, 9.0), (40.0, 0.0, 9.0))))


def leave(job: Job) -> Path:
    """What a window leaves that dies: its folder with the job, and nobody who holds the lock."""
    folder = claim()
    save_job(job, folder.job)
    image = QImage(8, 6, QImage.Format.Format_RGB32)
    image.fill(0)
    image.save(str(folder.picture))
    folder.lock.release()
    return folder.path


def test_kept_work_is_described(state: Path, job: Job) -> None:
    leave(replace(job, rows=(Row(1, EDGE, RowWishes()), Row(2, EDGE, RowWishes()))))
    (kept,) = recovery.kept_jobs()
    assert kept.file_name == "rain_hood.stl"
    assert "2 rows" in kept.about
    assert abs(datetime.now() - kept.when) < timedelta(seconds=10)
    assert kept.picture is not None
    assert QImage(str(kept.picture)).width() == 8


def test_accepted_work_comes_back_and_is_kept_on(store: Store, state: Path, job: Job) -> None:
    leave(replace(job, notes=("from before",), draft=Row(3, EDGE, RowWishes(teeth=7))))
    (kept,) = recovery.kept_jobs()
    keeper = Keeper(store)
    back = recovery.accept(kept, keeper)
    assert not kept.folder.exists()
    assert keeper.folder is not None
    assert keeper.folder.job.exists()  # at no moment without a file
    store.open(back, unsaved=True)
    assert store.unsaved
    assert back.notes == ("from before",)
    assert back.draft is not None
    assert back.draft.wishes.teeth == 7
    assert recovery.kept_jobs() == ()
    keeper.flush()
    assert keeper.folder.job.exists()
    store.mark_saved()
    keeper.flush()
    assert not keeper.folder.job.exists()
    keeper.close()


def test_declined_work_is_gone(state: Path, job: Job) -> None:
    leave(job)
    (kept,) = recovery.kept_jobs()
    recovery.decline(kept)
    assert recovery.kept_jobs() == ()
    assert not kept.folder.exists()
    with pytest.raises(RefusedFile, match="Another window"):
        recovery.decline(kept)


def test_newest_comes_first(state: Path, job: Job) -> None:
    old = leave(replace(job, notes=("old",)))
    os.utime(old / "job.snapcomb", (1.0e9, 1.0e9))
    leave(job)
    assert [k.folder == old for k in recovery.kept_jobs()] == [False, True]


def test_a_living_window_offers_nothing(state: Path, job: Job) -> None:
    folder = claim()
    save_job(job, folder.job)
    assert recovery.kept_jobs() == ()
    folder.lock.release()
    assert len(recovery.kept_jobs()) == 1


def test_folders_with_nothing_in_them_are_swept_up(state: Path) -> None:
    folder = claim()
    folder.lock.release()
    half_made = folder.path.with_name("1-1-fresh")
    half_made.mkdir()
    assert recovery.kept_jobs() == ()
    assert not folder.path.exists()
    assert half_made.exists()  # its window may be about to lock it
    long_ago = time.time() - 2 * HALF_MADE
    os.utime(half_made, (long_ago, long_ago))
    recovery.kept_jobs()
    assert not half_made.exists()


def test_a_kept_job_whose_mesh_is_gone_stays(store: Store, state: Path, tmp_path: Path) -> None:
    mesh = tmp_path / "hood.stl"
    shutil.copy(sample_path("rain_hood"), mesh)
    leave(new_job(read_part(mesh)))
    mesh.unlink()
    (kept,) = recovery.kept_jobs()
    keeper = Keeper(store)
    with pytest.raises(MeshNotFound, match=r"hood\.stl"):
        recovery.accept(kept, keeper)
    assert recovery.kept_jobs() == (kept,)
    keeper.close()


def test_a_kept_job_that_cannot_be_read_is_left_alone(state: Path, job: Job, caplog: pytest.LogCaptureFixture) -> None:
    folder = leave(job)
    (folder / "job.snapcomb").write_text('{"format": "snapcomb.job", "version": 99}')
    assert recovery.kept_jobs() == ()
    assert (folder / "job.snapcomb").exists()
    assert "newer Snapcomb" in caplog.text


# Locks


def test_a_lock_is_had_by_one(tmp_path: Path) -> None:
    one = FileLock.take(tmp_path / LOCK)
    assert one is not None
    assert FileLock.take(tmp_path / LOCK) is None
    one.release()
    again = FileLock.take(tmp_path / LOCK)
    assert again is not None
    again.release()


def test_what_a_holder_tells_is_read_whole(tmp_path: Path) -> None:
    lock = FileLock.take(tmp_path / LOCK)
    assert lock is not None
    lock.tell({"file": "a" * 300})
    lock.tell({"file": "b"})
    assert told(tmp_path / LOCK) == {"file": "b"}
    (tmp_path / "half").write_text('{"file": "c"')
    assert told(tmp_path / "half") == {}
    assert told(tmp_path / "none") == {}
    lock.release()


HOLD = """
import sys, time
from pathlib import Path
from app.keeping.locks import FileLock
lock = FileLock.take(Path(sys.argv[1]))
print("held" if lock else "not held", flush=True)
time.sleep(60)
"""


def test_a_killed_process_holds_nothing(tmp_path: Path) -> None:
    path = tmp_path / LOCK
    with subprocess.Popen([sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        assert FileLock.take(path) is None
        other.kill()
        other.wait()
    lock = FileLock.take(path)
    assert lock is not None
    lock.release()


# Neighbours


@pytest.fixture
def windows(qtbot: QtBot, store: Store, state: Path, job: Job) -> object:
    """Two windows, both with the hood; what each of them met."""
    other_store = Store()
    folders = [claim(), claim()]
    pair = [Neighbours(folders[0], store), Neighbours(folders[1], other_store)]
    met: list[list[object]] = [[], []]
    for one, words in zip(pair, met, strict=True):
        one.met.connect(words.append)
    yield pair, other_store, met, folders
    for one, folder in zip(pair, folders, strict=True):
        one.close()
        folder.remove()


def test_two_windows_on_one_mesh_are_told_of_each_other(windows: tuple, job: Job) -> None:
    pair, other_store, met, _ = windows
    pair[0].look()
    assert met == [[], []]
    other_store.open(new_job(job.part))
    pair[0].look()
    assert [len(words) for words in met] == [1, 1]
    assert "rain_hood.stl is open in another window too" in met[0][0].sentence()
    pair[0].look()
    assert len(met[0]) == 1  # told once


def test_a_window_that_goes_away_is_forgotten(windows: tuple, job: Job) -> None:
    pair, other_store, met, _ = windows
    parted: list[str] = []
    pair[0].parted.connect(parted.append)
    other_store.open(new_job(job.part))
    pair[0].look()
    other_store.open(None)
    pair[0].look()
    assert parted == [met[0][0].token]
    other_store.open(new_job(job.part))
    pair[0].look()
    assert len(met[0]) == 2


def test_one_job_in_two_windows_is_named_as_a_job(windows: tuple, job: Job, tmp_path: Path) -> None:
    pair, _, met, _ = windows
    for one in pair:
        one.set_job_path(tmp_path / "hood.snapcomb")
    pair[0].look()
    assert "The job hood.snapcomb" in met[0][-1].sentence()


def test_a_dead_window_is_no_neighbour(windows: tuple, job: Job) -> None:
    pair, other_store, met, folders = windows
    other_store.open(new_job(job.part))
    met[0].clear()
    folders[1].lock.release()
    pair[0]._known.clear()
    pair[0].look()
    assert met[0] == []
