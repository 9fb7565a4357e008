"""Defects of meshes and their repairs, against closed forms and against trimesh's own judgement of the result."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from core.errors import BadValue, MeshProblem, NotASolid
from core.geometry.cracks import STEPS
from core.geometry.defects import find_defects
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.repair import Repair, mended
from core.geometry.topology import Topology
from tests.meshes import ball, box, flipped, hollow_box, inverted_box, open_box, torus, two_overlapping_boxes


def found(mesh: Mesh) -> dict[str, int]:
    return {d.fix: d.count for d in find_defects(Topology.of(mesh))}


def outside(mesh: Mesh) -> trimesh.Trimesh:
    """The mesh as another library sees it, nothing merged or mended on the way."""
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


def two(gap: float) -> Mesh:
    """The default box cut in two open halves at y = 10, the second ``gap`` mm off: four open edges on either side."""
    lower, upper = box((0, 0, 0), (10, 10, 30)), box((0, 10 + gap, 0), (10, 20, 30))
    return joined([_without(lower, lambda m: m[:, 1] == 10), _without(upper, lambda m: m[:, 1] == 10 + gap)])


def _without(mesh: Mesh, where) -> Mesh:
    return Mesh(mesh.vertices, mesh.triangles[~where(mesh.corners.mean(axis=1))])


def remade(change) -> Mesh:
    """The default box with other triangles."""
    return Mesh(box().vertices, change(box().triangles))


def with_flat_facet() -> Mesh:
    """The default box with a point on one edge that only one side of it knows: the facet between has no area."""
    mesh = box()
    middle = (mesh.vertices[0] + mesh.vertices[1]) / 2
    at = next(i for i, t in enumerate(mesh.triangles.tolist()) if {0, 1} <= set(t))
    a, b, c = np.roll(mesh.triangles[at], -next(k for k in range(3) if _side(mesh, at, k) == {0, 1})).tolist()
    rest = np.delete(mesh.triangles, at, axis=0)
    new = [(a, 8, c), (8, b, c), (a, b, 8)]
    return Mesh(np.vstack([mesh.vertices, middle]), np.vstack([rest, new]).astype(np.int32))


def _side(mesh: Mesh, t: int, k: int) -> set[int]:
    return {int(mesh.triangles[t, k]), int(mesh.triangles[t, (k + 1) % 3])}


@pytest.mark.parametrize("mesh", [box(), ball(), torus(), hollow_box(), joined([box(), box((30, 0, 0), (40, 10, 10))])])
def test_sound_meshes_have_no_defects(mesh):
    assert find_defects(Topology.of(mesh)) == ()


@pytest.mark.parametrize(
    ("mesh", "defects", "fix", "volume"),
    [
        (inverted_box(), {"turn": 1}, "turn", 6000.0),
        (joined([box(), flipped(box((30, 0, 0), (40, 10, 10)))]), {"turn": 1}, "turn", 7000.0),
        (remade(lambda t: np.vstack([t[:9], t[9:, [0, 2, 1]]])), {"turn": 3}, "turn", 6000.0),
        (remade(lambda t: np.vstack([t[:3], t[3:, [0, 2, 1]]])), {"turn": 1}, "turn", 6000.0),
        (remade(lambda t: np.vstack([t, t[3:6, [1, 2, 0]]])), {"double": 3}, "double", 6000.0),
        (with_flat_facet(), {"sliver": 1}, "sliver", 6000.0),
        (two(0.008), {"join": 8}, "join", 6000.0),
        (two_overlapping_boxes(), {"unite": 1}, "unite", 1500.0),
        (joined([box(), box((2, 2, 2), (4, 4, 4))]), {"unite": 1}, "unite", 6000.0),
    ],
    ids=["inside out", "one shell inside out", "some facets", "most facets", "doubled", "no area", "crack", "overlap",
         "one within another"],
)  # fmt: skip
def test_found_and_mended(mesh, defects, fix, volume):
    assert found(mesh) == defects
    within = next(d.within for d in find_defects(Topology.of(mesh)) if d.fix == fix)
    done = mended(mesh, Repair(fix, within)).mesh
    judged = outside(done)
    assert judged.is_watertight
    assert judged.is_winding_consistent
    assert judged.volume == pytest.approx(volume, rel=1e-6)
    assert found(done) == {}
    again = mended(mesh, Repair(fix, within)).mesh
    assert again.content_hash == done.content_hash  # a job that is run again must get the same mesh


def test_a_cavity_is_no_shell_inside_out():
    """The room of a hollow box runs the other way round, as it must: 20³ − 16³ mm³."""
    mesh = hollow_box()
    assert mesh.volume == pytest.approx(20**3 - 16**3)
    with pytest.raises(MeshProblem, match="nothing to mend"):
        mended(mesh, Repair("turn"))


def test_an_open_shell_is_not_turned_as_a_whole():
    assert "turn" not in found(flipped(open_box()))


def test_a_hole_is_no_crack():
    assert "join" not in found(open_box())


@pytest.mark.parametrize("gap", [0.0005, 0.002, 0.02, 0.08])
def test_a_crack_is_joined_within_the_narrowest_step_that_closes_it(gap):
    (defect,) = find_defects(Topology.of(two(gap)))
    assert defect.within == next(s for s in STEPS if s >= gap)


def test_a_gap_that_is_meant_is_left_alone():
    """Wider than the widest step, a tenth of a millimetre, two open shells are two things."""
    assert "join" not in found(two(0.15))


@pytest.mark.parametrize("thin", [0.02, 0.2])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_thin_overlap_beside_a_wide_wall_is_found(thin, axis):
    """A tooth that sinks into the side, or the top, of a wall a hundred times as large."""
    wall = box((0, 0, 0), (200, 200, 200))
    low, high = np.full(3, 90.0), np.full(3, 92.0)
    low[axis], high[axis] = 200 - thin, 203
    assert found(joined([wall, box(low, high)])) == {"unite": 1}
    low[axis] = 200 + 1e-3
    assert found(joined([wall, box(low, high)])) == {}


def test_the_places_are_where_the_defects_are():
    shell = flipped(box((30, 0, 0), (40, 10, 10)))
    mesh = joined([box(), shell])
    (defect,) = find_defects(Topology.of(mesh))
    np.testing.assert_allclose(defect.places(mesh), [[30, 0, 0], [40, 10, 10]])
    assert set(defect.facets.tolist()) == set(range(12, 24))


def test_facets_that_nothing_is_wrong_with_stay_as_they_were():
    mesh = joined([ball(), flipped(box((30, 0, 0), (40, 10, 10)))])
    done = mended(mesh, Repair("turn")).mesh
    assert np.array_equal(done.vertices, mesh.vertices)
    assert np.array_equal(done.triangles[:-12], mesh.triangles[:-12])


def test_uniting_an_open_mesh_is_refused_with_the_places():
    with pytest.raises(NotASolid) as refused:
        mended(joined([open_box(), box((5, 5, 5), (15, 15, 15))]), Repair("unite"))
    assert refused.value.where


@pytest.mark.parametrize(("fix", "within"), [("polish", 0.0), ("join", 0.0), ("turn", 0.1), ("join", float("nan"))])
def test_repairs_that_make_no_sense(fix, within):
    with pytest.raises(BadValue):
        Repair(fix, within)


def test_a_part_remembers_its_repairs_in_numbers_of_the_file():
    """Mended in millimetres and then read in inches, or read in inches and then mended: the same mesh."""
    part = Part("crack", two(0.008))
    within = find_defects(part.topology)[0].within
    repair = Repair("join", within / part.mm_per_unit)
    first = part.mended(repair).in_unit("inch")
    second = part.in_unit("inch").mended(repair)
    np.testing.assert_allclose(first.mesh.vertices, second.mesh.vertices, rtol=1e-12)
    assert np.array_equal(first.mesh.triangles, second.mesh.triangles)
    assert first.repairs == second.repairs == (repair,)
    assert "open edges closed by joining" in first.notes[-1]
    back = first.in_unit("millimeter").unmended()
    np.testing.assert_allclose(back.mesh.vertices, part.mesh.vertices, rtol=1e-12)
    assert back.repairs == ()
    assert back.notes == part.notes


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    corners=arrays(np.float64, (8, 3), elements=st.integers(0, 3).map(float)),
    triangles=arrays(np.int32, (14, 3), elements=st.integers(0, 7)),
    nudge=st.sampled_from([0.0, 1e-4, 0.02]),
)
def test_any_heap_of_facets_is_looked_through_and_mended_or_refused(corners, triangles, nudge):
    """Nothing but a sentence comes of the worst mesh, and a repair leaves less of what it mends."""
    corners[4:] += nudge
    a, b, c = triangles.T
    mesh = Mesh(corners, triangles[(a != b) & (b != c) & (c != a)])
    for defect in find_defects(Topology.of(mesh)):
        assert np.isfinite(defect.places(mesh)).all()
        try:
            done = mended(mesh, Repair(defect.fix, defect.within)).mesh
        except MeshProblem:
            continue
        left = found(done).get(defect.fix, 0)
        assert left < defect.count or defect.fix == "turn"
