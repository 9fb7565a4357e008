"""Pictures without a window, also where there is no display at all."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

SCRIPT = """
import sys
import numpy as np
from PySide6.QtGui import QGuiApplication
from app.look import fonts
from app.look.tokens import LIGHT
from app.view.portrait import Portraitist, Subject
from tests.app.view.shapes import as_array, near, purple
from tests.meshes import box

app = QGuiApplication(sys.argv)
fonts.load()
artist = Portraitist(Subject(box((-30, 0, 0), (30, 20, 40)), added=box((-5, -2, 10), (5, 0, 20))))
first = artist.picture((300, 200), ratio=2.0)
assert (first.width(), first.height()) == (600, 400)
picture = as_array(first)
assert near(picture, LIGHT.paper, 4).mean() > 0.3
assert purple(picture).sum() > 500
assert (picture.max(axis=2) < 60).sum() > 300
behind = as_array(artist.picture((300, 200), lambda camera: camera.named("back"), ratio=2.0))
assert not purple(behind).any()
artist.close()
print("right")
"""


def test_a_part_is_portrayed_without_a_display(tmp_path: Path) -> None:
    script = tmp_path / "portrayed.py"
    script.write_text(SCRIPT)
    root = str(Path(__file__).parents[3])
    path = os.pathsep.join([root, *filter(None, [os.environ.get("PYTHONPATH")])])
    env = {name: value for name, value in os.environ.items() if name not in {"DISPLAY", "WAYLAND_DISPLAY"}}
    env |= {"QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": path}
    command = [sys.executable, str(script)]
    run = subprocess.run(command, env=env, capture_output=True, text=True, timeout=120, check=False)
    assert run.stdout.strip().endswith("right"), run.stdout + run.stderr
    assert "WARN" not in run.stderr
