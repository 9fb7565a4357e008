"""Inspecting many files, several at a time; the results are the same, and in the same order, at any number."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.output import Progress, progress_bar
from app.commands.reading import read_job
from core.errors import RefusedFile, SnapcombError

if TYPE_CHECKING:
    from core.design.setup import PrintSetup
    from core.units import UnitName

#: Below this number of files, starting processes costs more than they save.
WORTH_IT = 3
Found = dict[str, Any] | SnapcombError


@dataclass(frozen=True)
class Task:
    """One file and how it is to be read."""

    path: Path
    setup: PrintSetup
    unit: UnitName | None
    up: str | tuple[float, float, float]
    choice: str | None


def usual_processes() -> int:
    """As many as there are processors for us."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def inspect_many(tasks: Sequence[Task], processes: int) -> Iterator[Found]:
    """What was found in each file, in order; what is wrong with a file takes its place and stops no other."""
    if len(tasks) < WORTH_IT or processes == 1:
        for task in tasks:
            with progress_bar(task.path.name) as progress:
                yield inspect_one(task, progress)
        return
    with progress_bar(f"{len(tasks)} files") as progress, _pool(min(processes, len(tasks))) as pool:
        futures = [pool.submit(inspect_one, task) for task in tasks]
        for number, (task, future) in enumerate(zip(tasks, futures, strict=True)):
            progress(number / len(tasks), task.path.name)
            try:
                yield future.result()
            except BrokenProcessPool:
                yield RefusedFile(f"“{task.path.name}” or a file beside it ended the process that read it.",
                                  "Inspect the files one by one.")  # fmt: skip


def _pool(processes: int) -> ProcessPoolExecutor:
    """Spawned processes, which are alike on every system and inherit nothing."""
    return ProcessPoolExecutor(processes, mp_context=get_context("spawn"))


def inspect_one(task: Task, progress: Progress | None = None) -> Found:
    """The inspection of one file as plain data, or what is wrong with it."""
    from core.diagnose.inspection import inspect_part, inspection_json

    try:
        job = read_job(task.path, task.setup, task.unit, task.up, task.choice)
        return inspection_json(inspect_part(job.part, job.pose, task.setup, progress=progress))
    except SnapcombError as problem:
        return problem.with_traceback(None)
