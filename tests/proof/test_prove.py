"""The whole proof: every finding provoked and cured, forces and masses by hand, what the commands print."""

import dataclasses
import json

import manifold3d as m3
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.design.learned import Learned
from core.design.materials import Range
from core.design.measure_span import measure_span
from core.design.plan import RowWishes, plan_row
from core.design.setup import PrintSetup
from core.geometry.polyline import Polyline
from core.geometry.pose import Pose, about_z, placed
from core.proof.findings import CODES, most_severe
from core.proof.prove import prove_row, row_json
from core.proof.snap import Necks


def proved(b, *, mesh=None, learned=None, standing=(), **wishes):
    whole = b.mesh if mesh is None else mesh
    span = measure_span(whole, b.edge(), b.setup)
    plan = plan_row(span, RowWishes(**wishes), b.setup)
    return prove_row(whole, span, plan, b.setup, standing=standing, learned=learned or Learned())


def codes(proof):
    return {f.code: f.level for f in proof.findings}


def cured(b, proof, code, **wishes):
    """The proof after the remedy of a finding was taken."""
    remedy = next(f for f in proof.findings if f.code == code).remedy
    return proved(b, **(wishes | remedy.wish))


def test_the_usual_row_has_no_findings(bench):
    proof = proved(bench())
    assert codes(proof) == {}
    assert proof.headline == "holds, snaps off"
    assert not proof.lost_teeth.any()
    assert proof.survival.connected.all()


def test_nine_teeth_weigh_fifteen_milligrams(bench):
    # foot 2.0, tip 0.8, height 1.2, thickness 0.8: 1.344 mm³ each; 12.096 mm³ = 15.00 mg at 1.24 g/cm³ (calculated)
    proof = proved(bench(), teeth=9, foot=2.0, tip=0.8, thickness=0.8)
    assert proof.volume == pytest.approx(12.096, rel=1e-6)
    assert proof.mass * 1000 == pytest.approx(15.00, abs=0.005)
    # 9 × 0.64 mm² × 22.8 MPa (specimens) to 53 MPa (in plane)
    assert proof.snap.pull.low == pytest.approx(131.3, abs=0.1)
    assert proof.snap.pull.high == pytest.approx(305.3, abs=0.1)


@pytest.mark.parametrize(
    ("layer", "tip", "level", "figure"), [(0.2, 0.25, "note", 1), (0.1, 0.15, "warn", 2), (0.1, 0.05, "warn", 3)]
)
def test_thin_tips(bench, layer, tip, level, figure):
    b = bench(setup=PrintSetup(layer_height=layer, first_layer=layer))
    proof = proved(b, tip=tip)
    (found,) = [f for f in proof.findings if f.code == "tip_thinner_than_line"]
    assert (found.level, found.figure) == (level, figure)
    assert "tip of 0.45 mm would hold it" in found.text
    assert found.remedy[1:3] == ("tip", 0.45)
    assert proof.lost_teeth.all()
    assert proof.snap.pull.low == 0
    assert "tip_thinner_than_line" not in codes(cured(b, proof, "tip_thinner_than_line", tip=tip))


def test_the_sentence_that_matters(bench):
    b = bench(setup=PrintSetup(layer_height=0.1, first_layer=0.1))
    text = proved(b, tip=0.15).findings[0].text
    assert text.startswith("The last 2 layers of every tooth are thinner than your line of 0.44 mm")
    assert "starts 0.2 mm in the air" in text


def test_thin_teeth(bench):
    b = bench()
    proof = proved(b, thickness=0.3)
    assert codes(proof)["tooth_thinner_than_line"] == "stop"
    assert "tip_thinner_than_line" not in codes(proof)
    assert codes(cured(b, proof, "tooth_thinner_than_line", thickness=0.3)) == {}


def test_air_layers(bench):
    b = bench()
    assert "edge_in_air" not in codes(proved(b, air_layers=1))
    proof = proved(b, air_layers=2)
    assert codes(proof)["edge_in_air"] == "warn"
    assert codes(cured(b, proof, "edge_in_air", air_layers=2)) == {}


@pytest.mark.parametrize(("teeth", "level"), [(8, None), (6, "note"), (3, "warn")])
def test_bridges(bench, teeth, level):
    b = bench()
    proof = proved(b, teeth=teeth)
    assert codes(proof).get("clear_bridge") == level
    if level:
        assert "clear_bridge" not in codes(cured(b, proof, "clear_bridge", teeth=teeth))


