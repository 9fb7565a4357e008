"""``fit`` and ``apply``: what they add, where it sits, and that nothing else is touched."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
import trimesh

from tests.commands import contract
from tests.commands.conftest import Fit, Ran

Here = Callable[..., Ran]
HEADER, RECORD = 84, 50  # binary STL: size = 84 + 50 n (interface specification of 1989)


def loaded(path: Path) -> trimesh.Trimesh:
    return trimesh.load_mesh(path, process=True)


def test_the_hood_gets_its_row_and_says_what_it_is(fitted: Fit, truth: dict[str, Any]) -> None:
    said = msgspec.convert(fitted.ran.json, contract.Fitted)
    assert fitted.ran.code == 0
    assert said.skipped == []
    (one,) = said.added
    lip = next(g for g in truth["rain_hood"]["gaps"] if not g["enough"])
    assert one.row.height_mm == pytest.approx(lip["gap_max_mm"], abs=0.02)
    # the rule: the fewest teeth that leave no clear bridge over the limit, the outer tips 1 mm from the ends
    between = lip["length_mm"] - 2 * 1.0 - one.row.tip_mm
    assert one.row.teeth == int(np.ceil(between / (5.0 + one.row.tip_mm))) + 1
    assert one.row.pitch_mm == pytest.approx(between / (one.row.teeth - 1), rel=0.005)
    # straight teeth between two planes: volume = n · thickness · gap · (foot + tip) / 2; PLA 1.24 g/cm³
    volume = one.row.teeth * one.row.thickness_mm * one.row.height_mm * (one.row.foot_mm + one.row.tip_mm) / 2
    assert one.volume_mm3 == pytest.approx(volume, rel=0.005)
    assert one.mass_g == pytest.approx(volume * 1.24e-3, rel=0.005)
    assert 0 < one.snap_n.pull[0] < one.snap_n.pull[1]
    assert one.snap_n.sideways[1] < one.snap_n.pull[1]


def test_every_original_record_is_kept_and_the_teeth_stand_between_lip_and_fin(
    fitted: Fit, samples: Path, truth: dict[str, Any]
) -> None:
    before, after = (samples / "rain_hood.stl").read_bytes(), fitted.mesh.read_bytes()
    assert after[HEADER : len(before)] == before[HEADER:]
    count = int.from_bytes(after[80:84], "little")
    assert len(after) == HEADER + RECORD * count
    bodies = loaded(fitted.mesh).split(only_watertight=False)
    teeth = [b for b in bodies if b.volume < 10]
    assert len(teeth) == fitted.ran.json["added"][0]["row"]["teeth"]
    lip = next(g for g in truth["rain_hood"]["gaps"] if not g["enough"])
    low, high = lip["ledge"][0][2], lip["edge"][0][2]
    for tooth in teeth:
        assert tooth.is_watertight
        assert tooth.volume > 0
        assert low - 0.3 < tooth.bounds[0, 2] < low
        assert high < tooth.bounds[1, 2] < high + 0.3


def test_a_saved_job_gives_the_same_file_again(here: Here, fitted: Fit, tmp_path: Path) -> None:
    ran = here("apply", fitted.job, "-o", tmp_path / "again.stl", "--json")
    assert ran.code == 0
    assert (tmp_path / "again.stl").read_bytes() == fitted.mesh.read_bytes()
    assert ran.json == fitted.ran.json


def test_apply_finds_its_mesh_under_another_name(
    here: Here, fitted: Fit, samples: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out.stl"
    shutil.copy(samples / "rain_hood.stl", tmp_path / "other name.stl")
    assert here("apply", fitted.job, "--to", tmp_path / "other name.stl", "-o", out).code == 0
    assert here("apply", samples / "rain_hood.stl", "-o", out).code == 3


def test_one_skin_is_one_closed_body_of_the_right_volume(
    here: Here, fitted: Fit, samples: Path, tmp_path: Path
) -> None:
    skin = tmp_path / "skin.3mf"
    assert here("fit", samples / "rain_hood.stl", "-o", skin, "--gap", "1", "--bond", "skin").code == 0
    scene = trimesh.load(skin)
    mesh = scene.to_geometry() if isinstance(scene, trimesh.Scene) else scene
    assert mesh.is_watertight
    assert mesh.body_count == 1
    union = trimesh.boolean.union(loaded(fitted.mesh).split(only_watertight=False), engine="manifold")
    assert mesh.volume == pytest.approx(union.volume, rel=1e-4)


def test_only_teeth_are_written_in_place(here: Here, fitted: Fit, samples: Path, tmp_path: Path) -> None:
    ran = here("fit", samples / "rain_hood.stl", "-o", tmp_path / "teeth.stl", "--all", "--only-teeth", "--json")
    assert ran.code == 0
    alone, whole = loaded(tmp_path / "teeth.stl"), loaded(fitted.mesh)
    assert alone.body_count == ran.json["added"][0]["row"]["teeth"]
    assert set(map(tuple, alone.vertices.round(4))) <= set(map(tuple, whole.vertices.round(4)))


def test_the_sizes_asked_for_are_the_sizes_in_the_mesh(here: Here, samples: Path, tmp_path: Path) -> None:
    # a row of the trade (common practice, no source), entered in inches
    sizes = ["--foot", "0.082in", "--tip", "0.006in", "--thickness", "0.02in", "--teeth", "11", "--shape", "arc-tip"]
    ran = here("fit", samples / "rain_hood.stl", "-o", tmp_path / "out.stl", "--gap", "1", *sizes, "--json")
    row = ran.json["added"][0]["row"]
    assert (row["foot_mm"], row["tip_mm"], row["thickness_mm"], row["teeth"]) == pytest.approx(
        (0.082 * 25.4, 0.006 * 25.4, 0.02 * 25.4, 11), abs=1e-4
    )
    codes = {f["code"]: f for f in ran.json["added"][0]["findings"]}
    assert codes["tip_thinner_than_line"]["level"] != "stop"


def test_sized_like_the_designers_own_row_and_what_is_set_outranks_it(
    here: Here, samples: Path, tmp_path: Path
) -> None:
    hood = samples / "rain_hood.stl"
    rows = {r["id"]: r for r in here("inspect", hood, "--json").json["rows"]}
    name, pattern = next((k, r) for k, r in rows.items() if r["direction"] == "up")
    ran = here("fit", hood, "-o", tmp_path / "a.stl", "--gap", "1", "--like", name, "--tip", "0.7", "--json")
    row = ran.json["added"][0]["row"]
    assert row["tip_mm"] == 0.7
    assert row["foot_mm"] == pytest.approx(pattern["foot_mm"], abs=0.01)
    assert row["pitch_mm"] == pytest.approx(pattern["pitch_mm"], abs=0.01)
    assert "does not fit" in here("fit", hood, "-o", tmp_path / "b.stl", "--gap", "1", "--like", name).out


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["--gap", "99"], 2, "no gap 99"),
        (["--gap", "1", "--like", "r99"], 2, "no row r99"),
        (["--gap", "1", "--tip", "3", "--foot", "2"], 1, "wider than its foot"),
        (["--gap", "1", "--thickness", "9"], 1, "would stand beside them"),
        (["--gap", "1", "--teeth", "0"], 1, "more than zero"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_what_cannot_be_is_said_and_nothing_is_written(
    here: Here, samples: Path, tmp_path: Path, arguments: list[str], status: int, said: str
) -> None:
    ran = here("fit", samples / "rain_hood.stl", "-o", tmp_path / "out.stl", *arguments)
    assert ran.code == status
    assert said in ran.err
    assert os.listdir(tmp_path) == []


def test_a_part_without_gaps_that_lack_teeth_writes_nothing_and_is_done(
    here: Here, samples: Path, tmp_path: Path
) -> None:
    ran = here("fit", samples / "bare_bracket.stl", "-o", tmp_path / "out.stl", "--all", "--json")
    assert (ran.code, ran.json) == (0, {"added": [], "skipped": []})
    assert "nothing was written" in ran.err
    assert os.listdir(tmp_path) == []


def test_the_input_is_replaced_only_when_asked(here: Here, samples: Path, tmp_path: Path) -> None:
    hood = tmp_path / "hood.stl"
    shutil.copy(samples / "rain_hood.stl", hood)
    (tmp_path / "link.stl").symlink_to(hood)
    before = hood.read_bytes()
    assert here("fit", hood, "-o", tmp_path / "link.stl", "--all").code == 2
    assert hood.read_bytes() == before
    assert here("fit", hood, "-o", hood, "--all", "--replace").code == 0
    assert hood.read_bytes()[HEADER : len(before)] == before[HEADER:]
    assert len(hood.read_bytes()) > len(before)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_leaves_nothing(here: Here, samples: Path, tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    ran = here("fit", samples / "rain_hood.stl", "-o", tmp_path / "out.stl", "--all")
    tmp_path.chmod(0o755)
    assert (ran.code, os.listdir(tmp_path)) == (3, [])


def test_a_folder_that_is_not_there_is_said(here: Here, samples: Path, tmp_path: Path) -> None:
    ran = here("fit", samples / "rain_hood.stl", "-o", tmp_path / "no" / "out.stl", "--all")
    assert ran.code == 3
    assert "folder is not there" in ran.err
