"""Device scale is fixed for a process, so the run at scale 2 has a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = """
import sys
import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QApplication
from app.look import theme as look
from app.look.tokens import LIGHT
from app.view.viewport import Viewport
from tests.app.view.shapes import features, near, pixels, place, purple, show
from tests.meshes import box

app = QApplication(sys.argv)
look.apply(app, LIGHT)
view = Viewport()
view.animated = False
view.resize(500, 376)
view.show()
part = box((-30, 0, 0), (30, 20, 40))
show(view, part)
view.view_named("front")
scale = float(sys.argv[1])
assert view.devicePixelRatioF() == scale, view.devicePixelRatioF()
view.set_ghost_teeth(box((-28, -2, 20), (-18, 0, 24)))
view.set_overhang_edge(np.array([[-30.0, 0.0, 0.0], [30.0, 0.0, 0.0]]))
picture = pixels(view)
assert picture.shape[:2] == (376 * scale, 500 * scale), picture.shape

x, y = place(view, (10, 0, 0))  # the heavy line keeps its width in logical pixels
column = picture[round((y - 3.6) * scale):round((y + 3.6) * scale), round(x * scale)].max(axis=1)
width = ((250 - column) / (250 - 24)).clip(0, 1).sum() / scale
assert abs(width - 4.2) < 0.6, width

x, y = place(view, (-23, -2, 22))  # teeth lie where the lens says
assert purple(picture)[round(y * scale), round(x * scale)]

x, y = place(view, (-30, 0, 14))  # and so do edges: within 8 logical pixels, not beyond
assert view.pick(QPointF(x - 7.4, y), ("edge",)) is not None
assert view.pick(QPointF(x - 8.6, y), ("edge",)) is None
x, y = place(view, (12, 0, 25))
assert np.allclose(view.pick(QPointF(x, y), ("face",)).point, (12, 0, 25), atol=0.3)
view.close()
print("right")
"""


@pytest.mark.parametrize("scale", ["1", "1.5", "2"])
def test_lines_teeth_and_picks_keep_their_place_at_any_device_scale(scale: str, tmp_path: Path) -> None:
    script = tmp_path / "scaled.py"
    script.write_text(SCRIPT)
    root = str(Path(__file__).parents[3])
    path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
    env = {**os.environ, "QT_SCALE_FACTOR": scale, "PYTHONPATH": path}
    command = [sys.executable, str(script), scale]
    run = subprocess.run(command, env=env, capture_output=True, text=True, timeout=120, check=False)
    assert run.stdout.strip().endswith("right"), run.stdout + run.stderr
