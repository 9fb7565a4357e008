"""What a part says about its file; what is not a file; names; limits; units."""

# ruff: noqa: E501 - tables: one case a line

from __future__ import annotations

import hashlib
import os
import pickle
from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
import trimesh

from core.errors import NeedsChoice, RefusedFile, UnreadableFile
from core.files import guard
from core.files.content import is_closed, likely_unit
from core.files.guard import DEFAULT, quoted, sniff
from core.files.nearest import distances
from core.files.polygons import clip_ears
from core.files.read import read_part
from core.geometry.mesh import Mesh
from tests.files import build
from tests.files.build import TETRA, TETRA_FACES


def put(tmp_path, data, name="hood.stl"):
    (tmp_path / name).write_bytes(data)
    return tmp_path / name


def test_source_and_name(tmp_path):
    path = put(tmp_path, build.stl(), "rain hood.v2.stl")
    part = read_part(str(path))
    assert part.name == "rain hood.v2"
    assert part.source.sha256 == hashlib.sha256(build.stl()).hexdigest()
    assert (part.source.path, part.source.size, part.source.format) == (path, 284, "stl")
    assert part.source.mtime_ns == path.stat().st_mtime_ns
    assert not part.mesh.vertices.flags.writeable


@pytest.mark.parametrize(
    ("data", "suffix", "form"),
    [(build.stl(), ".stl", "stl"), (build.stl_text(), ".stl", "stl"), (build.obj(), ".obj", "obj"),
     (build.ply(), ".ply", "ply"), (build.package(), ".3mf", "3mf")],
)  # fmt: skip
def test_formats(tmp_path, data, suffix, form):
    assert read_part(put(tmp_path, data, "hood" + suffix)).source.format == form
    assert read_part(put(tmp_path, data, "hood.xyz")).source.format == form


def test_metadata_of_3mf(tmp_path):
    metadata = '<metadata name="Title">Hood</metadata><metadata name="Designer">A. Räin &amp; Co</metadata>'
    part = read_part(put(tmp_path, build.package(build.model_xml(metadata=metadata)), "hood.3mf"))
    assert part.metadata == (("Title", "Hood"), ("Designer", "A. Räin & Co"))


class TestUnits:
    def test_given_unit_of_a_unitless_file(self, tmp_path):
        part = read_part(put(tmp_path, build.stl()), "inch")
        assert (part.unit, part.unit_stated) == ("inch", False)
        assert part.mesh.bounds[1, 0] == 508.0  # 20 × 25.4

    def test_3mf_keeps_its_own(self, tmp_path):
        part = read_part(put(tmp_path, build.package(build.model_xml(unit='unit="inch"')), "hood.3mf"), "millimeter")
        assert (part.unit, part.unit_stated) == ("inch", True)

    def test_inch_file_read_as_millimetres_is_noted(self, tmp_path):
        part = read_part(put(tmp_path, build.stl(TETRA[TETRA_FACES] / 20 * 6.5)))
        assert "inches it would be 165.1 mm" in " ".join(part.notes)  # 6.5 × 25.4

    def test_millimetre_file_read_as_inch_is_noted(self, tmp_path):
        part = read_part(put(tmp_path, build.stl(TETRA[TETRA_FACES] / 20 * 165.1)), "inch")
        assert "millimetres it would be 165.1 mm" in " ".join(part.notes)

    @pytest.mark.parametrize(
        ("size", "read_as", "guess"),
        [(20, "millimeter", None), (9.9, "millimeter", "inch"), (0.5, "millimeter", "inch"), (0.2, "millimeter", "meter"),
         (1e-5, "millimeter", None), (1999, "millimeter", None), (20_000, "millimeter", "micron"),
         (1e8, "millimeter", None), (100 * 25.4, "inch", "millimeter"), (6.5 * 25.4, "inch", None), (20e3, "meter", "millimeter")],
    )  # fmt: skip
    def test_likely_unit(self, size, read_as, guess):
        assert likely_unit(Mesh(TETRA / 20 * size, TETRA_FACES), read_as) == guess

    def test_likely_unit_of_nothing(self):
        assert likely_unit(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32))) is None


