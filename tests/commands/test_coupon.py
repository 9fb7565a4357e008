"""``coupon``: a printable piece on the bed, and what it says about itself."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import trimesh

from tests.commands.conftest import snapcomb


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_the_coupon_stands_closed_on_the_bed_and_is_as_large_as_it_says(tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"coupon.{ending}"
    ran = snapcomb("coupon", "-o", out, "--json", "--nozzle", "0.6", "--line-width", "0.65")
    assert ran.code == 0
    scene = trimesh.load(out)
    mesh = scene.to_geometry() if isinstance(scene, trimesh.Scene) else scene
    assert mesh.is_watertight
    assert mesh.bounds[0, 2] == pytest.approx(0, abs=1e-6)
    assert mesh.extents == pytest.approx(ran.json["size_mm"], abs=0.01)
    assert mesh.volume == pytest.approx(ran.json["volume_mm3"], rel=0.01)
    assert ran.json["minutes"] <= 30
    assert {"usual", "tip", "thickness"} <= {r["graded"] for r in ran.json["rows"]}


def test_the_text_tells_how_to_use_it_and_to_protect_the_eyes(tmp_path: Path) -> None:
    ran = snapcomb("coupon", "-o", tmp_path / "c.stl")
    assert "eye protection" in ran.out
    assert "without supports" in ran.out


def test_another_ending_is_bad_usage(tmp_path: Path) -> None:
    assert snapcomb("coupon", "-o", tmp_path / "c.obj").code == 2
    assert os.listdir(tmp_path) == []


def test_inspect_finds_in_the_coupon_exactly_the_rows_that_it_was_built_with(tmp_path: Path) -> None:
    out = tmp_path / "coupon.stl"
    built = snapcomb("coupon", "-o", out, "--json").json["rows"]
    found = snapcomb("inspect", out, "--json").json["rows"]

    def figures(rows: list[dict[str, float]]) -> list[tuple[float, ...]]:
        return sorted((r["teeth"], *(round(r[n], 2) for n in ("tip_mm", "thickness_mm", "foot_mm"))) for r in rows)

    assert figures(found) == figures(built)
    assert all(r["direction"] == "up" for r in found)
    heights = sorted(r["height_mm"] for r in found)
    assert heights == pytest.approx(sorted(r["height_mm"] for r in built), abs=0.01)
