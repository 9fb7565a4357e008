"""What the worker processes can do. A task is a plain function of its context and arguments."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from app.work.context import Context
from app.work.revisions import carry_file, carry_job
from core.design.coupon import CouponPlan, coupon, print_minutes
from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.design.span import Span
from core.design.trial_piece import TrialPlan, trial_piece
from core.design.wall import WallWishes
from core.diagnose.edge_index import EdgeIndex, edge_index
from core.diagnose.found import ListedSpot
from core.diagnose.heat import heat, heat_patch
from core.diagnose.inspection import Inspection, inspect_part
from core.diagnose.layers import print_layers
from core.diagnose.resting import Resting, resting_poses
from core.errors import SnapcombError, SpanProblem
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import Mesh
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose
from core.job.fit import prove_among, walls_for_spots
from core.job.hand_over import HandedOver, hand_over
from core.job.holding import Known
from core.job.job import Frame, Job, Pick, PostPick, Row, new_job
from core.job.job_file import is_job_file, load_job, save_job
from core.job.landmark_record import known_figures
from core.job.pipeline import WallDesign
from core.job.propose import propose
from core.proof.near import Window, sections_in
from core.proof.prove import Proof
from core.units import UnitName


def open_file(
    context: Context, path: Path, unit: UnitName | None, choice: str | None, setup: PrintSetup
) -> tuple[Job, EdgeIndex, bool]:
    """Read a mesh file into a fresh job, or a job file; with the edges that can be picked, and which it was."""
    context.progress(0.1, "Reading the file")
    from_job = is_job_file(path)
    job = load_job(path) if from_job else new_job(read_part(path, unit, choice=choice), setup)
    context.progress(0.6, "Finding edges")
    _ = job.part.topology.shell_count  # travels with the edges, so that the window need not work it out
    return job, edge_index(job.part, job.pose), from_job


def save(context: Context, job: Job, path: Path, places: bool) -> Path:
    """Write a job file."""
    save_job(job, path, places=places, figures=known_figures(job, context.pipeline))
    return path


def find_edges(context: Context, part: Part, pose: Pose) -> EdgeIndex:
    """The edges that can be picked in another pose."""
    return edge_index(part, pose)


def inspect(context: Context, job: Job) -> Inspection:
    """What will sag, and which gaps and rows there are."""
    return inspect_part(
        job.part,
        job.pose,
        job.limits,
        dismissed=job.dismissed,
        piece_overrides=job.pieces,
        progress=context.progress,
        cancelled=context.cancelled,
    )


def propose_row(
    context: Context, job: Job, edge: Polyline, normals: np.ndarray, ledge: Polyline | None
) -> tuple[Pick, Span]:
    """The pick and span for what was clicked."""
    return propose(job, edge, normals, ledge, context.pipeline)


def measure(context: Context, job: Job, picks: tuple[Pick, ...]) -> list[tuple[Pick, Span | SnapcombError]]:
    """The spans of picks in the job's pose and setup; a problem is an answer too."""
    out: list[tuple[Pick, Span | SnapcombError]] = []
    for pick in picks:
        context.check()
        try:
            out.append((pick, context.pipeline.span(job, pick)))
        except SnapcombError as problem:
            out.append((pick, problem.with_traceback(None)))
    return out


def rest(context: Context, job: Job) -> tuple[Resting, ...]:
    """Poses in which the part could print, with what would hang in each."""
    return resting_poses(job.part.mesh, job.setup, topology=job.part.topology)


def hanging_heat(context: Context, job: Job, found: Inspection) -> tuple[np.ndarray, Mesh, np.ndarray]:
    """Reach beyond what a layer may advance at every vertex, mm; and hanging undersides, finely cut, with theirs."""
    mesh = context.pipeline.bed_mesh(job)
    layers = print_layers(mesh, job.setup, progress=lambda share: context.progress(share, "Cutting layers"))
    spots = [spot for spot in found.weak_spots if not spot.dismissed]
    return heat(mesh, layers, spots), *heat_patch(mesh, layers, spots)


def prove(context: Context, job: Job, row: Row, found: Known | None = None) -> Proof | None:
    """The proof of a row among the job's other rows and those that are there; None when it cannot be worked out."""
    pipeline = context.pipeline
    try:
        design = pipeline.design(job, row)
    except SnapcombError:
        return None
    others = []
    for other in job.rows:
        context.check()
        if other.number != row.number:
            with contextlib.suppress(SnapcombError):
                others.append(pipeline.design(job, other))
    return prove_among(job, design, others, pipeline, found)


