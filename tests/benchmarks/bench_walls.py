"""A wall with its row below a closed rim of 300 mm on a part of a million facets: what a preview and a build cost.

Times are processor times, beside the floor of one copy of the part's corners in the same run.
"""

from __future__ import annotations

import statistics
from dataclasses import replace

import numpy as np
import pytest

from core.design.wall import WallWishes
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.job.job import Job, Pick, new_job, pick_edge, wish_wall
from core.job.pipeline import Pipeline, RowDesign
from tests.benchmarks.ratios import timed
from tests.meshes import box

#: Length of the rim, height above the bed, wall of the tube and its height, mm.
RIM, LOW, THICK, HIGH = 300.0, 15.0, 2.0, 60.0
AROUND, UP = 1000, 250


def tube() -> tuple[Mesh, Polyline]:
    """An upright tube of a million facets that hangs above the bed beside a pillar, and its lower rim, mm."""
    turn, radius = 2 * np.pi * np.arange(AROUND) / AROUND, RIM / (2 * np.pi)
    heights = np.linspace(LOW, LOW + HIGH, UP)

    def ring(r: float, z: float) -> np.ndarray:
        return np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(AROUND, z)])

    rings = [ring(radius, z) for z in heights] + [ring(radius - THICK, z) for z in heights[::-1]]
    i, j = np.arange(AROUND), (np.arange(AROUND) + 1) % AROUND
    triangles = []
    for a in range(len(rings)):
        low, high = a * AROUND, (a + 1) % len(rings) * AROUND
        triangles += [np.column_stack([low + i, low + j, high + j]), np.column_stack([low + i, high + j, high + i])]
    mesh = Mesh(np.vstack(rings), np.concatenate(triangles).astype(np.int32))
    assert mesh.volume > 0
    return joined([mesh, box((-5, -60, 0), (5, -46.9, 30))]), Polyline.of(ring(radius, LOW), True)


@pytest.fixture(scope="module")
def job() -> Job:
    mesh, rim = tube()
    assert len(mesh.triangles) >= 1_000_000
    return wish_wall(pick_edge(new_job(Part("tube", mesh)), Pick(rim)), WallWishes())


def test_a_wall_is_built_in_two_seconds(job: Job) -> None:
    _, floor = timed(job.part.mesh.vertices.copy)
    _, busy = timed(lambda: Pipeline().design(job, job.draft))
    print(f"\nbuild with its row {busy:.2f} s of processor time, × {busy / floor:.0f} a copy of the corners")
    assert busy <= 2.0


def test_a_figure_that_is_dragged_is_shown_within_a_tenth_of_a_second(job: Job) -> None:
    pipeline = Pipeline()
    last = pipeline.design(job, job.draft)
    spent = []

    def show(**figures: float) -> RowDesign:
        trial = wish_wall(job, replace(job.draft.wall, **figures))
        return pipeline.sketch(trial, trial.draft, last)

    for gap in np.arange(1.2, 2.2, 0.1):
        spent.append(timed(lambda gap=gap: show(gap=float(gap)))[1])
    for clearance in np.arange(0.55, 1.05, 0.1):
        spent.append(timed(lambda c=clearance: show(clearance=float(c)))[1])
    print(f"\npreview {1000 * statistics.median(spent):.0f} ms of processor time, at most {1000 * max(spent):.0f} ms")
    assert max(spent) <= 0.1
