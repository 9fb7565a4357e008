"""The job sheet from the window: asked for by name and place, made in the background, told when it is there."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QFileDialog

from app.look.dialogs import file_dialog
from core.job.hand_over import suggested_path

if TYPE_CHECKING:
    from app.window import Window


def _tr(text: str) -> str:
    return QCoreApplication.translate("Printing", text)


def ask_sheet(window: Window) -> None:
    """Ask where the job sheet goes, and have it made. A row in hand is added first, as when handing over."""
    bench = window.bench
    job = bench.job
    if job is None:
        return
    if job.draft is not None and not bench.add_row():
        window.say("attention", _tr("The row in hand cannot be planned; let it go or mend it first."), ())
        return
    if not bench.job.rows:
        window.say("attention", _tr("There is no row of teeth to put on a sheet. Add a row first."), ())
        return
    kinds = ";;".join((_tr("PDF (*.pdf)"), _tr("Web page (*.html)")))
    place = suggested_path(job, ".pdf")
    dialog = file_dialog(window, _tr("Print the job sheet"), str(place.parent), kinds)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setDefaultSuffix("pdf")
    dialog.setLabelText(QFileDialog.DialogLabel.Accept, _tr("Print"))
    dialog.selectFile(f"{job.part.name}_job_sheet.pdf")
    dialog.filterSelected.connect(lambda kind: dialog.setDefaultSuffix("html" if "html" in kind else "pdf"))
    if dialog.exec() and dialog.selectedFiles():
        make(window, Path(dialog.selectedFiles()[0]))


def make(window: Window, path: Path) -> None:
    """Make the sheet in the background; what was inspected and handed over goes on it."""
    bench = window.bench
    handed = bench.results.handed
    bench.progressed.emit("sheet", 0.0, _tr("Drawing the job sheet"))

    def told(skipped: tuple[str, ...]) -> None:
        if skipped:
            window.say("attention", " ".join(skipped), ())
        else:
            window.say("note", _tr("The job sheet is there: {0}").format(path), ())

    bench.runner.post(
        "sheet", "sheet", bench.job, path, bench.results.inspection, None if handed is None else handed.path,
        then=told,
        fail=lambda problem: window.say("attention", str(problem), ()),
        progress=lambda f, t: bench.progressed.emit("sheet", f, t),
    )  # fmt: skip
