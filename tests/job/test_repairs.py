"""A repaired mesh from the job to the file: what is written, and what is said of it before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.errors import BadValue
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.pose import as_filed
from core.geometry.repair import Repair
from core.job.fit import fit_rows
from core.job.hand_over import hand_over, suggested_path
from core.job.job import Job, new_job
from core.job.job_file import load_job, save_job
from core.job.pipeline import Pipeline
from core.job.revision_file import on_revision
from tests.meshes import box, flipped


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bar that hangs over a ledge, and a block beside it that is inside out."""
    path = tmp_path_factory.mktemp("broken") / "arm.stl"
    arm = joined([
        box((0, 0, 0), (40, 20, 4)), box((0, 12, 3), (40, 20, 20)), box((0, 0, 5.6), (40, 13, 9)),
        flipped(box((60, 0, 0), (70, 10, 10))),
    ])  # fmt: skip
    write_part(arm, path, unit="millimeter", name="arm")
    return path


@pytest.fixture(scope="module")
def job(broken: Path) -> Job:
    """A row at the first gap of the mended part."""
    mended = replace(new_job(read_part(broken)), part=read_part(broken).mended(Repair("turn")))
    found = inspect_part(mended.part, mended.pose, mended.setup)
    fitted = fit_rows(mended, found, Pipeline(), gaps=[found.gaps[0].id])
    assert len(fitted.job.rows) == 1
    return fitted.job


def test_the_file_is_written_anew_with_the_repair_in_it(job: Job, broken: Path, tmp_path: Path) -> None:
    done = hand_over(job, tmp_path / "out.stl")
    assert not done.lossless
    outside = trimesh.load(tmp_path / "out.stl", force="mesh")
    block = next(s for s in outside.split(only_watertight=False) if s.bounds[0][0] > 50)
    assert block.volume == pytest.approx(1000.0)  # 10³ mm³, and not −1000
    assert broken.read_bytes()[84:] not in (tmp_path / "out.stl").read_bytes()


def test_lapped_teeth_need_no_repair(job: Job, broken: Path, tmp_path: Path) -> None:
    """The same rows without the repair: every original record is kept, the block stays as it was filed."""
    plain = replace(job, part=job.part.unmended())
    done = hand_over(plain, tmp_path / "out.stl")
    assert done.lossless
    assert (tmp_path / "out.stl").read_bytes()[84:].startswith(broken.read_bytes()[84:])


def test_a_saved_job_runs_again_with_its_repairs(job: Job, tmp_path: Path) -> None:
    save_job(job, tmp_path / "arm.snapcomb")
    hand_over(job, tmp_path / "first.stl")
    hand_over(load_job(tmp_path / "arm.snapcomb"), tmp_path / "second.stl")
    assert (tmp_path / "first.stl").read_bytes() == (tmp_path / "second.stl").read_bytes()


def test_repairs_are_done_again_on_a_newer_revision(job: Job, broken: Path, tmp_path: Path) -> None:
    part = read_part(broken)
    newer = joined([part.mesh, box((80, 0, 0), (85, 5, 5))])
    write_part(newer, tmp_path / "newer.stl", unit="millimeter", name="arm")
    save_job(job, tmp_path / "arm.snapcomb")
    named = on_revision(tmp_path / "arm.snapcomb", tmp_path / "newer.stl", None, Pipeline())
    assert named.revision is not None
    assert named.job.part.repairs == (Repair("turn"),)
    assert named.job.part.mesh.volume == pytest.approx(job.part.mesh.volume + 125.0)
    assert "Mended as chosen: shells turned: 1." in named.revision.notes


def test_formats_that_can_only_be_patched_get_another_ending(job: Job, tmp_path: Path) -> None:
    source = replace(job.part.source, path=tmp_path / "arm.obj", format="obj")
    mended = replace(job, part=replace(job.part, source=source))
    assert suggested_path(mended).name == "arm_with_teeth.3mf"
    assert suggested_path(replace(mended, part=mended.part.unmended())).name == "arm_with_teeth.obj"
    with pytest.raises(BadValue, match="names no format that is written"):
        hand_over(mended, tmp_path / "arm_with_teeth.obj")


def test_the_repaired_part_is_bonded_as_one_skin(job: Job, tmp_path: Path) -> None:
    hand_over(replace(job, bond="skin"), tmp_path / "skin.stl")
    outside = trimesh.load(tmp_path / "skin.stl", force="mesh")
    assert outside.is_watertight
    assert outside.is_winding_consistent
    assert np.all([s.volume > 0 for s in outside.split()])


def test_an_inspection_counts_what_is_wrong(tmp_path: Path) -> None:
    """Beside what was taken into account while cutting layers."""
    twice = Mesh(box().vertices, np.vstack([box().triangles, box().triangles[:2]]))
    beside = box((30, 0, 0), (40, 10, 10))
    mesh = joined([twice, beside, box((35, 0, 0), (45, 10, 10))])
    part = Part("wrong", joined([beside, box((35, 0, 0), (45, 10, 10))]))
    assert "1 shell overlaps another." in inspect_part(part, as_filed(part.mesh), PrintSetup()).notes
    part = Part("wrong", mesh)
    assert "2 facets are there twice." in inspect_part(part, as_filed(part.mesh), PrintSetup()).notes
