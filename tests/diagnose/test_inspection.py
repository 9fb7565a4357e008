"""The inspection as a whole, as scripts read it. Truth: the samples' truth file; unit factors; installed meshes."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import pyvista
import trimesh
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from core.design.setup import PrintSetup
from core.design.tooth import row_solids
from core.diagnose.inspection import inspect_part, inspection_json
from core.errors import Cancelled
from core.geometry.mesh import Mesh, joined
from core.geometry.part import Part
from core.geometry.pose import as_filed
from core.geometry.solids import mesh_of, solid_of
from tests.diagnose.sample_parts import PLAIN, TRUTH, part_of, single
from tests.meshes import CLOSED, bar_over_ledge, box, empty, flat_sheet, flipped, inverted_box, open_box
from tests.strategies import upright_poses

SETUP = PrintSetup()
FEW = settings(max_examples=4, deadline=None, derandomize=True, phases=(Phase.explicit, Phase.generate))


def told(part, **more):
    """The inspection of a part as filed, once through JSON."""
    found = inspect_part(part, as_filed(part.mesh), SETUP, **more)
    return json.loads(json.dumps(inspection_json(found), allow_nan=False))


def middle(points):
    return np.mean([points[0], points[-1]], axis=0)


def compare(found, truth, to_file=None):
    """Gaps, rows and weak spots against the truth; ``to_file`` moves the truth's points (file mm) along."""
    move = np.eye(4) if to_file is None else to_file

    def at(points):
        return np.asarray(points) @ move[:3, :3].T + move[:3, 3]

    assert len(found["weak_spots"]) == len(truth["weak_spots"])
    for spot, true in zip(found["weak_spots"], sorted(truth["weak_spots"], key=lambda w: -w["reach_mm"]), strict=False):
        assert spot["severity"] > 0
        assert true["kind"] in {s["kind"] for s in found["weak_spots"]}
    assert len(found["gaps"]) == len(truth["gaps"])
    assert len(found["rows"]) == len(truth["rows"])
    for true in truth["gaps"]:
        if true["closed"]:
            gap = next(g for g in found["gaps"] if g["closed"])
        else:
            gap = min(found["gaps"], key=lambda g: np.linalg.norm(middle(g["edge"]) - middle(at(true["edge"]))))
            strip = true["strip_width_mm"]
            assert np.linalg.norm(middle(gap["edge"]) - middle(at(true["edge"]))) < strip
            assert np.linalg.norm(middle(gap["ledge"]) - middle(at(true["ledge"]))) < strip
        assert gap["direction"] == true["direction"]
        assert gap["length_mm"] == pytest.approx(true["length_mm"], rel=0.01)
        figures = gap["gap_min_mm"], gap["gap_max_mm"]
        assert figures == pytest.approx((true["gap_min_mm"], true["gap_max_mm"]), abs=0.02)
        assert (gap["enough"], gap["weak_spot"] is None) == (true["enough"], true["weak_spot"] is None)
        assert (gap["row_suggested"] is None) == true["enough"]
        assert (gap["row_present"] is None) == (true["row_present"] is None)
        if true["row_present"] is None:
            continue
        row = next(r for r in found["rows"] if r["id"] == gap["row_present"])
        known = next(r for r in truth["rows"] if r["id"] == true["row_present"])
        assert (row["gap"], row["teeth"], row["direction"]) == (gap["id"], known["teeth"], known["direction"])
        for name in ("foot_mm", "tip_mm", "thickness_mm", "height_mm", "pitch_mm"):
            assert row[name] == pytest.approx(known[name], abs=0.03), name
        ends = np.array([row["from"], row["to"]])
        true_ends = at([known["from"], known["to"]])
        assert min(np.abs(ends - true_ends).max(), np.abs(ends - true_ends[::-1]).max()) < 0.05


