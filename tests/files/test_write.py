"""Fresh files: sizes by law, exact numbers, and what a second reader finds."""

from __future__ import annotations

import io
import zipfile

import lib3mf
import numpy as np
import pytest
import trimesh

from core.errors import BadValue, WriteFailed
from core.files import write
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import Mesh
from tests.files.build import TETRA, TETRA_FACES, TETRA_VOLUME

MESH = Mesh(TETRA / 3, TETRA_FACES)


def strip(triangles: int) -> Mesh:
    """A zigzag strip of so many triangles."""
    n = np.arange(triangles + 2)
    return Mesh(
        np.stack([n * 0.5, n % 2, n * 0.0], axis=1), np.stack([n[:-2], n[1:-1], n[2:]], axis=1).astype(np.int32)
    )


@pytest.mark.parametrize(("triangles", "size"), [(12, 684), (1_000, 50_084), (100_000, 5_000_084)])
def test_size_law_of_binary_stl(tmp_path, triangles, size):
    """84 + 50 n bytes (3D Systems 1989, reprinted in Burns, Automated Fabrication, §6.5)."""
    written = write_part(strip(triangles), tmp_path / "hood.stl", unit="millimeter", name="strip")
    assert written.size == (tmp_path / "hood.stl").stat().st_size == size
    assert written.triangles == triangles


def test_header_never_begins_with_solid(tmp_path):
    write_part(MESH, tmp_path / "hood.stl", unit="inch", name="solid")
    data = (tmp_path / "hood.stl").read_bytes()
    assert data[:5] != b"solid"
    assert b"unit inch" in data[:80]


@pytest.mark.parametrize("unit", ["micron", "millimeter", "centimeter", "inch", "foot", "meter"])
@pytest.mark.parametrize("suffix", [".stl", ".3mf"])
def test_there_and_back_in_every_unit(tmp_path, unit, suffix):
    write_part(MESH, tmp_path / f"hood{suffix}", unit=unit, name="hood")
    part = read_part(tmp_path / f"hood{suffix}", unit)
    assert part.unit == unit
    assert part.unit_stated == (suffix == ".3mf")
    precision = 2e-7 if suffix == ".stl" else 1e-15
    np.testing.assert_allclose(part.mesh.corners, MESH.corners, rtol=precision)


def test_the_inch_is_exact(tmp_path):
    """25.4 mm since 1 July 1959 (NIST)."""
    write_part(Mesh(TETRA * 25.4 / 20, TETRA_FACES), tmp_path / "hood.3mf", unit="inch", name="hood")
    text = zipfile.ZipFile(tmp_path / "hood.3mf").read("3D/3dmodel.model")
    assert b'<vertex x="1.0" y="0.0" z="0.0"/>' in text
    assert read_part(tmp_path / "hood.3mf").mesh.bounds[1].tolist() == [25.4] * 3


def test_3mf_keeps_every_bit(tmp_path):
    mesh = Mesh(np.random.default_rng(8).normal(size=(500, 3)) * 10.0 ** np.arange(-2, 1), strip(498).triangles)
    write_part(mesh, tmp_path / "hood.3mf", unit="millimeter", name="hood")
    np.testing.assert_array_equal(read_part(tmp_path / "hood.3mf").mesh.vertices, mesh.vertices)


def test_second_readers_of_3mf(tmp_path):
    write_part(MESH, tmp_path / "hood.3mf", unit="inch", name='hood "left" <&> 帽子')
    second = trimesh.load(tmp_path / "hood.3mf").to_mesh()
    assert second.volume * 25.4**3 == pytest.approx(TETRA_VOLUME / 27)
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(tmp_path / "hood.3mf"))
    objects = model.GetMeshObjects()
    assert objects.MoveNext()
    mesh = objects.GetCurrentMeshObject()
    assert (mesh.GetName(), mesh.GetTriangleCount(), mesh.IsManifoldAndOriented()) == ('hood "left" <&> 帽子', 4, True)
    assert model.GetUnit() == lib3mf.ModelUnit.Inch


