"""More findings of the proof in the running window: a hole above a row, and a wall that falls over easily."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import manifold3d as m3
import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.panels.job_sheet import PROOF, SPAN, SPOTS
from app.panels.steps.finding_banner import REMEDY
from app.window import Window
from core.diagnose.inspection import inspect_part
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.mesh import Mesh
from core.job.fit import fit_rows
from core.job.job import new_job, take_in_hand
from core.job.pipeline import Pipeline
from core.proof.findings import CODES
from samples import sample_path
from tests.app.window.proving import banner, click, settled

Opened = Callable[[Path], Window]
Until = Callable[..., None]


Cut = Callable[..., Path]


@pytest.fixture
def cut(tmp_path: Path) -> Cut:
    """The hood with an upright hole of a radius at a tooth of the usual row under its front lip, as a file.

    ``along`` mm beside the middle of the tooth, from ``start`` mm above the edge, ``height`` mm high.
    """

    def make(radius: float, along: float, start: float, height: float) -> Path:
        part = read_part(sample_path("rain_hood"))
        job, mesh = new_job(part), part.mesh
        found = inspect_part(part, job.pose, job.setup)
        gap = next(g for g in found.gaps if not g.enough)
        design = fit_rows(job, found, Pipeline(), gaps=[gap.id]).added[0].design
        at = design.span.at(design.plan.centres[[7]] + along)
        place = design.span.bed_points(at.points((at.lo + at.hi) / 2, at.edge.min(axis=1) + start))[0]
        solid = m3.Manifold(m3.Mesh64(np.array(mesh.vertices), np.array(mesh.triangles, np.uint64)))
        assert solid.status() == m3.Error.NoError
        drill = m3.Manifold.cylinder(height, radius, circular_segments=48)
        raw = (solid - drill.translate(tuple(float(x) for x in place))).to_mesh64()
        done = Mesh(np.array(raw.vert_properties)[:, :3], np.array(raw.tri_verts).astype(np.int32))
        path = tmp_path / "hood_with_a_hole.stl"
        write_part(done, path, unit="millimeter", name="hood")
        return path

    return make


def in_hand(window: Window, until: Until) -> None:
    """The row for the open gap, proved."""
    window.bench.take_gap(window.bench.open_gaps()[0].id)
    until(lambda: window.bench.draft_design() is not None)
    window.sheet.unfold(PROOF)
    until(lambda: settled(window))


def test_a_skin_above_a_tooth_is_told_and_the_tooth_left_out(cut: Cut, opened: Opened, until: Until) -> None:
    """A pocket from above leaves 0.15 mm of the lip; σ w t of the neck against 2 (w + t) · d · σ/√3 of the skin."""
    window = opened(cut(radius=1.2, along=0.0, start=0.15, height=4.0))
    in_hand(window, until)
    found = banner(window, "edge_weaker")
    assert found is not None
    assert "only 0.15 mm thick" in found.text.text()  # as cut
    click(found.buttons[REMEDY])
    until(lambda: settled(window))
    assert banner(window, "edge_weaker") is None


def test_a_drain_above_the_row_is_told_and_its_tooth_left_out(cut: Cut, opened: Opened, until: Until) -> None:
    """Drilled beside a tip, above the foot: 0.9 mm wide, right through the lip."""
    window = opened(cut(radius=0.45, along=0.8, start=-0.5, height=4.0))
    in_hand(window, until)
    teeth = window.bench.draft_design().plan.teeth
    found = banner(window, "blocks_hole")
    assert found is not None
    assert "0.9 mm wide" in found.text.text()  # as drilled
    click(found.buttons[REMEDY])
    until(lambda: settled(window))
    assert banner(window, "blocks_hole") is None
    assert window.bench.draft_design().plan.teeth < teeth


def test_a_wall_without_a_foot_is_told_and_its_foot_cures_it(opened: Opened, until: Until) -> None:
    """A wall on the bed is designed to stand a lean of 12°; the tallest do not without their flange."""
    window = opened(sample_path("bare_bracket"))
    bench, spots = window.bench, window.sheet.bodies[SPOTS]
    window.sheet.unfold(SPOTS)
    click(spots.take)
    until(lambda: bench.job.rows and all(bench.row_design(r) for r in bench.job.rows))
    walls = [(float(d.wall.solid.bounds[1, 2]), r) for r in bench.job.rows if (d := bench.row_design(r)).wall]
    for _, row in sorted(walls, key=lambda w: -w[0])[:4]:
        window.store.apply("Take in hand", lambda j, n=row.number: take_in_hand(j, n))
        until(lambda: bench.draft_design() is not None)
        window.sheet.unfold(SPAN)
        foot = window.sheet.bodies[SPAN].wall.boxes["foot_width"]
        foot.edit.setFocus()
        foot.edit.selectAll()
        QTest.keyClicks(foot.edit, "0")
        QTest.keyClick(foot.edit, Qt.Key.Key_Return)
        window.sheet.unfold(PROOF)
        until(lambda: bench.pipeline.wall_known(bench.job, bench.job.draft) and settled(window))
        found = banner(window, "tips_over")
        if found is not None:
            break
        window.store.undo()
        window.store.undo()
    assert found is not None
    assert found.finding.figure < 10
    assert "wider foot" in found.text.text()
    window.store.undo()
    until(lambda: settled(window) and banner(window, "tips_over") is None)


def test_no_kind_of_finding_is_left_out() -> None:
    """Every code of the table is named by a test of the window that provokes it."""
    here = Path(__file__)
    told = here.read_text(encoding="utf-8") + here.with_name("test_proof_findings.py").read_text(encoding="utf-8")
    assert [code for code in CODES if f'"{code}"' not in told] == []
