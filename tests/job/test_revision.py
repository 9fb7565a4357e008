"""A job on newer revisions of its mesh: samples built anew with other dimensions, moved, in inches, cut anew, worn."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv
import trimesh
from scipy.spatial.transform import Rotation

import samples.hood as hood_maker
from core.design.plan import RowWishes
from core.files.read import read_part
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import about_z, placed, turn_over
from core.geometry.relocate import RESIDUAL
from core.job.job import Job, Pick, add_posts, add_rows, new_job
from core.job.job_file import load_job, read_record, save_job
from core.job.landmark_record import figures_in, known_figures, landmarks_of
from core.job.pipeline import Pipeline
from core.job.revision import Remembered, Revision, carried_over, settled
from samples import sample_path, truth
from samples.catalogue import HOOD_PLACE
from samples.solids import write_stl
from tests.meshes import box

GAPS = {g["id"]: g for g in truth()["samples"]["rain_hood"]["gaps"]}
TURNED = placed(Rotation.from_euler("xyz", [33, -71, 140], degrees=True).as_matrix(), [40.0, -33.0, 12.0])
ON_THE_BED = placed(about_z(25), [4.0, -3.0, 2.0])


def job_on(path: Path) -> Job:
    """A row below the front lip; and one between the left ear and its fin, where no teeth stand."""
    ear, fin = (np.array(GAPS["left_side"][k]) for k in ("edge", "ledge"))
    x, y, z = ((ear - fin)[0] / np.linalg.norm((ear - fin)[0])).tolist()
    picks = (Pick(Polyline.of(GAPS["front_lip"]["edge"])), Pick(Polyline.of(GAPS["left_side"]["lip"]), None, (x, y, z)))
    return add_rows(new_job(read_part(path)), tuple((p, RowWishes()) for p in picks))


@dataclass(frozen=True)
class Maker:
    """Builds hoods with other dimensions, without the designer's teeth."""

    folder: Path
    monkeypatch: pytest.MonkeyPatch

    def __call__(self, hood: hood_maker.Hood | None = None, **figures: float) -> Path:
        with self.monkeypatch.context() as patch:
            patch.setattr(hood_maker, "_teeth", list)
            for name, value in figures.items():
                patch.setattr(hood_maker, name, value)
            lean = np.radians([hood_maker.FRONT_FROM, hood_maker.FRONT_TO])
            radius = hood_maker.FRONT_LENGTH / (lean[1] - lean[0])
            centre = (radius * np.cos(lean[0]), hood_maker.LIP_Z - radius * np.sin(lean[0]))
            patch.setattr(hood_maker, "FRONT_R", radius)
            patch.setattr(hood_maker, "FRONT_C", centre)
            sample = hood_maker.sample(("h", "h", "h"), hood or hood_maker.Hood(), HOOD_PLACE)
            path = self.folder / f"hood_{len(list(self.folder.iterdir()))}.stl"
            write_stl(path, sample.corners())
        return path


@pytest.fixture(scope="module")
def make(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Maker]:
    with pytest.MonkeyPatch.context() as patch:
        yield Maker(tmp_path_factory.mktemp("hoods"), patch)


@pytest.fixture(scope="module")
def old(make: Maker) -> Job:
    return job_on(make())


@pytest.fixture(scope="module")
def remembered(old: Job, tmp_path_factory: pytest.TempPathFactory) -> Remembered:
    """What the job's file knows, as if the old mesh were gone."""
    path, pipeline = tmp_path_factory.mktemp("kept") / "hood.snapcomb", Pipeline()
    for row in old.rows:
        pipeline.row_span(old, row)
    save_job(old, path, figures=known_figures(old, pipeline))
    record = read_record(path)
    landmarks = landmarks_of(record.source.landmarks)
    assert landmarks is not None
    assert path.stat().st_size < 80_000
    return Remembered(landmarks, figures_in(record.rows))


