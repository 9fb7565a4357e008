"""Patching: the file is the original plus teeth. Second readers: trimesh, meshio, lib3mf and the standard zipfile."""

from __future__ import annotations

import io
import re
import zipfile

import lib3mf
import meshio
import numpy as np
import pytest
import trimesh

from core.errors import BadValue, NeedsChoice, RefusedFile, UnreadableFile
from core.files.read import read_part
from core.files.write import write_patched
from core.geometry.mesh import Mesh
from tests.files import build
from tests.files.build import MATERIAL, PRODUCTION, SIGNED, SLICES, START, TETRA, TETRA_FACES, TETRA_VOLUME

TOOTH = Mesh(TETRA * 0.05 + [2.0, 3.0, 4.0], TETRA_FACES)
TOOTH_VOLUME = 1 / 6  # the corner of a cube of 1 mm
MIRRORED = "-1 0 0 0 1 0 0 0 1 0 0 0"
CROOKED = "0.36 0.48 -0.8 -0.8 0.6 0 0.48 0.64 0.6 10 20 30"  # a rotation with rational entries


def patch(tmp_path, data, suffix, tooth=TOOTH, unit=None, read_choice=None, **options):
    """Write the bytes as a file, read it, add a tooth, and return the part, the patched bytes and the new part."""
    path, out = tmp_path / f"hood{suffix}", tmp_path / f"hood with teeth{suffix}"
    path.write_bytes(data)
    part = read_part(path, unit, choice=read_choice)
    written = write_patched(part, tooth, out, **options)
    assert path.read_bytes() == data
    patched = out.read_bytes()
    assert written.size == len(patched)
    return part, patched, read_part(out, unit, choice=read_choice)


def has_tooth(part, tooth=TOOTH, tolerance=1e-6):
    """The last facets of the part are the tooth's, in place and outward."""
    corners = part.mesh.corners[-len(tooth.triangles) :]
    np.testing.assert_allclose(
        np.sort(corners.reshape(-1, 9), axis=0), np.sort(tooth.corners.reshape(-1, 9), axis=0), atol=tolerance
    )


