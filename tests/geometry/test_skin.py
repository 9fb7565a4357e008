"""One skin by the neighbourhood of what is added, against the plain union of everything by the boolean library.

Outside references: manifold3d on whole meshes; trimesh for closedness and volume; the winding number is a whole number
for closed surfaces (van Oosterom and Strackee 1983).
"""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from core.errors import NotASolid
from core.geometry import skin
from core.geometry.mesh import Mesh, joined
from core.geometry.topology import Topology
from core.geometry.vicinity import open_edges, vicinity, winding_number
from tests import meshes


def organic(level=4, radius=20.0):
    """A bumpy ball whose coordinates are float32 numbers, as if read from a file."""
    ball = trimesh.creation.icosphere(level, radius=radius)
    bumps = 1 + 0.05 * np.sin(ball.vertices * 0.7).sum(axis=1)
    return Mesh((ball.vertices * bumps[:, None]).astype(np.float32).astype(float), ball.faces)


def box_at(centre, size):
    centre, size = np.asarray(centre, float), np.asarray(size, float)
    return meshes.box(centre - size / 2, centre + size / 2)


PARTS = {
    "organic": organic(),
    "torus": meshes.torus(),
    "hollow": meshes.hollow_box(),
    "arch": meshes.arch(),
    "tetrahedron": meshes.platonic("tetrahedron"),
    "two apart": joined(
        [organic(3), organic(3).moved(np.array([[1, 0, 0, 60], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]]))]
    ),
    "box in a box's corner": joined([meshes.box(), box_at((30, 5, 5), (4, 4, 4))]),
    "overlapping": meshes.two_overlapping_boxes(),
}


def same_solid(ours, plain):
    """Closed by trimesh's count, and of the plain way's volume, extent and number of bodies."""
    a, b = (trimesh.Trimesh(m.vertices, m.triangles, process=False) for m in (ours, plain))
    assert a.is_watertight
    assert a.is_winding_consistent
    assert a.volume == pytest.approx(b.volume, rel=1e-7)
    assert a.area == pytest.approx(b.area, rel=1e-6)
    np.testing.assert_allclose(a.bounds, b.bounds, atol=1e-4)
    assert Topology.of(ours).shell_count == Topology.of(plain).shell_count


@pytest.mark.parametrize("name", PARTS)
@settings(max_examples=25, derandomize=True, deadline=None)
@given(data=st.data())
def test_the_same_body_as_by_the_plain_way(name, data):
    part = PARTS[name]
    low, high = part.bounds
    rng = np.random.default_rng(data.draw(st.integers(0, 10_000)))
    middle = rng.uniform(low, high)
    count = data.draw(st.integers(1, 5))
    teeth = [box_at(middle + rng.normal(0, 2, 3), rng.uniform(0.5, 5, 3)) for _ in range(count)]
    same_solid(skin.united(part, teeth), skin.added_as_a_whole(part, teeth))


@pytest.mark.parametrize("name", ["organic", "torus", "two apart"])
def test_facets_out_of_reach_stay_bit_for_bit_and_in_order(name):
    part = PARTS[name]
    tip = part.vertices[part.vertices[:, 2].argmax()]
    tooth = box_at(tip, (1, 1, 2))
    out = skin.united(part, [tooth])
    far = ~vicinity(part, *(tooth.bounds + np.array([[-skin.MARGIN], [skin.MARGIN]]))).near
    assert far.sum() > 0.8 * len(far)
    np.testing.assert_array_equal(out.corners[: far.sum()], part.corners[far].astype(np.float32))


def test_the_boolean_library_sees_only_the_neighbourhood(monkeypatch):
    seen = []
    true = skin.solid_as_it_is
    monkeypatch.setattr(skin, "solid_as_it_is", lambda m, o: seen.append(len(m.triangles)) or true(m, o))
    part = organic(6)
    tip = part.vertices[part.vertices[:, 2].argmax()]
    skin.united(part, [box_at(tip, (1, 1, 2))])
    assert len(part.triangles) > 80_000
    assert len(seen) == 1
    assert seen[0] < 2_000