@pytest.fixture(params=["with the old mesh", "by its job file alone"])
def on(request: pytest.FixtureRequest, old: Job, remembered: Remembered) -> Callable[[Part], Revision]:
    """Carry the job over, with the old mesh at hand and without."""
    alone = request.param != "with the old mesh"
    return lambda part: carried_over(old, part, Pipeline(), remembered if alone else None)


def statuses(revision: Revision) -> list[str]:
    return [r.status for r in revision.rows]


def lengths(revision: Revision) -> list[float]:
    pipeline = Pipeline()
    return [pipeline.row_span(revision.job, row).length for row in revision.job.rows]


def part(mesh: Mesh) -> Part:
    return Part("revision", mesh)


def test_its_own_mesh_is_where_it_was(old: Job, on: Callable[[Part], Revision]) -> None:
    revision = on(part(old.part.mesh))
    assert statuses(revision) == ["matched", "matched"]
    assert not revision.needs_a_person
    assert [r.pick.edge for r in revision.job.rows] == [r.pick.edge for r in old.rows]
    assert revision.job.pose == old.pose
    assert lengths(revision) == pytest.approx([GAPS["front_lip"]["length_mm"], GAPS["left_side"]["length_mm"]], abs=0.1)


@pytest.mark.parametrize("matrix", [TURNED, ON_THE_BED], ids=["turned", "on the bed"])
def test_a_moved_part_takes_its_rows_along(old: Job, on: Callable[[Part], Revision], matrix: np.ndarray) -> None:
    revision = on(part(old.part.mesh.moved(matrix)))
    assert statuses(revision) == ["moved", "moved"]
    assert revision.motion is not None
    assert np.abs(revision.motion.matrix - matrix).max() < 0.03
    for before, after in zip(old.rows, revision.job.rows, strict=True):
        assert after.pick.edge.array == pytest.approx(before.pick.edge.moved(matrix).array, abs=0.05)
    # the print pose is kept: what was up stays up, and the part stands on the bed again
    up = revision.job.pose.matrix[:3, :3] @ matrix[:3, :3]
    assert up == pytest.approx(old.pose.matrix[:3, :3], abs=1e-3)
    assert revision.job.pose.apply(revision.job.part.mesh.vertices)[:, 2].min() == pytest.approx(0, abs=1e-6)
    assert all(r.residual <= RESIDUAL for r in revision.rows)


def test_inches_are_told_by_the_size(old: Job, on: Callable[[Part], Revision]) -> None:
    """25.4 mm to the inch exactly (NIST)."""
    revision = on(part(Mesh(old.part.mesh.vertices / 25.4, old.part.mesh.triangles)))
    assert statuses(revision) == ["matched", "matched"]
    assert revision.job.part.unit == "inch"
    assert any("read in inch" in note for note in revision.notes)


def test_a_stated_unit_is_never_doubted(old: Job, on: Callable[[Part], Revision]) -> None:
    small = Part("small", Mesh(old.part.mesh.vertices / 25.4, old.part.mesh.triangles), unit_stated=True)
    assert statuses(on(small)) == ["gone", "gone"]


def test_other_triangles_make_no_difference(old: Job, on: Callable[[Part], Revision]) -> None:
    vertices, faces = trimesh.remesh.subdivide(old.part.mesh.vertices, old.part.mesh.triangles)
    assert statuses(on(part(Mesh(vertices, faces.astype(np.int32))))) == ["matched", "matched"]


@pytest.mark.parametrize("share", [0.3, 0.5])
def test_fewer_triangles_make_no_difference(old: Job, on: Callable[[Part], Revision], share: float) -> None:
    mesh = old.part.mesh
    fewer = pv.PolyData.from_regular_faces(mesh.vertices, mesh.triangles).decimate(share)
    coarse = Mesh(np.array(fewer.points, np.float64), np.array(fewer.regular_faces, np.int32))
    assert len(coarse.triangles) < (1 - share + 0.02) * len(mesh.triangles)
    assert statuses(on(part(coarse))) == ["matched", "matched"]
    assert statuses(on(part(coarse.moved(TURNED)))) == ["moved", "moved"]


