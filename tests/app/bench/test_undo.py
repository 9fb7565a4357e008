"""Undo and redo over everything that can be done to a job: there and back is the same job, whatever came before."""

from __future__ import annotations

import inspect
import tracemalloc
from collections.abc import Callable
from dataclasses import fields, replace

import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test
from PySide6.QtCore import QCoreApplication

from app.bench import Bench
from app.store import Store
from app.work.runner import Runner
from core.design.materials import MATERIALS
from core.design.row import RowWishes
from core.design.wall import WallWishes
from core.errors import SnapcombError
from core.geometry.mesh import Mesh
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.job import job as edits
from core.job.job import Job, Pick, new_job
from core.job.job_record import SourceRecord, job_record
from core.proof.learn import Lesson, Outcome
from tests import meshes

FIGURES = st.floats(0.3, 6.0, allow_nan=False)
NUMBERS = st.integers(1, 6)
#: Edits of a job by the name of their function, each with what it is called with. A new one has to be put here.
EDITS: dict[str, tuple[st.SearchStrategy[object], ...]] = {}


def the_part(mesh: Mesh | None = None) -> Part:
    return Part("bar.stl", mesh if mesh is not None else meshes.bar_over_ledge().mesh)


SPAN = meshes.bar_over_ledge()
EDGE, LEDGE = Polyline.of(SPAN.edge), Polyline.of(SPAN.ledge)
PICKS = st.sampled_from([Pick(EDGE, LEDGE), Pick(EDGE), Pick(EDGE, LEDGE, gap="g1"), Pick(EDGE, None, (0.0, 1.0, 0.0))])
WISHES = st.builds(
    RowWishes, shape=st.sampled_from(["straight", "arc_tip", "post"]), teeth=st.none() | st.integers(1, 12),
    tip=st.none() | st.floats(0.4, 1.5), start=st.floats(0, 4), left_out=st.sampled_from([(), (1,), (0, 2)]),
    moved=st.sampled_from([(), ((1, 0.3),), ((0, -0.2), (2, 0.5))]),
)  # fmt: skip
WALLS = st.builds(WallWishes, gap=st.none() | st.floats(0.6, 3.0))
POINTS = st.sampled_from([((1.0, 2.0, 9.5), ""), ((-3.25, 0.5, 12.0), "spot a")])
SEEN = st.builds(Outcome, came_off=st.sampled_from(["fingers", "pliers", "stuck"]), pulled=st.none() | st.floats(1, 90))
EDITS |= {
    "pick_edge": (PICKS,),
    "pick_ledge": (st.sampled_from([None, LEDGE]),),
    "wish": (WISHES,),
    "wish_wall": (st.none() | WALLS,),
    "drop_draft": (),
    "add_row": (),
    "add_rows": (st.lists(st.tuples(PICKS, WISHES), max_size=3).map(tuple),),
    "add_walls": (st.lists(st.tuples(PICKS, WISHES, WALLS), max_size=2).map(tuple),),
    "add_posts": (st.lists(POINTS, max_size=2).map(tuple), st.none() | WALLS),
    "take_out": (NUMBERS,),
    "take_out_post": (NUMBERS,),
    "take_in_hand": (NUMBERS,),
    "read_in": (st.sampled_from(["millimeter", "inch", "centimeter"]),),
    "dismiss": (st.sampled_from(["spot a", "spot b", "spot c"]),),
    "judge_piece": (st.sampled_from(["fin", "bar"]), st.booleans()),
    "note_outcome": (NUMBERS, st.none() | SEEN),
}


def text_of(job: Job | None) -> bytes:
    """The job as it would stand in a file, so that two of them can be compared to the last figure."""
    if job is None:
        return b""
    source = SourceRecord(name="bar.stl", size=1, sha256="0" * 64, unit="millimeter")
    return msgspec.json.encode(job_record(job, source, "test"))


class AtOnce(Runner):
    """Nothing is worked out: only what is decided is tried here."""

    def _send(self, ticket: int, lane: str, task: str, args: tuple[object, ...]) -> None:
        self._waiting.pop(ticket, None)


