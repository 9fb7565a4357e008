"""Spans against bodies of known figures, in any pose, upward and sideways."""

import numpy as np
import pytest
from hypothesis import assume, given, settings

from core.design.measure_span import measure_span
from core.design.setup import PrintSetup
from core.diagnose.edge_index import edge_index
from core.errors import SpanProblem
from core.files.read import read_part
from core.geometry.mesh import joined
from core.geometry.polyline import Polyline
from core.job.job import new_job
from samples import sample_path
from tests import meshes
from tests.strategies import bar_spans, upright_poses

SETUP = PrintSetup()


@settings(max_examples=40, deadline=None)
@given(bar_spans(), upright_poses())
def test_gap_length_and_width_are_those_of_the_body_in_any_pose(made: meshes.Span, pose: np.ndarray) -> None:
    assume(made.length > 2 and made.width > 0.5)
    span = measure_span(made.mesh.moved(pose), Polyline.of(made.edge).moved(pose), SETUP)
    assert span.gap_range == (pytest.approx(made.gap, abs=1e-6), pytest.approx(made.gap, abs=1e-6))
    assert span.length == pytest.approx(made.length, abs=0.02)
    assert span.width == pytest.approx(made.width, abs=0.02)
    ends = np.array([span.edge_line.array[0], span.edge_line.array[-1]])
    expected = Polyline.of(made.edge).moved(pose).array
    assert min(np.abs(ends - expected).max(), np.abs(ends[::-1] - expected).max()) < 0.05


def test_a_ridge_is_known_and_aims_at_what_prints() -> None:
    made = meshes.ridge_over_ledge(40, 1.2, half_angle_deg=45)
    span = measure_span(made.mesh, Polyline.of(made.edge), SETUP)
    assert span.kind == "ridge"
    assert span.gap_range[0] == pytest.approx(1.2, abs=1e-6)
    # Flanks at 45°: the part is as wide as the least printable width at half that height (closed form).
    assert span.stations.reach[0] == pytest.approx(SETUP.least_printable / 2, rel=0.05)


@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
def test_every_edge_of_a_part_is_measured_or_refused_in_words(way: tuple[float, float, float]) -> None:
    """Whatever is picked, with the gap taken along any axis: a span of finite figures, or the reason why not."""
    job = new_job(read_part(sample_path("bare_bracket")))
    mesh, edges = job.part.mesh.moved(job.pose.matrix), edge_index(job.part, job.pose)
    measured = 0
    for first in np.unique(edges.chain_of, return_index=True)[1]:
        line = edges.chain(int(first)).polyline(job.part.mesh.vertices).moved(job.pose.matrix)
        try:
            span = measure_span(mesh, line, SETUP, gap_direction=way)
        except SpanProblem:
            continue
        measured += 1
        assert all(np.isfinite(getattr(span.stations, n)).all() for n in ("s", "axis", "across", "lo", "hi", "edge"))
        assert np.median(span.stations.edge - span.stations.ledge) > 0
    assert measured > 10


def test_a_sideways_gap_is_measured_by_the_same_code() -> None:
    wall, fin = meshes.box((0, 0, 0), (20, 20, 40)), meshes.box((21.5, 0, 0), (22.7, 10, 36))
    edge, ledge = Polyline.of([[20, 0, 0], [20, 0, 40]]), Polyline.of([[21.5, 0, 0], [21.5, 0, 36]])
    span = measure_span(joined([wall, fin]), edge, SETUP, ledge=ledge)
    assert span.direction == "side"
    assert span.gap_range == (pytest.approx(1.5), pytest.approx(1.5))
    assert span.length == pytest.approx(36, abs=0.02)


def test_a_gap_that_grows_is_followed() -> None:
    bar = meshes.box((0, -1, 12), (40, 1, 20))
    fin = meshes.prism([(0, 0), (11, 0), (9, 40), (0, 40)], -0.6, 0.6, axis=1)
    span = measure_span(joined([bar, fin]), Polyline.of([[0, 0, 12], [40, 0, 12]]), SETUP)
    low, high = span.gap_range
    assert (low, high) == (pytest.approx(1.0, abs=0.01), pytest.approx(3.0, abs=0.01))


def test_teeth_that_stand_there_do_not_break_the_gap() -> None:
    made = meshes.comb()
    y = made.thickness / 2
    edge = Polyline.of([[0, -y, made.edge_z], [40, -y, made.edge_z]])
    span = measure_span(made.mesh, edge, SETUP)
    assert len(span.occupied) == made.teeth
    assert span.gap_range[0] == pytest.approx(made.height, abs=0.02)


@pytest.mark.parametrize(
    ("edge", "ledge", "words"),
    [
        ([[0, -0.8, 11.2], [40, -0.8, 11.2]], [[0, -0.8, 11.2], [40, -0.8, 11.2]], "same edge"),
        ([[0, 0, 10], [40, 0, 10]], [[0, 0, 11.2], [40, 0, 11.2]], "exchanged"),
        ([[0, -0.8, 17.2], [40, -0.8, 17.2]], None, "not the lower edge"),
        ([[0, 0, 11.2], [0, 0, 17.2]], None, "point in plan"),
        ([[0, 0, 11.2], [40, 0, 11.2]], [[0, 8, 2], [40, 8, 2]], "does not face"),
    ],
)
def test_every_mistake_gets_a_plain_sentence(edge: list, ledge: list | None, words: str) -> None:
    made = meshes.bar_over_ledge(40, 1.2)
    with pytest.raises(SpanProblem, match=words) as problem:
        measure_span(made.mesh, Polyline.of(edge), SETUP, ledge=Polyline.of(ledge) if ledge else None)
    assert problem.value.next_step


def test_a_closed_gap_a_long_gap_and_a_thin_ledge_are_said() -> None:
    def measure(made: meshes.Span) -> None:
        measure_span(made.mesh, Polyline.of(made.edge), SETUP)

    with pytest.raises(SpanProblem, match="no gap"):
        measure(meshes.bar_over_ledge(40, 0.0))
    with pytest.raises(SpanProblem, match="longer than a sane tooth"):
        measure(meshes.bar_over_ledge(40, 20.0))
    with pytest.raises(SpanProblem, match="less than a line"):
        measure(meshes.bar_over_ledge(40, 1.2, ledge=0.1))
    made = meshes.box((0, 0, 10), (40, 10, 20))
    with pytest.raises(SpanProblem, match="but the bed"):
        measure_span(made, Polyline.of([[0, 0, 10], [40, 0, 10]]), SETUP)