@pytest.mark.parametrize("name", PLAIN)
def test_samples_say_what_the_generator_knows(name):
    found = told(part_of(name))
    compare(found, TRUTH[name])
    assert found["file"] == {
        "name": name, "triangles": TRUTH[name]["triangles"], "shells": TRUTH[name]["shells"], "watertight": True,
        "unit": TRUTH[name]["unit"],
    }  # fmt: skip
    assert np.array(found["pose"]) == pytest.approx(np.array(TRUTH[name]["pose"]), abs=1e-4)


@FEW
@given(name=st.sampled_from(PLAIN), pose=upright_poses())
def test_samples_in_random_places(name, pose):
    """Turned about the vertical and shifted, rounded to single precision: nothing changes but rounding."""
    part = part_of(name)
    moved = Part(name, single(part.mesh.moved(pose)), part.unit, True)
    compare(told(moved), TRUTH[name], pose)


@pytest.mark.parametrize("bond", ["lapped", "one skin"])
@pytest.mark.parametrize("name", ["sloping_hood", "round_shroud"])
def test_a_part_with_the_rows_that_were_proposed_lacks_nothing(name, bond):
    part = part_of(name)
    pose = as_filed(part.mesh)
    before = inspect_part(part, pose, SETUP)
    rows = [(g.span, g.suggested) for g in before.gaps if g.suggested]
    mesh = joined([part.mesh.moved(pose.matrix), *(row_solids(*row).mesh() for row in rows)])
    if bond == "one skin":
        origin = mesh.bounds.mean(axis=0)
        mesh = mesh_of(solid_of(mesh, origin), origin)
    after = told(Part(name, single(mesh)))
    assert after["weak_spots"] == []
    assert all(g["enough"] and g["row_suggested"] is None for g in after["gaps"])
    teeth = sorted([plan.teeth for _, plan in rows] + [r["teeth"] for r in TRUTH[name]["rows"]])
    assert sorted(r["teeth"] for r in after["rows"]) == teeth
    figures = [(g["gap_min_mm"], g["gap_max_mm"]) for g in TRUTH[name]["gaps"]]
    found = sorted((g["gap_min_mm"], g["gap_max_mm"]) for g in after["gaps"])
    assert np.array(found) == pytest.approx(np.array(sorted(figures)), abs=0.02)


def test_a_file_in_inches_is_the_same_part():
    """25.4 mm in an inch, exactly, since 1 July 1959 (NIST)."""
    part = part_of("rain_hood")
    inch = Part("in", single(Mesh(part.mesh.vertices / 25.4, part.mesh.triangles)), "millimeter").in_unit("inch")
    compare(told(inch), TRUTH["rain_hood"])


def test_the_form_of_the_json():
    found = told(part_of("rain_hood"))
    assert list(found) == [
        "format", "version", "file", "pose", "setup", "weak_spots", "gaps", "rows", "pieces", "notes"
    ]  # fmt: skip
    assert (found["format"], found["version"]) == ("snapcomb.inspection", 1)
    for name in ("layer_height_mm", "line_width_mm", "material", "overhang_deg", "clear_bridge_mm"):
        assert name in found["setup"]
    gap = next(g for g in found["gaps"] if g["row_suggested"])
    assert set(gap["row_suggested"]) == {
        "teeth", "pitch_mm", "foot_mm", "tip_mm", "thickness_mm", "clear_bridge_mm"
    }  # fmt: skip
    assert set(found["weak_spots"][0]) == {
        "id", "kind", "z_mm", "length_mm", "reach_mm", "area_mm2", "severity", "path"
    }  # fmt: skip
    assert set(found["rows"][0]) == {
        "id", "gap", "direction", "teeth", "pitch_mm", "foot_mm", "tip_mm", "thickness_mm", "height_mm", "from", "to"
    }  # fmt: skip


def test_causes_are_sentences():
    part = part_of("rain_hood")
    found = inspect_part(part, as_filed(part.mesh), SETUP)
    lip = "The fin stops 1.6 mm short of this edge for 72 mm; no teeth here; its other edge has 4."
    assert found.gaps[0].cause == lip
    assert "13 teeth stand here" in next(g.cause for g in found.gaps if g.direction == "side")


