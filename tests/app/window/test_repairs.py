"""Repairs in the running window: found, marked at their place, chosen one by one, undone, and written anew."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PySide6.QtWidgets import QApplication

from app.look.tokens import LIGHT
from app.panels.job_sheet import HAND_OVER, PART
from app.panels.steps.wrong_with_it import BACK, LOOK, MEND
from app.panels.widgets import Banner, State
from app.window import Window
from core.files.write import write_part
from core.geometry.mesh import Mesh, joined
from samples import sample_path
from tests.meshes import box, flipped

#: The block that is inside out, mm.
BLOCK = np.array([[60.0, 0.0, 0.0], [70.0, 10.0, 10.0]])


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    """An arm over a ledge; beside it a block inside out, and a bar with a crack of 4 µm across its middle."""
    left, right = box((0, 40, 0), (20, 50, 12)), box((20.004, 40, 0), (40, 50, 12))
    halves = [
        Mesh(half.vertices, half.triangles[np.abs(half.corners.mean(axis=1)[:, 0] - at) > 1e-3])
        for half, at in ((left, 20.0), (right, 20.004))
    ]
    arm = joined([
        box((0, 0, 0), (40, 20, 4)), box((0, 12, 3), (40, 20, 20)), box((0, 0, 5.6), (40, 13, 9)),
        flipped(box(*BLOCK)), *halves,
    ])  # fmt: skip
    path = tmp_path / "arm.stl"
    write_part(arm, path, unit="millimeter", name="arm")
    return path


@pytest.fixture
def shown(opened: Callable[[Path], Window], until: Callable[..., None], broken: Path) -> Window:
    window = opened(broken)
    window.sheet.unfold(PART)
    until(lambda: window.bench.mending.defects is not None)
    return window


def banners(window: Window) -> dict[str, Banner]:
    return window.sheet.bodies[PART].wrong.banners


def press(window: Window, until: Callable[..., None], banner: str, button: str) -> None:
    banners(window)[banner].buttons[button].click()
    QApplication.processEvents()
    until(lambda: window.bench.mending.defects is not None and not window.bench.runner.busy("mend"))


def marked(window: Window) -> float:
    """The share of the view in the colour in which defects are marked."""
    window.view.finish()
    image = window.view.screenshot().convertToFormat(window.view.screenshot().Format.Format_RGB32)
    pixels = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)[:, : image.width(), 2::-1]
    wanted = np.array([int(LIGHT.attention[i : i + 2], 16) for i in (1, 3, 5)], float)
    hue = pixels.astype(float) - pixels.mean(axis=2, keepdims=True)
    towards = hue @ (wanted - wanted.mean()) / np.linalg.norm(wanted - wanted.mean())
    return float((towards > 60).mean())


def test_what_is_wrong_is_listed_and_marked(shown: Window, until: Callable[..., None]) -> None:
    assert set(banners(shown)) == {"turn", "join"}
    assert banners(shown)["turn"].title.text() == "1 shell is inside out."
    assert banners(shown)["join"].title.text() == "The mesh has cracks: 8 open edges lie within 0.01 mm of others."
    assert shown.sheet.bodies[PART].state() is State.LOOK
    assert shown.sheet.bodies[PART].figure() == "6 shells, 2 faults"
    assert marked(shown) > 0.003
    press(shown, until, "turn", LOOK)
    assert marked(shown) > 0.02, "the view has come near"
    eye = shown.view.camera.eye
    assert np.linalg.norm(eye - BLOCK.mean(axis=0)) < np.linalg.norm(eye - [20, 10, 10])


def test_a_sound_part_has_no_such_list(opened: Callable[[Path], Window], until: Callable[..., None]) -> None:
    window = opened(sample_path("bare_bracket"))
    window.sheet.unfold(PART)
    until(lambda: window.bench.mending.defects is not None)
    assert banners(window) == {}
    assert not window.sheet.bodies[PART].wrong.isVisible()
    assert marked(window) == 0.0


def test_each_repair_is_one_step_that_can_be_undone(shown: Window, until: Callable[..., None]) -> None:
    filed = shown.bench.job.part.mesh
    press(shown, until, "turn", MEND)
    assert shown.sheet.unfolded() == PART
    assert shown.store.history == ["Turn them round"]
    assert set(banners(shown)) == {"join", BACK}
    press(shown, until, "join", MEND)
    until(lambda: shown.bench.mending.defects == () or "unite" in banners(shown))
    outside = trimesh.Trimesh(shown.bench.job.part.mesh.vertices, shown.bench.job.part.mesh.triangles, process=False)
    assert outside.is_watertight
    assert outside.is_winding_consistent
    assert shown.sheet.bodies[PART].state() is State.DONE
    assert shown.sheet.bodies[PART].figure() == "5 shells, closed"
    assert marked(shown) == 0.0
    shown.store.undo()
    shown.store.undo()
    QApplication.processEvents()
    assert shown.bench.job.part.mesh is filed
    assert set(banners(shown)) == {"turn", "join"}
    shown.store.redo()
    QApplication.processEvents()
    assert len(shown.bench.job.part.repairs) == 1
    press(shown, until, BACK, BACK)
    assert shown.bench.job.part.mesh is filed
    shown.store.mark_saved()


def test_a_repaired_part_is_written_anew_and_that_is_said_before(
    shown: Window, until: Callable[..., None], broken: Path
) -> None:
    press(shown, until, "turn", MEND)
    until(lambda: shown.bench.results.inspection is not None and not shown.bench.runner.busy("inspect"))
    shown.bench.take_gap(shown.bench.results.inspection.gaps[0].id)
    until(lambda: shown.bench.draft_design() is not None)
    shown.sheet.unfold(HAND_OVER)
    body = shown.sheet.bodies[HAND_OVER]
    assert body.repaired.isVisible()
    assert "written as a whole" in body.repaired.text()
    shown.quick_hand_over()
    until(lambda: shown.bench.results.handed is not None)
    assert not shown.bench.results.handed.lossless
    written = trimesh.load(broken.with_name("arm_with_teeth.stl"), force="mesh")
    block = next(s for s in written.split(only_watertight=False) if s.bounds[0][0] > 50)
    assert block.volume == pytest.approx(1000.0)  # 10³ mm³


def test_lapped_teeth_go_into_the_broken_file_as_it_is(
    shown: Window, until: Callable[..., None], broken: Path
) -> None:
    shown.bench.take_gap(shown.bench.results.inspection.gaps[0].id)
    until(lambda: shown.bench.draft_design() is not None)
    shown.sheet.unfold(HAND_OVER)
    assert not shown.sheet.bodies[HAND_OVER].repaired.isVisible()
    shown.quick_hand_over()
    until(lambda: shown.bench.results.handed is not None)
    assert shown.bench.results.handed.lossless
    assert broken.with_name("arm_with_teeth.stl").read_bytes()[84:].startswith(broken.read_bytes()[84:])
