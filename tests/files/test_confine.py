"""A parse that wants too much memory ends in a sentence."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.files import build

CHILD = """
import sys
from dataclasses import replace
from core.errors import RefusedFile
from core.files.confine import confine_memory
from core.files.guard import DEFAULT
from core.files.read import read_part

assert confine_memory(replace(DEFAULT, memory_bytes=int(sys.argv[2])))
try:
    print(len(read_part(sys.argv[1]).mesh.triangles))
except RefusedFile as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the ceiling needs Linux")
@pytest.mark.parametrize(("megabytes", "answer"), [(60, "needs more memory than there is"), (900, "400000")])
def test_ceiling(tmp_path, megabytes, answer):
    (tmp_path / "hood.stl").write_bytes(build.stl(build.TETRA[build.TETRA_FACES].repeat(100_000, axis=0)))
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(tmp_path / "hood.stl"), str(megabytes << 20)],
        capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    assert answer in done.stdout, done.stderr
