"""The job file: what is kept comes back, the mesh is found again, and what is not a job is refused in plain words.

A sample of every version lies in ``data`` and is never written anew: it stands for the files that people have.
"""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import shutil
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.design.materials import MATERIALS, own_material
from core.design.plan import SHAPES, RowWishes
from core.design.setup import PrintSetup
from core.errors import BadValue, RefusedFile, SnapcombError, UnreadableFile, WriteFailed
from core.files.read import read_part
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose
from core.geometry.repair import Repair
from core.job.job import Job, Pick, Row, new_job
from core.job.job_file import (
    MeshDiffers,
    MeshNotFound,
    is_job_file,
    load_job,
    migrated,
    read_record,
    save_job,
)
from core.job.repair_record import mended_again
from core.proof.learn import Lesson, Outcome, Tried
from core.proof.snap import Necks
from tests.meshes import box
from tests.strategies import finite, rigid_poses

DATA = Path(__file__).parent / "data"
MESH, V1, V2 = "gauge_stand.stl", "gauge_stand_v1.snapcomb", "gauge_stand_v2.snapcomb"
WRONG, V3 = "gauge_stand_wrong.stl", "gauge_stand_v3.snapcomb"


@pytest.fixture
def here(tmp_path: Path) -> Path:
    """A folder with the sample job and its mesh."""
    for name in (MESH, V1):
        shutil.copy(DATA / name, tmp_path / name)
    return tmp_path


@pytest.fixture(scope="session")
def part() -> Part:
    return read_part(DATA / MESH)


def as_dict(path: Path) -> dict[str, object]:
    return json.loads(path.read_text(encoding="utf-8"))


def same(a: Job, b: Job) -> bool:
    """Everything but the part, whose identity is the checksum."""
    names = [f.name for f in fields(Job) if f.name != "part"]
    return all(getattr(a, n) == getattr(b, n) for n in names) and a.part.source.sha256 == b.part.source.sha256


def test_the_sample_of_version_1_says_what_its_author_entered(here: Path) -> None:
    job = load_job(here / V1)
    assert job.setup == PrintSetup(layer_height=0.25, first_layer=0.3, walls="variable", material="PETG", air_layers=1)
    first, second = job.rows
    assert first.pick.edge == Polyline(((8, 8, 24), (52, 8, 24)))
    assert first.pick.ledge == Polyline(((8, 8, 22.5), (52, 8, 22.5)))
    assert first.wishes == RowWishes(teeth=11, tip=0.5, foot=2.0, left_out=(3,), moved=((4, 0.25),))
    assert second.pick.gap_direction == (-1, 0, 0)
    assert second.wishes == RowWishes(shape="arc_tip", across="centred", start=1.5)
    assert job.draft is not None
    assert (job.draft.number, job.bond, job.pieces) == (3, "skin", (("fin", True),))
    assert job.notes == ("Snap from the left.", "Zweite Düse: 0,6")
    # a quarter turn about the vertical carries +X to +Y, and nothing is tilted
    assert job.pose.turn([1, 0, 0]) == pytest.approx([0, 1, 0])
    assert job.pose.turn([0, 0, 1]) == pytest.approx([0, 0, 1])
    assert job.part.source.sha256 == hashlib.sha256((DATA / MESH).read_bytes()).hexdigest()


def test_a_job_of_version_1_knows_of_no_print_yet(here: Path) -> None:
    job = load_job(here / V1)
    assert (job.lessons, job.outcomes, job.setup.own) == ((), (), None)


def test_the_sample_of_version_2_says_what_its_author_entered(here: Path) -> None:
    shutil.copy(DATA / V2, here / V2)
    job = load_job(here / V2)
    assert job.setup.filament.name == "Grey PLA from the shed"
    assert (job.setup.filament.density, job.setup.filament.in_plane.low) == (1.29, 44.0)
    (lesson,) = job.lessons
    assert (lesson.source, lesson.setup) == ("your coupon of May", job.setup)
    assert [(t.necks.tip, t.clear_bridge, t.outcome.printed) for t in lesson.tried] == [
        (0.45, 4.4, True), (0.3, 4.6, False), (0.45, 9.3, True),
    ]  # fmt: skip
    assert lesson.tried[0].outcome == Outcome(came_off="fingers", pulled=48.0, scar="stubs")
    assert lesson.tried[2].outcome.held is False
    assert job.outcomes == ((1, Outcome(came_off="pliers", scar="torn")),)
    assert (job.learned.least_printable, job.learned.clear_bridge) == (0.45, 4.4)
    assert job.learned.source == "your coupon of May"