def test_teeth_inside_and_outside():
    part = organic()
    inside, outside = box_at((0, 0, 0), (2, 2, 2)), box_at((100, 0, 0), (2, 2, 2))
    assert skin.united(part, [inside]).volume == pytest.approx(part.volume, rel=1e-6)
    assert skin.united(part, [outside]).volume == pytest.approx(part.volume + 8, rel=1e-6)
    assert skin.united(part, [inside, outside]).volume == pytest.approx(part.volume + 8, rel=1e-6)


def test_teeth_all_over_the_part_go_group_by_group():
    part = organic(5)
    far = part.vertices[:: len(part.vertices) // 12]
    teeth = [box_at(p, (2, 2, 2)) for p in far]
    same_solid(skin.united(part, teeth), skin.added_as_a_whole(part, teeth))


def test_what_does_not_fit_back_goes_the_plain_way(monkeypatch):
    part, teeth = organic(), [box_at((0, 0, 20), (2, 2, 8))]
    plain = skin.added_as_a_whole(part, teeth)
    monkeypatch.setattr(skin, "_same_edges", lambda a, b: False)
    out = skin.united(part, teeth)
    assert out.content_hash == plain.content_hash


def test_shells_that_do_not_touch_leave_the_part_as_it_is_and_those_that_do_are_united():
    for name in ("organic", "hollow", "two apart", "box in a box's corner"):
        assert skin.one_surface(PARTS[name]) is PARTS[name]
    boxes = PARTS["overlapping"]
    assert skin.one_surface(boxes) is not boxes
    assert Topology.of(skin.one_surface(boxes)).shell_count == 1
    near = joined([meshes.arch(), box_at(meshes.arch().bounds.mean(axis=0) * [1, 1, 0.5], (2, 2, 2))])
    assert skin.one_surface(near) is near  # boxes overlap, bodies do not


def test_inside_out_and_open_parts():
    assert skin.united(meshes.inverted_box(), [box_at((5, 10, 30), (2, 2, 2))]).volume == pytest.approx(6004, rel=1e-6)
    with pytest.raises(NotASolid, match="not closed"):
        skin.united(meshes.open_box(), [meshes.box()])


@settings(max_examples=80, derandomize=True, deadline=None)
@given(
    name=st.sampled_from(["organic", "torus", "hollow", "arch", "tetrahedron", "two apart"]), seed=st.integers(0, 9999)
)
def test_the_neighbourhood_encloses_every_point_of_the_box_as_the_whole_does(name, seed):
    mesh = PARTS[name]
    rng = np.random.default_rng(seed)
    centre = rng.uniform(*mesh.bounds)
    half = rng.uniform(0.1, 6, 3)
    low, high = centre - half, centre + half
    around = vicinity(mesh, low, high)
    assert not len(open_edges(around.closed.triangles))
    cap = around.closed.triangles[np.count_nonzero(around.near) :]
    assert (cap >= len(around.vertex_ids) - 6).any(axis=1).all()
    for point in rng.uniform(low, high, (8, 3)):
        whole = winding_number(mesh.vertices, mesh.triangles, point)
        here = winding_number(around.closed.vertices, around.closed.triangles, point - centre)
        assert whole == pytest.approx(round(whole), abs=1e-6)
        assert here == pytest.approx(whole, abs=1e-6)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(name=st.sampled_from(["organic", "torus", "arch", "tetrahedron"]), seed=st.integers(0, 9999))
def test_the_cap_stays_out_of_the_box(name, seed):
    """No point of any triangle of the cap lies in the box, by points spread over the triangles."""
    mesh = PARTS[name]
    rng = np.random.default_rng(seed)
    centre, half = rng.uniform(*mesh.bounds), rng.uniform(0.1, 6, 3)
    around = vicinity(mesh, centre - half, centre + half)
    cap = around.closed.corners[np.count_nonzero(around.near) :]
    weights = rng.dirichlet((0.5, 0.5, 0.5), 400)
    points = np.einsum("wk,mkx->mwx", weights, cap)
    assert (np.abs(points) > half).any(axis=2).all()
