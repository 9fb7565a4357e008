"""The files themselves: what the script makes, closed, of the stated size, and readable without the tools."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import lib3mf
import numpy as np
import pytest
import trimesh

from samples import SAMPLES, sample_path, truth


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    from samples.make import make

    folder = tmp_path_factory.mktemp("made")
    make(folder)
    return folder


def test_the_script_makes_the_very_bytes_that_lie_here(made):
    same_tools = all(version(tool) == made_with for tool, made_with in truth()["made_with"].items())
    if not same_tools:
        pytest.skip("another manifold3d or numpy may triangulate otherwise; the shape is compared below")
    for path in made.iterdir():
        assert path.read_bytes() == sample_path("rain_hood").with_name(path.name).read_bytes(), path.name


def test_the_script_makes_the_shape_that_lies_here(made, known):
    again = trimesh.load(made / known.truth["file"])
    assert again.volume == pytest.approx(known.raw.volume, rel=1e-6)
    assert again.area == pytest.approx(known.raw.area, rel=1e-6)
    np.testing.assert_allclose(again.bounds, known.raw.bounds, atol=1e-5)


def test_size_follows_the_stl_law_and_stays_small(known):
    # 84 + 50 n bytes: 3D Systems, StereoLithography Interface Specification (1989)
    size = known.path.stat().st_size
    assert size == 84 + 50 * known.truth["triangles"]
    assert size < 1.5e6
    assert not known.path.read_bytes()[:80].lower().startswith(b"solid")
    assert 4_000 <= known.truth["triangles"] <= 30_000


def test_every_shell_is_closed_and_a_solid(known):
    assert known.raw.is_watertight
    assert known.raw.is_winding_consistent
    assert len(known.shells) == known.truth["shells"]
    volumes = [s.volume for s in known.shells]
    assert all(v > 0 for v in volumes)
    assert sorted(volumes) == pytest.approx(sorted(known.truth["shell_volumes_mm3"]), rel=1e-5)
    for solid in known.solids():
        assert solid.num_tri() > 0, solid.status()


def test_facets_have_area_and_normals_that_fit(known):
    raw = np.frombuffer(known.path.read_bytes()[84:], dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    corners = raw["v"].astype(float)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    assert (length > 0).all()
    np.testing.assert_allclose(raw["n"], normal / length[:, None], atol=1e-6)
    assert not raw["a"].any()


def test_size_and_volume_are_as_stated(known):
    np.testing.assert_allclose(np.ptp(known.mesh.vertices, axis=0), known.truth["size_mm"], atol=2e-4)
    united = sum(known.solids()[1:], known.solids()[0])
    assert united.volume() == pytest.approx(known.truth["volume_mm3"], rel=1e-5)
    design = known.mesh.vertices - known.pose[:3, 3]
    turn = np.array(known.truth["design"])
    np.testing.assert_allclose(np.ptp(design @ turn[:3, :3].T, axis=0), known.truth["size_design_mm"], atol=2e-4)


def test_the_filed_pose_stands_on_the_bed_and_turns_nothing(known):
    np.testing.assert_array_equal(known.pose[:3, :3], np.eye(3))
    assert known.mesh.bounds[0, 2] == pytest.approx(0.0, abs=1e-5)
    low = known.mesh.vertices[:, 2] < 1e-4
    assert low.sum() > 50


def test_inch_hood_is_the_hood_in_units_of_25_4_mm_exactly(hood, inch_hood):
    mm, inch = (np.sort(k.raw.triangles.reshape(-1, 9), axis=0) for k in (hood, inch_hood))
    np.testing.assert_allclose(inch * 25.4, mm, atol=1.5e-5)  # a float32 step at 100 mm is 7.6e-6
    ratio = hood.raw.volume / inch_hood.raw.volume
    assert ratio == pytest.approx(25.4**3, rel=1e-6)


def test_the_list_and_the_truth_name_the_same_files():
    known = truth()["samples"]
    assert [(s.title, s.line, s.file) for s in SAMPLES] == [
        (known[s.name]["title"], known[s.name]["line"], known[s.name]["file"]) for s in SAMPLES
    ]
    assert {s.name for s in SAMPLES} == set(known)
    for sample in SAMPLES:
        assert sample_path(sample.name) == sample_path(sample.file)
        assert sample_path(sample.name).is_file()
    with pytest.raises(KeyError):
        sample_path("no_such_part")


def test_reading_the_room_needs_no_tool():
    code = "import samples, sys; samples.truth(); sys.exit(any(m in sys.modules for m in ('numpy', 'manifold3d')))"
    root = str(Path(sys.modules["samples"].__file__).parent.parent)
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0


@pytest.mark.parametrize("suffix", ["obj", "ply", "3mf"])
def test_other_formats_hold_the_same_facets(suffix, tmp_path, hood):
    from samples import variants

    path = tmp_path / f"hood.{suffix}"
    corners = hood.raw.triangles.astype(np.float32)
    getattr(variants, f"write_{suffix}")(path, corners)
    first = path.read_bytes()
    getattr(variants, f"write_{suffix}")(path, corners)
    assert path.read_bytes() == first
    read = _read_3mf(path) if suffix == "3mf" else trimesh.load(path, process=False).triangles
    np.testing.assert_array_equal(np.asarray(read, dtype=np.float32), corners)


def _read_3mf(path: Path) -> np.ndarray:
    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(path))
    meshes = model.GetMeshObjects()
    assert meshes.MoveNext()
    mesh = meshes.GetCurrentMeshObject()
    points = np.array([list(v.Coordinates) for v in mesh.GetVertices()])
    triangles = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()])
    return points[triangles]