def test_a_bridge_of_a_coupon(bench):
    proof = proved(bench(), learned=Learned(clear_bridge=3.0, source="your coupon of May"))
    (found,) = [f for f in proof.findings if f.code == "clear_bridge"]
    assert (found.limit, found.source) == (3.0, "your coupon of May")


def test_a_least_width_of_a_coupon(bench):
    assert "tip_thinner_than_line" in codes(proved(bench(), learned=Learned(least_printable=0.6)))
    assert "tip_thinner_than_line" not in codes(proved(bench(), tip=0.3, learned=Learned(least_printable=0.28)))


def test_a_free_end(bench, as_mesh, solid_box):
    b = bench()
    mesh = as_mesh(b.solid() - solid_box((b.length + 1, -6, -1), (b.length + 9, 6, 20)))
    assert codes(proved(b, mesh=mesh))["free_end"] == "note"


def test_the_end_of_the_edge(bench, as_mesh, solid_box):
    # Fin and beam end together: the edge itself ends there
    b = bench()
    mesh = as_mesh(b.solid() - solid_box((20, -6, -1), (60, 6, 30)))
    span = measure_span(mesh, Polyline.of([(-1, -0.8, 7.2), (20, -0.8, 7.2)]), b.setup)
    plan = plan_row(span, RowWishes(end_clearance=0.2), b.setup)
    proof = prove_row(mesh, span, plan, b.setup)
    assert codes(proof)["past_end_of_edge"] == "note"
    assert codes(proof)["off_ledge"] == "warn"


def test_feet_over_the_ledge(bench):
    b = bench()
    proof = proved(b, end_clearance=0.3)
    assert codes(proof)["off_ledge"] == "warn"
    assert "off_ledge" not in codes(cured(b, proof, "off_ledge"))


def test_a_wall_too_near(bench, solid_box):
    b = bench(extras=[solid_box((0, 0.35, 0), (40, 1.35, 9))])
    proof = proved(b, thickness=0.9)
    assert codes(proof)["too_close"] == "warn"


def test_a_slender_wall(bench, solid_box):
    tall = {"ledge": 40.0, "gap": 1.2, "length": 90.0}
    assert codes(proved(bench(**tall)))["wall_slender"] == "warn"
    braces = [solid_box((x - 0.6, -5, 0), (x + 0.6, 5, 35)) for x in np.arange(6, 90, 6.0)]
    assert codes(proved(bench(**tall, extras=braces))).get("wall_slender") != "warn"
    assert "wall_slender" not in codes(proved(bench(ledge=12.0)))


def test_strong_rows(bench):
    b = bench()
    # rocking at 53 MPa: σ w t² / 6 / 1.2 = 13.4 N a tooth (Roark, Table A.1)
    proof = proved(b, tip=1.5, thickness=1.1, teeth=9, foot=2.0)
    assert codes(proof)["hard_to_snap"] == "note"
    assert "hard_to_snap" not in codes(cured(b, proof, "hard_to_snap", tip=1.5, thickness=1.1, teeth=9, foot=2.0))
    assert codes(proved(b, tip=1.5, thickness=1.1, teeth=12, foot=2.0))["hard_to_snap"] == "warn"


def test_soft_material_is_cut(bench):
    assert codes(proved(bench(setup=PrintSetup(material="TPU"))))["cut_not_snap"] == "note"


def test_a_thin_roof_tears(bench, as_mesh, solid_box):
    b = bench()
    roof = as_mesh(b.solid() - solid_box((-0.5, -5, b.ledge + b.gap + 0.15), (b.length + 0.5, 5, 30)))
    assert codes(proved(b, mesh=roof))["edge_weaker"] == "warn"


def test_rows_that_hold_the_same_piece(bench):
    side = Necks("side", 3, 0.45, 0.6, 1.5)
    proof = proved(bench(), standing=[side])
    assert codes(proof)["locked_in"] == "note"
    assert len(proof.piece.rows) == 2
    assert proof.piece.pull.high > proof.snap.pull.high
    there = [Necks("up", 9, 0.45, 0.6, 1.5)]
    strong = proved(bench(), standing=there, tip=1.0, teeth=12, foot=2.0)
    assert codes(strong)["locked_in"] == "note"  # pliers do it
    cure = next(f for f in strong.findings if f.code == "locked_in").remedy
    assert "locked_in" not in codes(proved(bench(), standing=there, tip=1.0, teeth=12, foot=2.0, thickness=cure.value))
    stuck = proved(bench(), standing=there, tip=1.6, teeth=20, foot=1.6, thickness=1.15)
    assert codes(stuck)["locked_in"] == "warn"  # a knife is wanted


