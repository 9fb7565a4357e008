"""From a job to its sheet in a file, without a window: the one door to this package."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QGuiApplication

from app.look import fonts
from app.sheet.content import Progress, content
from app.sheet.paper import PAPERS
from core.diagnose.found import Inspection
from core.errors import BadValue, SnapcombError, WriteFailed
from core.files.safe_write import write_safely
from core.job.fit import run_rows
from core.job.job import Job
from core.job.pipeline import Pipeline
from core.job.sheet import FileMark, JobSheet, job_sheet

SUFFIXES = (".pdf", ".html", ".htm")
#: The application that has our typefaces; kept, because Qt does not keep it alive.
_ready: list[QCoreApplication] = []


def make_sheet(
    job: Job,
    path: Path,
    pipeline: Pipeline | None = None,
    *,
    inspection: Inspection | None = None,
    files: Iterable[FileMark] = (),
    inputs: Iterable[Path] = (),
    paper: str = "a4",
    program: str = "Snapcomb",
    progress: Progress = lambda _f, _t: None,
) -> JobSheet:
    """Write the sheet of a job as PDF or HTML, by the ending of ``path``; returns what it tells.

    ``inputs`` are files that it must not be written over. Raises BadValue for a job without rows or an unknown ending,
    WriteFailed, and SnapcombError where nothing can draw.
    """
    vet_ending(path)
    pipe = pipeline or Pipeline()
    if not job.rows:
        raise BadValue("The job has no row of teeth, so there is nothing to put on a sheet.", "Add a row first.")
    fitted = run_rows(job, pipe, lambda f, t: progress(0.3 * f, t), found=inspection)
    sheet = job_sheet(job, fitted, inspection=inspection, files=files, program=program)
    start_toolkit()
    drawn = content(sheet, pipe, PAPERS[paper], lambda f, t: progress(0.3 + 0.6 * f, t))
    progress(0.9, "Writing")
    if path.suffix.lower() == ".pdf":
        from app.sheet.pdf import pdf_of  # noqa: PLC0415 - only one of the two is needed

        data = pdf_of(drawn)
    else:
        from app.sheet.html import html_of  # noqa: PLC0415

        data = html_of(drawn)
    write_safely(path, [data], lambda written: _whole(written, data), inputs=[*inputs, *_mesh_file(job)])
    return sheet


def vet_ending(path: Path) -> None:
    """Sheets are PDF or HTML. Raises BadValue for another ending."""
    if path.suffix.lower() not in SUFFIXES:
        raise BadValue(f"“{path.name}” does not end like a job sheet.", "Use .pdf or .html.")


def start_toolkit() -> None:
    """Have the toolkit ready for lettering and drawing, with no display if there is none. Raises SnapcombError."""
    application = QCoreApplication.instance()
    if application is None:
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
        application = QGuiApplication([sys.argv[0] if sys.argv else "snapcomb"])
    if not isinstance(application, QGuiApplication):
        raise SnapcombError("The sheet cannot be drawn within this program.", "Run “snapcomb sheet”.")
    if application not in _ready:
        fonts.load()
        _ready.append(application)


def _mesh_file(job: Job) -> tuple[Path, ...]:
    return () if job.part.source is None else (job.part.source.path,)


def _whole(written: Path, data: bytes) -> None:
    if written.read_bytes() != data:
        raise WriteFailed(f"“{written.name}” does not come back from the disk as it was written.", "Try another disk.")
