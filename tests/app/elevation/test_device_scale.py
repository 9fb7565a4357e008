"""Device scale is fixed for a process: the handles are pulled again in processes of their own at other scales."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

#: One test of each handle and of what catches it.
HANDLES = (
    "test_hover_lights_and_tells", "test_a_tooth_is_pulled_in_one_step", "test_the_picture_follows_while_pulling",
    "test_snapping_to_the_place_in_the_row_and_its_key", "test_end_stops_trim_the_span",
    "test_corners_change_foot_and_tip_of_all", "test_alt_pulls_the_pitch_and_the_others_follow",
    "test_escape_gives_a_drag_up",
)  # fmt: skip


@pytest.mark.parametrize("scale", ["1.5", "2"])
def test_each_handle_is_pulled_at_any_device_scale(scale: str) -> None:
    root = Path(__file__).parents[3]
    there = Path(__file__).with_name("test_hands_on.py")
    names = [f"{there}::{name}" for name in HANDLES]
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--no-xvfb", *names]
    env = {**os.environ, "QT_SCALE_FACTOR": scale}
    run = subprocess.run(command, cwd=root, env=env, capture_output=True, text=True, timeout=240, check=False)
    assert run.returncode == 0, run.stdout[-3000:] + run.stderr[-1000:]
    assert int(re.search(r"(\d+) passed", run.stdout).group(1)) >= len(HANDLES)
