"""Work that a crash left behind: what there is, taking it back, letting it go."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QCoreApplication

from app.keeping.autosave import Keeper
from app.keeping.locks import FileLock
from app.keeping.places import LOCK, WindowFolder, abandoned
from core.errors import RefusedFile, SnapcombError, UnreadableFile
from core.job.job import Job
from core.job.job_file import load_job, read_record
from core.job.job_record import JobRecord

log = logging.getLogger(__name__)


def _tr(text: str) -> str:
    return QCoreApplication.translate("Recovery", text)


@dataclass(frozen=True)
class Kept:
    """A job of a window that is gone. ``when`` is local time; ``picture`` a PNG of the view, if there is one."""

    folder: Path
    job: Path
    when: datetime
    file_name: str
    about: str
    picture: Path | None = None


def kept_jobs(state: Path | None = None) -> tuple[Kept, ...]:
    """What dead windows left behind, newest first. Folders with nothing in them are swept up."""
    found = []
    for folder in abandoned(state):
        if not folder.job.exists():
            folder.remove()
            continue
        try:
            found.append(_described(folder))
        except (SnapcombError, OSError) as problem:
            log.warning("A kept job could not be read and is left where it is: %s", problem)
        folder.lock.release()
    return tuple(sorted(found, key=lambda kept: kept.when, reverse=True))


def accept(kept: Kept, keeper: Keeper) -> Job:
    """The kept job, which ``keeper`` keeps from now on. Open it in the store with ``unsaved=True``.

    Raises SnapcombError when its mesh is gone or another window was quicker; the kept job stays then.
    """
    job = load_job(kept.job)
    take_over(kept, keeper)
    return job


def take_over(kept: Kept, keeper: Keeper) -> None:
    """Make a kept job, which was read already, the keeper's own. Raises RefusedFile when another window has it."""
    folder = _locked(kept)
    try:
        keeper.adopt(kept.job, kept.picture)
    except OSError as problem:
        folder.lock.release()
        raise UnreadableFile(
            _tr("The kept job cannot be taken over: {0}.").format(problem),
            _tr("It stays where it is: {0}.").format(kept.job),
        ) from problem
    if keeper.folder is None:  # nothing is kept in this window, so the only copy stays
        folder.lock.release()
        return
    folder.remove()


def decline(kept: Kept) -> None:
    """Throw a kept job away. Raises RefusedFile when another window has taken it."""
    _locked(kept).remove()


def _locked(kept: Kept) -> WindowFolder:
    try:
        lock = FileLock.take(kept.folder / LOCK) if kept.job.exists() else None
    except OSError:
        lock = None
    if lock is None:
        raise RefusedFile(
            _tr("Another window has taken the kept job on {0}.").format(kept.file_name),
            _tr("Go on there."),
        )
    return WindowFolder(kept.folder, lock)


def _described(folder: WindowFolder) -> Kept:
    record = read_record(folder.job)
    return Kept(
        folder=folder.path,
        job=folder.job,
        when=datetime.fromtimestamp(folder.job.stat().st_mtime),
        file_name=record.source.name,
        about=_about(record),
        picture=folder.picture if folder.picture.exists() else None,
    )


def _about(record: JobRecord) -> str:
    rows, hand = len(record.rows), record.draft is not None
    if rows > 1:
        words = _tr("{0} rows").format(rows)
    elif rows == 1:
        words = _tr("One row")
    elif hand:
        return _tr("A row in hand, not yet added.")
    else:
        return _tr("No rows yet, but other changes.")
    if hand:
        return _tr("{0} and another one in hand, not yet handed over.").format(words)
    return _tr("{0}, not yet handed over.").format(words)