def layer_lines(context: Context, job: Job, number: int) -> list[np.ndarray]:
    """The outlines (n, 3) of one layer of the part at its middle height, bed mm, each ending where it began."""
    mesh, setup = context.pipeline.bed_mesh(job), job.setup
    height = setup.first_layer / 2 if number == 0 else setup.first_layer + (number - 0.5) * setup.layer_height
    window = Window.around(mesh.bounds[:, :2])
    (region,) = sections_in(mesh, window, np.array([height]))
    lines = (outline @ window.turn + window.origin for outline in region.outlines)
    return [np.column_stack([np.vstack([line, line[:1]]), np.full(len(line) + 1, height)]) for line in lines]


def plan_coupon(context: Context, setup: PrintSetup) -> CouponPlan:
    """What the coupon for a setup carries."""
    return coupon(setup)[1]


def write_coupon(context: Context, setup: PrintSetup, path: Path) -> Path:
    """Write the coupon for a setup."""
    write_part(coupon(setup)[0], path, unit="millimeter", name="Snapcomb break-off coupon")
    return path


def plan_trial(context: Context, job: Job, row: Row, middle: float | None) -> tuple[TrialPlan, float]:
    """What a trial piece of a row shows, and about how many minutes it prints."""
    mesh, plan = _trial(context, job, row, middle)
    return plan, print_minutes(mesh, job.setup)


def write_trial(context: Context, job: Job, row: Row, middle: float | None, path: Path) -> Path:
    """Cut a trial piece and write it."""
    mesh, _ = _trial(context, job, row, middle)
    write_part(mesh, path, unit="millimeter", name=f"{job.part.name}, trial piece of row {row.number}")
    return path


def _trial(context: Context, job: Job, row: Row, middle: float | None) -> tuple[Mesh, TrialPlan]:
    pipeline = context.pipeline
    design = pipeline.design(job, row)
    mesh = pipeline.mesh_below(job, row)
    return trial_piece(mesh, design.span, design.plan, design.teeth, job.setup, middle=middle)


def write(
    context: Context, job: Job, path: Path, frame: Frame, what: str, replace: bool, choice: str | None
) -> HandedOver:
    """Hand the result over to a file."""
    context.progress(0.2, "Writing and reading back")
    return hand_over(job, path, context.pipeline, frame=frame, what=what, replace=replace, choice=choice)


def build_walls(context: Context, job: Job, spot: ListedSpot) -> tuple[tuple[Row, ...], tuple[PostPick, ...]]:
    """The rows on walls of their own, or the single posts, that a weak spot without a ledge needs.

    Raises SpanProblem when there are none.
    """
    built, refused = walls_for_spots(job, [spot], context.pipeline, WallWishes(), RowWishes())
    if refused:
        raise SpanProblem(refused[0].why, "Turn the part so that a wall can stand below, or leave the spot as it is.")
    return built.rows[len(job.rows) :], built.posts[len(job.posts) :]


def walls_of_rows(
    context: Context, job: Job, rows: tuple[Row, ...]
) -> list[tuple[Row, tuple[WallDesign, Span] | SnapcombError]]:
    """The walls of rows with the spans above them; a problem is an answer too."""
    out: list[tuple[Row, tuple[WallDesign, Span] | SnapcombError]] = []
    for row in rows:
        context.check()
        try:
            out.append((row, (context.pipeline.wall(job, row), context.pipeline.row_span(job, row))))
        except SnapcombError as problem:
            out.append((row, problem.with_traceback(None)))
    return out


def print_sheet(
    context: Context, job: Job, path: Path, found: Inspection | None, handed: Path | None
) -> tuple[str, ...]:
    """Write the job sheet; what could not be put on it, in sentences."""
    # Drawing loads the toolkit and the 3D library, which no other task needs.
    from app.sheet.make import make_sheet  # noqa: PLC0415
    from core.job.sheet import file_mark  # noqa: PLC0415

    files = [file_mark(handed, "With its teeth")] if handed is not None and handed.is_file() else []
    inputs = () if handed is None else (handed,)
    return make_sheet(
        job, path, context.pipeline, inspection=found, files=files, inputs=inputs, progress=context.progress
    ).skipped


TASKS: dict[str, Callable[..., Any]] = {
    "open": open_file,
    "carry_job": carry_job,
    "carry_file": carry_file,
    "edges": find_edges,
    "inspect": inspect,
    "propose": propose_row,
    "measure": measure,
    "rest": rest,
    "heat": hanging_heat,
    "save": save,
    "walls": build_walls,
    "walls_of_rows": walls_of_rows,
    "prove": prove,
    "layer_lines": layer_lines,
    "plan_coupon": plan_coupon,
    "write_coupon": write_coupon,
    "plan_trial": plan_trial,
    "write_trial": write_trial,
    "write": write,
    "sheet": print_sheet,
}
