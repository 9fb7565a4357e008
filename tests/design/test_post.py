"""Posts: solids against the closed form of a frustum, places against what stands around them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.design.post import SIDES, post_at, turned
from core.design.surface_lines import lowest_point
from core.errors import SpanProblem
from core.geometry.mesh import Mesh, joined
from core.proof.hold import topple
from tests.design.walls import SETUP, closed_one_body, least_distance, weak_spots
from tests.meshes import box


def test_a_turned_body_has_the_volume_of_its_frustums():
    # A regular n-gon of radius r covers n/2 sin(2π/n) r²; a frustum of it h/3 (A + √(A a) + a).
    rings = np.array([[0.0, 4.0], [1.0, 4.0], [1.0, 2.0], [9.0, 2.0], [10.0, 0.5]])
    share = SIDES / 2 * np.sin(2 * np.pi / SIDES)
    solid = turned(rings, np.array([3.0, -2.0]))
    assert closed_one_body(solid)
    assert solid.volume == pytest.approx(share * (16 * 1 + 4 * 8 + 1 / 3 * (4 + 1 + 0.25)), rel=1e-9)


def test_a_post_under_a_sphere_touches_its_lowest_point_alone():
    ball = trimesh.creation.icosphere(subdivisions=5, radius=12.0)
    ball.apply_translation((0, 0, 32))
    part = Mesh(np.asarray(ball.vertices), np.asarray(ball.faces, np.int32))
    post = post_at(part, lowest_point(part, [(-8, -8), (8, -8), (8, 8), (-8, 8)]), SETUP)
    assert closed_one_body(post.solid)
    assert post.at[2] == pytest.approx(20.0, abs=0.02)
    assert post.solid.bounds[0, 2] == 0.0
    assert post.solid.bounds[1, 2] - 20.0 == pytest.approx(0.1, abs=0.03)  # sunk by half a layer
    assert topple(post.solid) > 10
    assert weak_spots(post.solid) == []
    below = post.solid.vertices[post.solid.vertices[:, 2] < post.at[2] - post.gap + 1e-6]
    d = trimesh.proximity.closest_point(ball, below)[1]
    assert d.min() >= 0.5


def test_a_post_on_the_part_stands_on_a_point():
    part = joined([box((0, 0, 0), (30, 30, 4)), box((0, 0, 20), (30, 30, 24)), box((0, 0, 3), (3, 30, 21))])
    post = post_at(part, (20, 15, 20), SETUP)
    assert post.base == "part"
    assert post.floor == 4.0
    assert post.solid.bounds[0, 2] == pytest.approx(4.0 - 0.1)
    assert closed_one_body(post.solid)


def test_a_post_keeps_away_from_what_stands_beside_it():
    part = joined([box((0, -10, 0), (2, 10, 24)), box((1, -10, 20), (30, 10, 24))])
    with pytest.raises(SpanProblem, match="no room"):
        post_at(part, (3.0, 0, 20), SETUP)
    post = post_at(part, (5.0, 0, 20), SETUP)
    cut = post.solid.vertices[post.solid.vertices[:, 2] < 18.0]
    assert cut[:, 0].min() >= 2.5
    assert least_distance(box((0, -10, 0), (2, 10, 24)), post.solid) >= 0.5
    with pytest.raises(SpanProblem, match="Nothing hangs"):
        post_at(part, (5.0, 0, 40), SETUP)
