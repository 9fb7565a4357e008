"""A parse that wants too much memory ends in a sentence."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from core.files.guard import LIMITS_VARIABLE, Limits, chosen_limits
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


WORDS = [("", 1), ("4", 4), ("16", 16), ("0", 1), ("17", 1), ("-2", 1), ("2.5", 1), ("9" * 5000, 1), ("\u0663", 1)]


@pytest.mark.parametrize(("word", "times"), WORDS)
def test_a_person_raises_the_limits(word, times):
    limits = chosen_limits({LIMITS_VARIABLE: word} if word else {})
    assert limits.triangles == 20_000_000 * times
    assert limits.seconds == 120 * times
    assert (limits.inflation_ratio, limits.component_depth) == (Limits().inflation_ratio, Limits().component_depth)


READ = """
import sys
from core.errors import RefusedFile
from core.files.read import read_part

try:
    print(len(read_part(sys.argv[1]).mesh.triangles))
except RefusedFile as error:
    print(error)
"""
MANY = "The archive has 12,003 entries; the limit is 10,000."


@pytest.mark.parametrize(("times", "answer"), [("1", MANY), ("2", "4")])
def test_what_was_refused_is_read_with_raised_limits(tmp_path, times, answer):
    (tmp_path / "hood.3mf").write_bytes(build.package(parts=[(f"notes/{i}.txt", "") for i in range(12_000)]))
    done = subprocess.run(
        [sys.executable, "-c", READ, str(tmp_path / "hood.3mf")], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), LIMITS_VARIABLE: times},
    )  # fmt: skip
    assert answer in done.stdout, done.stderr