class TestNotFiles:
    def test_missing(self, tmp_path):
        with pytest.raises(UnreadableFile, match="no such file"):
            read_part(tmp_path / "gone.stl")

    def test_folder(self, tmp_path):
        with pytest.raises(RefusedFile, match="folder"):
            read_part(tmp_path)

    def test_zero_byte_in_the_path(self, tmp_path):
        with pytest.raises(UnreadableFile, match="cannot be read"):
            read_part(tmp_path / "a\0b.stl")

    def test_too_long_a_name(self, tmp_path):
        with pytest.raises(UnreadableFile, match="cannot be read"):
            read_part(tmp_path / ("a" * 300))

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes")
    def test_pipe_does_not_hang(self, tmp_path):
        os.mkfifo(tmp_path / "pipe.stl")
        with pytest.raises(RefusedFile, match="ordinary"):
            read_part(tmp_path / "pipe.stl")

    @pytest.mark.skipif(not os.path.exists("/dev/zero"), reason="needs devices")
    def test_endless_device(self):
        with pytest.raises(RefusedFile, match="ordinary"):
            read_part("/dev/zero")

    def test_link_that_circles(self, tmp_path):
        (tmp_path / "a").symlink_to(tmp_path / "a")
        with pytest.raises(UnreadableFile, match="cannot be read"):
            read_part(tmp_path / "a")

    @pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
    def test_forbidden(self, tmp_path):
        put(tmp_path, build.stl()).chmod(0)
        with pytest.raises(UnreadableFile, match="may not read"):
            read_part(tmp_path / "hood.stl")

    def test_a_file_that_grows_while_it_is_read(self, tmp_path, monkeypatch):
        path = put(tmp_path, build.stl())
        real = os.fstat

        def earlier(descriptor):
            state = list(real(descriptor))
            state[6] -= 1
            return os.stat_result(state)

        monkeypatch.setattr(guard.os, "fstat", earlier)
        with pytest.raises(UnreadableFile, match="changes while"):
            read_part(path)


@pytest.mark.parametrize(
    "name", ["Hütchen 帽子 🌦.stl", "rain hood (left).stl", "tab\there.stl", "-hood.stl", "hood", ".stl"]
)
def test_odd_names(tmp_path, name):
    assert len(read_part(put(tmp_path, build.stl(), name)).mesh.triangles) == 4


def test_errors_show_odd_names_on_one_printable_line(tmp_path):
    for name in (b"line\nbreak.stl", b"\xff\xfe.stl", "right\u202eleft.stl".encode()):
        path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/" + name))
        path.write_bytes(b"")
        with pytest.raises(UnreadableFile) as error:
            read_part(path)
        assert str(error.value).isprintable()
        str(error.value).encode()


def test_errors_cross_processes_with_the_name(tmp_path):
    path = put(tmp_path, build.stl(count=5))
    with pytest.raises(NeedsChoice) as error:
        read_part(path)
    again = pickle.loads(pickle.dumps(error.value))
    assert str(again) == str(error.value)
    assert again.choices == ("take_whole_facets",)
    assert "hood.stl" in again.what


def test_an_unknown_choice_asks_again(tmp_path):
    with pytest.raises(NeedsChoice):
        read_part(put(tmp_path, build.stl(count=5)), choice="guess")


class TestLimits:
    @pytest.mark.parametrize(
        ("data", "suffix", "limit", "words"),
        [
            (build.stl, ".stl", {"file_bytes": 100}, "284 bytes; the limit is 100"),
            (build.stl, ".stl", {"triangles": 3}, "4 facets; the limit is 3"),
            (build.stl_text, ".stl", {"triangles": 3}, "4 facets; the limit is 3"),
            (build.obj, ".obj", {"triangles": 3}, "4 facets; the limit is 3"),
            (build.ply, ".ply", {"triangles": 3}, "4 facets; the limit is 3"),
            (build.package, ".3mf", {"triangles": 3}, "too many"),
            (build.package, ".3mf", {"zip_entries": 2}, "3 entries; the limit is 2"),
            (build.package, ".3mf", {"inflated_bytes": 600}, "the limit is 600"),
            (build.package, ".3mf", {"ratio_from_bytes": 10, "inflation_ratio": 1.1}, "the limit is 1 times"),
            (build.package, ".3mf", {"xml_depth": 3}, "nested too deep"),
            (build.package, ".3mf", {"xml_elements": 3}, "too many elements"),
            (build.package, ".3mf", {"instances": 0}, "more than 0"),
            (build.stl, ".stl", {"coordinate_mm": 10.0}, "the limit is"),
        ],
    )
    def test_each(self, tmp_path, data, suffix, limit, words):
        path = put(tmp_path, data(), "hood" + suffix)
        with pytest.raises(RefusedFile, match=words):
            read_part(path, limits=replace(DEFAULT, **limit))
        read_part(path)

    def test_every_limit_has_its_reason(self):
        source = Path(guard.__file__).read_text()
        body = source[source.index("class Limits") : source.index("DEFAULT: Final")]
        fields = [
            line for line in body.splitlines() if (line.startswith("    ") and ": int =" in line) or ": float =" in line
        ]
        assert len(fields) == len(Limits_fields())
        assert body.count('    """') >= len(fields)