def test_a_piece_that_topples(bench, as_mesh, solid_box):
    b = bench()
    mesh, span, plan, _ = b.measured()
    piece = as_mesh(solid_box((0, -0.6, 0), (40, 0.6, 12)))
    proof = prove_row(mesh, span, plan, b.setup, piece=piece)
    assert codes(proof)["tips_over"] == "warn"


def test_measured_strength_replaces_ours(bench):
    learned = Learned(strength=Range(20.0, 22.0, "weighed"))
    proof = proved(bench(), learned=learned)
    assert proof.snap.pull.low == pytest.approx(proof.snap.pull.high * 20 / 22)


def test_every_finding_is_complete(bench):
    b = bench(setup=PrintSetup(layer_height=0.1, first_layer=0.1))
    for wishes in ({"tip": 0.15}, {"teeth": 3}, {"thickness": 0.3}, {"end_clearance": 0.2}, {"tip": 1.6, "teeth": 11}):
        for f in proved(b, **wishes).findings:
            assert f.code in CODES
            assert f.text.endswith(".")
            assert f.source
            assert len(f.place) == 3
            assert np.isfinite([f.figure, f.limit]).all()


def test_what_the_commands_print(bench):
    b = bench()
    mesh, span, plan, _ = b.measured(teeth=3, tip=0.3)
    proof = prove_row(mesh, span, plan, b.setup)
    pose = Pose.of(placed(about_z(30), (5.0, 6.0, 7.0)))

    @dataclasses.dataclass
    class Design:
        span: object
        plan: object

    out = json.loads(json.dumps(row_json(proof, Design(span, plan), pose, gap="G1", name="N1")))
    assert set(out) == {"gap", "row", "volume_mm3", "mass_g", "snap_n", "findings"}
    assert out["row"]["teeth"] == 3
    assert out["row"]["id"] == "N1"
    assert set(out["snap_n"]) == {"pull", "sideways"}
    assert set(out["findings"][0]) == {"code", "level", "text", "figure", "limit", "source"}
    assert most_severe(proof.findings) == out["findings"][0]["level"]
    ends = pose.apply([out["row"]["from"], out["row"]["to"]])
    # middle of the gap, first and last tooth; flush at the outer side of the fin
    np.testing.assert_allclose(ends[:, 2], 6.6, atol=1e-3)
    np.testing.assert_allclose(np.sort(ends[:, 0]), np.sort(plan.centres[[0, -1]]), atol=2e-3)


@settings(max_examples=6, derandomize=True, deadline=None)
@given(st.floats(-180, 180), st.floats(-200, 200), st.floats(-200, 200))
def test_turning_and_moving_on_the_bed_changes_no_figure(bench, as_mesh, turn, x, y):
    b = bench()
    here = proved(b, tip=0.3, end_clearance=0.3)
    solid = b.solid().rotate((0, 0, turn)).translate((x, y, 0))
    line = b.edge().moved(placed(about_z(turn), (x, y, 0)))
    mesh = as_mesh(solid)
    span = measure_span(mesh, line, b.setup)
    there = prove_row(mesh, span, plan_row(span, RowWishes(tip=0.3, end_clearance=0.3), b.setup), b.setup)
    assert [(f.code, f.level) for f in there.findings] == [(f.code, f.level) for f in here.findings]
    assert [f.figure for f in there.findings] == pytest.approx([f.figure for f in here.findings], abs=0.05)
    assert there.volume == pytest.approx(here.volume, rel=1e-3)


@pytest.mark.parametrize("foot", [1.4, 1.8])
def test_a_finer_mesh_of_the_same_part_is_proved_alike(bench, as_mesh, foot):
    b = bench(length=150.0)
    coarse, fine = as_mesh(b.solid()), as_mesh(b.solid().refine_to_length(0.4))
    assert len(fine.triangles) > 60_000 > 100 * len(coarse.triangles) > 0
    proofs = []
    for mesh in (coarse, fine):
        span = measure_span(mesh, b.edge(), b.setup)
        assert span.stations.ledge == pytest.approx(6.0, abs=1e-6)  # flat to its very end, as built
        assert np.ptp(span.stations.width) < 0.002  # it is halved down to 0.1 / 64
        proofs.append(prove_row(mesh, span, plan_row(span, RowWishes(teeth=60, foot=foot), b.setup), b.setup))
    assert codes(proofs[0]) == codes(proofs[1])
    assert [f.figure for f in proofs[0].findings] == pytest.approx([f.figure for f in proofs[1].findings], rel=1e-3)
    np.testing.assert_allclose(proofs[0].survival.contact, proofs[1].survival.contact, rtol=1e-3)
    np.testing.assert_array_equal(proofs[0].survival.lost, proofs[1].survival.lost)


