"""Fuzzing led by the lines it reaches (libFuzzer, by way of atheris): no crash, no hang, no untyped exception."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import pytest

from tests.files.fuzz_target import FORMATS, one_input, seeds


@pytest.mark.parametrize("name", FORMATS)
def test_every_file_of_the_table_reads_patches_and_reads_back(name):
    """The seeds hold to what the fuzzer asks of every file that grows out of them."""
    files = seeds(name)
    assert len(files) > 15
    for data in files:
        one_input(name, data)


@pytest.mark.soak
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("name", FORMATS)
def test_a_hundred_thousand_executions(name, tmp_path):
    """As many as SNAPCOMB_FUZZ says; none may take more than 20 s or 3 GB."""
    pytest.importorskip("atheris", reason="coverage-guided fuzzing needs the package atheris")
    executions = int(os.environ.get("SNAPCOMB_FUZZ", "100000"))
    command = [sys.executable, "-m", "tests.files.fuzz_target", name, str(tmp_path / "corpus"), f"-runs={executions}"]
    limits = ["-timeout=20", "-rss_limit_mb=3000", f"-artifact_prefix={tmp_path}/"]
    done = subprocess.run(
        [*command, *limits], capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([os.getcwd(), *sys.path])},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    counted = re.search(r"Done (\d+) runs", done.stderr)
    assert counted is not None
    assert int(counted[1]) >= executions
    covered = [int(n) for n in re.findall(r"cov: (\d+)", done.stderr)]
    assert covered[-1] >= covered[0] > 100  # the code is instrumented, and the corpus is not only stepped through
