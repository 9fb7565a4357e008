"""Fitting rows to what an inspection found: which gaps, sized how, and what is told of those that get none."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from core.design.plan import RowWishes
from core.diagnose.inspection import Inspection, inspect_part
from core.errors import BadValue
from core.files.read import read_part
from core.job.fit import fit_rows, fitted_json, gap_pick, run_rows
from core.job.job import Job, new_job
from core.job.pipeline import Pipeline


@pytest.fixture(scope="module")
def hood() -> tuple[Job, Inspection]:
    job = new_job(read_part(Path(str(files("samples") / "rain_hood.stl"))))
    return job, inspect_part(job.part, job.pose, job.setup)


def open_gap(found: Inspection) -> str:
    return next(g.id for g in found.gaps if not g.enough)


def test_all_means_the_gaps_that_lack_teeth_and_no_other(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    fitted = fit_rows(job, found, Pipeline())
    assert [a.gap for a in fitted.added] == [g.id for g in found.gaps if not g.enough]
    assert fitted.job.rows[0].number == 1
    assert not fitted.needs_a_person
    assert job.rows == ()


def test_a_gap_that_cannot_have_a_row_is_told_and_the_others_get_theirs(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    names = [g.id for g in found.gaps]
    fitted = fit_rows(job, found, Pipeline(), gaps=names)
    assert {a.gap for a in fitted.added} | {s.gap for s in fitted.skipped} == set(names)
    assert open_gap(found) in {a.gap for a in fitted.added}
    assert fitted.skipped
    assert all("No new teeth are needed" in s.why for s in fitted.skipped)
    assert fitted.needs_a_person


def test_a_side_row_taken_as_the_pattern_says_what_does_not_carry_over(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    side = next(r for r in found.rows if r.direction == "side")
    fitted = fit_rows(job, found, Pipeline(), gaps=[open_gap(found)], like=side.id)
    (one,) = fitted.added
    assert any("break the other way" in w for w in one.words)
    assert one.design.plan.tip == pytest.approx(side.tip, abs=1e-3)
    assert one.design.plan.pitch == pytest.approx(side.pitch, abs=1e-3)


def test_what_is_set_outranks_the_pattern_and_a_count_outranks_its_pitch(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    side = next(r for r in found.rows if r.direction == "side")
    wishes = RowWishes(teeth=9, tip=0.8)
    (one,) = fit_rows(job, found, Pipeline(), gaps=[open_gap(found)], like=side.id, wishes=wishes).added
    assert (one.design.plan.teeth, one.design.plan.tip) == (9, 0.8)


def test_a_pick_made_from_a_gap_is_measured_as_that_gap_again(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    for gap in found.gaps:
        span = Pipeline().span(job, gap_pick(job, gap.id, gap.span))
        assert span.direction == gap.direction
        assert span.length == pytest.approx(gap.span.length, rel=0.01)
        assert span.gap_range == pytest.approx(gap.span.gap_range, abs=0.02)


def test_running_the_rows_again_gives_the_same_rows(hood: tuple[Job, Inspection]) -> None:
    job, found = hood
    fitted = fit_rows(job, found, Pipeline())
    again = run_rows(fitted.job, Pipeline(), found=found)
    assert fitted_json(again) == fitted_json(fitted)
    a, b = (f.added[0].design.teeth.mesh().vertices for f in (fitted, again))
    assert np.array_equal(a, b)


@pytest.mark.parametrize(("gaps", "like"), [(["g99"], None), (None, "r99")])
def test_names_that_are_not_there_are_refused(hood: tuple[Job, Inspection], gaps: list[str] | None, like: str) -> None:
    job, found = hood
    with pytest.raises(BadValue, match=r"no (gap|row) [gr]99"):
        fit_rows(job, found, Pipeline(), gaps=gaps, like=like)