def test_the_sample_of_version_3_has_its_mesh_mended(here: Path) -> None:
    """The foot of the stand, 7 × 7 × 9 mm, is inside out in the file: its volume counts against that of the rest."""
    shutil.copy(DATA / V3, here / V3)
    shutil.copy(DATA / WRONG, here / WRONG)
    job = load_job(here / V3)
    assert job.part.repairs == (Repair("turn"),)
    assert job.part.filed is not None
    assert job.part.mesh.volume - job.part.filed.volume == pytest.approx(2 * 7 * 7 * 9)
    assert job.part.notes[-1] == "Mended as chosen: shells turned: 1."
    assert load_job_of_version_2(here).part.repairs == ()


def load_job_of_version_2(here: Path) -> Job:
    shutil.copy(DATA / V2, here / V2)
    return load_job(here / V2)


def test_repairs_come_back_with_the_job(here: Path) -> None:
    shutil.copy(DATA / WRONG, here / WRONG)
    wrong = read_part(here / WRONG)
    job = new_job(wrong.mended(Repair("turn")))
    save_job(job, here / "mended.snapcomb")
    again = load_job(here / "mended.snapcomb")
    assert again.part.mesh.content_hash == job.part.mesh.content_hash
    assert again.part.repairs == job.part.repairs
    assert again.part.unmended().mesh.content_hash == wrong.mesh.content_hash


@pytest.mark.parametrize("repairs", [[{"fix": "polish"}], [{"fix": "join"}], [{"fix": "turn", "within": 1.0}], "turn"])
def test_a_repair_that_makes_no_sense_is_said(here: Path, repairs: object) -> None:
    shutil.copy(DATA / WRONG, here / WRONG)
    shutil.copy(DATA / V3, here / V3)
    edited(here / V3, {"repairs": repairs})
    with pytest.raises(UnreadableFile):
        load_job(here / V3)


def test_a_repair_with_nothing_to_do_on_another_mesh_is_said(here: Path) -> None:
    """A newer revision may be sound already."""
    part = mended_again(read_part(here / MESH), (Repair("turn"), Repair("join", 0.01)))
    assert part.repairs == ()
    assert [note for note in part.notes if "left out" in note] == [
        "A repair of the job was left out: There is nothing to mend of this kind."] * 2  # fmt: skip


def test_the_file_is_readable_and_holds_no_result(here: Path) -> None:
    text = (here / V1).read_text(encoding="utf-8")
    assert '"set": {' in text
    assert "[8.0, 8.0, 24.0]" in text, "a point stands on one line"
    assert max(len(line) for line in text.splitlines()) < 200
    assert set(as_dict(here / V1)["rows"][0]) == {"number", "edge", "ledge", "gap_direction", "gap", "set"}


polylines = st.builds(
    Polyline,
    st.lists(st.tuples(finite(-1e4, 1e4), finite(-1e4, 1e4), finite(-1e4, 1e4)), min_size=3, max_size=6).map(tuple),
    st.booleans(),
)
maybe_mm = st.none() | finite(0.01, 50)
wishes = st.builds(
    RowWishes, shape=st.sampled_from(SHAPES), teeth=st.none() | st.integers(1, 500), pitch=maybe_mm, foot=maybe_mm,
    tip=maybe_mm, thickness=maybe_mm, sink_ledge=maybe_mm, sink_part=maybe_mm, air_layers=st.none() | st.integers(0, 5),
    across=st.sampled_from([None, "flush", "centred"]), clear_bridge=maybe_mm, end_clearance=maybe_mm,
    start=finite(0, 9), stop=finite(0, 9), left_out=st.lists(st.integers(0, 99), max_size=3).map(tuple),
    moved=st.lists(st.tuples(st.integers(0, 99), finite(-5, 5)), max_size=3).map(tuple),
)  # fmt: skip
direction = st.none() | st.tuples(finite(-1, 1), finite(-1, 1), finite(-1, 1))
rows = st.builds(
    Row, st.integers(1, 9999), st.builds(Pick, polylines, st.none() | polylines, direction, st.text(max_size=5)), wishes
)
setups = st.builds(
    PrintSetup, nozzle=finite(0.1, 2), line_width=finite(0.1, 3), layer_height=finite(0.02, 1.5),
    first_layer=finite(0.02, 1.5), walls=st.sampled_from(["fixed", "variable"]), air_layers=st.integers(0, 5),
    material=st.sampled_from([m.name for m in MATERIALS]), overhang=finite(5, 89), free_overhang=finite(0.1, 10),
    clear_bridge=finite(0.5, 60), longest_tooth=finite(0.5, 40),
)  # fmt: skip

