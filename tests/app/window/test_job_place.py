"""Where a job is saved: at the place it came from, never over another job."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from app.window import Window
from core.job.job_file import read_record
from samples import sample_path


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    """The hood and the bracket as files of one's own."""
    return tuple(Path(shutil.copy(sample_path(n), tmp_path / f"{n}.stl")) for n in ("rain_hood", "bare_bracket"))  # type: ignore[return-value]


def test_a_job_is_saved_again_at_its_place(
    opened: Callable[[Path], Window], until: Callable[..., None], meshes: tuple[Path, Path], tmp_path: Path
) -> None:
    window, place = opened(meshes[0]), tmp_path / "hood.snapcomb.json"
    window.keep._save(place, places=True)
    until(place.exists)
    until(lambda: window.keep.job_path == place)
    window.bench.change("Note", lambda job: replace(job, notes=("lip first",)))
    assert window.store.unsaved
    window.keep.save()
    until(lambda: not window.store.unsaved)
    assert read_record(place).notes == ("lip first",)
    assert window.keep.job_path == place


def test_another_part_is_not_saved_over_the_job_before(
    opened: Callable[[Path], Window], until: Callable[..., None], meshes: tuple[Path, Path], tmp_path: Path
) -> None:
    window, place = opened(meshes[0]), tmp_path / "hood.snapcomb.json"
    window.keep._save(place, places=True)
    until(lambda: window.keep.job_path == place)
    window.open(meshes[1])
    until(lambda: window.bench.job is not None and window.bench.job.part.name.startswith("bare_bracket"))
    assert window.keep.job_path is None
    window.open(place)
    until(lambda: window.bench.job is not None and window.bench.job.part.name.startswith("rain_hood"))
    assert window.keep.job_path == place
    window.bench.close()
    assert window.keep.job_path is None
