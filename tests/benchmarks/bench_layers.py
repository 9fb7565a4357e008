"""How fast layers and hanging regions come, as ratios and as growth. Run: pytest tests/benchmarks/bench_layers.py

Times are processor seconds of this process, so that other work on the machine disturbs little. Ratios are to trimesh's
sections in the same run.
"""

from __future__ import annotations

import time
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from core.design.setup import PrintSetup
from core.diagnose.layers import hanging
from core.diagnose.weak_spots import find_weak_spots
from core.geometry.mesh import Mesh
from core.geometry.slicing import slice_layers
from core.geometry.topology import Topology
from tests.meshes import torus

#: Layers of the sections that trimesh is timed on; its time grows linearly with them.
SECTIONS = 20
#: Growth beyond linear that measuring noise and the processor's caches may bring.
SLACK = 1.8


@cache
def subject(triangles: int) -> tuple[Mesh, Topology]:
    """A torus 100 mm high with so many triangles, and its topology."""
    count = int(np.sqrt(triangles))
    mesh = torus(60.0, 50.0, count, triangles // (2 * count))
    return mesh, Topology.of(mesh)


def heights(mesh: Mesh, count: int) -> np.ndarray:
    step = mesh.bounds[1, 2] / count
    return step * (np.arange(count) + 0.5)


def seconds(work, rounds: int = 3) -> float:
    """Least processor time of a few rounds."""
    out = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        out.append(time.process_time() - start)
    return min(out)


def test_a_million_triangles_in_500_layers(benchmark) -> None:
    mesh, topology = subject(1_000_000)
    z = heights(mesh, 500)
    layers = benchmark.pedantic(lambda: slice_layers(mesh, z, topology=topology), rounds=3, warmup_rounds=1)
    plain = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    theirs = seconds(lambda: plain.section_multiplane([0, 0, 0], [0, 0, 1], z[:: 500 // SECTIONS]), 1) * 500 / SECTIONS
    ours = seconds(lambda: slice_layers(mesh, z, topology=topology))
    with_topology = ours + seconds(lambda: Topology.of(mesh), 2)
    benchmark.extra_info |= {"seconds": ours, "with_topology": with_topology, "times_faster": theirs / ours}
    assert layers.areas.sum() * z[0] * 2 == pytest.approx(mesh.volume, rel=1e-3)
    assert theirs / ours >= 15


def test_hanging_regions_of_500_layers(benchmark) -> None:
    mesh, topology = subject(1_000_000)
    layers = slice_layers(mesh, heights(mesh, 500), topology=topology)
    found = benchmark.pedantic(lambda: hanging(layers, PrintSetup(), topology), rounds=3, warmup_rounds=1)
    slicing = seconds(lambda: slice_layers(mesh, layers.heights, topology=topology))
    looking = seconds(lambda: hanging(layers, PrintSetup(), topology))
    benchmark.extra_info |= {"seconds": looking, "share_of_slicing": looking / slicing}
    assert found.pieces
    assert looking <= 1.5 * slicing


def test_weak_spots_of_500_layers(benchmark) -> None:
    mesh, topology = subject(1_000_000)
    layers = slice_layers(mesh, heights(mesh, 500), topology=topology)
    benchmark.pedantic(lambda: find_weak_spots(layers, PrintSetup(), topology), rounds=2, warmup_rounds=1)


def test_growth_with_triangles(benchmark) -> None:
    counts = (100_000, 400_000, 1_000_000, 4_000_000)
    times = {}
    for n in counts:
        mesh, topology = subject(n)
        times[n] = seconds(lambda m=mesh, t=topology: slice_layers(m, heights(m, 500), topology=t), 2)
    benchmark.extra_info["seconds"] = times
    benchmark.pedantic(lambda: None, rounds=1)
    for small, large in pairwise(counts):
        assert times[large] <= SLACK * times[small] * large / small


def test_growth_with_layers(benchmark) -> None:
    mesh, topology = subject(1_000_000)
    counts = (100, 500, 2000)
    times = {n: seconds(lambda n=n: slice_layers(mesh, heights(mesh, n), topology=topology), 2) for n in counts}
    benchmark.extra_info["seconds"] = times
    benchmark.pedantic(lambda: None, rounds=1)
    for small, large in pairwise(counts):
        assert times[large] <= SLACK * times[small] * large / small