@pytest.mark.parametrize("longer", [5.0, -4.0])
def test_a_longer_or_shorter_lip_is_a_change(make: Maker, on: Callable[[Part], Revision], longer: float) -> None:
    half = {"LIP_HALF": hood_maker.LIP_HALF + longer, "FIN_HALF": hood_maker.FIN_HALF + longer}
    revision = on(read_part(make(**half)))
    lip = revision.rows[0]
    assert lip.status == "changed"
    assert lip.after is not None
    assert lip.after.length == pytest.approx(GAPS["front_lip"]["length_mm"] + 2 * longer, abs=0.2)
    assert f"was {GAPS['front_lip']['length_mm']:.2f}" in lip.words
    assert revision.needs_a_person


def test_another_gap_is_a_change(make: Maker, on: Callable[[Part], Revision]) -> None:
    revision = on(read_part(make(hood_maker.Hood(2.4, 2.4))))
    assert statuses(revision) == ["changed", "matched"]
    assert "its gap is 2.40 mm, was 1.60" in revision.rows[0].words
    side = on(read_part(make(SIDE_GAP=2.5)))
    assert statuses(side) == ["matched", "changed"]
    assert "its gap is 2.50 mm, was 1.50" in side.rows[1].words


def test_a_lip_that_went_up_with_its_fin_moved(make: Maker, on: Callable[[Part], Revision]) -> None:
    revision = on(read_part(make(LIP_Z=20.0)))
    assert revision.rows[0].status == "moved"
    assert revision.rows[0].way == pytest.approx(2.0, abs=0.05)
    assert "2.00 mm up" in revision.rows[0].words
    assert revision.job.rows[0].pick.edge.array[:, 2] == pytest.approx(20.0, abs=0.05)


def test_an_edge_that_was_removed_is_gone(make: Maker, on: Callable[[Part], Revision]) -> None:
    """A block over the whole lip: no lower edge is left there."""
    lip = np.array(GAPS["front_lip"]["lip"])
    mesh = read_part(make()).mesh
    along = (lip[1] - lip[0]) / np.linalg.norm(lip[1] - lip[0])
    across = np.cross([0, 0, 1.0], along)
    frame = placed(np.column_stack([along, across, [0, 0, 1.0]]), lip.mean(axis=0))
    block = box((-60, -4, -30), (60, 6, 4)).moved(frame)
    import manifold3d as m3

    def solid(m: Mesh) -> m3.Manifold:
        return m3.Manifold(m3.Mesh64(np.array(m.vertices, order="C"), np.array(m.triangles, np.uint64)))

    united = m3.Manifold.batch_boolean([*solid(mesh).decompose(), solid(block)], m3.OpType.Add).to_mesh64()
    revision = on(part(Mesh(np.array(united.vert_properties[:, :3]), np.array(united.tri_verts, np.int32))))
    assert revision.rows[0].status == "gone"
    assert 1 not in {r.number for r in revision.job.rows}


def test_a_fin_that_is_gone_takes_the_row_along(make: Maker, on: Callable[[Part], Revision]) -> None:
    revision = on(read_part(make(hood_maker.Hood(17.5, 17.5))))
    assert revision.rows[0].status == "gone"
    assert "its edge is there" in revision.rows[0].words


def test_another_part_is_no_revision(on: Callable[[Part], Revision]) -> None:
    revision = on(read_part(sample_path("busy_panel")))
    assert statuses(revision) == ["gone", "gone"]
    assert (revision.motion, revision.job.rows) == (None, ())


# Doubt


def shelf(z: float, deep: float = 8.0) -> Mesh:
    """A shelf 40 wide that juts out of a wall at height ``z``."""
    return box((0, -deep, z), (40, 1, z + 1))