class Hands(RuleBasedStateMachine):
    """Edits, drags, undo, redo and jumps in any order, beside a plain list of what the job was."""

    def __init__(self) -> None:
        super().__init__()
        self.store = Store()
        self.bench = Bench(self.store, AtOnce())
        first = new_job(the_part())
        self.store.open(first)
        self.jobs, self.labels, self.at = [first], list[str](), 0
        self.texts = [text_of(first)]

    def _expect(self, label: str) -> None:
        """Whatever was done is one step more when it changed something, and none when it did not."""
        if self.store.job is self.jobs[self.at]:
            return
        del self.jobs[self.at + 1 :], self.labels[self.at :], self.texts[self.at + 1 :]
        self.jobs.append(self.store.job)
        self.texts.append(text_of(self.store.job))
        self.labels.append(label)
        self.at += 1

    @rule(name=st.sampled_from(sorted(EDITS)), data=st.data())
    def edit(self, name: str, data: st.DataObject) -> None:
        arguments = [data.draw(one) for one in EDITS[name]]
        self.bench.change(name, lambda job: getattr(edits, name)(job, *arguments))
        self._expect(name)

    @rule(layer=st.sampled_from([0.1, 0.2, 0.28, -1.0]), material=st.sampled_from(sorted(m.name for m in MATERIALS)))
    def setup(self, layer: float, material: str) -> None:
        self.bench.set_setup("setup", layer_height=layer, material=material)
        self._expect("setup")

    @rule(which=st.sampled_from(["turn_over", "turn", "pose_as_filed"]), degrees=st.sampled_from([90.0, 0.0, 33.3]))
    def pose(self, which: str, degrees: float) -> None:
        getattr(self.bench, which)(*([degrees] if which == "turn" else []))
        self._expect(self.store.undo_label or "")

    @rule(x=st.floats(-1, 1), y=st.floats(-1, 1), on=st.booleans())
    def axes(self, x: float, y: float, on: bool) -> None:
        self.bench.line_up(np.array([x, y + 2.0, 0.0])) if on else self.bench.drop_axes()
        self._expect(self.store.undo_label or "")

    @rule(field=st.sampled_from(["bond", "notes"]), word=st.sampled_from(["shells", "skin"]))
    def own_words(self, field: str, word: str) -> None:
        self.bench.change(field, lambda job: replace(job, **{field: word if field == "bond" else (word,)}))
        self._expect(field)

    @rule(teach=st.booleans())
    def lesson(self, teach: bool) -> None:
        assert self.store.job is not None
        lesson = Lesson("a coupon", self.store.job.setup, ())
        self.bench.teach("teach", lesson) if teach else self.bench.forget("forget", lesson)
        self._expect("teach" if teach else "forget")

    @precondition(lambda self: self.store.job.draft is not None)
    @rule(wishes=st.lists(WISHES, min_size=1, max_size=5), ending=st.sampled_from(["keep", "give up", "undo", "edit"]))
    def drag(self, wishes: list[RowWishes], ending: str) -> None:
        """Any number of previews are one step when they are kept, and nothing at all when they are not."""
        before, history = self.store.job, self.store.history
        self.store.begin_drag("drag")
        for one in wishes:
            self.store.preview(lambda job, w=one: edits.wish(job, w))
            assert self.store.history == history
        if ending == "undo":
            self.undo()
            return
        if ending == "edit":
            self.store.apply("edit", lambda job: replace(job, notes=("in the middle of a drag",)))
            assert self.store.job.draft is before.draft
            self._expect("edit")
            return
        self.store.end_drag(commit=ending == "keep")
        if ending == "give up":
            assert self.store.job is before
        self._expect("drag")

    @rule()
    def refused(self) -> None:
        """An edit that fails half way leaves everything as it was."""

        def fails(job: Job) -> Job:
            raise SnapcombError("No.", "Try something else.")

        self.bench.change("refused", fails)

    @rule()
    def undo(self) -> None:
        self.store.undo()
        self.at = max(self.at - 1, 0)

    @rule()
    def redo(self) -> None:
        self.store.redo()
        self.at = min(self.at + 1, len(self.jobs) - 1)

    @rule()
    def there_and_back(self) -> None:
        """Undo and redo, as often as there is something to take back, end where they began."""
        steps = self.at
        for _ in range(steps):
            self.store.undo()
        assert self.store.job is self.jobs[0]
        for k in range(steps):
            self.store.redo()
            assert self.store.job is self.jobs[k + 1]

    @rule(to=st.integers(-2, 60))
    def jump(self, to: int) -> None:
        self.store.jump(to)
        if 0 <= to < len(self.jobs):
            self.at = to

    @invariant()
    def the_job_is_what_it_was(self) -> None:
        assert self.store.job is self.jobs[self.at]
        assert text_of(self.store.job) == self.texts[self.at]

    @invariant()
    def the_history_tells_it(self) -> None:
        assert self.store.history == self.labels[: self.at]
        assert self.store.undone == self.labels[self.at :]
        assert self.store.undo_label == (self.labels[self.at - 1] if self.at else None)
        assert self.store.redo_label == (self.labels[self.at] if self.at < len(self.labels) else None)