class TestBinaryStl:
    def test_header_records_and_attributes_stay_byte_for_byte(self, tmp_path):
        data = build.stl(header=b"made by the designer, do not change", attributes=0x8421)
        _, patched, again = patch(tmp_path, data, ".stl")
        assert patched[:80] == data[:80]
        assert patched[84 : len(data)] == data[84:]
        assert int.from_bytes(patched[80:84], "little") == 8
        assert len(patched) == 84 + 50 * 8  # the size law of the 1989 specification
        has_tooth(again)

    def test_second_reader(self, tmp_path):
        _, patched, _ = patch(tmp_path, build.stl(), ".stl")
        mesh = trimesh.load(io.BytesIO(patched), file_type="stl")
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(TETRA_VOLUME + TOOTH_VOLUME, rel=1e-6)
        other = meshio.read(tmp_path / "hood with teeth.stl")
        assert len(other.cells_dict["triangle"]) == 8

    def test_normals_point_outward(self, tmp_path):
        _, patched, _ = patch(tmp_path, build.stl(), ".stl")
        record = np.frombuffer(patched[84 + 200 :], [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
        np.testing.assert_allclose(record["n"], TOOTH.normals, atol=1e-6)
        assert not record["a"].any()

    def test_bytes_behind_the_last_facet_stay_behind(self, tmp_path):
        _, patched, _ = patch(tmp_path, build.stl(tail=b"signed"), ".stl")
        assert patched.endswith(b"signed")
        assert len(patched) == 84 + 50 * 8 + 6

    def test_chosen_recovery_holds_for_the_patch(self, tmp_path):
        _, patched, again = patch(tmp_path, build.stl()[:-7], ".stl", read_choice="take_whole_facets")
        assert len(patched) == 84 + 50 * 7
        assert len(again.mesh.triangles) == 7

    def test_inches(self, tmp_path):
        data = build.stl()
        part, patched, again = patch(tmp_path, data, ".stl", unit="inch")
        assert part.mesh.bounds[1].tolist() == [508.0] * 3  # 20 × 25.4 exactly
        record = np.frombuffer(patched[84 + 200 :], [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
        np.testing.assert_array_equal(record["c"], (TOOTH.corners / 25.4).astype(np.float32))
        has_tooth(again)


class TestAsciiStl:
    @pytest.mark.parametrize("end", ["\n", "\r\n"])
    @pytest.mark.parametrize("number", ["{:.6e}", "{:.6f}", "{:.9E}", "{!r}"])
    def test_text_stays_and_numbers_keep_their_style(self, tmp_path, end, number):
        data = build.stl_text(end=end, number=number)
        _, patched, again = patch(tmp_path, data, ".stl")
        close = data.rindex(b"endsolid")
        kept = data[:close].rstrip()
        assert patched.startswith(kept)
        assert patched.endswith(data[close:])
        added = patched[len(kept) : patched.rindex(b"endsolid")]
        assert added.count(b"\r\n" if end == "\r\n" else b"\n") == added.count(b"\n")
        shape = {"{:.6e}": rb"-?\d\.\d{6,}e[+-]\d\d", "{:.6f}": rb"-?\d+\.\d{6}", "{:.9E}": rb"-?\d\.\d{9}E[+-]\d\d",
                 "{!r}": rb"-?[\d.e-]+"}[number]  # fmt: skip
        for token in re.findall(rb"vertex\s+(\S+)", added):
            assert re.fullmatch(shape, token)
        has_tooth(again, tolerance=2e-6)

    def test_indentation_and_case_are_copied(self, tmp_path):
        data = build.stl_text().upper().replace(b"  ", b"\t")
        _, patched, _ = patch(tmp_path, data, ".stl")
        assert patched.count(b"\n\tFACET NORMAL ") == 8
        assert patched.count(b"\n\t\t\tVERTEX ") == 24

    def test_goes_into_the_last_solid(self, tmp_path):
        data = build.stl_text(name="hood") + build.stl_text(TETRA[TETRA_FACES] + 50, name="fin")
        _, patched, _ = patch(tmp_path, data, ".stl")
        assert patched.count(b"facet normal", patched.index(b"solid fin")) == 8
        meshes = trimesh.load(io.BytesIO(patched), file_type="stl_ascii")
        assert sum(len(g.faces) for g in meshes.geometry.values()) == 12

    def test_one_line(self, tmp_path):
        data = build.stl_text().replace(b"\n", b" ")
        _, patched, _ = patch(tmp_path, data, ".stl")
        assert b"\n" not in patched

    def test_coarse_decimals_are_refined_where_teeth_need_them(self, tmp_path):
        _, _, again = patch(tmp_path, build.stl_text(number="{:.1f}"), ".stl")
        has_tooth(again, tolerance=1e-4)

    def test_cut_text_gets_an_end(self, tmp_path):
        data = build.stl_text()[:-60]
        _, patched, _ = patch(tmp_path, data, ".stl", read_choice="take_whole_facets")
        assert patched.rstrip().endswith(b"endsolid")
        second = trimesh.load_scene(io.BytesIO(patched), file_type="stl_ascii").to_mesh()
        assert len(second.faces) == 7


class TestObj:
    HEAD = "# hood\nmtllib hood.mtl\no hood\ng lip\nusemtl red\ns 1\nvt 0.5 0.5\nvn 0 0 1\n"

    def test_text_stays(self, tmp_path):
        data = build.obj(head=self.HEAD, tail="g fin\nusemtl blue\nf 1/1/1 3/1/1 2/1/1\n")
        _, patched, again = patch(tmp_path, data, ".obj")
        assert patched.startswith(data)
        assert b"s off\n" in patched[len(data) :]
        assert not re.search(rb"^(g|o|usemtl)\b", patched[len(data) :], re.M)
        has_tooth(again)

    def test_second_reader(self, tmp_path):
        _, _, _ = patch(tmp_path, build.obj(head="# hood\no hood\n"), ".obj")
        other = meshio.read(tmp_path / "hood with teeth.obj")
        assert len(other.cells_dict["triangle"]) == 8
        np.testing.assert_allclose(other.points[-4:], TOOTH.vertices, atol=1e-9)

    def test_colours_of_the_first_vertex(self, tmp_path):
        vertices = np.hstack([TETRA, np.tile([0.1, 0.5, 0.9], (4, 1))])
        _, patched, _ = patch(tmp_path, build.obj(vertices), ".obj")
        assert patched.count(b" 0.1 0.5 0.9\n") == 8

    def test_file_without_a_last_line_end(self, tmp_path):
        data = build.obj().rstrip()
        _, patched, _ = patch(tmp_path, data, ".obj")
        assert patched.startswith(data + b"\nv ")

    def test_file_that_ends_in_a_continuation(self, tmp_path):
        _, _, again = patch(tmp_path, build.obj() + b"f 1 2 3 \\", ".obj")
        assert len(again.mesh.triangles) == 9


class TestPly:
    EXTRA = (("red", "uchar", 200), ("green", "uchar", 10), ("blue", "uchar", 7), ("quality", "float", 0.5))

    @pytest.mark.parametrize("form", ["ascii", "binary_little_endian", "binary_big_endian"])
    @pytest.mark.parametrize("face_first", [False, True])
    def test_rows_and_properties_stay(self, tmp_path, form, face_first):
        data = build.ply(form=form, extra=self.EXTRA, face_first=face_first)
        _, patched, again = patch(tmp_path, data, ".ply")
        old_head, old_body = data.split(b"end_header\n")
        head, body = patched.split(b"end_header\n")
        assert head == old_head.replace(b"vertex 4", b"vertex 8").replace(b"face 4", b"face 8")
        vertex_bytes = len(old_body) - len(
            build.ply(form=form, extra=self.EXTRA, vertices=[]).split(b"end_header\n")[1]
        )
        first = len(old_body) - vertex_bytes if face_first else vertex_bytes
        assert body.startswith(old_body[:first])
        rest = old_body[first:]
        assert rest in body
        has_tooth(again, tolerance=1e-6)

    @pytest.mark.parametrize("form", ["ascii", "binary_little_endian", "binary_big_endian"])
    def test_second_reader_finds_the_colours(self, tmp_path, form):
        patch(tmp_path, build.ply(form=form, extra=self.EXTRA), ".ply")
        other = meshio.read(tmp_path / "hood with teeth.ply")
        assert len(other.cells_dict["triangle"]) == 8
        assert {int(x) % 256 for x in other.point_data["red"]} == {200}  # it takes uchar for a signed byte
        assert set(other.point_data["quality"]) == {0.5}
        np.testing.assert_allclose(other.points[-4:], TOOTH.vertices, atol=1e-6)

    def test_normals_are_computed(self, tmp_path):
        extra = [(n, "float", 0.0) for n in ("nx", "ny", "nz")]
        patch(tmp_path, build.ply(form="binary_little_endian", extra=extra), ".ply")
        other = meshio.read(tmp_path / "hood with teeth.ply")
        normals = np.stack([other.point_data[n][-4:] for n in ("nx", "ny", "nz")], axis=1)
        np.testing.assert_allclose(
            normals[0], -np.ones(3) / np.sqrt(3), atol=1e-6
        )  # the three faces at a cube's corner

    def test_index_type_without_room(self, tmp_path):
        vertices = np.random.default_rng(3).random((254, 3)) * 20
        data = build.ply(vertices, [[i, i + 1, i + 2] for i in range(252)], index="uchar", form="binary_little_endian")
        with pytest.raises(RefusedFile, match="8-bit"):
            patch(tmp_path, data, ".ply")
        assert not (tmp_path / "hood with teeth.ply").exists()

    def test_whole_number_coordinates(self, tmp_path):
        with pytest.raises(RefusedFile, match="whole-number"):
            patch(tmp_path, build.ply(xyz="int"), ".ply")

    def test_body_without_a_last_line_end(self, tmp_path):
        _, patched, _ = patch(tmp_path, build.ply().rstrip(), ".ply")
        assert b"3 0 3 2\n3 4 6 5\n" in patched


def rich_model(second='transform="1 0 0 0 1 0 0 0 1 100 0 0"') -> str:
    """Three objects, materials, colours, triangle properties and metadata."""
    colours = '<m:colorgroup id="10"><m:color color="#FF0000FF"/><m:color color="#00FF00FF"/></m:colorgroup>'
    base = '<basematerials id="11"><base name="PLA &amp; more" displaycolor="#112233"/></basematerials>'
    painted = build.mesh_xml().replace('v3="1"', 'v3="1" pid="10" p1="0" p2="1" p3="0"')
    metadata = '<metadata name="Designer">A. Rain</metadata>\n<metadata name="LicenseTerms">CC0 &amp; thanks</metadata>'
    return build.model_xml(
        colours
        + base
        + build.object_xml(1, painted, 'name="hood" pid="11" pindex="0"')
        + build.object_xml(2, attributes='name="fin" pid="10" pindex="1"')
        + build.object_xml(3, attributes='name="rain gauge" partnumber="G-3"'),
        f'<item objectid="1"/><item objectid="2" {second}/><item objectid="3" transform="1 0 0 0 1 0 0 0 1 0 100 0"/>',
        attributes=f'xmlns:m="{MATERIAL}"',
        metadata=metadata,
    )


PARTS = [
    ("Metadata/thumbnail.png", b"\x89PNG not really"),
    ("notes/read me.txt", "hello"),
    ("unknown.bin", bytes(range(256))),
]


def entries(data):
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert file.testzip() is None
        return {i.filename: (file.read(i), i.date_time, i.compress_type) for i in file.infolist()}


def tooth_at(part_offset):
    return Mesh(TOOTH.vertices + part_offset, TOOTH.triangles)


class TestThreeMf:
    def test_everything_else_stays(self, tmp_path):
        data = build.package(rich_model(), PARTS)
        part, patched, again = patch(tmp_path, data, ".3mf", tooth_at([100, 0, 0]))
        before, after = entries(data), entries(patched)
        assert list(before) == list(after)
        assert {n: e for n, e in before.items() if n != "3D/3dmodel.model"} == {
            n: e for n, e in after.items() if n != "3D/3dmodel.model"
        }
        old, new = before["3D/3dmodel.model"][0], after["3D/3dmodel.model"][0]
        added = re.compile(
            rb'(?:<vertex x="[^"]*" y="[^"]*" z="[^"]*"/>\n){4}|(?:<triangle v1="\d+" v2="\d+" v3="\d+"/>\n){4}'
        )
        assert added.sub(b"", new) == old
        assert dict(part.metadata)["LicenseTerms"] == "CC0 & thanks"
        assert again.mesh.volume == pytest.approx(3 * TETRA_VOLUME + TOOTH_VOLUME)

    def test_raw_bytes_of_other_entries_are_copied(self, tmp_path):
        data = build.package(rich_model(), PARTS)
        _, patched, _ = patch(tmp_path, data, ".3mf")
        for name in ("Metadata/thumbnail.png", "unknown.bin"):
            at, length = _local_record(data, name)
            assert data[at : at + length] in patched

    def test_lib3mf_finds_all_that_was_there(self, tmp_path):
        patch(tmp_path, build.package(rich_model(), PARTS[:1]), ".3mf", tooth_at([100, 0, 0]))
        model = lib3mf.get_wrapper().CreateModel()
        reader = model.QueryReader("3mf")
        reader.ReadFromFile(str(tmp_path / "hood with teeth.3mf"))
        meshes = {}
        iterator = model.GetMeshObjects()
        while iterator.MoveNext():
            mesh = iterator.GetCurrentMeshObject()
            meshes[mesh.GetName()] = (mesh.GetVertexCount(), mesh.GetTriangleCount())
        assert meshes == {"hood": (4, 4), "fin": (8, 8), "rain gauge": (4, 4)}
        assert model.GetColorGroups().Count() == 1
        assert model.GetBaseMaterialGroups().Count() == 1
        names = {model.GetMetaDataGroup().GetMetaData(i).GetName() for i in range(2)}
        assert names == {"Designer", "LicenseTerms"}
        assert reader.GetWarningCount() == 0

    def test_teeth_go_to_the_object_that_they_touch(self, tmp_path):
        for offset, name in (([0, 0, 0], b"hood"), ([100, 0, 0], b"fin"), ([0, 100, 0], b"rain gauge")):
            _, patched, _ = patch(tmp_path, build.package(rich_model()), ".3mf", tooth_at(offset))
            text = entries(patched)["3D/3dmodel.model"][0]
            lengths = {o.split(b'name="')[1].split(b'"')[0]: o.count(b"<triangle ") for o in text.split(b"<object")[1:]}
            assert lengths == {b"hood": 4, b"fin": 4, b"rain gauge": 4} | {name: 8}

    def test_teeth_that_touch_two_objects_are_asked_about(self, tmp_path):
        """Both tetrahedra stand within the half millimetre that a tooth may sink; the third is far away."""
        data = build.package(rich_model('transform="1 0 0 0 1 0 0 0 1 0.2 0 0"'))
        with pytest.raises(NeedsChoice) as asked:
            patch(tmp_path, data, ".3mf", tooth_at([-2, 0, 0]))
        assert set(asked.value.choices) == {"object:1", "object:2"}
        assert "1 (“hood”)" in asked.value.what
        assert not (tmp_path / "hood with teeth.3mf").exists()
        for choice, name in (("nearest", 1), ("object:2", 2), ("nearest+object:3", 3)):
            _, patched, _ = patch(tmp_path, data, ".3mf", tooth_at([-2, 0, 0]), choice=choice)
            objects = entries(patched)["3D/3dmodel.model"][0].split(b"<object")[1:]
            assert [o.count(b"<triangle ") for o in objects] == [8 if i == name else 4 for i in (1, 2, 3)]

    def test_named_object(self, tmp_path):
        _, patched, _ = patch(tmp_path, build.package(rich_model()), ".3mf", choice="object:3")
        assert entries(patched)["3D/3dmodel.model"][0].split(b"<object")[3].count(b"<triangle ") == 8

    @pytest.mark.parametrize(
        "transform", [CROOKED, MIRRORED, "0 2 0 -2 0 0 0 0 2 5 6 7", "1e-3 0 0 0 1e-3 0 0 0 1e-3 0 0 0"]
    )
    def test_inverse_of_the_transform(self, tmp_path, transform):
        model = build.model_xml(build=f'<item objectid="1" transform="{transform}"/>')
        part, patched, again = patch(tmp_path, build.package(model), ".3mf")
        has_tooth(again, tolerance=1e-9)
        assert again.mesh.volume == pytest.approx(part.mesh.volume + TOOTH_VOLUME)
        second = trimesh.load(io.BytesIO(patched), file_type="3mf")
        assert abs(second.to_mesh().volume) == pytest.approx(part.mesh.volume + TOOTH_VOLUME)

    def test_component_within_a_mirrored_item(self, tmp_path):
        resources = build.object_xml() + build.object_xml(
            2, f'<components><component objectid="1" transform="{CROOKED}"/></components>'
        )
        model = build.model_xml(resources, f'<item objectid="2" transform="{MIRRORED}"/>')
        part, _, again = patch(tmp_path, build.package(model), ".3mf")
        has_tooth(again, tolerance=1e-9)
        assert again.mesh.volume == pytest.approx(part.mesh.volume + TOOTH_VOLUME)

    @pytest.mark.parametrize(("unit", "scale"), [("micron", 1e-3), ("inch", 25.4), ("meter", 1e3)])
    def test_units(self, tmp_path, unit, scale):
        _, patched, again = patch(tmp_path, build.package(build.model_xml(unit=f'unit="{unit}"')), ".3mf")
        has_tooth(again, tolerance=1e-9)
        text = entries(patched)["3D/3dmodel.model"][0]
        xs = [float(x) for x in re.findall(rb'<vertex x="([^"]*)"', text)[-4:]]
        np.testing.assert_allclose(xs, TOOTH.vertices[:, 0] / scale, rtol=1e-12)

    @pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
    def test_utf16_stays_utf16(self, tmp_path, encoding):
        text = build.model_xml(
            build.object_xml(attributes='name="帽子"'), head='<?xml version="1.0" encoding="UTF-16"?>'
        )
        mark = b"\xff\xfe" if encoding.endswith("le") else b"\xfe\xff"
        _, patched, again = patch(tmp_path, build.package(mark + text.encode(encoding)), ".3mf")
        new = entries(patched)["3D/3dmodel.model"][0]
        assert new.startswith(mark)
        assert 'name="帽子"' in new[2:].decode(encoding)
        has_tooth(again)

    def test_prefix_of_the_namespace_is_used(self, tmp_path):
        text = build.model_xml().replace(f'xmlns="{build.CORE}"', f'xmlns:c="{build.CORE}"')
        text = re.sub(r"<(/?)(?=[a-z])", r"<\1c:", text)
        _, patched, again = patch(tmp_path, build.package(text), ".3mf")
        assert entries(patched)["3D/3dmodel.model"][0].count(b"<c:triangle ") == 8
        has_tooth(again)

    def test_object_in_another_part(self, tmp_path):
        root = build.model_xml(build.object_xml(1), '<item objectid="7" p:path="/3D/a.model"/>',
                               attributes=f'xmlns:p="{PRODUCTION}" requiredextensions="p"')  # fmt: skip
        data = build.package(root, [("3D/a.model", build.model_xml(build.object_xml(7), ""))])
        _, patched, again = patch(tmp_path, data, ".3mf")
        assert entries(patched)["3D/3dmodel.model"] == entries(data)["3D/3dmodel.model"]
        has_tooth(again)

    TWICE = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 100 0 0"/>'

    def test_object_placed_twice_asks(self, tmp_path):
        data = build.package(build.model_xml(build=self.TWICE))
        with pytest.raises(NeedsChoice) as asked:
            patch(tmp_path, data, ".3mf")
        assert asked.value.choices == ("all", "copy")
        _, _, both = patch(tmp_path, data, ".3mf", choice="all")
        assert len(both.mesh.triangles) == 16
        _, patched, one = patch(tmp_path, data, ".3mf", tooth_at([100, 0, 0]), choice="copy")
        assert len(one.mesh.triangles) == 12
        has_tooth(one, tooth_at([100, 0, 0]))
        text = entries(patched)["3D/3dmodel.model"][0]
        assert text.count(b"<object ") == 2
        assert build.mesh_xml().encode() in text

    def test_copy_within_assemblies(self, tmp_path):
        """Object 1 stands in object 2 twice, and object 2 on the plate twice: one of four gets teeth."""
        move = 'transform="1 0 0 0 1 0 0 0 1 {} 0 0"'
        inner = f'<components><component objectid="1"/><component objectid="1" {move.format(40)}/></components>'
        resources = build.object_xml(1, attributes='p:UUID="aaaaaaaa-0000-4000-8000-000000000001"') + build.object_xml(
            2, inner
        )
        model = build.model_xml(resources, f'<item objectid="2"/><item objectid="2" {move.format(200)}/>',
                                attributes=f'xmlns:p="{PRODUCTION}"')  # fmt: skip
        for offset in (0, 40, 200, 240):
            tooth = tooth_at([offset, 0, 0])
            part, patched, again = patch(tmp_path, build.package(model), ".3mf", tooth, choice="copy")
            assert len(again.mesh.triangles) == 20
            assert again.mesh.volume == pytest.approx(part.mesh.volume + TOOTH_VOLUME)
            centres = again.mesh.corners.reshape(-1, 3)
            assert all((np.abs(centres - v).max(axis=1) < 1e-9).any() for v in tooth.vertices)
            text = entries(patched)["3D/3dmodel.model"][0]
            uuids = re.findall(rb'UUID="([^"]*)"', text)
            assert len(uuids) == len(set(uuids)) == 2
            second = trimesh.load(io.BytesIO(patched), file_type="3mf").to_mesh()
            assert second.volume == pytest.approx(again.mesh.volume)

    def test_signed_and_sliced_packages_are_refused_by_name(self, tmp_path):
        signed = build.package(links=[(START, "/3D/3dmodel.model"), (SIGNED, "/s.sigs")])
        with pytest.raises(RefusedFile, match="signed"):
            patch(tmp_path, signed, ".3mf")
        sliced = build.package(
            build.model_xml('<s:slicestack id="9"/>' + build.object_xml(), attributes=f'xmlns:s="{SLICES}"')
        )
        with pytest.raises(RefusedFile, match="slice"):
            patch(tmp_path, sliced, ".3mf")
        assert not (tmp_path / "hood with teeth.3mf").exists()

    def test_streamed_and_stored_archives(self, tmp_path):
        from tests.files.hostile_3mf import _descriptor, _stored

        for data in (_descriptor(), _stored()):
            _, patched, again = patch(tmp_path, data, ".3mf")
            entries(patched)
            has_tooth(again)

    def test_zip64_archive(self, tmp_path):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
            for name, (data, _, _) in entries(build.package()).items():
                with file.open(name, "w", force_zip64=True) as stream:
                    stream.write(data)
        _, patched, again = patch(tmp_path, out.getvalue(), ".3mf")
        entries(patched)
        has_tooth(again)

    def test_empty_plate(self, tmp_path):
        _, _, again = patch(tmp_path, build.package(build.model_xml(build="")), ".3mf", read_choice="take_all_objects")
        has_tooth(again)


def _local_record(data, name):
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        info = file.getinfo(name)
        return info.header_offset, 30 + len(name) + info.compress_size


class TestRefusals:
    def test_changed_on_disk(self, tmp_path):
        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        part = read_part(path)
        path.write_bytes(build.stl(attributes=1))
        with pytest.raises(UnreadableFile, match="changed on disk"):
            write_patched(part, TOOTH, tmp_path / "out.stl")
        assert not (tmp_path / "out.stl").exists()

    def test_changed_on_disk_with_size_and_time_as_before(self, tmp_path):
        import os

        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        part = read_part(path)
        path.write_bytes(build.stl(attributes=1))
        os.utime(path, ns=(part.source.mtime_ns, part.source.mtime_ns))
        with pytest.raises(UnreadableFile, match="changed on disk"):
            write_patched(part, TOOTH, tmp_path / "out.stl")
        assert [p.name for p in tmp_path.iterdir()] == ["hood.stl"]

    def test_touched_but_not_changed(self, tmp_path):
        import os

        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        part = read_part(path)
        os.utime(path, ns=(1, 1))
        assert write_patched(part, TOOTH, tmp_path / "out.stl").triangles == 8

    def test_gone(self, tmp_path):
        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        part = read_part(path)
        path.unlink()
        with pytest.raises(UnreadableFile, match="no longer there"):
            write_patched(part, TOOTH, tmp_path / "out.stl")

    def test_the_input_only_when_asked(self, tmp_path):
        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        (tmp_path / "link.stl").symlink_to(path)
        (tmp_path / "hard.stl").hardlink_to(path)
        part = read_part(path)
        for name in ("hood.stl", "link.stl", "hard.stl", "../" + tmp_path.name + "/hood.stl"):
            with pytest.raises(BadValue, match="the file that was opened"):
                write_patched(part, TOOTH, tmp_path / name)
        assert path.read_bytes() == build.stl()
        write_patched(part, TOOTH, path, replace=True)
        assert len(read_part(path).mesh.triangles) == 8

    def test_another_format(self, tmp_path):
        path = tmp_path / "hood.stl"
        path.write_bytes(build.stl())
        with pytest.raises(BadValue, match="another format"):
            write_patched(read_part(path), TOOTH, tmp_path / "out.3mf")
