"""Where the program keeps what is not the person's own: state that must survive a crash, and pictures that need not.

``SNAPCOMB_STATE`` and ``SNAPCOMB_CACHE`` name other folders. Each running window has a folder of its own below the
state folder, so that whatever a crash leaves behind can be told apart and thrown away as one.
"""

from __future__ import annotations

import os
import secrets
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import platformdirs

from app.keeping.locks import FileLock

WINDOWS: Final = "windows"
LOCK: Final = "lock"
JOB: Final = "job.snapcomb"
PICTURE: Final = "picture.png"
#: A folder without a lock is being made by another window, unless it is older than this (s).
HALF_MADE: Final = 30.0
_TRIES: Final = 5


def state_folder() -> Path:
    """The folder for kept work and logs."""
    return Path(os.environ.get("SNAPCOMB_STATE") or platformdirs.user_state_dir("snapcomb", appauthor=False))


def cache_folder() -> Path:
    """The folder for pictures that can be made again."""
    return Path(os.environ.get("SNAPCOMB_CACHE") or platformdirs.user_cache_dir("snapcomb", appauthor=False))


@dataclass(frozen=True)
class WindowFolder:
    """The folder of one window, with the lock that says that it is alive."""

    path: Path
    lock: FileLock

    @property
    def job(self) -> Path:
        """The kept job."""
        return self.path / JOB

    @property
    def picture(self) -> Path:
        """What the view showed when the job was kept."""
        return self.path / PICTURE

    def empty(self) -> None:
        """Throw the kept work away; the window lives on."""
        self.job.unlink(missing_ok=True)
        self.picture.unlink(missing_ok=True)

    def remove(self) -> None:
        """Throw the folder away and let go of its lock."""
        for entry in self.path.iterdir() if self.path.is_dir() else ():
            if entry.name != LOCK:
                entry.unlink(missing_ok=True)
        self.lock.release()
        shutil.rmtree(self.path, ignore_errors=True)


def claim(state: Path | None = None) -> WindowFolder:
    """A fresh folder for a window, locked as long as its process lives. Raises OSError where none can be made."""
    windows = (state or state_folder()) / WINDOWS
    for _ in range(_TRIES):
        path = windows / f"{time.time_ns() // 1_000_000}-{os.getpid()}-{secrets.token_hex(3)}"
        path.mkdir(parents=True, mode=0o700)
        lock = FileLock.take(path / LOCK)
        if lock is not None:
            return WindowFolder(path, lock)
    raise BlockingIOError(f"No folder of its own could be made in {windows}.")


def window_folders(state: Path | None = None) -> list[Path]:
    """The folders of all windows, dead and alive, oldest first."""
    windows = (state or state_folder()) / WINDOWS
    return sorted(p for p in windows.iterdir() if p.is_dir()) if windows.is_dir() else []


def abandoned(state: Path | None = None) -> Iterator[WindowFolder]:
    """The folders whose windows are gone, each locked by us until the caller lets go of it."""
    for path in window_folders(state):
        try:
            if not (path / LOCK).exists() and time.time() - path.stat().st_mtime < HALF_MADE:
                continue
            lock = FileLock.take(path / LOCK)
        except OSError:  # gone in this very moment, or not ours to touch
            continue
        if lock is not None:
            yield WindowFolder(path, lock)