def cupboard(*heights: float) -> Part:
    """Shelves on a wall, a ledge below each, and a knob by which left and right can be told."""
    ledges = [box((0, -8, z - 2.5), (40, -6.5, z - 1.5)) for z in heights]
    posts = [box((-3, -8, 0), (0, 1, 60)), box((5, 3, 50), (9, 6, 57))]
    return Part("cupboard", joined([box((0, 0, 0), (40, 3, 60)), *posts, *map(shelf, heights), *ledges]))


def cupboard_job(height: float = 30.0) -> Job:
    """A row below the front edge of the shelf at a height."""
    pick = Pick(Polyline(((1.0, -8.0, height), (39.0, -8.0, height))))
    return add_rows(new_job(cupboard(height)), ((pick, RowWishes()),))


def test_two_edges_as_likely_are_never_chosen_between() -> None:
    job = cupboard_job()
    assert Pipeline().row_span(job, job.rows[0]).gap_range == pytest.approx((1.5, 1.5), abs=1e-6)
    revision = carried_over(job, cupboard(27.0, 33.0), Pipeline())
    (row,) = revision.rows
    assert row.status == "ambiguous"
    assert {27.0, 33.0} <= {round(pick.edge.array[0, 2], 2) for pick in row.choices}
    assert "3.00 mm up" in row.words
    assert "3.00 mm down" in row.words
    assert revision.job.rows == ()
    lower = next(i for i, pick in enumerate(row.choices) if round(pick.edge.array[0, 2]) == 27)
    assert settled(revision, job).rows == ()
    decided = settled(revision, job, {1: lower})
    assert [r.wishes for r in decided.rows] == [job.rows[0].wishes]
    # the gap below the shelf at 27 goes from its ledge's top at 25.5
    assert Pipeline().row_span(decided, decided.rows[0]).gap_range == pytest.approx((1.5, 1.5), abs=1e-6)


def test_a_row_that_is_left_out_stays_out(old: Job) -> None:
    revision = carried_over(old, old.part, Pipeline())
    assert [r.number for r in settled(revision, old, left_out=[1]).rows] == [2]


def test_the_nearer_of_two_unlike_places_is_told_as_moved() -> None:
    revision = carried_over(cupboard_job(), cupboard(31.0, 44.0), Pipeline())
    assert [(r.status, round(r.way, 2)) for r in revision.rows] == [("moved", 1.0)]


def test_an_edge_that_stayed_is_no_doubt_whatever_else_is_new() -> None:
    revision = carried_over(cupboard_job(), cupboard(27.0, 30.0, 33.0), Pipeline())
    assert [r.status for r in revision.rows] == ["matched"]


def test_a_symmetric_part_that_was_turned_is_in_doubt() -> None:
    """A plain block overhanging two ledges looks the same from both ends; where its one row went nobody can say."""
    def trestle() -> Mesh:
        ledges = [box((x, -6, 0), (x + 1.2, 6, 18)) for x in (-20.0, 18.8)]
        return joined([box((-3, -6, 0), (3, 6, 24)), box((-20, -6, 20), (20, 6, 24)), *ledges])

    pick = Pick(Polyline(((-20.0, -6.0, 20.0), (-20.0, 6.0, 20.0))))
    job = add_rows(new_job(Part("trestle", trestle())), ((pick, RowWishes()),))
    revision = carried_over(job, Part("turned", trestle().moved(placed(about_z(37), [50.0, 20.0, 0.0]))), Pipeline())
    (row,) = revision.rows
    assert row.status == "ambiguous"
    assert len(row.choices) == 2
    assert "fits in 2 ways" in row.words


def test_a_part_that_fits_in_many_ways_but_for_the_rows_own_edge_is_not_in_doubt() -> None:
    """A square plate with a grid of holes looks the same from four sides; the bar with the row's edge has one place."""
    from tests.benchmarks.parts import BAR, GAP, machined
    from tests.meshes import bar_over_ledge

    pick = Pick(Polyline.of(bar_over_ledge(BAR, GAP).edge))
    job = add_rows(new_job(Part("plate", machined(60_000))), ((pick, RowWishes()),))
    shifted = machined(60_000).moved(placed(np.eye(3), [7.5, -3.0, 0.0]))
    revision = carried_over(job, Part("moved", shifted), Pipeline())
    assert statuses(revision) == ["moved"]
    assert revision.job.rows[0].pick.edge.array == pytest.approx(pick.edge.array + np.array([7.5, -3, 0]), abs=0.02)


