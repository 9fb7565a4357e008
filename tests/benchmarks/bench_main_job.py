"""The main job's stages on large parts, each beside its floor. Run: pytest tests/benchmarks/bench_main_job.py -s

SIZES="100000 1000000 4000000" in the environment chooses the sizes; a million by default. With more than one size the
growth of every stage is fitted and printed at the end.
"""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.edge_index import edge_index
from core.files.read import read_part
from core.files.write import write_part, write_patched
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.polyline import Polyline
from core.geometry.pose import as_filed
from core.geometry.skin import added_as_a_whole, added_to, one_surface
from core.geometry.topology import Topology
from core.job.job import Pick, add_rows, new_job
from core.job.job_file import load_job, save_job
from core.proof.near import Near
from core.proof.prove import prove_row, surroundings
from core.proof.survival import survive
from tests import meshes
from tests.benchmarks.parts import BAR, GAP, PARTS
from tests.benchmarks.ratios import Ratio, against, growth

SETUP = PrintSetup()
SIZES = [int(n) for n in os.environ.get("SIZES", "1000000").split()]
_seen: dict[tuple[str, str], list[tuple[int, float]]] = defaultdict(list)

Case = tuple[str, int, Path, Part]
Tell = Callable[..., Ratio]


@pytest.fixture(scope="module", params=[(kind, size) for kind in PARTS for size in SIZES], ids=str)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    """A part of one kind and size, as a binary STL and as it was read from there."""
    kind, size = request.param
    path = tmp_path_factory.mktemp("parts") / f"{kind}_{size}.stl"
    write_part(PARTS[kind](size), path, unit="millimeter", name=kind)
    part = read_part(path)
    _ = part.topology.turns
    return kind, len(part.mesh.triangles), path, part


@pytest.fixture
def tell(case: Case) -> Tell:
    """Measure, print, and keep for the growth."""
    kind, size, _, _ = case

    def run(name: str, work: Callable[[], object], floor: Callable[[], object], target: str = "", **more: int) -> Ratio:
        ratio = against(f"{name}, {kind} {size / 1e6:.1f} M", work, floor, target, **more)
        _seen[name, kind].append((size, ratio.busy))
        print(f"\n{ratio}")
        return ratio

    return run


@pytest.fixture(scope="module", autouse=True)
def _growth() -> Iterator[None]:
    yield
    for (name, kind), points in _seen.items():
        if len(points) > 1:
            print(f"\ngrowth: {name}, {kind}: triangles to the power {growth(*zip(*points, strict=True)):.2f}", end="")


def gather(part: Part) -> Callable[[], object]:
    """The floor of what looks at every corner once."""
    v, t = part.mesh.vertices, part.mesh.triangles
    return lambda: v[t]


def row(mesh: Mesh, teeth: int) -> list[Mesh]:
    """A row of so many teeth under the bar."""
    span = measure_span(mesh, Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge), SETUP)
    return row_solids(span, plan_row(span, RowWishes(teeth=teeth), SETUP)).each()


def test_read_and_weld(case: Case, tell: Tell) -> None:
    tell("STL read + weld", lambda: read_part(case[2]), lambda: np.fromfile(case[2], np.uint8), "≤ 15 of a raw read")


def test_read_beside_trimesh(case: Case, tell: Tell) -> None:
    tell("trimesh's reading beside ours", lambda: trimesh.load(case[2]), lambda: read_part(case[2]), "≥ 5", rounds=2)


def test_edges_and_dihedrals(case: Case, tell: Tell) -> None:
    v, t = case[3].mesh.vertices, case[3].mesh.triangles
    tell("edges + dihedrals", lambda: Topology.of(Mesh(v, t)).turns, gather(case[3]), "≤ 8 of a gather")


def test_shells(case: Case, tell: Tell) -> None:
    topology = Topology.of(case[3].mesh)
    tell("shells", lambda: Topology.__dict__["shell_of_triangle"].func(topology), gather(case[3]), "≤ 5 of a gather")


def test_edge_index(case: Case, tell: Tell) -> None:
    tell("edges that can be picked", lambda: edge_index(case[3], as_filed(case[3].mesh)), gather(case[3]), rounds=3)


def test_span(case: Case, tell: Tell) -> None:
    edge = Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge)
    tell("span of 280 mm", lambda: measure_span(case[3].mesh, edge, SETUP), gather(case[3]))


def test_replan_sixty_teeth(case: Case, tell: Tell) -> None:
    span = measure_span(case[3].mesh, Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge), SETUP)
    work = lambda: row_solids(span, plan_row(span, RowWishes(teeth=60), SETUP)).mesh()  # noqa: E731
    tell("re-plan + ghost teeth, 60", work, lambda: plan_row(span, RowWishes(), SETUP), "≤ 8 ms")


