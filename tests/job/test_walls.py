"""Walls in a job: worked out, saved and read back, handed over, and built by fitting where there is no ledge."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from core.design.plan import RowWishes
from core.design.wall import WallWishes
from core.diagnose.inspection import Inspection, inspect_part
from core.errors import BadValue, UnreadableFile
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology
from core.job.fit import bare_spots, fit_rows, fitted_json, run_rows
from core.job.hand_over import hand_over
from core.job.job import Job, Pick, Row, new_job, take_out_post, wish_wall
from core.job.job_file import load_job, save_job
from core.job.pipeline import Pipeline
from tests.design.walls import shelf
from tests.meshes import box

BRACKET = Path(str(files("samples") / "bare_bracket.stl"))
TRUTH = json.loads((files("samples") / "truth.json").read_text(encoding="utf-8"))["samples"]["bare_bracket"]


@pytest.fixture(scope="module")
def bracket() -> tuple[Job, Inspection]:
    job = new_job(read_part(BRACKET))
    return job, inspect_part(job.part, job.pose, job.setup)


def with_wall(job: Job, found: Inspection, **wishes: object) -> Job:
    edge = found.weak_spots[0].path.moved(job.pose.inverse.matrix)
    return replace(job, rows=(Row(1, Pick(edge), RowWishes(), WallWishes(**wishes)),))


def test_a_row_on_a_wall_is_designed_with_it(bracket: tuple[Job, Inspection]) -> None:
    job, found = bracket
    pipeline = Pipeline()
    job = with_wall(job, found)
    (design,) = pipeline.added(job)
    assert design.wall is not None
    assert design.span.gap_range == pytest.approx((1.2, 1.2), abs=1e-3)
    solids = pipeline.teeth_in_file(job)
    assert len(solids) == 1 + design.plan.teeth
    assert all(Topology.of(s).watertight for s in solids)
    # The bed of the file lies at z = 4.5: the wall stands on it.
    assert solids[0].bounds[0, 2] == pytest.approx(-job.pose.matrix[2, 3], abs=1e-6)


def test_a_figure_of_the_wall_rebuilds_only_what_follows_from_it(bracket: tuple[Job, Inspection]) -> None:
    job, found = bracket
    pipeline = Pipeline()
    pipeline.added(with_wall(job, found))
    pipeline.added(with_wall(job, found, gap=1.6))
    pipeline.added(with_wall(job, found))
    assert pipeline.counts["wall_look"] == 1
    assert pipeline.counts["wall"] == 2
    assert pipeline.counts["bed_mesh"] == 1


def test_one_skin_takes_the_wall_in(bracket: tuple[Job, Inspection]) -> None:
    job, found = bracket
    job = replace(with_wall(job, found), bond="skin")
    skin = Pipeline().bonded_part(job)
    topology = Topology.of(skin)
    assert topology.watertight
    assert topology.shell_count == 1


def test_a_wall_comes_back_from_the_job_file(bracket: tuple[Job, Inspection], tmp_path: Path) -> None:
    job, found = bracket
    job = with_wall(job, found, lines=4, windows=False, clearance=0.7, room=2.0)
    save_job(job, tmp_path / "job.snapcomb")
    text = json.loads((tmp_path / "job.snapcomb").read_text(encoding="utf-8"))
    assert text["rows"][0]["wall"] == {"lines": 4, "windows": False, "clearance_mm": 0.7, "room_mm": 2.0}
    assert load_job(tmp_path / "job.snapcomb").rows == job.rows


def test_a_job_without_walls_reads_as_before(bracket: tuple[Job, Inspection], tmp_path: Path) -> None:
    job, found = bracket
    job = replace(job, rows=(Row(1, Pick(found.weak_spots[0].path)),))
    save_job(job, tmp_path / "job.snapcomb")
    data = json.loads((tmp_path / "job.snapcomb").read_text(encoding="utf-8"))
    del data["rows"][0]["wall"]
    (tmp_path / "job.snapcomb").write_text(json.dumps(data), encoding="utf-8")
    assert load_job(tmp_path / "job.snapcomb").rows[0].wall is None
    data["rows"][0]["wall"] = {"bricks": 3}
    (tmp_path / "job.snapcomb").write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(UnreadableFile, match="bricks"):
        load_job(tmp_path / "job.snapcomb")


def test_the_row_in_hand_can_be_given_a_wall(bracket: tuple[Job, Inspection]) -> None:
    job, _ = bracket
    drafted = replace(job, draft=Row(1, Pick(Polyline.of([(0, 0, 0), (1, 0, 0)]))))
    assert wish_wall(drafted, WallWishes(lines=3)).draft.wall == WallWishes(lines=3)
    assert wish_wall(wish_wall(drafted, WallWishes()), None).draft.wall is None


def test_fitting_builds_walls_where_there_is_no_ledge(bracket: tuple[Job, Inspection], tmp_path: Path) -> None:
    job, found = bracket
    assert [s.id for s in bare_spots(found, None)] == ["w1"]
    pipeline = Pipeline()
    without = fit_rows(job, found, pipeline)
    assert without.added == ()
    fitted = fit_rows(job, found, pipeline, walls=WallWishes())
    assert fitted.skipped == ()
    assert not fitted.needs_a_person
    told = fitted_json(fitted)["added"]
    assert {one["weak_spot"] for one in told} == {"w1"}
    assert all(one["gap"] is None and one["wall"]["stands_on"] == "bed" for one in told)
    # Walls and teeth against a solid block under the weak area that the sample was built with.
    area = TRUTH["weak_spots"][0]["area_mm2"]
    volume = sum(s.volume for a in fitted.added for s in a.design.solids())
    assert volume <= 0.25 * area * 25.0
    assert told[0]["wall"]["share_of_block"] == pytest.approx(volume / dict(fitted.blocks)["w1"], abs=1e-3)
    out = tmp_path / "out.stl"
    assert hand_over(fitted.job, out, pipeline).lossless
    after = inspect_part(read_part(out), job.pose, job.setup)
    assert after.weak_spots == ()


def test_a_saved_job_with_walls_runs_again(bracket: tuple[Job, Inspection], tmp_path: Path) -> None:
    job, found = bracket
    fitted = fit_rows(job, found, Pipeline(), gaps=["w1"], walls=WallWishes(), wishes=RowWishes(sink_part=0.05))
    save_job(fitted.job, tmp_path / "job.snapcomb")
    again = run_rows(load_job(tmp_path / "job.snapcomb"), Pipeline())
    assert len(again.added) == len(fitted.added)
    assert again.skipped == ()
    first, second = (joined([s for a in f.added for s in a.design.solids()]) for f in (fitted, again))
    assert np.array_equal(first.vertices, second.vertices)
    assert all(a.design.plan.sink_part == 0.05 for a in again.added)


def test_a_spot_without_room_is_told() -> None:
    part = Part("low", shelf(z=1.8))
    job = new_job(part)
    found = inspect_part(part, job.pose, job.setup)
    fitted = fit_rows(job, found, Pipeline(), walls=WallWishes())
    assert fitted.added == ()
    assert [s.gap for s in fitted.skipped] == ["w1"]
    assert "no room" in fitted.skipped[0].why
    assert fitted.needs_a_person


def test_a_small_thing_that_begins_in_mid_air_gets_a_post(tmp_path: Path) -> None:
    # A peg below a roof on a pillar: its flat end, 3 mm square, hangs 20 mm above the bed.
    roof = joined([box((0, 0, 0), (4, 20, 30)), box((0, 0, 26), (26, 20, 30)), box((20, 8, 20), (23, 11, 26.5))])
    path = tmp_path / "peg.stl"
    write_part(roof, path, unit="millimeter", name="peg")
    job = new_job(read_part(path, unit="millimeter"))
    found = inspect_part(job.part, job.pose, job.setup)
    peg = next(s for s in found.weak_spots if s.kind == "island")
    assert peg.z == pytest.approx(20.0, abs=0.01)
    fitted = fit_rows(job, found, Pipeline(), gaps=[peg.id], walls=WallWishes())
    ((pick),) = fitted.job.posts
    assert not fitted.skipped
    assert pick.gap == peg.id
    assert pick.at == pytest.approx((21.5, 9.5, 20.0), abs=0.1)
    told = fitted_json(fitted)["posts"]
    assert told[0]["height_mm"] == pytest.approx(20.0, abs=0.01)
    save_job(fitted.job, tmp_path / "peg.snapcomb")
    again = load_job(tmp_path / "peg.snapcomb")
    assert again.posts == fitted.job.posts
    done = hand_over(again, tmp_path / "out.stl")
    assert done.lossless
    with_post = joined([roof, *Pipeline().teeth_in_file(again)])
    after = inspect_part(Part("cured", with_post), job.pose, job.setup)
    assert not any(s.kind == "island" for s in after.weak_spots)
    assert take_out_post(again, pick.number).posts == ()
    with pytest.raises(BadValue, match="no post 9"):
        take_out_post(again, 9)


def test_a_job_without_posts_reads_as_before(tmp_path: Path) -> None:
    job = new_job(read_part(BRACKET))
    save_job(job, tmp_path / "bare.snapcomb")
    plain = json.loads((tmp_path / "bare.snapcomb").read_text(encoding="utf-8"))
    del plain["posts"]  # as the version was written before there were posts
    (tmp_path / "old.snapcomb").write_text(json.dumps(plain), encoding="utf-8")
    assert load_job(tmp_path / "old.snapcomb", BRACKET).posts == ()