def test_a_round_row_goes_with_a_part_that_looks_the_same_thrice() -> None:
    """The shroud has three feet, so it fits in three ways; its row goes all round and is the same in each."""
    rim = next(g for g in truth()["samples"]["round_shroud"]["gaps"] if g["weak_spot"])
    shroud = read_part(sample_path("round_shroud"))
    job = add_rows(new_job(shroud), ((Pick(Polyline.of(rim["edge"], True)), RowWishes()),))
    revision = carried_over(job, part(shroud.mesh.moved(ON_THE_BED)), Pipeline())
    assert [r.status for r in revision.rows] == ["moved"]


def overhang(under: float = 12.0, bar: bool = True) -> Part:
    """A plate at a height on a wall, with a knob to tell its sides, over a bare bed."""
    bodies = [box((0, 0, 0), (40, 3, 30)), box((5, 3, 20), (9, 6, 27))]
    return Part("overhang", joined([*bodies, box((0, -20, under), (40, 1, under + 3))] if bar else bodies))


def test_a_single_post_goes_with_the_part_and_is_never_left_where_nothing_hangs() -> None:
    old = new_job(overhang())
    job = add_posts(old, (((20.0, -12.0, 12.0), ""),))
    assert [r.status for r in carried_over(job, overhang(), Pipeline()).rows] == ["matched"]
    moved = carried_over(job, part(overhang().mesh.moved(ON_THE_BED)), Pipeline())
    assert [r.status for r in moved.rows] == ["moved"]
    assert moved.job.posts[0].at == pytest.approx((ON_THE_BED @ [20, -12, 12, 1])[:3], abs=0.02)
    raised = carried_over(job, overhang(12.6), Pipeline())
    assert [(r.status, "0.60 mm higher" in r.words) for r in raised.rows] == [("changed", True)]
    assert settled(raised, job, left_out=[job.posts[0].number]).posts == ()
    bare = carried_over(job, overhang(bar=False), Pipeline())
    assert [r.status for r in bare.rows] == ["gone"]
    assert bare.job.posts == ()


# What else belongs to a job


def test_what_follows_the_part_is_carried_along(old: Job) -> None:
    from dataclasses import replace

    told = replace(
        old, pose=turn_over(old.part.mesh, old.pose), pieces=(("piece-0", True),), dismissed=("bridge@1,2,3",),
        notes=("mine",), bond="skin",
    )  # fmt: skip
    moved = carried_over(told, part(old.part.mesh.moved(ON_THE_BED)), Pipeline())
    assert (moved.job.notes, moved.job.bond, moved.job.pieces) == (("mine",), "skin", ())
    assert any("pieces" in note for note in moved.notes)
    x = ON_THE_BED @ [1, 2, 3, 1]
    name, place = moved.job.dismissed[0].split("@")
    assert name == "bridge"
    assert [float(c) for c in place.split(",")] == pytest.approx(x[:3], abs=0.26)  # places are rounded to 0.5 mm
    assert moved.job.pose.turn([0, 0, 1]) == pytest.approx([0, 0, -1], abs=1e-3)


def test_the_new_job_is_saved_and_opened(old: Job, make: Maker, tmp_path: Path) -> None:
    revision = carried_over(old, read_part(make(LIP_Z=20.0)), Pipeline())
    save_job(revision.job, tmp_path / "new.snapcomb")
    assert load_job(tmp_path / "new.snapcomb").rows == revision.job.rows


def test_the_makers_are_left_as_they_were() -> None:
    fresh = importlib.reload(hood_maker)
    assert (fresh.LIP_Z, fresh.LIP_HALF) == (18.0, 37.0)
