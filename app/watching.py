"""Tells when the mesh on the disk is no longer the one that was opened.

The system's own notices come at once but not from every kind of disk, and they stop when a program writes a new file
in place of the old one; so size and time are looked at now and then as well. Where they differ the contents decide:
a file that was merely touched is still the same.
"""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PySide6.QtCore import QFileSystemWatcher, QObject, Qt, QTimer, Signal

from core.geometry.part import Source

#: How often size and time are looked at without a notice, ms.
POLL_MS: Final = 2000
#: A file that is still being written must rest this long, ms.
REST_MS: Final = 400
_BLOCK: Final = 1 << 20


@dataclass(frozen=True)
class _Mark:
    """What can be told of a file without reading it."""

    size: int
    mtime_ns: int


class FileWatch(QObject):
    """Watches one file. ``changed`` comes once for every new content; a file that is away is waited for."""

    changed = Signal(Path)
    _digested = Signal(object, object, str)

    def __init__(self, parent: QObject | None = None, *, poll_ms: int = POLL_MS, rest_ms: int = REST_MS) -> None:
        super().__init__(parent)
        self._path: Path | None = None
        self._digest, self._seen, self._pending = "", None, None
        self._reader: threading.Thread | None = None
        self._stop = threading.Event()
        self._watcher = QFileSystemWatcher(self)
        self._watcher.fileChanged.connect(self._noticed)
        self._watcher.directoryChanged.connect(self._noticed)
        self._poll = QTimer(self, interval=poll_ms)
        self._poll.timeout.connect(self._look)
        self._rest = QTimer(self, singleShot=True, interval=rest_ms)
        self._rest.timeout.connect(self._settled)
        self._digested.connect(self._judge, Qt.ConnectionType.QueuedConnection)

    def watch(self, source: Source | None) -> None:
        """Watch the file of a part from the state in which it was read; None watches nothing."""
        self._release()
        if source is None:
            return
        self._path, self._digest = Path(source.path), source.sha256
        self._seen = _Mark(source.size, source.mtime_ns) if source.mtime_ns else _mark(self._path)
        self._pending = None
        self._hold()
        self._poll.start()
        self._look()

    @property
    def path(self) -> Path | None:
        """The file that is watched."""
        return self._path

    def close(self) -> None:
        """Watch nothing any more."""
        self._release()

    def _hold(self) -> None:
        """Ask for notices on the file and, because it may be replaced, on its folder."""
        assert self._path is not None
        wanted = [str(p) for p in (self._path, self._path.parent) if p.exists()]
        have = {*self._watcher.files(), *self._watcher.directories()}
        if missing := [name for name in wanted if name not in have]:
            self._watcher.addPaths(missing)

    def _release(self) -> None:
        self._path = None
        self._poll.stop()
        self._rest.stop()
        self._stop.set()
        if self._reader is not None:  # it holds us, and must not be the last that does
            self._reader.join()
            self._reader = None
        if held := [*self._watcher.files(), *self._watcher.directories()]:
            self._watcher.removePaths(held)

    def _noticed(self, _: str) -> None:
        if self._path is not None:
            self._look()

    def _look(self) -> None:
        if self._path is None or self._reader is not None:
            return
        self._hold()
        mark = _mark(self._path)
        if mark is None or mark == self._seen:
            self._rest.stop()
            self._pending = None
        elif mark != self._pending:
            self._pending = mark
            self._rest.start()

    def _settled(self) -> None:
        """It has rested: unless it moved again meanwhile, look at what is in it."""
        if self._path is None or self._reader is not None:
            return
        if _mark(self._path) != self._pending or self._pending is None:
            self._look()
            return
        self._stop = threading.Event()
        work = (self._path, self._pending, self._stop)
        self._reader = threading.Thread(target=self._read, args=work, name="file watch", daemon=True)
        self._reader.start()

    def _read(self, path: Path, mark: _Mark, stop: threading.Event) -> None:
        """In a thread of its own: what is in the file; an empty digest where it cannot be read."""
        digest = hashlib.sha256()
        try:
            with path.open("rb") as stream:
                while not stop.is_set() and (block := stream.read(_BLOCK)):
                    digest.update(block)
        except OSError:
            self._digested.emit(path, mark, "")
            return
        if not stop.is_set():
            self._digested.emit(path, mark, digest.hexdigest())

    def _judge(self, path: Path, mark: _Mark, digest: str) -> None:
        if self._reader is None or path != self._path:  # of a file that was watched before
            return
        self._reader.join()
        self._reader = self._pending = None
        if not digest or _mark(path) != mark:  # it moved while it was being read
            self._look()
            return
        self._seen = mark
        if digest != self._digest:
            self._digest = digest
            self.changed.emit(path)


def _mark(path: Path) -> _Mark | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return _Mark(found.st_size, found.st_mtime_ns)
