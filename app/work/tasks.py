"""What the worker processes can do. A task is a plain function of its context and arguments."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from core.diagnose.edge_index import EdgeIndex, edge_index
from core.diagnose.inspection import Inspection, inspect_part
from core.errors import SnapcombError
from core.design.span import Span
from core.files.read import read_part
from core.geometry.part import Part
from core.geometry.pose import Pose
from core.job.hand_over import HandedOver, hand_over
from core.job.job import Frame, Job, Pick
from core.units import UnitName


def open_file(context: Any, path: Path, unit: UnitName | None, choice: str | None) -> Part:
    """Read a mesh file."""
    context.progress(0.1, "Reading")
    return read_part(path, unit, choice=choice)


def find_edges(context: Any, part: Part, pose: Pose) -> EdgeIndex:
    """The edges that can be picked, with what is known of each."""
    return edge_index(part, pose)


def inspect(context: Any, job: Job) -> Inspection:
    """What will sag, and which gaps and rows there are."""
    return inspect_part(
        job.part,
        job.pose,
        job.setup,
        dismissed=job.dismissed,
        piece_overrides=job.pieces,
        progress=context.progress,
        cancelled=context.cancelled,
    )


def measure(context: Any, job: Job, pick: Pick) -> Span | SnapcombError:
    """The span of a pick; a problem is an answer too, so that it can be shown where it was made."""
    try:
        return context.pipeline.span(job, pick)
    except SnapcombError as problem:
        return problem.with_traceback(None)


def write(
    context: Any, job: Job, path: Path, frame: Frame, what: str, replace: bool, choice: str | None
) -> HandedOver:
    """Hand the result over to a file."""
    context.progress(0.2, "Writing")
    return hand_over(job, path, context.pipeline, frame=frame, what=what, replace=replace, choice=choice)


TASKS: dict[str, Callable[..., Any]] = {
    "open": open_file,
    "edges": find_edges,
    "inspect": inspect,
    "measure": measure,
    "write": write,
}
