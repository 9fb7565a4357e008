"""How the whole inspection grows with triangles and with layers. Run: pytest tests/benchmarks/bench_inspection.py -s

TRIANGLES="100000 1000000" in the environment chooses the sizes, LAYERS="100 500" the layers. Every point is a process
of its own, so that its memory is its own too. Times are of the processor and leave reading and imports out.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from core.files.write import write_part
from tests.benchmarks.parts import PARTS
from tests.benchmarks.ratios import growth

TRIANGLES = [int(n) for n in os.environ.get("TRIANGLES", "100000 300000 1000000 4000000").split()]
LAYERS = [int(n) for n in os.environ.get("LAYERS", "100 300 1000 2000").split()]
#: Facets of the part that is cut into more and more layers.
FACETS = 300_000
#: Growth beyond linear that noise and the processor's caches may bring, as a power.
SLACK = 0.25

_INSPECT = """
import sys, time
from core.diagnose.inspection import inspect_part
from core.design.setup import PrintSetup
from core.files.read import read_part
from core.geometry.pose import as_filed
def peak():
    lines = open("/proc/self/status").read().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 2**20
part = read_part(sys.argv[1])
height = float(part.mesh.bounds[1, 2] - part.mesh.bounds[0, 2])
layer = height / int(sys.argv[2]) if len(sys.argv) > 2 else PrintSetup().layer_height
before, start, busy = peak(), time.perf_counter(), time.process_time()
found = inspect_part(part, as_filed(part.mesh), PrintSetup(layer_height=layer, first_layer=layer))
print(time.process_time() - busy, time.perf_counter() - start, peak(), len(part.mesh.triangles), round(height / layer),
      len(found.weak_spots))
"""


def inspected(kind: str, triangles: int, folder: Path, layers: int | None = None) -> tuple[float, int, int]:
    """Processor seconds, facets and layers of one inspection in a process of its own; told on the way."""
    path = folder / f"{kind}_{triangles}.stl"
    if not path.exists():
        write_part(PARTS[kind](triangles), path, unit="millimeter", name=kind)
    more = [] if layers is None else [str(layers)]
    command = [sys.executable, "-c", _INSPECT, str(path), *more]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    busy, clock, peak, facets, cut, spots = (float(x) for x in done.stdout.split())
    print(f"\n{kind:<9} {facets:>11,.0f} facets {cut:6.0f} layers {spots:4.0f} weak spots", end="")
    print(f" {busy:7.2f} s of processor {clock:7.2f} s on the clock {peak:5.2f} GiB at most", end="", flush=True)
    return busy, int(facets), int(cut)


def told(kind: str, of: str, sizes: Sequence[float], seconds: Sequence[float]) -> None:
    """Print how time grows, and hold it to linear."""
    power = growth(sizes, seconds)
    print(f"\n{kind}: {of} to the power {power:.2f}")
    assert power <= 1 + SLACK


@pytest.mark.parametrize("kind", PARTS)
def test_growth_with_triangles(kind: str, tmp_path: Path) -> None:
    found = [inspected(kind, n, tmp_path) for n in TRIANGLES]
    told(kind, "facets", [f[1] for f in found], [f[0] for f in found])


def test_growth_with_layers(tmp_path: Path) -> None:
    found = [inspected("organic", FACETS, tmp_path, n) for n in LAYERS]
    told("organic", "layers", [f[2] for f in found], [f[0] for f in found])