own = st.builds(
    lambda density, low, high: own_material("Mine", MATERIALS[0], density, (low, low + high), (low, low), high > 9),
    finite(0.3, 8), finite(1, 100), finite(0, 50),
)  # fmt: skip
own_setups = st.builds(lambda setup, mine: replace(setup, material=mine.name, own=mine), setups, own)
outcomes = st.builds(
    Outcome,
    st.booleans(),
    st.none() | st.booleans(),
    st.sampled_from(["fingers", "pliers", "knife", "stuck", "untried"]),
    st.none() | finite(0.1, 900), st.sampled_from(["clean", "stubs", "torn", "untold"]),
)  # fmt: skip
necks = st.builds(
    Necks, st.sampled_from(["up", "side"]), st.integers(1, 99), finite(0.1, 3), finite(0.1, 3), finite(0.1, 9),
    name=st.text(max_size=5),
)  # fmt: skip
lessons = st.builds(
    Lesson, st.text(max_size=5), setups | own_setups,
    st.lists(st.builds(Tried, necks, finite(0, 20), outcomes), max_size=3).map(tuple),
)  # fmt: skip


@given(
    pose=rigid_poses(), setup=setups | own_setups, rows=st.lists(rows, max_size=3), draft=st.none() | rows,
    notes=st.lists(st.text(), max_size=2), bond=st.sampled_from(["shells", "skin"]),
    pieces=st.lists(st.tuples(st.text(), st.booleans()), max_size=2),
    working=st.none() | st.tuples(*[finite(-1, 1)] * 9), taught=st.lists(lessons, max_size=2),
    seen=st.lists(st.tuples(st.integers(1, 99), outcomes), max_size=2),
)  # fmt: skip
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_a_job_holds_comes_back_bit_for_bit(
    here, part, pose, setup, rows, draft, notes, bond, pieces, working, taught, seen
):
    job = Job(
        replace(part, source=replace(part.source, path=here / MESH)), Pose.of(pose), setup, working, tuple(rows), draft,
        bond, ("a spot",), tuple(pieces), tuple(notes), tuple(taught), tuple(seen),
    )  # fmt: skip
    save_job(job, here / "job.snapcomb")
    assert same(load_job(here / "job.snapcomb"), job)


