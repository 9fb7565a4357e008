"""``inspect`` on the samples: what it prints, in which form, and with which status."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest

from tests.commands import contract
from tests.commands.conftest import HOME, Ran, snapcomb

Inspected = Callable[..., Ran]
SAMPLES = ["rain_hood", "round_shroud", "bare_bracket", "sloping_hood", "busy_panel"]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_json_is_what_is_promised_and_the_status_says_that_something_is_weak(
    inspected: Inspected, truth: dict[str, Any], name: str
) -> None:
    ran = inspected(name)
    found = msgspec.convert(ran.json, contract.Inspection)
    assert (ran.code, ran.err) == (1, "")
    assert found.file.name == f"{name}.stl"
    assert found.file.triangles == truth[name]["triangles"]
    assert found.file.shells == truth[name]["shells"]
    assert found.file.watertight
    assert np.allclose(found.pose, truth[name]["pose"], atol=1e-5)
    assert {"layer_height_mm", "line_width_mm", "material", "overhang_deg", "clear_bridge_mm"} <= set(found.setup)
    assert {s.kind for s in found.weak_spots} == {s["kind"] for s in truth[name]["weak_spots"]}
    spots, rows, gaps = ({x.id for x in part} for part in (found.weak_spots, found.rows, found.gaps))
    for gap in found.gaps:
        assert gap.weak_spot is None or gap.weak_spot in spots
        assert gap.row_present is None or gap.row_present in rows
        assert gap.row_suggested is None or not gap.enough
    assert all(row.gap is None or row.gap in gaps for row in found.rows)


@pytest.mark.parametrize("name", ["rain_hood", "sloping_hood"])
def test_the_gaps_and_rows_are_those_that_the_sample_was_made_with(
    inspected: Inspected, truth: dict[str, Any], name: str
) -> None:
    found = msgspec.convert(inspected(name).json, contract.Inspection)
    assert len(found.gaps) == len(truth[name]["gaps"])
    for true in truth[name]["gaps"]:
        gap = min(found.gaps, key=lambda g: far(g.edge, true["edge"]))
        assert (gap.direction, gap.enough) == (true["direction"], true["enough"])
        assert gap.length_mm == pytest.approx(true["length_mm"], rel=0.01)
        assert gap.gap_min_mm == pytest.approx(true["gap_min_mm"], abs=0.02)
    teeth = sorted((r["teeth"], r["pitch_mm"]) for r in truth[name]["rows"])
    assert sorted((r.teeth, r.pitch_mm) for r in found.rows) == [(n, pytest.approx(p, abs=0.01)) for n, p in teeth]


def far(line: list[contract.Point], other: list[list[float]]) -> float:
    return float(np.linalg.norm(np.mean(line, axis=0) - np.mean(other, axis=0)))


def test_inches_give_the_hood_again_in_millimetres(inspected: Inspected) -> None:
    # an inch is 25.4 mm exactly (NIST); the inch sample was made from the same figures
    mm, inch = (
        msgspec.convert(ran.json, contract.Inspection)
        for ran in (inspected("rain_hood"), inspected("rain_hood_inch", "--unit", "in"))
    )
    assert (mm.file.unit, inch.file.unit) == ("millimeter", "inch")
    assert [g.length_mm for g in inch.gaps] == pytest.approx([g.length_mm for g in mm.gaps], abs=0.01)
    assert [r.teeth for r in inch.rows] == [r.teeth for r in mm.rows]


def test_a_likely_wrong_unit_is_noted(inspected: Inspected) -> None:
    notes = inspected("rain_hood_inch").json["notes"]
    assert any("inch" in note for note in notes)


def test_lengths_take_units_and_reach_the_setup(inspected: Inspected) -> None:
    ran = inspected("rain_hood", "--layer-height", "0.01in", "--clear-bridge", "4,5mm", "--material", "petg")
    setup = ran.json["setup"]
    assert (setup["layer_height_mm"], setup["first_layer_mm"]) == pytest.approx((0.254, 0.254))
    assert setup["clear_bridge_mm"] == 4.5


def test_text_in_a_pipe_has_the_same_figures_and_no_drawing(inspected: Inspected, samples: Path) -> None:
    ran = snapcomb("inspect", samples / "rain_hood.stl")
    found = inspected("rain_hood").json
    assert (ran.code, ran.err) == (1, "")
    assert "\x1b" not in ran.out
    assert not set("─│┃━┏╭█") & set(ran.out)
    lines = [line.split() for line in ran.out.splitlines()]
    for spot in found["weak_spots"]:
        assert [spot["id"], spot["kind"], f"{spot['z_mm']:.2f}"] in [line[:3] for line in lines]
    for row in found["rows"]:
        assert any(line[:4] == [row["id"], row["gap"], row["direction"], str(row["teeth"])] for line in lines)


@pytest.fixture(scope="session")
def block(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plain block, which nothing is wrong with."""
    path = tmp_path_factory.mktemp("block") / "block.obj"
    corners = [(x, y, z) for z in (0, 20) for y in (0, 20) for x in (0, 20)]
    faces = ["1 3 4 2", "5 6 8 7", "1 2 6 5", "3 7 8 4", "1 5 7 3", "2 4 8 6"]
    path.write_text("".join(f"v {x} {y} {z}\n" for x, y, z in corners) + "".join(f"f {f}\n" for f in faces))
    return path


