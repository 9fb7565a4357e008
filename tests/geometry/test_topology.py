"""Edges, dihedral angles and shells against handbook values and a general mesh library."""

import numpy as np
import pytest
import trimesh

from core.geometry.mesh import Mesh
from core.geometry.topology import Topology
from tests import meshes

# Dihedral angles of the regular solids: H. S. M. Coxeter, Regular Polytopes, table I.
COXETER = {
    "tetrahedron": 70.5288, "cube": 90.0, "octahedron": 109.4712, "dodecahedron": 116.5651, "icosahedron": 138.1897,
}  # fmt: skip


@pytest.mark.parametrize(("name", "dihedral"), COXETER.items())
def test_regular_solids_have_their_handbook_dihedrals(name: str, dihedral: float) -> None:
    topology = Topology.of(meshes.platonic(name))
    sharp = topology.turns[np.abs(topology.turns) > np.radians(1)]
    assert len(sharp) == {"tetrahedron": 6, "cube": 12, "octahedron": 12, "dodecahedron": 30, "icosahedron": 30}[name]
    np.testing.assert_allclose(180 - np.degrees(sharp), dihedral, atol=2e-4)


@pytest.mark.parametrize("name", sorted(meshes.CLOSED))
def test_pairs_and_angles_agree_with_trimesh(name: str) -> None:
    mesh = meshes.CLOSED[name]() if callable(meshes.CLOSED[name]) else meshes.CLOSED[name]
    topology = Topology.of(mesh)
    other = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    ours = sorted(map(tuple, np.sort(topology.edge_triangles[~topology.irregular], axis=1).tolist()))
    theirs = sorted(map(tuple, np.sort(other.face_adjacency, axis=1).tolist()))
    if topology.watertight:
        assert ours == theirs
        np.testing.assert_allclose(
            np.sort(np.abs(topology.turns)), np.sort(other.face_adjacency_angles), atol=1e-6
        )
    assert topology.watertight == other.is_watertight


def test_fast_and_general_pairing_agree() -> None:
    from core.geometry import topology as module

    mesh = meshes.torus()
    fast = module._pairs_closed(mesh.triangles, len(mesh.vertices))
    general = module._pairs_general(mesh)
    assert fast is not None
    assert {tuple(sorted(p)) for p in zip(*fast[:2], strict=True)} == {
        tuple(sorted(p)) for p in zip(*general[:2], strict=True)
    }


def test_concave_edges_turn_the_other_way() -> None:
    outline = [(0, 0), (20, 0), (20, 10), (10, 10), (10, 20), (0, 20)]  # an L: one reentrant corner
    turns = np.degrees(Topology.of(meshes.prism(outline, 0, 5)).turns)
    assert np.isclose(turns, -90, atol=1e-9).sum() == 1
    assert np.isclose(turns, 90, atol=1e-9).sum() == 17


def test_edges_shared_by_four_triangles_are_paired_by_wedge() -> None:
    a, b = meshes.box((0, 0, 0), (1, 1, 1)), meshes.box((1, 1, 0), (2, 2, 1))
    points, index = np.unique(np.vstack([a.vertices, b.vertices]), axis=0, return_inverse=True)
    triangles = index.ravel()[np.vstack([a.triangles, b.triangles + len(a.vertices)])]
    topology = Topology.of(Mesh(points, triangles.astype(np.int32)))
    np.testing.assert_allclose(np.degrees(topology.turns[topology.irregular]), [90, 90])


def test_borders_and_shells_are_told() -> None:
    assert Topology.of(meshes.open_box()).borders.any()
    assert not Topology.of(meshes.open_box()).watertight
    two = Topology.of(meshes.two_overlapping_boxes())
    assert two.shell_count == 2
    assert (two.shell_volumes() > 0).all()
    assert Topology.of(meshes.inverted_box()).shell_volumes()[0] < 0


def test_an_empty_mesh_has_an_empty_topology() -> None:
    topology = Topology.of(meshes.empty())
    assert topology.shell_count == 0
    assert len(topology.edges) == 0
    assert not topology.watertight


def test_read_only_arrays_are_enough_and_stay_read_only() -> None:
    topology = Topology.of(meshes.box())
    for array in (topology.edges, topology.turns, topology.edge_triangles, topology.features):
        assert not array.flags.writeable
