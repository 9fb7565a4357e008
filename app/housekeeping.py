"""The manners of the window: work is kept, found again after a crash, saved as a job file, and watched on disk.

Everything here listens to the store and the bench; taking it away changes nothing about the job.
"""

from __future__ import annotations

import logging
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QFileDialog

from app import settings
from app.bench import Bench
from app.carrying import carry
from app.keeping.autosave import Keeper
from app.keeping.neighbours import Neighbour, Neighbours
from app.keeping.picture import view_picture
from app.keeping.recovery import Kept, decline, kept_jobs, take_over
from app.look.current import current
from app.look.dialogs import file_dialog
from app.panels.kept_jobs import KeptJob
from app.thumbnails import SCALE, Thumbnails
from app.watching import FileWatch
from core.errors import SnapcombError
from core.job.job import Job
from samples import SAMPLES, sample_path

if TYPE_CHECKING:
    from app.window import Window

log = logging.getLogger(__name__)
JOB_SUFFIX = ".snapcomb.json"


class Housekeeping(QObject):
    """Autosave, recovery, job files, neighbours, the watch on the mesh file, and pictures for the start page."""

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self.window, self.bench = window, window.bench
        self.job_path: Path | None = None
        self.keeper = Keeper(window.store, picture=view_picture(window.view), parent=self)
        self.neighbours = Neighbours(self.keeper.folder, window.store, self) if self.keeper.folder is not None else None
        self.watch = FileWatch(self)
        self.pictures = Thumbnails(self)
        self._kept: dict[str, Kept] = {}
        self._watched: object = None
        self._job_paths: dict[object, Path | None] = {}
        self._connect()
        self.offer_kept()

    def _connect(self) -> None:
        window = self.window
        window.store.changed.connect(self._follow)
        window.store.opened.connect(self._begun)
        self.watch.changed.connect(self._changed_on_disk)
        self.keeper.failed.connect(lambda text: window.say("attention", text, ()))
        if self.neighbours is not None:
            self.neighbours.met.connect(self._met)
        self.pictures.ready.connect(self._picture)
        window.start.recovery_accepted.connect(self.take_kept)
        window.start.recovery_declined.connect(self.drop_kept)

    # What was kept

    def offer_kept(self) -> None:
        """Offer on the start page what windows that are gone left behind."""
        self._kept = {str(kept.folder): kept for kept in kept_jobs()}
        self.window.start.set_kept_jobs([_as_shown(kept) for kept in self._kept.values()])

    def take_kept(self, key: str) -> None:
        """Take a kept job back."""
        kept = self._kept.get(key)
        if kept is None or not self.window.may_leave():
            return

        def opened(bench: Bench) -> None:
            try:
                take_over(kept, self.keeper)
            except SnapcombError as problem:
                self.window.say("attention", str(problem), ())
            self.offer_kept()

        self.bench.open(kept.job, unsaved=True, then=opened)

    def drop_kept(self, key: str) -> None:
        """Let a kept job go."""
        kept = self._kept.get(key)
        if kept is not None:
            try:
                decline(kept)
            except SnapcombError as problem:
                self.window.say("attention", str(problem), ())
        self.offer_kept()

    # Job files

    def save(self) -> None:
        """Save the job where it was saved before, or ask."""
        if self.job_path is None:
            self.save_as()
        else:
            self._save(self.job_path, places=True)

    def save_as(self, *, places: bool = True) -> None:
        """Ask where to save the job. Without places it can be passed on where the model may not."""
        job = self.bench.job
        if job is None:
            return
        folder = str(job.part.source.path.parent) if job.part.source else self.window.remembered.folder
        dialog = file_dialog(self.window, self.tr("Save the job"), folder, self.tr("Jobs (*{0})").format(JOB_SUFFIX))
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(JOB_SUFFIX.lstrip("."))
        dialog.selectFile(Path(job.part.name).stem + JOB_SUFFIX)
        if dialog.exec() and dialog.selectedFiles():
            self._save(Path(dialog.selectedFiles()[0]), places=places)

    def _save(self, path: Path, *, places: bool) -> None:
        job = self.bench.job

        def done(_: object) -> None:
            self.job_path = path
            if self.bench.job is job:
                self.window.store.mark_saved()
            if self.neighbours is not None:
                self.neighbours.set_job_path(path)
            settings.remember_file(self.window.remembered, path)

        self.bench.runner.post("write", "save", job, path, places, then=done, fail=self._say)

    def _say(self, problem: SnapcombError) -> None:
        self.window.say("attention", str(problem), ())

    # The file, the other windows

    def _follow(self, old: Job | None, new: Job | None) -> None:
        source = None if new is None else new.part.source
        if source != self._watched:
            if old is not None and new is not None:  # the same job on another mesh is not saved over the former one
                self._job_paths[self._watched] = self.job_path
                self.job_path = self._job_paths.get(source)
            self._watched = source
            self.watch.watch(source)

    def _begun(self, job: Job | None) -> None:
        """Another job: it is saved where it came from, never where the one before it was."""
        self._job_paths.clear()
        self.job_path = self.bench.opened_job if job is not None else None
        if self.neighbours is not None:
            self.neighbours.set_job_path(self.job_path)

    def _changed_on_disk(self, path: Path) -> None:
        words = self.tr("{0} has changed on disk since it was opened.").format(path.name)
        steps = (("again", self.tr("Read it again")), ("keep", self.tr("Go on with what is open")))
        if self.bench.job is not None and (self.bench.job.rows or self.bench.job.posts):
            steps = (("carry", self.tr("Carry the rows over to it…")), *steps)
        self.window.ask(words, steps, lambda word: self._about_change(word, path))

    def _about_change(self, word: str, path: Path) -> None:
        if word == "again":
            self.window.open(path)
        elif word == "carry":
            carry(self.window, path)

    def _met(self, neighbour: Neighbour) -> None:
        self.window.say("note", neighbour.sentence(), ())

    # Pictures

    def draw_start_page(self) -> None:
        """Put pictures on the start page, those that are not known yet as they are drawn."""
        theme = current().name
        recent = [Path(p) for p in self.window.remembered.recent if Path(p).exists()]
        for path in (*(sample_path(s.name) for s in SAMPLES), *recent):
            self._put(path, self.pictures.pixmap(path, theme))
        self.pictures.want([*(sample_path(s.name) for s in SAMPLES), *recent], theme)

    def _picture(self, path: Path, picture: Path) -> None:
        self._put(path, self.pictures.pixmap(path, current().name))

    def _put(self, path: Path, picture: QPixmap | None) -> None:
        if picture is None:
            return
        for sample in SAMPLES:
            if sample_path(sample.name) == path:
                self.window.start.set_sample_picture(sample.name, picture)
        self.window.start.set_recent_picture(path, picture)

    def close(self) -> None:
        """End everything in order."""
        self.watch.close()
        self.pictures.close()
        if self.neighbours is not None:
            self.neighbours.close()
        self.keeper.close()


def _as_shown(kept: Kept) -> KeptJob:
    """A kept job as the start page offers it, with the day left out when it is today."""
    today = kept.when.date() == datetime.now().date()
    picture = QPixmap(str(kept.picture)) if kept.picture is not None else None
    if picture is not None:
        picture.setDevicePixelRatio(SCALE)
    when = kept.when.strftime("%H:%M" if today else "%Y-%m-%d %H:%M")
    return KeptJob(str(kept.folder), kept.file_name, kept.about, when, picture)
