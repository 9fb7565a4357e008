"""Replies that come in after the job has gone on are not taken for replies about the job as it is now."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication

from app.bench import Bench
from app.store import Store
from app.work.runner import Runner
from core.diagnose.edge_index import edge_index
from core.geometry.mesh import Mesh
from core.geometry.part import Part
from core.job.hand_over import HandedOver
from core.job.job import Job, new_job
from tests import meshes


class Slow(Runner):
    """Keeps what it was asked for, to be answered when the test says so."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[tuple[int, str, tuple[object, ...]]] = []

    def _send(self, ticket: int, lane: str, task: str, args: tuple[object, ...]) -> None:
        self.asked.append((ticket, task, args))

    def answer(self, task: str, reply: object) -> None:
        ticket = next(t for t, name, _ in reversed(self.asked) if name == task)
        self._receive("done", ticket, reply)


@pytest.fixture
def bench(qapp: QCoreApplication) -> Bench:
    return Bench(Store(), Slow())


def begun(bench: Bench, mesh: Mesh, name: str) -> Job:
    job = new_job(Part(name, mesh))
    bench.begin(job, edge_index(job.part, job.pose))
    return job


def test_edges_of_a_part_that_was_put_away(bench: Bench) -> None:
    first = begun(bench, meshes.box(), "box.stl")
    bench.turn(90)  # its edges are asked for …
    late = edge_index(first.part, bench.job.pose)
    second = begun(bench, meshes.bar_over_ledge().mesh, "bar.stl")  # … and another part is opened meanwhile
    edges = bench.results.edges
    bench.runner.answer("edges", late)
    assert bench.results.edges is edges
    assert second.part.topology is edges.graph.topology


def test_an_edit_made_while_the_file_is_written_is_not_in_it(bench: Bench) -> None:
    begun(bench, meshes.box(), "box.stl")
    bench.change("Note", lambda job: replace(job, notes=("first",)))
    bench.hand_over(Path("box_with_teeth.stl"))
    bench.change("Note", lambda job: replace(job, notes=("second",)))
    bench.runner.answer("write", HandedOver.__new__(HandedOver))
    assert bench.store.unsaved
    assert bench.results.handed is None


def test_what_was_written_is_safe(bench: Bench) -> None:
    begun(bench, meshes.box(), "box.stl")
    bench.change("Note", lambda job: replace(job, notes=("first",)))
    bench.hand_over(Path("box_with_teeth.stl"))
    bench.runner.answer("write", HandedOver.__new__(HandedOver))
    assert not bench.store.unsaved