def test_an_island_has_no_finite_reach():
    found = told(Part("floating", joined([box((0, 0, 0), (20, 20, 5)), box((5, 5, 30), (15, 15, 34))])))
    spot = next(s for s in found["weak_spots"] if s["kind"] == "island")
    assert spot["reach_mm"] is None
    assert spot["severity"] == 1


def test_fine_as_it_is():
    part = part_of("rain_hood")
    first = inspect_part(part, as_filed(part.mesh), SETUP)
    key = first.weak_spots[0].key
    again = inspect_part(part, as_filed(part.mesh), SETUP, dismissed=(key,))
    assert [s.dismissed for s in again.weak_spots] == [True]
    assert all(g.enough for g in again.gaps)
    assert inspection_json(again)["weak_spots"] == []


def test_progress_rises_and_work_can_be_given_up():
    part, told_so_far = part_of("bare_bracket"), []
    inspect_part(part, as_filed(part.mesh), SETUP, progress=lambda share, text: told_so_far.append((share, text)))
    shares = [s for s, _ in told_so_far]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    for stop in range(0, len(told_so_far), max(len(told_so_far) // 5, 1)):
        calls = iter(range(10**6))
        with pytest.raises(Cancelled):
            inspect_part(part, as_filed(part.mesh), SETUP, cancelled=lambda c=calls, n=stop: next(c) >= n)


@pytest.mark.parametrize("name", sorted(CLOSED))
def test_small_shapes_give_sane_answers(name):
    found = told(Part(name, CLOSED[name]()))
    for gap in found["gaps"]:
        assert 0 < gap["gap_min_mm"] <= gap["gap_max_mm"] <= SETUP.longest_tooth + 1
    assert all(0 < s["severity"] <= 1 for s in found["weak_spots"])


def test_broken_meshes_are_told_and_do_not_break():
    assert told(Part("nothing", empty()))["gaps"] == []
    assert told(Part("sheet", flat_sheet()))["rows"] == []
    assert any("hole" in n or "open" in n.lower() for n in told(Part("open", open_box()))["notes"])
    assert told(Part("inside out", inverted_box()))["weak_spots"] == []


def test_an_inside_out_part_is_read_all_the_same():
    made = bar_over_ledge(40.0, 1.2, overlap=(1, 1), posts=True)
    found = told(Part("inside out", flipped(made.mesh)))
    assert [(g["gap_min_mm"], g["enough"]) for g in found["gaps"]] == [(1.2, False)]
    assert any("inside out" in n or "turned" in n for n in found["notes"])


def installed_meshes():
    """Meshes that come inside installed packages: scans and models that nobody made for this program."""
    folder = Path(pyvista.__file__).parent / "examples"
    return sorted(str(p) for p in folder.glob("*") if p.suffix in {".ply", ".stl"})


@pytest.mark.parametrize("path", installed_meshes(), ids=lambda p: p.rsplit("/", 1)[-1])
def test_meshes_of_installed_packages(path):
    loaded = trimesh.load(path, force="mesh", process=True)
    scale = 80.0 / float(np.ptp(loaded.vertices, axis=0).max())
    mesh = Mesh(np.asarray(loaded.vertices) * scale, np.asarray(loaded.faces))
    found = told(Part("scan", mesh))
    assert found["rows"] == []
    assert len(found["gaps"]) <= len(found["weak_spots"])
    for spot in found["weak_spots"]:
        assert spot["reach_mm"] is None or math.isfinite(spot["reach_mm"])


def test_a_self_crossing_mesh():
    ring = trimesh.creation.torus(12, 4)
    other = ring.copy()
    other.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [1, 0, 0]))
    both = trimesh.util.concatenate([ring, other])
    found = told(Part("crossing", Mesh(np.array(both.vertices), np.array(both.faces))))
    assert len(found["pieces"]) == 1
    assert found["rows"] == []
