"""Files of a million triangles beside their floors. Run: pytest tests/benchmarks/bench_files.py -s"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.files import stl
from core.files.read import read_part
from core.files.write import write_part, write_patched
from core.geometry.mesh import Mesh
from tests.benchmarks.ratios import against
from tests.files.build import TETRA, TETRA_FACES

TOOTH = Mesh(TETRA * 0.05, TETRA_FACES)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ring of 1,000,000 facets as binary STL and as 3MF with six decimals, as files from elsewhere have them."""
    ring = trimesh.creation.torus(30, 10, major_sections=1000, minor_sections=500)
    mesh = Mesh(np.round(ring.vertices, 6), ring.faces)
    path = tmp_path_factory.mktemp("files")
    write_part(mesh, path / "ring.stl", unit="millimeter", name="ring")
    write_part(mesh, path / "ring.3mf", unit="millimeter", name="ring")
    return path


def test_stl_read_and_weld(folder: Path) -> None:
    path = folder / "ring.stl"
    print("\n" + str(against("STL read + weld", lambda: read_part(path), lambda: np.fromfile(path, np.uint8), "≤ 15")))
    data = path.read_bytes()
    print(str(against("STL weld alone", lambda: stl.read(data), lambda: np.fromfile(path, np.uint8))))


def test_stl_against_trimesh(folder: Path) -> None:
    path = folder / "ring.stl"
    print(
        "\n"
        + str(against("STL, trimesh beside ours", lambda: trimesh.load(path), lambda: read_part(path), "≥ 5", rounds=3))
    )


def test_stl_patch(folder: Path) -> None:
    part = read_part(folder / "ring.stl")

    def patch() -> None:
        (folder / "patched.stl").unlink(missing_ok=True)
        write_patched(part, TOOTH, folder / "patched.stl")

    def copy() -> None:
        (folder / "copy.stl").unlink(missing_ok=True)
        shutil.copyfile(folder / "ring.stl", folder / "copy.stl")

    print("\n" + str(against("STL patch", patch, copy, "≤ 2.5")))


def test_3mf_against_trimesh(folder: Path) -> None:
    path = folder / "ring.3mf"
    part = read_part(path)
    scene = trimesh.load(path, process=False)
    print("\n" + str(against("3MF read, trimesh beside ours", lambda: trimesh.load(path, process=False),
                             lambda: read_part(path), "≥ 2", rounds=3)))  # fmt: skip
    print(str(against("3MF patch, trimesh export beside ours", lambda: scene.export(folder / "t.3mf"),
                      lambda: write_patched(part, TOOTH, folder / "patched.3mf"), "≥ 2", rounds=3)))  # fmt: skip
