"""What the job sheet says, held against the samples' own dimensions and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from core.design.plan import RowPlan, RowWishes
from core.errors import BadValue
from core.files.read import read_part
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import turn_over
from core.job.fit import run_rows
from core.job.job import Job, Pick, add_rows, new_job
from core.job.pipeline import Pipeline
from core.job.sheet import FileMark, JobSheet, file_mark, job_sheet
from core.job.sheet_lists import first_layer_of_edge, pose_words, removal
from core.job.sheet_row import HOP, flank_angle
from samples import sample_path, truth

GAP = next(g for g in truth()["samples"]["rain_hood"]["gaps"] if g["id"] == "front_lip")
ROW = Pick(Polyline.of(GAP["edge"]))


def job(*wishes: RowWishes, part: Part | None = None) -> Job:
    return add_rows(new_job(part or read_part(sample_path("rain_hood"))), tuple((ROW, w) for w in wishes))


def sheet_of(job: Job, **more: object) -> JobSheet:
    return job_sheet(job, run_rows(job, Pipeline()), **more)


@pytest.fixture(scope="module")
def hood() -> JobSheet:
    return sheet_of(job(RowWishes(tip=0.5)))


def test_every_dimension_is_told_with_where_it_comes_from(hood: JobSheet) -> None:
    told = {m.name: (round(m.mm, 3), m.origin) for m in hood.rows[0].measures}
    assert told["Length of the span"] == (GAP["length_mm"], "measured")
    assert told["Gap"] == (GAP["gap_min_mm"], "measured")
    assert told["Edge above the bed"] == (18.0, "measured")
    assert told["Ledge above the bed"] == (18.0 - GAP["gap_min_mm"], "measured")
    assert told["Tip"] == (0.5, "as set")
    assert told["Foot"][1] == "by rule"
    plan: RowPlan = hood.rows[0].plan
    for name in ("pitch", "foot", "tip", "thickness", "sink_ledge", "sink_part", "air", "end_clearance"):
        assert any(m.mm == pytest.approx(getattr(plan, name)) for m in hood.rows[0].measures), name
    # n teeth at one pitch between two end clearances span the length exactly
    told_mm = {name: value for name, (value, _) in told.items()}
    whole = 2 * told_mm["End clearance"] + plan.tip + (plan.teeth - 1) * told_mm["Pitch"]
    assert whole == pytest.approx(GAP["length_mm"], abs=0.02)


def test_a_gap_that_changes_is_told_at_both_ends() -> None:
    gap = next(g for g in truth()["samples"]["sloping_hood"]["gaps"] if g["id"] == "front_lip")
    part = read_part(sample_path("sloping_hood"))
    sheet = sheet_of(add_rows(new_job(part), ((Pick(Polyline.of(gap["edge"])), RowWishes()),)))
    told = {m.name: m.mm for m in sheet.rows[0].measures}
    assert told["Gap, least"] == pytest.approx(gap["gap_min_mm"], abs=0.02)
    assert told["Gap, greatest"] == pytest.approx(gap["gap_max_mm"], abs=0.02)


def test_the_flank_of_a_straight_tooth_is_its_arc_tangent(hood: JobSheet) -> None:
    """Worked by hand: foot 2.0, tip 0.8, height 1.2 mm leans atan(0.6 / 1.2) = 26.565° from vertical."""
    plan = replace(hood.rows[0].plan, foot=2.0, tip=0.8, heights=hood.rows[0].plan.heights * 0 + 1.2)
    assert flank_angle(plan) == pytest.approx(26.565, abs=1e-3)
    assert flank_angle(replace(plan, shape="rake")) == pytest.approx(45.0)


def test_forces_are_ranges_and_the_row_is_its_teeth_together(hood: JobSheet) -> None:
    row = hood.rows[0]
    for pull in row.pulls:
        assert 0 < pull.tooth.low < pull.tooth.high
        assert pull.row.high == pytest.approx(row.plan.teeth * pull.tooth.high)
    # plain statics: a neck of tip × thickness at the weakest published strength across layers, 22.8 MPa for PLA
    straight = next(p for p in row.pulls if p.name == "Pulled straight off")
    assert straight.tooth.low == pytest.approx(22.8 * row.plan.tip * row.plan.thickness)


def test_added_material_and_time(hood: JobSheet) -> None:
    row = hood.rows[0]
    said = dict(hood.added)
    assert said["Teeth added"] == str(row.plan.teeth)
    # a filament of 1.75 mm has π/4 · 1.75² mm² in section
    assert said["Filament added"].startswith(f"{row.proof.volume / (math.pi / 4 * 1.75**2):.0f} mm")
    assert row.seconds > row.plan.teeth * math.ceil(1.6 / 0.2) * HOP


def test_the_layers_to_look_at_are_those_about_the_edge(hood: JobSheet) -> None:
    """At 0.2 mm layers an edge at 18.0 mm lies between layer 90 (top at 18.0) and layer 91."""
    assert first_layer_of_edge(hood.job, hood.rows[0]) == 91
    assert any("layers 90 and 91 (tops at 18.00 and 18.20 mm)" in line for line in hood.handing_over)
    thick = replace(hood.job, setup=replace(hood.job.setup, layer_height=0.3, first_layer=0.3))
    assert first_layer_of_edge(thick, hood.rows[0]) == 61


def test_handing_over_follows_bond_pose_and_walls() -> None:
    shells = sheet_of(job(RowWishes()))
    assert any("bodies of their own" in line for line in shells.handing_over)
    skin = sheet_of(replace(job(RowWishes()), bond="skin"))
    assert any("one closed surface" in line for line in skin.handing_over)
    turned = new_job(read_part(sample_path("rain_hood")))
    turned = replace(turned, pose=turn_over(turned.part.mesh, turned.pose))
    assert pose_words(turned) == "turned: the direction (0.000, 0.000, -1.000) of the file is up"


def test_who_made_it_comes_first_and_silence_is_told() -> None:
    part = read_part(sample_path("rain_hood"))
    said = (("Application", "a program"), ("LicenseTerms", " free  to\nshare "), ("Designer", "Ada"), ("Empty", " "))
    named = sheet_of(job(RowWishes(), part=replace(part, metadata=said)))
    assert [tuple(c) for c in named.credits] == [
        ("Designer", "Ada"), ("LicenseTerms", "free to share"), ("Application", "a program")
    ]  # fmt: skip
    silent = sheet_of(replace(job(RowWishes()), notes=("Print it in white.",)))
    assert [c.name for c in silent.credits] == ["Designer and licence", "Note"]


def test_a_job_without_rows_has_no_sheet() -> None:
    with pytest.raises(BadValue, match="no row of teeth"):
        sheet_of(new_job(read_part(sample_path("rain_hood"))))


def test_a_row_that_cannot_be_worked_out_is_told_by_its_number() -> None:
    two = job(RowWishes(), RowWishes(thickness=5.0))
    sheet = sheet_of(two)
    assert [r.number for r in sheet.rows] == [1]
    assert len(sheet.skipped) == 1
    assert sheet.skipped[0].startswith("Row 2 could not be worked out: ")
    assert sheet.needs_a_person
    assert [s.state for s in sheet.steps if s.name in ("Span", "Teeth", "Proof")] == ["Look"] * 3


def test_removal_tells_rows_of_one_piece_once(hood: JobSheet) -> None:
    assert removal(hood.rows) == hood.rows[0].proof.piece.order
    assert removal((*hood.rows, *hood.rows)) == removal(hood.rows)


def test_files_carry_their_checksum(tmp_path: Path, hood: JobSheet) -> None:
    """SHA-256 of "abc": FIPS 180-4, example in the appendix of FIPS 180-2."""
    path = tmp_path / "abc.txt"
    path.write_bytes(b"abc")
    mark = file_mark(path, "A file")
    assert mark == FileMark(
        "A file", "abc.txt", 3, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    source = hood.job.part.source
    assert source is not None
    assert (hood.files[0].name, hood.files[0].sha256) == ("rain_hood.stl", source.sha256)
