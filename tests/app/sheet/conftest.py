"""One hood, fitted and put on a sheet by the program itself, without a display, for all tests here."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

import app
from core.design.plan import RowWishes
from core.files.read import read_part
from core.geometry.polyline import Polyline
from core.job.fit import run_rows
from core.job.job import Pick, add_rows, new_job
from core.job.job_file import load_job, save_job
from core.job.pipeline import Pipeline
from core.job.sheet import JobSheet, job_sheet
from samples import sample_path, truth

HOME = Path(app.__file__).parents[1]


@dataclass(frozen=True)
class Ran:
    """What a run left behind."""

    code: int
    err: str
    seconds: float


def run_sheet(*arguments: object) -> Ran:
    """``snapcomb sheet`` as a process that has no display."""
    bare = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    script = (
        "import resource, sys\nfrom app.main import run\ncode = run(sys.argv[1:])\n"
        "use = resource.getrusage(resource.RUSAGE_SELF)\nprint(use.ru_utime + use.ru_stime)\nsys.exit(code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, "sheet", *map(str, arguments)], capture_output=True, text=True, timeout=240,
        env=bare | {"PYTHONPATH": str(HOME), "PYTHONDONTWRITEBYTECODE": "1"}, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr, done.stderr
    return Ran(done.returncode, done.stderr.strip(), float((done.stdout.split() or ["nan"])[-1]))


@dataclass(frozen=True)
class Made:
    """A job with its sheet in both forms, and what the sheet should tell."""

    job: Path
    pdf: Path
    html: Path
    tells: JobSheet


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("sheet")
    gaps = {g["id"]: g for g in truth()["samples"]["rain_hood"]["gaps"]}
    job = add_rows(
        new_job(read_part(sample_path("rain_hood"))),
        ((Pick(Polyline.of(gaps["front_lip"]["edge"])), RowWishes(tip=0.37, left_out=(3,))),),
    )
    path = folder / "hood.snapcomb"
    save_job(job, path)
    pdf, html = folder / "hood.pdf", folder / "hood.html"
    for output in (pdf, html):
        ran = run_sheet(path, "-o", output, "--no-inspect")
        assert ran.code in (0, 1), ran.err
        assert ran.err.endswith(f"Wrote {output}.")
    loaded = load_job(path)
    return Made(path, pdf, html, job_sheet(loaded, run_rows(loaded, Pipeline())))
