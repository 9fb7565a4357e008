"""``apply --to``: a job on a newer revision of its mesh, with the old one at hand, gone, or overwritten."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import trimesh

from tests.commands.conftest import Fit, Ran

Here = Callable[..., Ran]


def rows(ran: Ran) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = ran.json["revision"]["rows"]
    return found


def test_a_moved_part_gets_the_same_teeth(here: Here, fitted: Fit, samples: Path, tmp_path: Path) -> None:
    moved = trimesh.load(samples / "rain_hood.stl", process=False)
    moved.apply_transform(trimesh.transformations.compose_matrix(angles=(0, 0, 0.6), translate=(12, -7, 3)))
    moved.export(tmp_path / "moved.stl")
    ran = here("apply", fitted.job, "--to", tmp_path / "moved.stl", "-o", tmp_path / "out.stl", "--json")
    assert ran.code == 0, ran.err
    assert [r["status"] for r in rows(ran)] == ["moved"]
    before, after = (json.loads(r.out)["added"][0]["row"] for r in (fitted.ran, ran))
    assert before["teeth"] == after["teeth"]
    assert after["pitch_mm"] == pytest.approx(before["pitch_mm"], abs=0.01)
    added = len(trimesh.load(tmp_path / "out.stl").faces) - len(moved.faces)
    assert added == len(trimesh.load(fitted.mesh).faces) - len(trimesh.load(samples / "rain_hood.stl").faces)


@pytest.mark.parametrize("old", ["at hand", "gone", "overwritten"])
def test_a_changed_gap_is_told_side_by_side(
    here: Here, fitted: Fit, samples: Path, tmp_path: Path, old: str
) -> None:
    """The sloping hood is the same hood with another fin, placed elsewhere in its file; so it moved and changed."""
    data = json.loads(fitted.job.read_text(encoding="utf-8"))
    if old != "at hand":
        data["source"] |= {"relative": "", "absolute": ""}
    job = tmp_path / "kept.snapcomb"
    job.write_text(json.dumps(data), encoding="utf-8")
    revision = tmp_path / ("rain_hood.stl" if old == "overwritten" else "newer.stl")
    shutil.copy(samples / "sloping_hood.stl", revision)
    out = tmp_path / "out.stl"
    ran = here("apply", job, "--to", revision, "-o", out)
    assert ran.code == 1
    assert "its gap is 1.00 to 3.00 mm, was 1.60" in ran.out
    assert "Row 1 is changed" in ran.err
    assert "turned by 169.1°" in ran.out  # the two are placed at 27.3° and −141.8° in their files
    assert out.exists()


def test_another_part_gets_nothing(here: Here, fitted: Fit, samples: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.stl"
    ran = here("apply", fitted.job, "--to", samples / "busy_panel.stl", "-o", out, "--json")
    assert (ran.code, out.exists()) == (1, False)
    assert [r["status"] for r in rows(ran)] == ["gone"]
    assert ran.json["added"] == []


def test_inches_are_told(here: Here, fitted: Fit, samples: Path, tmp_path: Path) -> None:
    ran = here("apply", fitted.job, "--to", samples / "rain_hood_inch.stl", "-o", tmp_path / "out.stl", "--json")
    assert ran.code == 0, ran.err
    assert any("read in inch" in note for note in ran.json["revision"]["notes"])


def test_a_job_that_remembers_nothing_needs_its_old_mesh(
    here: Here, fitted: Fit, samples: Path, tmp_path: Path
) -> None:
    data = json.loads(fitted.job.read_text(encoding="utf-8"))
    data["source"] |= {"relative": "", "absolute": "", "landmarks": []}
    job = tmp_path / "bare.snapcomb"
    job.write_text(json.dumps(data), encoding="utf-8")
    ran = here("apply", job, "--to", samples / "sloping_hood.stl", "-o", tmp_path / "out.stl")
    assert (ran.code, len(ran.err.strip().splitlines())) == (3, 1)
    assert "rain_hood.stl" in ran.err
