"""What holds a piece together with a new row, against what the makers of the sample parts know about them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from core.design.plan import RowWishes
from core.diagnose.inspection import inspect_part
from core.files.read import read_part
from core.geometry.mesh import Mesh
from core.job.fit import fit_rows
from core.job.holding import ALONE, NO_PIECE, Known, body_of, company, piece_held, rows_holding
from core.job.job import Job, new_job
from core.job.pipeline import Pipeline, RowDesign
from samples import sample_path, truth


@pytest.fixture(scope="module")
def hood():
    """The hood: its front fin reaches, by its pull tab, to the fin below the right ear (see ``truth.json``)."""
    job = new_job(read_part(sample_path("rain_hood")))
    return job, inspect_part(job.part, job.pose, job.setup)


def front(job: Job, found) -> tuple[RowDesign, Pipeline]:
    pipeline = Pipeline()
    gap = next(g for g in found.gaps if not g.enough)
    return fit_rows(job, found, pipeline, gaps=[gap.id]).added[0].design, pipeline


def test_the_row_under_the_front_lip_shares_its_piece_with_the_short_lip_alone(hood):
    job, found = hood
    design, pipeline = front(job, found)
    known = company(pipeline.bed_mesh(job), found, design, [design])
    names = {r["id"]: r["teeth"] for r in truth()["samples"]["rain_hood"]["rows"]}
    assert [(r.direction, r.teeth) for r in known.standing] == [("up", names["short_lip"])]
    assert known.beside == ()


def test_the_proof_counts_them_and_names_both(hood):
    job, found = hood
    added = fit_rows(job, found, Pipeline()).added[0]
    rows = added.proof.piece.rows
    assert [r.necks.teeth for r in rows] == [4, 14]
    assert added.proof.piece.pull.high == pytest.approx(sum(r.pull.high for r in rows))
    assert [o.split(":")[0] for o in added.proof.piece.order[:2]] == [
        "Start with the row that is there (4 teeth)", "Then row 1",
    ]  # fmt: skip


def test_two_new_rows_on_one_piece_count_for_each_other():
    """The round shroud's rim, treated in two halves."""
    job = new_job(read_part(sample_path("round_shroud")))
    found = inspect_part(job.part, job.pose, job.setup)
    gap = next(g for g in found.gaps if not g.enough)
    half = found.gaps and gap.span.length / 2
    first = fit_rows(job, found, Pipeline(), gaps=[gap.id], wishes=RowWishes(stop=half)).job
    both = fit_rows(first, found, Pipeline(), gaps=[gap.id], wishes=RowWishes(start=half))
    (second,) = both.added
    assert [r.necks.name for r in second.proof.piece.rows] == ["row 1", "row 2"]


def test_nothing_is_held_where_the_ledge_is_kept(hood):
    job, found = hood
    design, pipeline = front(job, found)
    mesh = pipeline.bed_mesh(job)
    kept = replace(found.split, pieces=tuple(replace(p, sacrificial=False) for p in found.split.pieces))
    assert piece_held(mesh, design.span, kept) == NO_PIECE
    assert company(mesh, Known(found.rows, kept), design, []) == ALONE
    assert company(mesh, None, design, []) == ALONE


def test_the_rows_of_a_piece_that_is_nobodys_are_none(hood):
    assert rows_holding(hood[1], 99) == ()


def test_a_body_of_its_own_comes_out_closed_and_so_does_a_limb(hood):
    import trimesh

    job = new_job(read_part(sample_path("round_shroud")))
    found = inspect_part(job.part, job.pose, job.setup)
    mesh = job.part.mesh.moved(job.pose.matrix)
    gone = next(i for i, p in enumerate(found.pieces) if p.sacrificial)
    body = body_of(mesh, found.split, gone)
    assert trimesh.Trimesh(body.vertices, body.triangles).is_watertight
    assert len(body.triangles) == int((found.split.label == gone).sum())
    job, found = hood
    mesh = job.part.mesh.moved(job.pose.matrix)
    limbs = [i for i, p in enumerate(found.pieces) if mesh.corners[found.split.label == i][:, :, 2].min() < 0.01]
    assert len(limbs) > 1
    volumes = []
    for limb in limbs:
        alone = body_of(mesh, found.split, limb)
        assert np.abs(alone.area_vectors.sum(axis=0)).max() < 1e-6  # closed, by the divergence theorem
        volumes.append(alone.volume)
    assert min(volumes) > 0
    assert sum(volumes) == pytest.approx(mesh.volume, rel=0.01)  # together they are the hood, teeth cut through
    raised = Mesh(mesh.vertices + np.array([0, 0, 3.0]), mesh.triangles)
    assert body_of(raised, found.split, limbs[0]) is None  # what does not stand on the bed cannot fall over on it


def test_an_open_surface_is_no_body(hood):
    """By the divergence theorem the area vectors of a closed surface add up to nothing."""
    job = new_job(read_part(sample_path("round_shroud")))
    found = inspect_part(job.part, job.pose, job.setup)
    mesh = job.part.mesh.moved(job.pose.matrix)
    gone = next(i for i, p in enumerate(found.pieces) if p.sacrificial)
    floor = (found.split.label == gone) & (mesh.normals[:, 2] < -0.999) & (mesh.corners[:, :, 2].max(axis=1) < 0.01)
    assert floor.any()
    opened = Mesh(mesh.vertices, mesh.triangles[~floor])
    split = replace(found.split, label=found.split.label[~floor])
    assert body_of(opened, split, gone) is None
