"""The cure of undersides that are no plain edges, measured without the program's own judgement.

Every layer of the part with its walls is cut by trimesh and held against the layer below by shapely. Where a layer
reaches out farther than it may lean, what reaches out must lie near to something, and no rim of a slope may go on
longer than a bridge.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
import shapely
import trimesh

from core.design.setup import PrintSetup
from core.design.wall import WallWishes
from core.diagnose.inspection import inspect_part
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.topology import Topology
from core.job.fit import Fitted, fit_rows
from core.job.job import Job, new_job
from core.job.pipeline import Pipeline
from tests.job.hard_parts import named
from tests.job.test_cure import section

SETUP = PrintSetup()
#: 45° from vertical at 0.2 mm layers (trade's calculation), and what rounding of the outlines makes, mm.
ADVANCE, SPECK = 0.2, 0.03


@lru_cache(maxsize=4)
def cured(name: str) -> tuple[Job, Fitted, list[Mesh]]:
    part = named(name)
    job = new_job(part, SETUP)
    fitted = fit_rows(job, inspect_part(part, job.pose, SETUP), Pipeline(), walls=WallWishes())
    return job, fitted, [m.moved(job.pose.matrix) for m in Pipeline().teeth_in_file(fitted.job)]


def hanging(job: Job, added: list[Mesh], low: float, high: float) -> list[tuple[float, float]]:
    """Reach and half the outline of all that hangs in the layers between two heights, mm."""
    mesh = job.part.mesh.moved(job.pose.matrix)
    own = [trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)]
    bodies = [*own, *(trimesh.Trimesh(m.vertices, m.triangles, process=False) for m in added)]
    heights = np.arange(low, high, SETUP.layer_height)
    sections = [section(bodies, h) for h in heights]
    plain = [section(own, h) for h in heights]
    out = []
    for below, here in zip(sections[:-1], plain[1:], strict=True):
        loose = here.difference(below.buffer(ADVANCE + SPECK))
        for piece in shapely.get_parts(loose.buffer(-SPECK / 2)):
            if piece.is_empty:
                continue
            x0, y0, x1, y1 = piece.bounds
            grid = np.stack(np.meshgrid(np.linspace(x0, x1, 60), np.linspace(y0, y1, 60)), -1).reshape(-1, 2)
            points = np.vstack([grid[shapely.contains_xy(piece, *grid.T)], shapely.get_coordinates(piece)])
            reach = float(shapely.distance(shapely.points(points), below).max())
            out.append((reach, piece.length / 2))
    return out


#: Heights between which each part hangs: from its lowest weak layer up to where nothing leans out any more, mm.
ZONES = {
    "sphere_on_stem": (20.9, 25.1), "arch": (15.5, 22.3), "wavy": (19.9, 24.3), "letter_t": (34.7, 36.1),
    "letter_f": (17.7, 36.1), "arrow": (44.7, 45.5),
}  # fmt: skip
#: Of these the undersides are so wide that nothing but a wall can hold them; the others rest on themselves.
WIDE = ("wavy", "letter_t", "letter_f", "arrow")


@pytest.mark.parametrize("name", list(ZONES))
def test_nothing_reaches_out_farther_than_half_a_bridge(name: str) -> None:
    job, fitted, added = cured(name)
    assert not fitted.skipped
    before, after = hanging(job, [], *ZONES[name]), hanging(job, added, *ZONES[name])
    limit = SETUP.clear_bridge / 2 + SETUP.line_width / 2
    assert max(reach for reach, _ in after) <= limit
    if name in WIDE:
        assert max(reach for reach, _ in before) > limit


@pytest.mark.parametrize(("name", "zone"), [("sphere_on_stem", (20.9, 25.1)), ("arch", (15.5, 20.0))])
def test_the_rims_of_a_slope_only_bridge_from_blade_to_blade(name: str, zone: tuple[float, float]) -> None:
    job, _, added = cured(name)
    before, after = hanging(job, [], *zone), hanging(job, added, *zone)
    assert max(half for _, half in before) > 3 * SETUP.clear_bridge
    assert max(half for _, half in after) <= SETUP.clear_bridge + SETUP.line_width


@pytest.mark.parametrize("name", list(ZONES))
def test_inspection_of_the_cured_part_finds_nothing(name: str) -> None:
    job, _, added = cured(name)
    whole = Part("cured", joined([job.part.mesh.moved(job.pose.matrix), *added]))
    assert not inspect_part(whole, new_job(whole).pose, SETUP).weak_spots


@pytest.mark.parametrize("name", list(ZONES))
def test_the_walls_are_solids_that_keep_off_the_part(name: str) -> None:
    job, fitted, _ = cured(name)
    mesh = job.part.mesh.moved(job.pose.matrix)
    part = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    for design in (a.design for a in fitted.added):
        assert design.wall is not None
        solid = design.wall.solid
        assert Topology.of(solid).watertight
        assert solid.volume > 0
        shape = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
        points = np.vstack([trimesh.sample.sample_surface(shape, 1500, seed=1)[0], solid.vertices])
        if design.wall.plan.feet:  # there it stands on the part
            points = points[points[:, 2] > max(f.low for f in design.wall.plan.feet) + 2.5]
        assert trimesh.proximity.closest_point(part, points)[1].min() >= design.wall.plan.clearance - 1e-6


@pytest.mark.parametrize("name", list(ZONES))
def test_no_proof_stops_at_a_row_below_a_slope(name: str) -> None:
    _, fitted, _ = cured(name)
    stops = [f.code for a in fitted.added for f in a.proof.findings if f.level == "stop"]
    assert not stops
