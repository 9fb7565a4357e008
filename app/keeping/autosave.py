"""Keeps the job in hand on the disk, at most two seconds behind the hand, until it is saved or the window is closed.

The job is immutable, so it is handed to a writing thread as it is: nothing is copied and nothing can change under the
writer's hands. The file is written as any job file, whole or not at all.
"""

from __future__ import annotations

import contextlib
import logging
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtGui import QImage

from app.keeping.log import sentence
from app.keeping.places import WindowFolder, claim
from app.store import Store
from core.errors import SnapcombError
from core.files.safe_write import failure
from core.job.job import Job
from core.job.job_file import save_job

log = logging.getLogger(__name__)

#: From the first edit that is not kept yet to the writing of it, ms. Two seconds are promised; slow disks get the rest.
WAIT_MS: Final = 700
#: A new picture at most this often, s.
PICTURE_S: Final = 10.0
#: After a failure it is tried again, ms.
AGAIN_MS: Final = 5000

#: Called in the window's thread; what it returns is called in the writing thread and makes the picture.
PictureMaker = Callable[[], Callable[[], QImage | None] | None]


class Keeper(QObject):
    """Watches a store and keeps its job. ``kept`` says that the disk has it, ``failed`` why it could not be kept."""

    kept = Signal(Path)
    failed = Signal(str)
    _done = Signal(str)

    def __init__(
        self,
        store: Store,
        folder: WindowFolder | None = None,
        *,
        picture: PictureMaker | None = None,
        wait_ms: int = WAIT_MS,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._store, self._picture = store, picture
        self.folder = folder or _claimed()
        self._writer = _Writer()
        self._pictured = -PICTURE_S
        self._on_disk: Job | None = None
        self._troubled = False
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(wait_ms)
        self._timer.timeout.connect(self._keep)
        self._done.connect(self._told, Qt.ConnectionType.QueuedConnection)
        store.changed.connect(self._due)
        store.history_changed.connect(self._due)

    def flush(self) -> None:
        """Bring the disk up to date now and wait for it."""
        self._timer.stop()
        self._keep()
        self._writer.wait()

    def adopt(self, job: Path, picture: Path | None = None) -> None:
        """Take a kept job of a dead window over as our own; it is at no moment without an owner. Raises OSError."""
        if self.folder is not None:
            job.replace(self.folder.job)
            if picture is not None:
                with contextlib.suppress(OSError):
                    picture.replace(self.folder.picture)

    def close(self) -> None:
        """The window closes in order: nothing has to be kept any more. Harmless when repeated."""
        self._timer.stop()
        self._writer.stop()
        if self.folder is not None:
            self.folder.remove()
            self.folder = None

    def _due(self, *_: object) -> None:
        if self.folder is not None and not self._timer.isActive():
            self._timer.start()

    def _keep(self) -> None:
        if self.folder is None:
            return
        job = self._store.job if self._store.unsaved else None
        if job is self._on_disk:
            return
        self._on_disk = job
        folder = self.folder
        if job is None:
            self._writer.put(lambda: self._empty(folder))
            return
        picture = self._fresh_picture()
        self._writer.put(lambda: self._write(folder, job, picture))

    def _fresh_picture(self) -> Callable[[], QImage | None] | None:
        if self._picture is None or time.monotonic() - self._pictured < PICTURE_S:
            return None
        self._pictured = time.monotonic()
        return self._picture()

    def _told(self, trouble: str) -> None:
        """Back in the window's thread: how the writing went. A full disk is told once, not at every try."""
        if self.folder is None:
            return
        if not trouble:
            self._troubled = False
            self.kept.emit(self.folder.job)
            return
        self._on_disk = None
        QTimer.singleShot(AGAIN_MS, self, self._due)
        if not self._troubled:
            self._troubled = True
            self.failed.emit(trouble)

    # In the writing thread

    def _write(self, folder: WindowFolder, job: Job, picture: Callable[[], QImage | None] | None) -> None:
        trouble = ""
        try:
            save_job(job, folder.job, remember=False)
            if picture is not None:
                _save_picture(picture(), folder.picture)
        except SnapcombError as problem:
            trouble = str(problem)
        except OSError as problem:
            trouble = str(failure(folder.job, problem))
        except Exception as problem:  # a fault of our own must not pass in silence either
            log.exception("Keeping the work failed")
            trouble = sentence(problem)
        if trouble:
            log.warning("The work could not be kept: %s", trouble)
        self._done.emit(trouble)

    def _empty(self, folder: WindowFolder) -> None:
        try:
            folder.empty()
        except OSError as problem:
            log.warning("A kept job could not be removed: %s", problem)


def _claimed() -> WindowFolder | None:
    try:
        return claim()
    except OSError as problem:
        log.warning("Work cannot be kept against a crash: %s", problem)
        return None


def _save_picture(image: QImage | None, path: Path) -> None:
    """Beside, then over the old one, so that a picture is whole too."""
    if image is None or image.isNull():
        return
    fresh = path.with_suffix(".new")
    if image.save(str(fresh), "PNG"):
        fresh.replace(path)


class _Writer:
    """One thread that does the latest thing it was given; what was not begun yet is dropped."""

    def __init__(self) -> None:
        self._turn = threading.Condition()
        self._next: Callable[[], None] | None = None
        self._busy = self._stopping = False
        self._thread: threading.Thread | None = None

    def put(self, work: Callable[[], None]) -> None:
        """Do this, as soon as what is being done is done."""
        with self._turn:
            if self._stopping:
                return
            self._next = work
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="keeper", daemon=True)
                self._thread.start()
            self._turn.notify_all()

    def wait(self) -> None:
        """Until nothing is left to be done."""
        with self._turn:
            self._turn.wait_for(lambda: self._next is None and not self._busy)

    def stop(self) -> None:
        """Finish what is being done, drop the rest, and end."""
        with self._turn:
            self._stopping, self._next = True, None
            self._turn.notify_all()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        work: Callable[[], None] | None = None
        while True:
            work = None  # it holds the keeper, whose last holder must not be this thread
            with self._turn:
                self._busy = False
                self._turn.notify_all()
                self._turn.wait_for(lambda: self._next is not None or self._stopping)
                if self._stopping:
                    return
                work, self._next, self._busy = self._next, None, True
            assert work is not None
            try:
                work()
            except Exception:  # the thread must live on; the next edit tries again
                log.exception("Keeping the work failed")
