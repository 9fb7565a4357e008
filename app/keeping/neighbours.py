"""Windows on the same file are told of each other, because the last one to write would win."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal

from app.keeping.locks import FileLock, told
from app.keeping.places import LOCK, WindowFolder, window_folders
from app.store import Store
from core.job.job import Job

#: How often a window looks for others, ms. Looking costs some 50 µs.
LOOK_MS: Final = 2000


@dataclass(frozen=True)
class Neighbour:
    """Another window that is alive and has the same mesh or the same job open."""

    token: str
    pid: int
    file_name: str
    same_job: bool
    since: float

    def sentence(self) -> str:
        """What the person should know."""
        clock = time.strftime("%H:%M", time.localtime(self.since))
        words = (
            QCoreApplication.translate("Neighbour", "The job {0} is open in another window too, since {1}.")
            if self.same_job
            else QCoreApplication.translate("Neighbour", "{0} is open in another window too, since {1}.")
        )
        next_step = QCoreApplication.translate(
            "Neighbour", "What is written last counts: give the files different names."
        )
        return f"{words.format(self.file_name, clock)} {next_step}"


class Neighbours(QObject):
    """Tells other windows what is open here, and ``met`` what is open there. ``parted`` carries a token."""

    met = Signal(object)
    parted = Signal(str)

    def __init__(self, folder: WindowFolder, store: Store, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._folder, self._store = folder, store
        self._job_path: Path | None = None
        self._known: dict[str, Neighbour] = {}
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)
        self._timer.start()
        store.changed.connect(self._changed)
        self._tell()

    def set_job_path(self, path: Path | None) -> None:
        """The job file that is open here, if any."""
        self._job_path = path
        self._tell()
        self.look()

    def look(self) -> None:
        """Look for other windows now."""
        found = {n.token: n for n in others(self._folder, self._mine())}
        for token in set(self._known) - set(found):
            self.parted.emit(token)
        fresh = [n for token, n in found.items() if token not in self._known]
        self._known = found
        for neighbour in fresh:
            self.met.emit(neighbour)

    def close(self) -> None:
        """Look and tell no more."""
        self._timer.stop()
        self._store.changed.disconnect(self._changed)

    def _changed(self, old: Job | None, new: Job | None) -> None:
        if (old.part if old else None) is not (new.part if new else None):
            self._known = {} if new is None else self._known
            self._tell()
            self.look()

    def _tell(self) -> None:
        self._folder.lock.tell(self._mine())

    def _mine(self) -> dict[str, Any]:
        job = self._store.job
        source = job.part.source if job is not None else None
        return {
            "pid": os.getpid(),
            "since": time.time(),
            "mesh": source.sha256 if source else "",
            "file": os.path.abspath(source.path) if source else "",
            "job": os.path.abspath(self._job_path) if self._job_path else "",
        }


def others(mine: WindowFolder, here: dict[str, Any]) -> list[Neighbour]:
    """Windows other than ``mine`` that are alive and have the mesh or job of ``here`` open."""
    out = []
    for path in window_folders(mine.path.parents[1]):
        if path == mine.path:
            continue
        there = told(path / LOCK)
        mesh, job = _same(here, there, "mesh"), _same(here, there, "job")
        if (mesh or job) and _alive(path / LOCK):
            name = os.path.basename(str(there.get("job" if job else "file", "")))
            out.append(Neighbour(path.name, _number(there, "pid"), name, job, float(_number(there, "since"))))
    return out


def _same(here: dict[str, Any], there: dict[str, Any], key: str) -> bool:
    return bool(here.get(key)) and here.get(key) == there.get(key)


def _number(there: dict[str, Any], key: str) -> int:
    value = there.get(key)
    return int(value) if isinstance(value, int | float) else 0


def _alive(lock: Path) -> bool:
    """A lock that can be had belongs to nobody."""
    try:
        taken = FileLock.take(lock)
    except OSError:
        return False
    if taken is None:
        return True
    taken.release()
    return False