def test_second_reader_of_stl(tmp_path):
    write_part(MESH, tmp_path / "hood.stl", unit="millimeter", name="hood")
    second = trimesh.load(tmp_path / "hood.stl")
    assert second.is_watertight
    assert second.volume == pytest.approx(TETRA_VOLUME / 27, rel=1e-6)
    np.testing.assert_allclose(second.face_normals, MESH.normals, atol=1e-6)


def test_equal_meshes_make_equal_files(tmp_path):
    for name in ("a", "b"):
        write_part(MESH, tmp_path / f"{name}.3mf", unit="millimeter", name="hood")
        write_part(MESH, tmp_path / f"{name}.stl", unit="millimeter", name="hood")
    assert (tmp_path / "a.3mf").read_bytes() == (tmp_path / "b.3mf").read_bytes()
    assert (tmp_path / "a.stl").read_bytes() == (tmp_path / "b.stl").read_bytes()


def test_the_float32_step_is_said(tmp_path):
    """At 1e6 mm the step of a 24-bit significand is 2^-4 = 0.0625 mm (IEEE 754 binary32)."""
    far = Mesh(TETRA + 1e6, TETRA_FACES)
    written = write_part(far, tmp_path / "hood.stl", unit="millimeter", name="far")
    assert "0.0625 mm" in written.notes[0]
    assert write_part(far, tmp_path / "hood.3mf", unit="millimeter", name="far").notes == ()
    near = Mesh(TETRA + 1e5, TETRA_FACES)  # 2^-7 = 0.0078 mm
    assert write_part(near, tmp_path / "near.stl", unit="millimeter", name="near").notes == ()


def test_contact_far_from_the_origin_is_exact_in_3mf(tmp_path):
    far = Mesh(TETRA + 1e6 + 1 / 3, TETRA_FACES)
    write_part(far, tmp_path / "hood.3mf", unit="inch", name="far")
    assert np.abs(read_part(tmp_path / "hood.3mf").mesh.vertices - far.vertices).max() < 1e-6


def test_a_reader_that_finds_something_else_stops_the_writing(tmp_path, monkeypatch):
    (tmp_path / "hood.3mf").write_bytes(b"old")
    monkeypatch.setattr(write.threemf_patch, "triangle_text", lambda triangles: b'<triangle v1="0" v2="1" v3="2"/>')
    with pytest.raises(WriteFailed, match="not the mesh that was written"):
        write_part(MESH, tmp_path / "hood.3mf", unit="millimeter", name="hood")
    assert (tmp_path / "hood.3mf").read_bytes() == b"old"


@pytest.mark.parametrize(
    ("name", "words"), [("hood.obj", ".stl or .3mf"), ("hood", ".stl or .3mf"), ("hood.exe", "no format")]
)
def test_other_endings(tmp_path, name, words):
    with pytest.raises(BadValue, match=words):
        write_part(MESH, tmp_path / name, unit="millimeter", name="hood")


def test_an_empty_mesh(tmp_path):
    with pytest.raises(BadValue, match="no facets"):
        write_part(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)), tmp_path / "a.stl", unit="millimeter", name="a")


def test_the_source_only_when_asked(tmp_path):
    path = tmp_path / "hood.stl"
    write_part(MESH, path, unit="millimeter", name="hood")
    with pytest.raises(BadValue, match="the file that was opened"):
        write_part(MESH, path, unit="millimeter", name="hood", source=path)
    write_part(MESH, path, unit="millimeter", name="hood", source=path, replace=True)


def test_too_large_for_float32(tmp_path):
    with pytest.raises(WriteFailed, match="too large for STL"):
        write_part(Mesh(TETRA * 1e38, TETRA_FACES), tmp_path / "a.stl", unit="millimeter", name="a")


def test_a_zip_that_the_standard_library_accepts(tmp_path):
    write_part(strip(30_000), tmp_path / "hood.3mf", unit="millimeter", name="strip")
    with zipfile.ZipFile(io.BytesIO((tmp_path / "hood.3mf").read_bytes())) as file:
        assert file.testzip() is None
        assert file.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
