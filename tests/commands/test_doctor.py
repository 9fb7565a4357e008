"""``doctor``: it names what is missing by the package that holds it."""

from __future__ import annotations

import pytest

from app.commands import doctor
from tests.commands.conftest import snapcomb


def test_doctor_tells_versions_and_renderer() -> None:
    ran = snapcomb("doctor")
    assert ran.code in (0, 1)
    lines = {line.split()[0]: line.split()[-1] for line in ran.out.splitlines() if line}
    assert lines["numpy"][0].isdigit()
    assert any(line.startswith("Renderer: ") for line in ran.out.splitlines())


@pytest.mark.skipif(doctor.sys.platform != "linux", reason="packages are named on Linux")
def test_missing_libraries_are_named_by_their_debian_package(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(doctor, "_loads", lambda library: library not in ("libEGL.so.1", "libxcb-cursor.so.0"))
    monkeypatch.setattr(doctor, "try_renderer", lambda: ("software", ""))
    assert doctor.doctor() == 1
    assert "apt-get install libegl1 libxcb-cursor0" in capsys.readouterr().out


def test_all_is_well_when_nothing_is_missing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(doctor, "_loads", lambda _library: True)
    monkeypatch.setattr(doctor, "try_renderer", lambda: ("software", ""))
    assert doctor.doctor() == 0
    assert "Nothing is missing." in capsys.readouterr().out


def test_a_library_that_is_there_loads_and_one_that_is_not_does_not() -> None:
    assert not doctor._loads("libno-such-thing.so.9")


def test_a_drawing_process_that_fails_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "DRAW", "raise SystemExit('no context')")
    assert doctor.try_renderer() == ("", "no context")
    monkeypatch.setattr(doctor, "DRAW", "import os; os.abort()")
    name, why = doctor.try_renderer()
    assert name == ""
    assert "status" in why
