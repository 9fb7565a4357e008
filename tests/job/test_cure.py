"""The cure, measured without the program's own judgement: plain sections by trimesh and shapely, and distances in them.

The part with its new rows is cut just below and just above the treated edge. What is above and has nothing below it
may be no farther from support than half the longest clear bridge and half a line.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh

from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.files.read import read_part
from core.job.fit import gap_pick
from core.job.job import add_rows, new_job
from core.job.pipeline import Pipeline
from samples import sample_path, truth

SETUP = PrintSetup()
#: How far beside the edge's line a point of the layer still belongs to the lip, mm.
BESIDE = 2.2


def section(bodies: list[trimesh.Trimesh], height: float) -> shapely.Geometry:
    """All bodies cut at a height and united, in plan."""
    shapes = []
    for body in bodies:
        cut = body.section([0, 0, 1], [0, 0, height])
        if cut is None:
            continue
        flat, to_3d = cut.to_2D(to_2D=trimesh.transformations.translation_matrix([0, 0, -height]))
        assert np.allclose(to_3d[:3, :3], np.eye(3))
        shapes += [p.buffer(0) for p in flat.polygons_full]
    return shapely.union_all(shapes)


@pytest.mark.parametrize("name", ["rain_hood", "sloping_hood", "round_shroud"])
def test_no_point_of_the_treated_edge_is_farther_from_support_than_half_a_bridge(name: str) -> None:
    part = read_part(sample_path(name))
    job = new_job(part, SETUP)
    found = inspect_part(part, job.pose, SETUP)
    gaps = [g for g in found.gaps if not g.enough]
    assert len(gaps) == sum(not g["enough"] for g in truth()["samples"][name]["gaps"]) == 1
    gap = gaps[0]
    before = worst_distance(job, gap, [])
    job = add_rows(job, ((gap_pick(job, gap.id, gap.span), RowWishes()),))
    teeth = [t.moved(job.pose.matrix) for t in Pipeline().teeth_in_file(job)]
    after = worst_distance(job, gap, teeth)
    limit = SETUP.clear_bridge / 2 + SETUP.line_width / 2
    assert before > 3 * limit
    assert after <= limit


def worst_distance(job, gap, teeth) -> float:
    """The greatest distance, mm, from an unsupported point of the lip's first layer to what the layer below prints."""
    mesh = job.part.mesh.moved(job.pose.matrix)
    whole = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    bodies = [*whole.split(only_watertight=False), *(trimesh.Trimesh(t.vertices, t.triangles) for t in teeth)]
    edge = float(gap.span.stations.edge.min())
    below, above = section(bodies, edge - 0.5 * SETUP.layer_height), section(bodies, edge + 0.5 * SETUP.layer_height)
    line = shapely.LineString(gap.span.edge_line.ring[:, :2])
    lip = above.intersection(line.buffer(BESIDE, cap_style="flat"))
    hanging = lip.difference(below)
    x0, y0, x1, y1 = hanging.bounds
    grid = np.stack(np.meshgrid(np.arange(x0, x1, 0.15), np.arange(y0, y1, 0.15)), axis=-1).reshape(-1, 2)
    points = shapely.points(grid)
    points = points[shapely.contains(hanging, points)]
    return float(shapely.distance(points, below).max())
