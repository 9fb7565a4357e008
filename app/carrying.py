"""A job carried over to a newer revision of its mesh, from the window: asked for, looked at, then taken or not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QFileDialog

from app.look.dialogs import file_dialog
from app.panels.revision_dialog import RevisionDialog
from core.errors import NeedsChoice, SnapcombError
from core.job.job import Job

if TYPE_CHECKING:
    from app.window import Window
    from app.work.revisions import Carried


def _tr(text: str) -> str:
    return QCoreApplication.translate("Carrying", text)


def ask_newer(window: Window) -> None:
    """Ask for the newer file, and say what becomes of the rows on it."""
    job = window.bench.job
    if job is None:
        return
    if not job.rows and not job.posts and job.draft is None:
        window.say("note", _tr("There is no row to carry over. Open the newer file as any other."), ())
        return
    if job.draft is not None and not window.bench.add_row():
        window.say("attention", _tr("The row in hand cannot be planned; let it go or mend it first."), ())
        return
    path = _asked(window, _tr("Carry the rows over to a newer file"))
    if path is not None:
        carry(window, path)


def carry(window: Window, path: Path, choice: str | None = None) -> None:
    """Find the rows of the job in hand again on the mesh in a file, and show what became of each."""
    bench, job = window.bench, window.bench.job

    def found(carried: Carried) -> None:
        if bench.job is not job:
            window.say("note", _tr("The job was changed meanwhile. Carry its rows over again."), ())
            return
        _show(window, carried, path, lambda decided: bench.go_on_with(
            _tr("Carry over to {0}").format(path.name), decided, carried.edges))  # fmt: skip

    _post(window, "carry_job", (job, path, choice), found, lambda word: carry(window, path, word), path)


def offer_mesh(window: Window, file: Path, problem: SnapcombError) -> None:
    """The mesh of a job file is not there or is another one: offer to look for it, or for a newer revision."""
    steps = (("find", _tr("Choose its mesh or a newer one…")), ("leave", _tr("Leave it")))

    def answered(word: str) -> None:
        path = _asked(window, _tr("Choose the mesh of this job or a newer one")) if word == "find" else None
        if path is not None:
            open_on(window, file, path)

    window.ask(str(problem), steps, answered)


def open_on(window: Window, file: Path, path: Path, choice: str | None = None) -> None:
    """Open a job file on the mesh in another file; on a newer revision only once that was looked at."""
    bench = window.bench

    def found(carried: Carried) -> None:
        if carried.revision is None:
            bench.opened_job = file
            bench.begin(carried.job, carried.edges)
        else:
            _show(window, carried, path, lambda job: bench.begin(job, carried.edges, unsaved=True))

    _post(window, "carry_file", (file, path, choice), found, lambda word: open_on(window, file, path, word), path)


def _post(
    window: Window, task: str, args: tuple[Any, ...], found: Callable[[Carried], None],
    again: Callable[[str], None], path: Path,
) -> None:  # fmt: skip
    bench = window.bench

    def failed(problem: SnapcombError) -> None:
        if isinstance(problem, NeedsChoice):
            bench.choice_needed.emit(problem, again)
        else:
            window.say("attention", str(problem), ())

    window.banner.hide()
    bench.progressed.emit("open", 0.0, _tr("Reading {0}").format(path.name))
    bench.runner.post(
        "open", task, *args, then=found, fail=failed, progress=lambda f, t: bench.progressed.emit("open", f, t)
    )


def _show(window: Window, carried: Carried, path: Path, take: Callable[[Job], None]) -> None:
    assert carried.revision is not None
    dialog = RevisionDialog(carried.old, carried.revision, path.name, window.bench.view.unit, take, window)
    window.side.revision = dialog
    dialog.show()
    dialog.raise_()


def _asked(window: Window, title: str) -> Path | None:
    from app.window.files import meshes  # noqa: PLC0415 - the window imports this module

    job = window.bench.job
    source = None if job is None else job.part.source
    folder = window.remembered.folder if source is None else str(source.path.parent)
    dialog = file_dialog(window, title, folder, _tr("Meshes ({0})").format(meshes()))
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    dialog.setLabelText(QFileDialog.DialogLabel.Accept, _tr("Look at it"))
    return Path(dialog.selectedFiles()[0]) if dialog.exec() and dialog.selectedFiles() else None