def Limits_fields():  # noqa: N802 - names the class
    return guard.Limits.__dataclass_fields__


class TestPieces:
    def test_quoted_is_short_and_printable(self):
        assert quoted(b"a\nb\x00\xff") == "“a�b��”"
        assert len(quoted("x" * 1000)) == 42

    @pytest.mark.parametrize(("data", "form"), [(build.stl(header=b"solid"), "stl"), (build.stl_text(), "stl text")])
    def test_sniff_needs_only_the_head(self, data, form):
        assert sniff(data[:150], "", len(data)) == form

    def test_closedness_agrees_with_a_count_of_edges(self):
        rng = np.random.default_rng(4)
        for _ in range(200):
            faces = TETRA_FACES[rng.permutation(4)[: rng.integers(1, 5)]]
            faces = np.where(rng.random() < 0.5, faces, faces[:, ::-1])
            edges = {}
            for a, b, c in faces.tolist():
                for edge in ((a, b), (b, c), (c, a)):
                    edges[edge] = edges.get(edge, 0) + 1
            assert is_closed(faces) == all(edges.get((b, a), 0) == n for (a, b), n in edges.items())

    def test_distances_agree_with_trimesh(self):
        rng = np.random.default_rng(7)
        corners = rng.normal(size=(200, 3, 3))
        for point in rng.normal(size=(10, 3)) * 2:
            nearest = trimesh.triangles.closest_point(corners, np.tile(point, (200, 1)))
            np.testing.assert_allclose(distances(point, corners), np.linalg.norm(nearest - point, axis=1), atol=1e-12)

    def test_ears_of_stars_combs_and_spirals_fill_their_area(self):
        rng = np.random.default_rng(2)
        angles = np.sort(rng.random(300)) * 2 * np.pi
        star = (1 + rng.random(300) * 3)[:, None] * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        x = np.arange(200.0)
        comb = np.concatenate([np.stack([x, 1 + 50 * (x % 2)], axis=1), np.stack([x, 0 * x], axis=1)[::-1]])
        turn = np.linspace(0, 12 * np.pi, 200)
        arm = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        spiral = np.concatenate([arm * (2 + turn)[:, None], (arm * (1 + turn)[:, None])[::-1]])
        for flat in (star, comb, spiral):
            points = np.column_stack([flat, flat @ [0.3, -0.2]])  # a slanted plane
            triangles, crossed = clip_ears(points)
            assert not crossed
            assert len(triangles) == len(points) - 2
            area = np.cross(
                points[triangles[:, 1]] - points[triangles[:, 0]], points[triangles[:, 2]] - points[triangles[:, 0]]
            )
            shoelace = (flat[:, 0] * np.roll(flat[:, 1], -1) - flat[:, 1] * np.roll(flat[:, 0], -1)).sum()
            assert np.abs(area[:, 2]).sum() == pytest.approx(abs(shoelace))


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".obj"])
def test_files_that_other_libraries_write(tmp_path, suffix):
    """trimesh and meshio as writers, and as second readers of what they wrote."""
    ball = trimesh.creation.icosphere(subdivisions=3, radius=20)
    ball.export(tmp_path / f"a{suffix}")
    part = read_part(tmp_path / f"a{suffix}")
    assert len(part.mesh.triangles) == len(ball.faces)
    assert part.mesh.volume == pytest.approx(ball.volume, rel=1e-5)
    for binary in [True, False] if suffix != ".obj" else [None]:
        options = {} if binary is None else {"binary": binary}
        meshio.write(tmp_path / f"b{suffix}", meshio.Mesh(ball.vertices, [("triangle", ball.faces)]), **options)
        part = read_part(tmp_path / f"b{suffix}")
        assert part.mesh.volume == pytest.approx(ball.volume, rel=1e-5)


def test_3mf_that_trimesh_writes(tmp_path):
    ball = trimesh.creation.icosphere(subdivisions=3, radius=20)
    scene = trimesh.Scene([ball, ball.copy().apply_translation([60, 0, 0])])
    scene.export(tmp_path / "a.3mf")
    part = read_part(tmp_path / "a.3mf")
    assert len(part.mesh.triangles) == 2 * len(ball.faces)
    assert part.mesh.volume == pytest.approx(2 * ball.volume)
