"""The main job's stages at a million triangles, each beside its floor. Run: pytest tests/benchmarks/bench_main_job.py -s"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.design.bond import bonded
from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.edge_index import edge_index
from core.files.read import read_part
from core.files.write import write_part, write_patched
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import as_filed
from core.geometry.topology import Topology
from tests import meshes
from tests.benchmarks.ratios import against

SETUP = PrintSetup()


@pytest.fixture(scope="module")
def million(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An organic ball of 1,310,720 facets above a bar over its ledge, as a binary STL."""
    ball = trimesh.creation.icosphere(8, radius=40)
    bumps = 1 + 0.01 * np.sin(ball.vertices * 0.7).sum(axis=1)
    organic = Mesh(ball.vertices * bumps[:, None] + [0, 120, 60], ball.faces)
    path = tmp_path_factory.mktemp("million") / "million.stl"
    write_part(joined([organic, meshes.bar_over_ledge(280, 1.2).mesh]), path, unit="millimeter", name="million")
    return path


@pytest.fixture(scope="module")
def part(million: Path) -> Part:
    return read_part(million)


def test_read_and_weld(million: Path) -> None:
    print("\n" + str(against("STL read + weld", lambda: read_part(million), lambda: np.fromfile(million, np.uint8), "≤ 15")))


def test_edges_and_dihedrals(part: Part) -> None:
    v, t = part.mesh.vertices, part.mesh.triangles
    print("\n" + str(against("edges + dihedrals", lambda: Topology.of(Mesh(v, t)).turns, lambda: v[t], "≤ 8")))


def test_shells(part: Part) -> None:
    v, t = part.mesh.vertices, part.mesh.triangles
    topology = Topology.of(part.mesh)
    print("\n" + str(against(
        "shells", lambda: Topology.__dict__["shell_of_triangle"].func(topology), lambda: v[t], "≤ 5")))  # fmt: skip


def test_edge_index(part: Part) -> None:
    part.topology.turns  # noqa: B018 - worked out before
    v, t = part.mesh.vertices, part.mesh.triangles
    print("\n" + str(against("edges that can be picked", lambda: edge_index(part, as_filed(part.mesh)), lambda: v[t])))


def test_span(part: Part) -> None:
    edge = Polyline.of(meshes.bar_over_ledge(280, 1.2).edge)
    v, t = part.mesh.vertices, part.mesh.triangles
    print("\n" + str(against("span of 280 mm", lambda: measure_span(part.mesh, edge, SETUP), lambda: v[t])))


def test_replan_sixty_teeth(part: Part) -> None:
    span = measure_span(part.mesh, Polyline.of(meshes.bar_over_ledge(280, 1.2).edge), SETUP)

    def again() -> object:
        return row_solids(span, plan_row(span, RowWishes(teeth=60), SETUP)).mesh()

    print("\n" + str(against("re-plan + ghost teeth, 60 (≤ 8 ms)", again, lambda: plan_row(span, RowWishes(), SETUP))))


def test_lapped_bond(part: Part) -> None:
    span = measure_span(part.mesh, Polyline.of(meshes.bar_over_ledge(280, 1.2).edge), SETUP)
    teeth = row_solids(span, plan_row(span, RowWishes(teeth=60), SETUP)).each()
    v, t = part.mesh.vertices, part.mesh.triangles
    floor = lambda: (v.copy(), t.copy())  # noqa: E731
    print("\n" + str(against("lapped bond", lambda: bonded(part.mesh, teeth, "shells"), floor, "≤ 2")))


def test_one_skin(part: Part) -> None:
    span = measure_span(part.mesh, Polyline.of(meshes.bar_over_ledge(280, 1.2).edge), SETUP)
    teeth = row_solids(span, plan_row(span, RowWishes(teeth=60), SETUP)).each()
    v, t = part.mesh.vertices, part.mesh.triangles
    print("\n" + str(against("one skin", lambda: bonded(part.mesh, teeth, "skin"), lambda: v[t], rounds=3)))


def test_patch(part: Part, million: Path, tmp_path: Path) -> None:
    import shutil

    added = meshes.box()
    work = lambda: write_patched(part, added, tmp_path / "out.stl", replace=True)  # noqa: E731
    print("\n" + str(against("STL patch", work, lambda: shutil.copyfile(million, tmp_path / "copy.stl"), "≤ 2.5")))


@pytest.mark.parametrize("what", ["help", "window"])
def test_start(what: str) -> None:
    code = {
        "help": "import sys; sys.argv=['snapcomb','--help']; from app.main import main; main()",
        "window": (
            "from PySide6.QtCore import QTimer; from PySide6.QtWidgets import QApplication; import app.window as w;"
            "import sys; w.Window.paintEvent=lambda s,e: QTimer.singleShot(0, QApplication.quit); sys.exit(w.run())"
        ),
    }[what]
    env = os.environ | {"SNAPCOMB_CONFIG": "/nonexistent"}

    def run(source: str) -> None:
        subprocess.run([sys.executable, "-c", source], env=env, check=False, capture_output=True)

    print("\n" + str(against(f"start: {what}", lambda: run(code), lambda: run("import numpy"), "", 3)))