def test_a_part_with_nothing_weak_says_so_and_offers_nothing(block: Path) -> None:
    ran = snapcomb("inspect", block, "--json")
    assert ran.code == 0
    assert (ran.json["weak_spots"], ran.json["gaps"], ran.json["rows"]) == ([], [], [])
    assert "Nothing here will sag." in snapcomb("inspect", block).out


def test_a_folder_stands_for_its_meshes_and_one_bad_file_does_not_stop_the_rest(block: Path, tmp_path: Path) -> None:
    for name in ("a.obj", "b.obj"):
        shutil.copy(block, tmp_path / name)
    (tmp_path / "notes.txt").write_text("no mesh")
    ran = snapcomb("inspect", tmp_path, "--json")
    assert (ran.code, len(ran.json)) == (0, 2)
    (tmp_path / "c.stl").write_bytes(b"solid")
    ran = snapcomb("inspect", tmp_path, "--json")
    assert (ran.code, len(ran.json), len(ran.err.splitlines())) == (1, 2, 1)
    assert "c.stl" in ran.err
    assert snapcomb("inspect", tmp_path / "c.stl", tmp_path / "d.stl").code == 3


def test_results_are_the_same_at_any_number_of_processes(block: Path, samples: Path, tmp_path: Path) -> None:
    for number in range(3):
        shutil.copy(block, tmp_path / f"block{number}.obj")
    shutil.copy(samples / "bare_bracket.stl", tmp_path / "a.stl")
    (tmp_path / "bad.ply").write_bytes(b"ply")
    one, many = (snapcomb("inspect", tmp_path, "--json", "--processes", n) for n in (1, 2))
    assert one == many
    assert snapcomb("inspect", tmp_path, "--csv", "--processes", 1) == snapcomb("inspect", tmp_path, "--csv")
    assert [found["file"]["name"] for found in many.json] == ["a.stl", "block0.obj", "block1.obj", "block2.obj"]
    table = snapcomb("inspect", tmp_path).out.partition("Worst first")[2]
    assert [line.split()[0] for line in table.splitlines()[2:4]] == ["a.stl", "block0.obj"]
    assert table.splitlines()[6].split() == ["bad.ply", "not", "read"]


def test_csv_has_one_line_a_file_the_worst_first_and_what_could_not_be_read_last(
    block: Path, samples: Path, tmp_path: Path, inspected: Inspected
) -> None:
    """Read back by Python's own csv module, which follows RFC 4180."""
    shutil.copy(block, tmp_path / "=block, plain.obj")
    shutil.copy(samples / "bare_bracket.stl", tmp_path / "bracket.stl")
    shutil.copy(samples / "rain_hood.stl", tmp_path / "hood.stl")
    (tmp_path / "bad.ply").write_bytes(b"ply")
    ran = snapcomb("inspect", tmp_path, "--csv")
    assert ran.code == 1
    lines = list(csv.DictReader(ran.out.splitlines()))
    severities = {n: max(s["severity"] for s in inspected(n).json["weak_spots"]) for n in ("rain_hood", "bare_bracket")}
    worst = sorted(severities, key=severities.__getitem__, reverse=True)
    names = {"rain_hood": "hood.stl", "bare_bracket": "bracket.stl"}
    assert [line["file"] for line in lines] == [*(names[n] for n in worst), "'=block, plain.obj", "bad.ply"]
    assert [float(line["severity"]) for line in lines[:2]] == pytest.approx([severities[n] for n in worst], abs=1e-4)
    assert (lines[2]["weak_spots"], lines[2]["severity"], lines[2]["watertight"]) == ("0", "", "yes")
    assert "bad.ply" in lines[3]["problem"]
    assert snapcomb("inspect", tmp_path, "--csv", "--json").code == 2


@pytest.mark.parametrize(
    ("up", "weak"), [("0,0,1", 1), ("0,0,-1", 1), ("auto", 1)], ids=["as filed", "turned over", "auto"]
)
def test_up_turns_the_part_on_the_bed(inspected: Inspected, up: str, weak: int) -> None:
    pose = np.array(inspected("bare_bracket", "--up", up).json["pose"])
    assert np.allclose(pose[:3, :3] @ pose[:3, :3].T, np.eye(3), atol=1e-9)
    assert np.linalg.det(pose[:3, :3]) == pytest.approx(1)
    if up != "auto":
        direction = np.array([float(x) for x in up.split(",")])
        assert pose[:3, :3] @ direction == pytest.approx([0, 0, 1], abs=1e-9)


HEAVY = ("PySide6", "shiboken6", "vtk", "vtkmodules", "pyvista", "pyvistaqt", "matplotlib")


@pytest.mark.parametrize(
    "arguments",
    [["inspect", "rain_hood.stl"], ["fit", "rain_hood.stl", "-o", "out.stl", "--all"], ["--help"], ["doctor"]],
    ids=lambda a: a[0],
)
def test_commands_import_neither_qt_nor_vtk(samples: Path, tmp_path: Path, arguments: list[str]) -> None:
    shutil.copy(samples / "rain_hood.stl", tmp_path / "rain_hood.stl")
    code = (
        "import sys, json\nfrom app.main import run\nstatus = run(sys.argv[1:])\n"
        "print(json.dumps([status, sorted({m.partition('.')[0] for m in sys.modules})]), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, cwd=tmp_path, check=True,
        env={"PYTHONPATH": str(HOME), "PATH": "/usr/bin"},
    )  # fmt: skip
    status, modules = json.loads(done.stderr.splitlines()[-1])
    assert status in (0, 1)
    assert [m for m in HEAVY if m in modules] == []