def test_undo_and_redo_are_each_others_inverse(qapp: QCoreApplication) -> None:
    run_state_machine_as_test(
        Hands,
        settings=settings(max_examples=60, stateful_step_count=40, suppress_health_check=list(HealthCheck)),
    )


def test_every_edit_is_tried() -> None:
    """The table names every function of the job that takes a job and gives one."""
    found = {
        name for name, one in inspect.getmembers(edits, inspect.isfunction)
        if one.__module__ == edits.__name__ and not name.startswith("_")
        and next(iter(inspect.signature(one).parameters), "") == "job"
        and inspect.signature(one).return_annotation == "Job"
    }  # fmt: skip
    assert found == set(EDITS)


def a_step_each(bench: Bench) -> list[Callable[[], object]]:
    """One edit of every kind that leaves something behind in a history."""
    change = bench.change
    return [
        lambda: change("pick", lambda j: edits.pick_edge(j, Pick(EDGE, LEDGE))),
        lambda: change("wish", lambda j: edits.wish(j, RowWishes(tip=0.7, moved=tuple((k, 0.1) for k in range(60))))),
        lambda: change("add", edits.add_row),
        lambda: change("dismiss", lambda j: edits.dismiss(j, "spot")),
        lambda: bench.set_setup("setup", layer_height=0.2 if bench.job.setup.layer_height != 0.2 else 0.16),
        lambda: bench.turn(90),
        lambda: bench.line_up(np.array([1.0, 0.3, 0.0])),
    ]


@pytest.mark.parametrize("facets", [12, 400_000])
def test_a_step_of_history_is_small_whatever_the_mesh(qapp: QCoreApplication, facets: int) -> None:
    """Less than 100 KB a step, of every array that is held, with a pose among the steps that moves the whole mesh."""
    count = int(np.sqrt(facets / 2)) or 2
    mesh = meshes.torus(60.0, 20.0, count, count) if facets > 100 else meshes.box()
    bench = Bench(Store(), AtOnce())
    bench.store.open(new_job(the_part(mesh)))
    steps = a_step_each(bench)
    for one in steps:  # whatever is made once
        one()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(6):
        for one in steps:
            one()
    done = 6 * len(steps)
    held = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert len(bench.store.history) >= done
    assert held / done < 100_000, f"{held / done:.0f} bytes a step"


def test_a_job_knows_only_what_undo_can_bring_back() -> None:
    """Every field of a job is an input; results kept in one would be undone with it and grow the history."""
    assert {f.name for f in fields(Job)} >= {"part", "pose", "setup", "rows", "draft"}
    assert all("Mesh" not in str(f.type) and "Inspection" not in str(f.type) for f in fields(Job))