def test_mesh_and_job_moved_together_are_found(here: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    other = tmp_path_factory.mktemp("moved")
    for name in (MESH, V1):
        shutil.move(here / name, other / name)
    assert load_job(other / V1).part.source.path == other / MESH


def test_the_mesh_is_found_at_its_place_seen_from_the_job_and_on_the_machine(here: Path, part: Part) -> None:
    (here / "meshes").mkdir()
    (here / "jobs").mkdir()
    shutil.move(here / MESH, here / "meshes" / MESH)
    job = new_job(read_part(here / "meshes" / MESH))
    save_job(job, here / "jobs" / "a.snapcomb")
    assert load_job(here / "jobs" / "a.snapcomb").part.source.path == here / "meshes" / MESH
    (here / "far" / "away").mkdir(parents=True)
    shutil.move(here / "jobs" / "a.snapcomb", here / "far" / "away" / "a.snapcomb")
    assert load_job(here / "far" / "away" / "a.snapcomb").part.source.path == here / "meshes" / MESH


def test_a_job_to_pass_on_tells_nothing_of_the_machine(here: Path) -> None:
    save_job(new_job(read_part(here / MESH)), here / "on.snapcomb", places=False)
    assert str(here) not in (here / "on.snapcomb").read_text(encoding="utf-8")
    assert load_job(here / "on.snapcomb").part.source.path == here / MESH


def test_a_missing_mesh_is_named_with_the_places_looked_at(here: Path) -> None:
    (here / MESH).unlink()
    with pytest.raises(MeshNotFound, match=MESH) as caught:
        load_job(here / V1)
    assert caught.value.looked == (str(here / MESH),)
    assert pickle.loads(pickle.dumps(caught.value)).looked == caught.value.looked
    assert load_job(here / V1, DATA / MESH).part.source.path == DATA / MESH


@pytest.mark.parametrize("facets", [60, 48], ids=["same size", "shorter"])
def test_another_mesh_of_that_name_is_never_taken_for_it(here: Path, facets: int) -> None:
    data = bytearray((here / MESH).read_bytes())
    data[90] ^= 1
    data[80:84] = facets.to_bytes(4, "little")
    (here / MESH).write_bytes(data[: 84 + 50 * facets])
    for mesh in (None, here / MESH):
        with pytest.raises(MeshDiffers, match="not the file that the job was made on"):
            load_job(here / V1, mesh)


def test_the_right_mesh_wins_over_a_wrong_one_beside_the_job(here: Path) -> None:
    (here / "keep").mkdir()
    shutil.copy(here / MESH, here / "keep" / MESH)
    save_job(new_job(read_part(here / "keep" / MESH)), here / "a.snapcomb")
    (here / MESH).write_bytes(b"solid nothing\nendsolid nothing\n")
    assert load_job(here / "a.snapcomb").part.source.path == here / "keep" / MESH


def edited(path: Path, change: dict[str, object]) -> None:
    path.write_text(json.dumps(as_dict(path) | change), encoding="utf-8")


def test_a_newer_version_is_refused_by_name(here: Path) -> None:
    edited(here / V1, {"version": 4, "something": "new"})
    with pytest.raises(RefusedFile, match=r"newer Snapcomb .*version 4"):
        load_job(here / V1)


@pytest.mark.parametrize("bad", [0, -1, True, "1", None, 1.0])
def test_a_senseless_version_is_said(here: Path, bad: object) -> None:
    edited(here / V1, {"version": bad})
    with pytest.raises(UnreadableFile, match="version"):
        load_job(here / V1)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"bond": "glue"}, "bond"),
        ({"pose": [[1, 0, 0, 0]] * 4}, "rigid"),
        ({"pose": [[1, 0, 0]] * 4}, "pose"),
        ({"colour": "red"}, "colour"),
        ({"notes": "one text"}, "notes"),
        ({"draft": {"number": 1, "edge": {"points": [[0, 0, 0]]}}}, "two points"),
    ],
)
def test_a_slip_in_a_job_edited_by_hand_is_said_at_its_place(here: Path, change: dict[str, object], said: str) -> None:
    edited(here / V1, change)
    with pytest.raises(UnreadableFile, match=said) as caught:
        load_job(here / V1)
    assert str(caught.value).startswith(f"“{V1}”")


@pytest.mark.parametrize(
    "junk",
    [b"", b"{", b"[1]", b"null", b"\xff\xfe{}", b"{}", b"[" * 100_000, b'{"format": "snapcomb.job"}', b"solid x"],
)
def test_what_is_no_job_is_refused_in_words(tmp_path: Path, junk: bytes) -> None:
    (tmp_path / "a.snapcomb").write_bytes(junk)
    with pytest.raises(UnreadableFile, match=r"a\.snapcomb"):
        load_job(tmp_path / "a.snapcomb")


@given(cut=st.integers(0, 4000), byte=st.integers(0, 255))
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_damage_anywhere_is_either_harmless_or_said(here: Path, cut: int, byte: int) -> None:
    good = (DATA / V1).read_bytes()
    at = cut % len(good)
    (here / V1).write_bytes(good[:at] + bytes([byte]) + good[at + 1 :])
    problem = None
    try:
        read_record(here / V1)
    except SnapcombError as error:
        problem = error
    assert problem is None or V1 in str(problem)


def test_migrations_run_in_order_up_to_the_newest() -> None:
    table = {1: lambda d: d | {"trail": "1"}, 2: lambda d: d | {"trail": d["trail"] + "2"}}
    out = migrated({"format": "snapcomb.job", "version": 1}, table, 3)
    assert (out["version"], out["trail"]) == (3, "12")
    assert migrated({"format": "snapcomb.job", "version": 3}, table, 3) == {"format": "snapcomb.job", "version": 3}


def test_a_job_is_told_from_other_files(here: Path) -> None:
    assert is_job_file(here / V1)
    assert not is_job_file(here / MESH)
    assert not is_job_file(here)
    assert not is_job_file(here / "nothing")


def test_saving_never_touches_the_mesh_and_leaves_the_old_file_on_failure(here: Path) -> None:
    job = new_job(read_part(here / MESH))
    before = (here / MESH).read_bytes()
    with pytest.raises(BadValue, match="opened"):
        save_job(job, here / MESH)
    assert (here / MESH).read_bytes() == before
    with pytest.raises(WriteFailed):
        save_job(job, here / "no such folder" / "a.snapcomb")
    with pytest.raises(BadValue, match="no file"):
        save_job(new_job(Part("box", box())), here / "b.snapcomb")
    assert sorted(os.listdir(here)) == [MESH, V1]
