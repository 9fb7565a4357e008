"""Every test here has a state folder of its own, and a small part that lies in a real file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from app.keeping import places
from app.keeping.autosave import Keeper
from app.store import Store
from core.files.read import read_part
from core.geometry.part import Part
from core.job.job import Job, new_job
from samples import sample_path


@pytest.fixture
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The state folder."""
    folder = tmp_path / "state"
    monkeypatch.setenv("SNAPCOMB_STATE", str(folder))
    return folder


@pytest.fixture(scope="session")
def hood() -> Part:
    """The rain hood."""
    return read_part(sample_path("rain_hood"))


@pytest.fixture
def job(hood: Part) -> Job:
    """A fresh job on the hood."""
    return new_job(hood)


@pytest.fixture
def store(qapp: QApplication, job: Job) -> Store:
    """A store with the fresh job."""
    made = Store()
    made.open(job)
    return made


@pytest.fixture
def keeper(store: Store, state: Path) -> Iterator[Keeper]:
    """Keeps the store's job."""
    assert places.state_folder() == state
    made = Keeper(store, wait_ms=20)
    yield made
    made.close()
