"""Random meshes through every format and back, and random bytes into every reader. Seeds are fixed."""

from __future__ import annotations

import os
import time
import zipfile

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.errors import SnapcombError
from core.files.read import parse, read_part
from core.files.write import write_part, write_patched
from core.geometry.mesh import Mesh
from tests.files import build, hostile_3mf, hostile_obj, hostile_ply, hostile_stl

STEADY = settings(
    max_examples=40, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
FINITE = st.floats(-1e5, 1e5, allow_nan=False, width=32)


@st.composite
def meshes(draw):
    """Any facets over a few vertices; no facet uses one corner twice."""
    vertices = draw(hnp.arrays(np.float64, st.tuples(st.integers(3, 12), st.just(3)), elements=FINITE, unique=True))
    corner = st.integers(0, len(vertices) - 1)
    triple = st.tuples(corner, corner, corner).filter(lambda t: len(set(t)) == 3)
    return Mesh(vertices, np.array(draw(st.lists(triple, min_size=1, max_size=20)), dtype=np.int32))


def encode(mesh, form):
    corners, faces = mesh.corners, mesh.triangles.tolist()
    if form == "stl":
        return build.stl(corners)
    if form == "stl text":
        return build.stl_text(corners, number="{!r}")
    if form == "obj":
        return build.obj(mesh.vertices, mesh.triangles)
    if form == "3mf":
        return build.package(build.model_xml(build.object_xml(1, build.mesh_xml(mesh.vertices, mesh.triangles))))
    return build.ply(mesh.vertices, faces, form=form, xyz="double" if form != "ascii" else "float")


FORMS = ["stl", "stl text", "obj", "binary_little_endian", "binary_big_endian", "3mf"]


@pytest.mark.parametrize("form", FORMS)
@STEADY
@given(mesh=meshes())
def test_every_corner_comes_back(form, mesh, tmp_path):
    path = tmp_path / "hood"
    path.write_bytes(encode(mesh, form))
    part = read_part(path)
    np.testing.assert_array_equal(part.mesh.corners, mesh.corners)


@pytest.mark.parametrize("form", FORMS)
@STEADY
@given(mesh=meshes(), tooth=meshes())
def test_patched_files_hold_both(form, mesh, tooth, tmp_path):
    path, out = tmp_path / "hood", tmp_path / "out"
    path.write_bytes(encode(mesh, form))
    part = read_part(path)
    written = write_patched(part, tooth, out)
    again = read_part(out)
    assert written.triangles == len(again.mesh.triangles) == len(mesh.triangles) + len(tooth.triangles)
    np.testing.assert_array_equal(again.mesh.corners[: len(mesh.triangles)], mesh.corners)
    np.testing.assert_array_equal(again.mesh.corners[len(mesh.triangles) :], tooth.corners)
    assert path.read_bytes() == encode(mesh, form)


@pytest.mark.parametrize("suffix", [".stl", ".3mf"])
@STEADY
@given(mesh=meshes())
def test_fresh_files_hold_the_mesh(suffix, mesh, tmp_path):
    path = tmp_path / f"hood{suffix}"
    write_part(mesh, path, unit="millimeter", name="hood")
    np.testing.assert_array_equal(read_part(path).mesh.corners, mesh.corners)


TABLES = {".stl": hostile_stl, ".obj": hostile_obj, ".ply": hostile_ply, ".3mf": hostile_3mf}
SMALL = 20_000


def seeds(suffix):
    """Every file of the table that is not large, and for packages the XML within too."""
    found = [case.data() for case in TABLES[suffix].CASES]
    return [data for data in found if len(data) < SMALL]


def mutate(rng, data, pool):
    """One to six changes of the kinds that break parsers: flips, cuts, copies, swaps, numbers, other files' pieces."""
    out = bytearray(data)
    for _ in range(rng.integers(1, 7)):
        at = int(rng.integers(0, len(out) + 1))
        size = int(2 ** rng.integers(0, 9))
        kind = rng.integers(0, 7)
        if kind == 0 and at < len(out):
            out[at] ^= 1 << int(rng.integers(0, 8))
        elif kind == 1:
            del out[at : at + size]
        elif kind == 2:
            out[at:at] = out[at : at + size]
        elif kind == 3:
            out[at:at] = rng.bytes(int(rng.integers(1, 9)))
        elif kind == 4:
            out[at : at + 4] = [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\x80\0\0", b"nan ", b"-1 9"][
                int(rng.integers(0, 5))
            ]
        elif kind == 5:
            other = pool[int(rng.integers(0, len(pool)))]
            begin = int(rng.integers(0, len(other) + 1))
            out[at:at] = other[begin : begin + size]
        else:
            word = [b"1e999", b"0", b"-2147483649", b"99999999999999999999", b'"', b"<", b"\n", b"\\\n", b" ", b"/"]
            out[at : at + int(rng.integers(0, 3))] = word[int(rng.integers(0, len(word)))]
    return bytes(out)


def repacked(rng, pool):
    """A sound package around a mutated model, so that the XML reader is reached."""
    models = [build.model_xml().encode(), hostile_3mf._prefixed().encode()]
    text = mutate(rng, models[int(rng.integers(0, 2))], [*models, *pool])
    return build.package(text, method=zipfile.ZIP_STORED)


def fuzz(suffix, executions, seed=1):
    """Every answer is a part, a question or a refusal; never another exception, never slow."""
    rng = np.random.default_rng(seed)
    pool = seeds(suffix)
    outcomes = {"read": 0, "no": 0}
    for number in range(executions):
        data = mutate(rng, pool[int(rng.integers(0, len(pool)))], pool)
        if suffix == ".3mf" and number % 2:
            data = repacked(rng, pool)
        started = time.process_time()
        try:
            content, _, _ = parse(data, suffix, [None, "take_whole_facets", "take_declared_facets"][number % 3])
        except SnapcombError:
            outcomes["no"] += 1
        else:
            mesh = Mesh(content.vertices, content.triangles)
            assert len(mesh.triangles)
            outcomes["read"] += 1
        assert time.process_time() - started < 5
    return outcomes


@pytest.mark.parametrize("suffix", TABLES)
def test_fuzz_briefly(suffix):
    outcomes = fuzz(suffix, 1500)
    assert outcomes["read"] > 5
    assert outcomes["no"] > 20


@pytest.mark.soak
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("suffix", TABLES)
def test_fuzz_at_length(suffix):
    """A hundred thousand executions a format, or as many as the environment variable says."""
    fuzz(suffix, int(os.environ.get("SNAPCOMB_FUZZ", "100000")), seed=2)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(data=st.binary(max_size=400), suffix=st.sampled_from(list(TABLES)))
def test_any_bytes(data, suffix):
    try:
        content, _, _ = parse(data, suffix, None)
    except SnapcombError:
        return
    assert len(content.triangles)