def test_side_teeth(as_mesh, solid_box):
    solid = m3.Manifold.batch_boolean(
        [
            solid_box((0, -1.5, 0), (6, 1.5, 30)),
            solid_box((-11.5, -0.6, 0), (-1.5, 0.6, 26)),
            solid_box((-12, -4, 0), (-2, 4, 1)),
        ],
        m3.OpType.Add,
    )
    mesh, setup = as_mesh(solid), PrintSetup()
    ledge = Polyline.of([(-1.5, -0.6, 0), (-1.5, -0.6, 26)])
    span = measure_span(mesh, Polyline.of([(0, -1.5, 0), (0, -1.5, 30)]), setup, ledge=ledge)
    proof = prove_row(mesh, span, plan_row(span, RowWishes(), setup), setup)
    assert codes(proof) == {"steep_underside": "note", "wall_slender": "note"}
    fin = next(f for f in proof.findings if f.code == "wall_slender")
    assert fin.figure == pytest.approx(26 / 1.2, rel=0.1)  # felt in steps of 0.1 mm
    assert fin.text.startswith("The fin beside the edge is 26.0 mm high")
    assert proof.hold.wall.free_length == pytest.approx(10.0, abs=0.5)
    assert "upright edge" in proof.piece.order[0]
    low = prove_row(mesh, span, plan_row(span, RowWishes(tip=0.15), setup), setup)
    assert codes(low)["tip_thinner_than_line"] == "note"


def test_a_proof_travels_between_processes(bench):
    import pickle

    proof = proved(bench(), tip=0.3)
    again = pickle.loads(pickle.dumps(proof))
    assert again.findings == proof.findings
    assert again.sentences == proof.sentences
    assert len(again.sentences) == 4


def test_teeth_left_out_are_put_back(bench):
    b = bench()
    proof = proved(b, left_out=(3, 4))
    assert codes(proof)["clear_bridge"] == "warn"
    assert codes(cured(b, proof, "clear_bridge", left_out=(3, 4))) == {}


@pytest.mark.parametrize("trimmed", ["start", "stop"])
def test_a_trimmed_row_is_carried_on(bench, trimmed):
    b = bench()
    proof = proved(b, **{trimmed: 9.0})
    assert codes(proof)["clear_bridge"] == "warn"
    assert codes(cured(b, proof, "clear_bridge", **{trimmed: 9.0})) == {}


def test_a_trimmed_row_at_a_free_end_is_carried_on(bench, as_mesh, solid_box):
    b = bench()
    mesh = as_mesh(b.solid() - solid_box((b.length + 1, -6, -1), (b.length + 9, 6, 20)))
    proof = proved(b, mesh=mesh, stop=9.0)
    assert codes(proof)["free_end"] == "warn"
    remedy = next(f for f in proof.findings if f.code == "free_end").remedy
    assert codes(proved(b, mesh=mesh, **remedy.wish)).get("free_end") != "warn"


def test_tips_that_nearly_touch_become_fewer(bench):
    b = bench()
    wishes = {"teeth": 34, "tip": 0.8, "foot": 0.9}
    proof = proved(b, **wishes)
    assert codes(proof)["too_close"] == "warn"
    assert "too_close" not in codes(cured(b, proof, "too_close", **wishes))


def test_a_row_too_near_to_a_wall_at_its_end_begins_farther_in(bench, solid_box):
    b = bench(extras=[solid_box((-1, -5, 0), (0.0, 5, 9))])
    wishes = {"end_clearance": 0.3, "foot": 3.0}
    proof = proved(b, **wishes)
    assert codes(proof)["too_close"] == "warn"
    assert "too_close" not in codes(cured(b, proof, "too_close", **wishes))
    assert "off_ledge" not in codes(cured(b, proof, "off_ledge", **wishes))


