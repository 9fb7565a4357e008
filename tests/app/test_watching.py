"""A file that changes on the disk while it is open."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from app.watching import FileWatch
from core.files.read import read_part
from core.geometry.part import Source
from samples import sample_path


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    return Path(shutil.copy(sample_path("rain_hood"), tmp_path / "hood.stl"))


@pytest.fixture(params=["noticed", "polled"])
def watch(request: pytest.FixtureRequest, qtbot: QtBot) -> Iterator[FileWatch]:
    """With the system's notices, and on a disk that gives none."""
    made = FileWatch(poll_ms=60_000 if request.param == "noticed" else 40, rest_ms=60)
    if request.param == "polled":
        made._watcher.blockSignals(True)
    yield made
    made.close()


def source(path: Path) -> Source:
    found = read_part(path).source
    assert found is not None
    return found


def test_other_contents_are_told_once(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    told: list[Path] = []
    watch.changed.connect(told.append)
    with qtbot.waitSignal(watch.changed, timeout=3000):
        shutil.copy(sample_path("bare_bracket"), mesh)
    qtbot.wait(250)
    assert told == [mesh]


def test_a_file_put_in_place_of_the_old_one_is_seen_again_and_again(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    for name in ("bare_bracket", "round_shroud"):
        beside = mesh.with_suffix(".tmp")
        shutil.copy(sample_path(name), beside)
        with qtbot.waitSignal(watch.changed, timeout=3000):
            os.replace(beside, mesh)


def test_a_file_that_was_merely_touched_is_the_same(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    told: list[Path] = []
    watch.changed.connect(told.append)
    os.utime(mesh, ns=(1, 10**18))
    qtbot.wait(350)
    assert told == []
    with qtbot.waitSignal(watch.changed, timeout=3000):
        mesh.write_bytes(mesh.read_bytes() + b"\0")


def test_a_file_that_goes_away_is_waited_for(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    told: list[Path] = []
    watch.changed.connect(told.append)
    mesh.unlink()
    qtbot.wait(250)
    assert told == []
    with qtbot.waitSignal(watch.changed, timeout=3000):
        shutil.copy(sample_path("bare_bracket"), mesh)


def test_a_file_is_told_when_its_writer_has_finished(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    told: list[Path] = []
    watch.changed.connect(told.append)
    whole = sample_path("bare_bracket").read_bytes()
    with mesh.open("wb") as stream:
        for k in range(8):
            stream.write(whole[k * len(whole) // 8 : (k + 1) * len(whole) // 8])
            stream.flush()
            qtbot.wait(25)
    qtbot.waitUntil(lambda: bool(told), timeout=3000)
    qtbot.wait(200)
    assert len(told) == 1


def test_a_change_between_reading_and_watching_is_told(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    as_read = source(mesh)
    shutil.copy(sample_path("bare_bracket"), mesh)
    with qtbot.waitSignal(watch.changed, timeout=3000):
        watch.watch(as_read)


def test_nothing_is_told_of_a_file_that_is_watched_no_longer(qtbot: QtBot, watch: FileWatch, mesh: Path) -> None:
    watch.watch(source(mesh))
    told: list[Path] = []
    watch.changed.connect(told.append)
    watch.watch(None)
    shutil.copy(sample_path("bare_bracket"), mesh)
    qtbot.wait(250)
    assert told == []
    assert watch.path is None
