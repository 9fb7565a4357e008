"""Pieces: bodies and limbs, and the guess which are thrown away. Truth: how the bodies were made; shells by trimesh."""

import numpy as np
import pytest
import trimesh

from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.inspection import inspect_part
from core.geometry.mesh import joined
from core.geometry.part import Part
from core.geometry.pose import as_filed
from core.geometry.solids import mesh_of, solid_of
from tests.diagnose.sample_parts import PLAIN, TRUTH, part_of, single
from tests.meshes import bar_over_ledge, box, hollow_box

SETUP = PrintSetup()


def inspect(mesh, **more):
    part = Part("part", single(mesh))
    return inspect_part(part, as_filed(part.mesh), SETUP, **more)


def united(mesh):
    origin = mesh.bounds.mean(axis=0)
    return mesh_of(solid_of(mesh, origin), origin)


def holder(found, part, point):
    """The piece whose triangles enclose a point: winding number by solid angles (van Oosterom and Strackee 1983)."""
    corners = part.mesh.corners - np.asarray(point)
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    la, lb, lc = (np.linalg.norm(x, axis=1) for x in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    bottom = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    angle = 2 * np.arctan2(top, bottom)
    shares = [angle[found.split.triangles_of(p)].sum() for p in found.pieces]
    return found.pieces[int(np.argmax(shares))]


@pytest.mark.parametrize("name", PLAIN)
def test_pieces_of_the_samples(name):
    part, truth = part_of(name), TRUTH[name]
    found = inspect_part(part, as_filed(part.mesh), SETUP)
    for piece in truth["pieces"]:
        mine = holder(found, part, piece["inside"])
        assert mine.sacrificial is piece["sacrificial"], piece["name"]
        assert set(piece["shells"]) <= set(mine.shells)
        if piece["limb_of"] is not None:
            assert piece["limb_of"] in mine.shells


def fin_with_teeth(one_skin):
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    gap = inspect(made.mesh).gaps[0]
    mesh = joined([made.mesh, row_solids(gap.span, plan_row(gap.span, RowWishes(), SETUP)).mesh()])
    return united(mesh) if one_skin else mesh


@pytest.mark.parametrize("one_skin", [False, True])
def test_a_limb_that_only_teeth_hold_is_told_from_the_part(one_skin):
    mesh = fin_with_teeth(one_skin)
    found = inspect(mesh)
    thrown = [p for p in found.pieces if p.sacrificial]
    kept = [p for p in found.pieces if p.sacrificial is False]
    assert (len(thrown), len(kept), len(found.pieces)) == (1, 1, 2)
    heights = mesh.vertices[mesh.triangles[found.split.triangles_of(kept[0])], 2]
    bounds = mesh.vertices[mesh.triangles[found.split.triangles_of(thrown[0])]].reshape(-1, 3)
    assert bounds[:, 2].min() == 0
    assert bounds[:, 0].min() == pytest.approx(1.0)
    assert bounds[:, 0].max() == pytest.approx(39.0)
    assert heights.max() == pytest.approx(17.2, abs=1e-5)
    assert "teeth only" in thrown[0].why


def test_overlapping_shells_are_one_piece_and_separate_ones_are_not():
    apart = joined([box((0, 0, 0), (20, 20, 20)), box((30, 0, 0), (50, 20, 20)), box((45, 5, 5), (60, 15, 15))])
    found = inspect(apart)
    assert sorted(p.shells for p in found.pieces) == [(0,), (1, 2)]
    assert len(trimesh.Trimesh(apart.vertices, apart.triangles, process=False).split()) == 3
    assert all(p.sacrificial is False for p in found.pieces)
    assert len(inspect(hollow_box(20.0)).pieces) == 1


def test_a_correction_is_kept():
    mesh = fin_with_teeth(False)
    fin = next(p for p in inspect(mesh).pieces if p.sacrificial)
    corrected = inspect(mesh, piece_overrides=((fin.key, False),))
    again = next(p for p in corrected.pieces if p.key == fin.key)
    assert (again.sacrificial, again.why) == (False, "as you decided")


def test_sag_of_what_is_thrown_away_is_not_listed():
    """A fin with an arm that sticks out 12 mm in mid-air: weak on a part, of no account on a fin."""
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    arm = box((15, 0, 4), (25, 12, 5))
    alone = inspect(joined([box((1, -0.6, 0), (39, 0.6, 10)), arm]))
    assert any(s.kind == "cantilever" for s in alone.weak_spots)
    found = inspect(joined([made.mesh, arm]))
    assert [s.kind for s in found.weak_spots] == ["bridge"]
    fin = next(p for p in found.pieces if p.sacrificial)
    kept = inspect(joined([made.mesh, arm]), piece_overrides=((fin.key, False),))
    assert sorted(s.kind for s in kept.weak_spots) == ["bridge", "cantilever"]