def test_teeth_that_stand_beside_everything_are_left_out(bench, as_mesh, solid_box):
    b = bench()
    holed = as_mesh(b.solid() - solid_box((17, -2, 6.5), (23, 2, 30)))  # a stretch of the beam is gone
    span = measure_span(b.mesh, b.edge(), b.setup)

    def codes_of(**wishes):
        proof = prove_row(holed, span, plan_row(span, RowWishes(**wishes), b.setup), b.setup)
        return proof, codes(proof)

    proof, found = codes_of()
    assert found["outside_part"] == "stop"
    remedy = next(f for f in proof.findings if f.code == "outside_part").remedy
    _, after = codes_of(**remedy.wish)
    assert "outside_part" not in after
    assert "no_path" not in after


def test_a_tooth_below_a_hole_is_told_and_left_out(bench, as_mesh):
    """A drain of 1.2 mm straight through the beam: under it a foot of 2 mm covers the mouth but for what sticks out."""
    b = bench(length=40.0, strip=4.0, fin=4.0)
    _, whole, plain, _ = b.measured(across="centred")
    at = float(whole.at(plain.centres[3]).axis[0, 0])
    drill = m3.Manifold.cylinder(30.0, 0.6, circular_segments=128).translate((at, 0.0, b.ledge + 0.3))
    mesh = as_mesh(b.solid() - drill)
    span = measure_span(b.mesh, b.edge(), b.setup)

    def codes_of(**wishes):
        proof = prove_row(mesh, span, plan_row(span, RowWishes(across="centred", **wishes), b.setup), b.setup)
        return proof, codes(proof)

    proof, found = codes_of()
    assert found["blocks_hole"] == "warn"
    one = next(f for f in proof.findings if f.code == "blocks_hole")
    # a strip 0.9 mm wide through the middle of a circle of radius 0.6 (segment areas, closed form)
    half = 0.45
    covered = 2 * (half * np.sqrt(0.36 - half**2) + 0.36 * np.arcsin(half / 0.6))
    assert one.figure == pytest.approx(covered / (np.pi * 0.36), rel=0.01)
    assert one.remedy.wish == {"left_out": (3,)}
    assert "blocks_hole" not in codes_of(**one.remedy.wish)[1]
    assert "blocks_hole" not in codes(proved(b))


def test_a_tooth_squeezed_beside_a_hole_is_left_out(bench, as_mesh):
    """Where the strip is narrowed by a hole, a thicker tooth would not fit: only leaving it out helps."""
    b = bench(length=40.0)
    at = float(b.measured()[2].centres[3])
    drill = m3.Manifold.cylinder(30.0, 0.45, circular_segments=64).translate((at, 0.0, b.ledge + 0.3))
    mesh = as_mesh(b.solid() - drill)
    span = measure_span(mesh, b.edge(), b.setup)

    def found(**wishes):
        proof = prove_row(mesh, span, plan_row(span, RowWishes(**wishes), b.setup), b.setup)
        return next((f for f in proof.findings if f.code == "tooth_thinner_than_line"), None)

    one = found()
    assert one.level == "warn"
    assert "1 of 8 teeth" in one.text
    assert one.remedy.wish == {"left_out": (3,)}
    assert found(**one.remedy.wish) is None


@pytest.mark.parametrize(("wide", "beside"), [(12.0, True), (1.6, False)])
def test_an_island_wider_than_its_row_tips_over_while_it_prints(as_mesh, solid_box, wide, beside):
    """A slab in mid-air over one fin, hung from a bridge higher up: its middle is where a plain box has it."""
    parts = [
        solid_box((0, -5, 0), (20, 5, 1)), solid_box((0, -0.8, 0), (20, 0.8, 6)),
        solid_box((0, -0.8, 7.2), (20, wide - 0.8, 10)), solid_box((9, -0.8, 9), (11, 40, 12)),
        solid_box((9, 36, 0), (11, 40, 12)),
    ]  # fmt: skip
    mesh, setup = as_mesh(m3.Manifold.batch_boolean(parts, m3.OpType.Add)), PrintSetup()
    span = measure_span(mesh, Polyline.of([(0, -0.8, 7.2), (20, -0.8, 7.2)]), setup)
    plan = plan_row(span, RowWishes(across="centred"), setup)
    found = next((f for f in prove_row(mesh, span, plan, setup).findings if f.code == "tips_over"), None)
    assert (found is not None) is beside
    if beside:
        edge = float(span.bed_points(span.at(plan.centres).points(plan.across_range[:, 1], np.zeros(plan.teeth)))[0, 1])
        assert found.figure == pytest.approx(wide / 2 - 0.8 - edge, abs=0.05)
        assert "20.0 by 12.0 mm" in found.text


def test_what_hangs_together_with_the_rest_is_no_island(bench):
    assert "tips_over" not in codes(proved(bench()))
