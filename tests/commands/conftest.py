"""The program run as a person runs it: a process of its own, its output in pipes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

import app
from app.main import run

HOME = Path(app.__file__).parents[1]
#: Long enough for the slowest command on a busy machine; a hang is a failure.
SECONDS = 120


@dataclass(frozen=True)
class Ran:
    """What a run of the program left behind."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} is not JSON (RFC 8259, section 6)")


def start(*arguments: object, cwd: Path | None = None, **environment: str) -> subprocess.Popen[bytes]:
    """Start the program with nothing of this process's display."""
    bare = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    return subprocess.Popen(
        [sys.executable, "-c", "from app.main import main; main()", *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=cwd,
        env=bare | {"PYTHONPATH": str(HOME), "PYTHONDONTWRITEBYTECODE": "1"} | environment,
    )  # fmt: skip


def snapcomb(*arguments: object, cwd: Path | None = None, **environment: str) -> Ran:
    """Run the program to its end; a traceback is never right."""
    with start(*arguments, cwd=cwd, **environment) as running:
        out, err = (text.decode("utf-8") for text in running.communicate(timeout=SECONDS))
    assert "Traceback" not in out + err
    return Ran(running.returncode, out, err)


@pytest.fixture
def here(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Ran]:
    """Run the program within this process and in a folder of its own: as good as a process where only words matter."""
    monkeypatch.chdir(tmp_path)

    def run_here(*arguments: object) -> Ran:
        code = run([str(a) for a in arguments])
        return Ran(code, *capfd.readouterr())

    return run_here


@pytest.fixture(scope="session")
def samples() -> Path:
    return Path(str(files("samples")))


@pytest.fixture(scope="session")
def truth(samples: Path) -> dict[str, Any]:
    return json.loads((samples / "truth.json").read_text(encoding="utf-8"))["samples"]


@pytest.fixture(scope="session")
def inspected(samples: Path) -> Callable[..., Ran]:
    """``inspect --json`` of a sample, run once for all tests."""

    @cache
    def run(name: str, *options: str) -> Ran:
        return snapcomb("inspect", samples / f"{name}.stl", "--json", *options)

    return run


@dataclass(frozen=True)
class Fit:
    """A fitted sample: what the program said, and the files it wrote."""

    ran: Ran
    mesh: Path
    job: Path


@pytest.fixture(scope="session")
def fitted(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Fit:
    """``fit --all`` on the hood, with its job kept, run once for all tests."""
    folder = tmp_path_factory.mktemp("fitted")
    mesh, job = folder / "hood.stl", folder / "hood.snapcomb"
    return Fit(snapcomb("fit", samples / "rain_hood.stl", "-o", mesh, "--all", "--json", "--job", job), mesh, job)
