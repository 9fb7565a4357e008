"""What takes a job to others, as whole processes: run again on a newer revision, put on a sheet, a folder inspected.

Run: pytest tests/benchmarks/bench_commands.py -s

SIZE chooses the facets of the part (a million by default), FILES and FACETS the folder. Seconds of the processor are
told beside those of the clock, and reading the same mesh is the floor.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import app
from core.design.plan import RowWishes
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import Mesh
from core.geometry.polyline import Polyline
from core.job.job import Pick, add_rows, new_job
from core.job.job_file import save_job
from core.job.landmark_record import known_figures
from core.job.pipeline import Pipeline
from tests import meshes
from tests.benchmarks.parts import BAR, GAP, PARTS
from tests.benchmarks.ratios import timed

SIZE = int(os.environ.get("SIZE", "1000000"))
FILES, FACETS = int(os.environ.get("FILES", "100")), int(os.environ.get("FACETS", "10000"))
HOME = Path(app.__file__).parents[1]


def run(*arguments: object) -> tuple[float, float]:
    """Seconds of the program, on the clock and by the processor, from its start to its end."""
    before, clock = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", "from app.main import main; main()", *map(str, arguments)],
        env=os.environ | {"PYTHONPATH": str(HOME)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode in (0, 1), done.stderr
    busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - clock, busy


def told(name: str, seconds: tuple[float, float], floor: float, target: str) -> None:
    clock, busy = seconds
    print(f"\n{name:<40} {clock:7.2f} s  processor {busy:7.2f} s  × {busy / floor:6.1f} of reading   {target}")


@pytest.fixture(scope="module", params=list(PARTS))
def job(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path, Path, float]:
    """A job with a row of sixty teeth on a large part, a revision of it that was moved, and the floor."""
    folder = tmp_path_factory.mktemp(request.param)
    mesh = PARTS[request.param](SIZE)
    write_part(mesh, folder / "old.stl", unit="millimeter", name="old")
    moved = Mesh(mesh.vertices + np.array([7.5, -3.0, 0.0]), mesh.triangles)
    write_part(moved, folder / "new.stl", unit="millimeter", name="new")
    part = read_part(folder / "old.stl")
    edge = Pick(Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge))
    made = add_rows(new_job(part), ((edge, RowWishes(teeth=60)),))
    pipeline = Pipeline()
    assert pipeline.row_span(made, made.rows[0]).length == pytest.approx(BAR, abs=0.1)
    save_job(made, folder / "job.snapcomb", figures=known_figures(made, pipeline))
    floor = timed(lambda: read_part(folder / "old.stl"))[1]
    return request.param, folder / "job.snapcomb", folder / "new.stl", floor


def test_run_again_on_a_newer_revision(job: tuple[str, Path, Path, float]) -> None:
    kind, path, newer, floor = job
    told(f"{kind}: apply --to", run("apply", path, "--to", newer, "-o", newer.with_name("out.stl")), floor, "≤ 5 s")


def test_the_sheet(job: tuple[str, Path, Path, float]) -> None:
    kind, path, _, floor = job
    told(f"{kind}: sheet", run("sheet", path, "-o", path.with_suffix(".pdf")), floor, "≤ 5 s")


def test_a_folder_on_two_processes(tmp_path: Path) -> None:
    """Two rounds by turns; only the clock tells anything here, so nothing else may run beside it."""
    for number in range(FILES):
        kind = list(PARTS)[number % len(PARTS)]
        write_part(PARTS[kind](FACETS), tmp_path / f"{number:03}.stl", unit="millimeter", name=kind)
    times = {n: min(run("inspect", tmp_path, "--csv", "--processes", n)[0] for _ in range(2)) for n in (1, 2)}
    gain = times[1] / times[2]
    print(f"\n{FILES} files: 1 process {times[1]:.1f} s, 2 processes {times[2]:.1f} s, × {gain:.2f}   ≥ 1.7")
