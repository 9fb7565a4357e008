"""``snapcomb sheet`` with what a person can get wrong, and within its time."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np
import pytest

from core.files.read import read_part
from core.geometry.mesh import Mesh
from core.job.job import new_job
from core.job.job_file import load_job, save_job
from samples import sample_path
from tests.app.sheet.conftest import Made, run_sheet


def test_a_job_without_rows_is_status_2(tmp_path: Path) -> None:
    path = tmp_path / "bare.snapcomb"
    save_job(new_job(read_part(sample_path("rain_hood"))), path)
    ran = run_sheet(path, "-o", tmp_path / "out.pdf")
    assert (ran.code, ran.err) == (
        2, "The job has no row of teeth, so there is nothing to put on a sheet. Add a row first."
    )  # fmt: skip
    assert os.listdir(tmp_path) == ["bare.snapcomb"]


@pytest.mark.parametrize(
    ("output", "code", "said"),
    [("out.txt", 2, "does not end like a job sheet"), ("hood.snapcomb", 2, "does not end like"),
     ("nowhere/out.pdf", 3, "the folder is not there")],
)  # fmt: skip
def test_outputs_that_cannot_be(made: Made, output: str, code: int, said: str) -> None:
    before = sorted(os.listdir(made.job.parent))
    ran = run_sheet(made.job, "-o", made.job.parent / output, "--no-inspect")
    assert ran.code == code
    assert said in ran.err
    assert sorted(os.listdir(made.job.parent)) == before


def test_a_mesh_that_is_gone_is_status_3(made: Made, tmp_path: Path) -> None:
    data = json.loads(made.job.read_text(encoding="utf-8"))
    data["source"] |= {"name": "gone.stl", "relative": "", "absolute": ""}
    (tmp_path / "lost.snapcomb").write_text(json.dumps(data), encoding="utf-8")
    ran = run_sheet(tmp_path / "lost.snapcomb", "-o", tmp_path / "out.pdf")
    assert ran.code == 3
    assert "gone.stl" in ran.err
    assert run_sheet(
        tmp_path / "lost.snapcomb", "-o", tmp_path / "out.html", "--no-inspect", "--mesh", sample_path("rain_hood")
    ).code in (0, 1)


def test_a_row_that_cannot_stand_is_told_and_the_rest_is_drawn(made: Made, tmp_path: Path) -> None:
    data = json.loads(made.job.read_text(encoding="utf-8"))
    data["rows"].append(data["rows"][0] | {"number": 2, "set": {"thickness_mm": 7.0}})
    path = tmp_path / "two.snapcomb"
    path.write_text(json.dumps(data), encoding="utf-8")
    ran = run_sheet(path, "-o", tmp_path / "two.html", "--no-inspect", "--mesh", sample_path("rain_hood"))
    assert ran.code == 1
    assert "Row 2 could not be worked out" in ran.err
    assert "Row 2 could not be worked out" in (tmp_path / "two.html").read_text(encoding="utf-8")


def test_words_of_others_are_never_taken_for_markup(made: Made, tmp_path: Path) -> None:
    data = json.loads(made.job.read_text(encoding="utf-8"))
    data["notes"] = ["<script>alert(1)</script> & {{ 7 * 7 }}"]
    path = tmp_path / "sly.snapcomb"
    path.write_text(json.dumps(data), encoding="utf-8")
    run_sheet(path, "-o", tmp_path / "sly.html", "--no-inspect", "--mesh", sample_path("rain_hood"))
    text = (tmp_path / "sly.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; {{ 7 * 7 }}" in text
    assert "<script" not in text


@pytest.mark.soak
def test_a_million_facets_within_five_seconds(made: Made, tmp_path: Path) -> None:
    """Time of the processor, so that a busy machine does not count; much of it can run beside each other."""
    trimesh = pytest.importorskip("trimesh")
    job = load_job(made.job)
    v, f = job.part.mesh.vertices, job.part.mesh.triangles.astype(np.int64)
    for _ in range(3):
        v, f = trimesh.remesh.subdivide(v, f)
    v, f = trimesh.remesh.subdivide_to_size(v, f, 1.45, max_iter=30)
    mesh = Mesh(v, f.astype(np.int32))
    from core.files.write import write_part

    write_part(mesh, tmp_path / "large.stl", unit="millimeter", name="large")
    part = read_part(tmp_path / "large.stl")
    from dataclasses import replace

    save_job(replace(job, part=part), tmp_path / "large.snapcomb")
    ran = run_sheet(tmp_path / "large.snapcomb", "-o", tmp_path / "large.pdf")
    assert ran.code in (0, 1)
    assert ran.seconds < 7.0
