"""Each stage runs once for its inputs: changing one value works out again only what depends on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.design.plan import RowWishes
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.topology import Topology
from core.job.job import Job, Pick, Row, new_job
from core.job.pipeline import Pipeline
from tests import meshes


@pytest.fixture
def job() -> Job:
    """Two rows under a bar of 60 mm over its ledge, side by side."""
    bar = meshes.bar_over_ledge(60, 1.2)
    pick = Pick(Polyline.of(bar.edge))
    rows = (Row(1, pick, RowWishes(teeth=4, stop=32)), Row(2, pick, RowWishes(teeth=4, start=32)))
    return replace(new_job(Part("bar", bar.mesh)), rows=rows)


def ran(pipeline: Pipeline, work) -> dict[str, int]:
    """How often each stage ran for it."""
    before = pipeline.counts.copy()
    work()
    return {stage: n - before[stage] for stage, n in pipeline.counts.items() if n != before[stage]}


def test_the_first_time_everything_runs_and_the_second_time_nothing(job):
    pipeline = Pipeline()
    assert ran(pipeline, lambda: pipeline.bonded_part(job)) == {
        "bed_mesh": 1, "span": 1, "plan": 2, "teeth": 2, "bond": 1,
    }  # fmt: skip
    assert ran(pipeline, lambda: pipeline.bonded_part(job)) == {}


def test_another_tooth_count_plans_one_row_again(job):
    pipeline = Pipeline()
    pipeline.bonded_part(job)
    first = replace(job.rows[0], wishes=RowWishes(teeth=5, stop=32))
    changed = replace(job, rows=(first, job.rows[1]))
    assert ran(pipeline, lambda: pipeline.bonded_part(changed)) == {"plan": 1, "teeth": 1, "bond": 1}


def test_a_value_that_no_span_depends_on_measures_nothing_again(job):
    pipeline = Pipeline()
    pipeline.bonded_part(job)
    changed = replace(job, setup=replace(job.setup, air_layers=job.setup.air_layers + 1))
    counts = ran(pipeline, lambda: pipeline.bonded_part(changed))
    assert "span" not in counts
    assert counts["plan"] == 2


def test_the_surface_for_one_skin_is_made_once(job):
    pipeline = Pipeline()
    skin = replace(job, bond="skin")
    assert ran(pipeline, lambda: pipeline.bonded_part(skin))["surface"] == 1
    fewer = replace(skin, rows=skin.rows[:1])
    assert ran(pipeline, lambda: pipeline.bonded_part(fewer)) == {"bond": 1}
    assert Topology.of(pipeline.bonded_part(fewer)).watertight


def test_what_was_kept_is_what_comes_afresh(job):
    pipeline = Pipeline()
    pipeline.bonded_part(replace(job, rows=job.rows[:1]))
    np.testing.assert_array_equal(pipeline.bonded_part(job).corners, Pipeline().bonded_part(job).corners)