def test_survival(case: Case, tell: Tell) -> None:
    mesh = case[3].mesh
    span = measure_span(mesh, Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge), SETUP)
    plan = plan_row(span, RowWishes(teeth=60), SETUP)
    teeth = row_solids(span, plan)
    tell(
        "survival of 60 teeth", lambda: survive(Near(mesh, span, SETUP), plan, teeth), gather(case[3]), rounds=3
    )


def test_proof(case: Case, tell: Tell) -> None:
    """Survival, clearance, hold and snap: anew, and for another tip in surroundings that are known."""
    mesh = case[3].mesh
    span = measure_span(mesh, Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge), SETUP)
    plans = itertools.cycle(plan_row(span, RowWishes(teeth=60, tip=tip), SETUP) for tip in (0.45, 0.5, 0.55))

    def first() -> None:
        surroundings.cache_clear()
        prove_row(mesh, span, next(plans), SETUP)

    tell("first proof of 60 teeth", first, gather(case[3]), "≤ 2 s", rounds=3)
    tell("proof after a change", lambda: prove_row(mesh, span, next(plans), SETUP), gather(case[3]), "≤ 0.5 s")


def test_lapped_bond(case: Case, tell: Tell) -> None:
    mesh, teeth = case[3].mesh, row(case[3].mesh, 60)
    v, t = mesh.vertices, mesh.triangles
    tell("lapped bond", lambda: joined([mesh, *teeth]), lambda: (v.copy(), t.copy()), "≤ 2 of a copy")


def test_one_skin(case: Case, tell: Tell) -> None:
    part, teeth = case[3], row(case[3].mesh, 60)
    surface = one_surface(part.mesh, part.topology)
    tell("one skin, 60 teeth", lambda: added_to(surface, teeth), gather(part), "≤ 0.7 s", rounds=3)


def test_one_skin_beside_the_boolean_library(case: Case, tell: Tell) -> None:
    part, teeth = case[3], row(case[3].mesh, 60)
    surface = one_surface(part.mesh, part.topology)
    plain, ours = (lambda: added_as_a_whole(part.mesh, teeth)), (lambda: added_to(surface, teeth))
    tell("whole part through the boolean library", plain, ours, rounds=1)


def test_patch(case: Case, tell: Tell, tmp_path: Path) -> None:
    added = joined(row(case[3].mesh, 60))
    work = lambda: write_patched(case[3], added, tmp_path / "out.stl", replace=True)  # noqa: E731
    tell("STL patch", work, lambda: shutil.copyfile(case[2], tmp_path / "copy.stl"), "≤ 2.5 of a copy", rounds=3)


def test_export(case: Case, tell: Tell, tmp_path: Path) -> None:
    data = case[2].read_bytes()
    work = lambda: write_part(case[3].mesh, tmp_path / "o.stl", unit="millimeter", name="x", replace=True)  # noqa: E731
    tell("STL export", work, lambda: (tmp_path / "raw").write_bytes(data), "≤ 7 of a raw write", rounds=3)


def test_open_a_job(case: Case, tell: Tell, tmp_path: Path) -> None:
    """A job with five rows, each with its edge of 280 mm, beside reading its mesh alone."""
    edge = Pick(Polyline.of(meshes.bar_over_ledge(BAR, GAP).edge))
    job = add_rows(new_job(read_part(case[2])), ((edge, RowWishes(teeth=60)),) * 5)
    save_job(job, tmp_path / "five.snapcomb.json")
    tell("open a job with 5 rows", lambda: load_job(tmp_path / "five.snapcomb.json"), lambda: read_part(case[2]),
         "≤ 1.2 of reading the mesh")  # fmt: skip


_INSPECT = """
import sys, time
from core.diagnose.inspection import inspect_part
from core.design.setup import PrintSetup
from core.files.read import read_part
from core.geometry.pose import as_filed
def peak():  # resource's figure is handed on from the process that started this one
    lines = open("/proc/self/status").read().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 2**20
before, start, busy = peak(), time.perf_counter(), time.process_time()
part = read_part(sys.argv[1])
found = inspect_part(part, as_filed(part.mesh), PrintSetup())
clock, busy = time.perf_counter() - start, time.process_time() - busy
print(f"{clock:.2f} s on the clock, {busy:.2f} s of processor, {peak() - before:.2f} GiB beside the imports'",
      f"{before:.2f}; {len(found.weak_spots)} spots, {len(found.gaps)} gaps")
"""


def test_inspection_in_a_process_of_its_own(case: Case) -> None:
    done = subprocess.run([sys.executable, "-c", _INSPECT, str(case[2])], check=True, capture_output=True, text=True)
    limits = "≤ 3 s and 1.5 GB at 1 M, 12 s and 5 GB at 4 M"
    print(f"\nread + inspect, {case[0]} {case[1] / 1e6:.1f} M ({limits}): {done.stdout}")
