"""Welding: bit-exact, in order of appearance. Second opinion: numpy.unique."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from core.errors import MeshProblem
from core.geometry import weld as module
from core.geometry.weld import weld


def by_unique(corners):
    """The same by sorting: numpy.unique of the rows, put back in order of appearance."""
    points = corners.reshape(-1, 3) + corners.dtype.type(0)
    _, at, inverse = np.unique(points, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(at)
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return points[np.sort(at)], rank[inverse.reshape(-1)].reshape(-1, 3)


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@settings(max_examples=60, derandomize=True, deadline=None)
@given(data=st.data())
def test_agrees_with_sorting(dtype, data):
    few = st.sampled_from([0.0, -0.0, 1.0, -1.0, 1e-30, 0.1, 1e6, 2.5])
    corners = data.draw(hnp.arrays(dtype, st.tuples(st.integers(0, 40), st.just(3), st.just(3)), elements=few))
    vertices, triangles = weld(corners)
    expected_vertices, expected_triangles = by_unique(corners)
    assert vertices.dtype == dtype
    assert triangles.dtype == np.int32
    np.testing.assert_array_equal(vertices, expected_vertices)
    np.testing.assert_array_equal(triangles, expected_triangles)


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_many_points_over_several_chunks(dtype):
    rng = np.random.default_rng(5)
    pool = rng.normal(size=(20_000, 3)).astype(dtype)
    corners = pool[rng.integers(0, len(pool), size=(60_000, 3))]
    vertices, triangles = weld(corners)
    expected_vertices, expected_triangles = by_unique(corners)
    np.testing.assert_array_equal(vertices, expected_vertices)
    np.testing.assert_array_equal(triangles, expected_triangles)


def test_a_hash_that_always_collides_still_gives_the_right_answer(monkeypatch):
    def one_place(keys, bits, turn, out):
        out[:] = 0

    monkeypatch.setattr(module, "_hash", one_place)
    rng = np.random.default_rng(6)
    corners = rng.integers(0, 4, size=(500, 3, 3)).astype(np.float32)
    vertices, triangles = weld(corners)
    expected_vertices, expected_triangles = by_unique(corners)
    np.testing.assert_array_equal(vertices, expected_vertices)
    np.testing.assert_array_equal(triangles, expected_triangles)


def test_signs_of_zero_are_one_number_and_neighbours_in_the_last_bit_are_two():
    one = np.float32(1.0)
    after = np.nextafter(one, np.float32(2))
    vertices, triangles = weld(np.float32([[[0.0, 0, 0], [-0.0, 0, -0.0], [one, 0, 0]], [[after, 0, 0]] * 3]))
    assert len(vertices) == 3
    assert triangles.tolist() == [[0, 0, 1], [2, 2, 2]]
    assert not np.signbit(vertices).any()


def test_the_input_is_neither_changed_nor_shared():
    corners = np.float64([[[-0.0, 0, 0], [1, 0, 0], [0, 1, 0]]])
    corners.setflags(write=False)
    vertices, _ = weld(corners)
    assert np.signbit(corners[0, 0, 0])
    assert not np.shares_memory(vertices, corners)


def test_no_triangles():
    vertices, triangles = weld(np.zeros((0, 3, 3), np.float32))
    assert vertices.shape == (0, 3)
    assert triangles.shape == (0, 3)


@pytest.mark.parametrize("corners", [np.zeros((3, 3)), np.zeros((1, 3, 2)), np.zeros((1, 3, 3), np.int32)])
def test_other_arrays_are_refused(corners):
    with pytest.raises(MeshProblem):
        weld(corners)
