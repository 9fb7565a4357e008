"""The manual pages: what the commands say of themselves, judged by groff, and there once the wheel is installed."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest

from app.main import COMMANDS
from app.manual import FOLDER, pages
from tests.commands.conftest import snapcomb

PAGES = pages()


def shown(path: Path) -> str:
    """The page as man shows it, with groff's warnings as failures."""
    if shutil.which("groff") is None:
        pytest.skip("groff is not installed")
    done = subprocess.run(
        ["groff", "-ww", "-man", "-Tascii", "-P-c", "-rLL=500n", "-K", "utf8", str(path)],
        capture_output=True, check=True,
    )  # fmt: skip
    warnings = [w for w in done.stderr.decode().splitlines() if "can't find special character" not in w]
    assert warnings == []
    return re.sub(r".\x08", "", done.stdout.decode())


def test_the_pages_are_those_of_the_commands_as_they_are() -> None:
    """When this fails: ``python -m app.manual`` writes them anew."""
    assert {p.name: p.read_text(encoding="utf-8") for p in FOLDER.iterdir()} == PAGES
    assert set(PAGES) == {"snapcomb.1", *(f"snapcomb-{name}.1" for name in COMMANDS)}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_has_every_option_that_help_has(command: str, tmp_path: Path) -> None:
    path = tmp_path / "page.1"
    path.write_text(PAGES[f"snapcomb-{command}.1"], encoding="utf-8")
    page = shown(path)
    options = set(re.findall(r"^ +(--[\w-]+)", snapcomb(command, "--help").out, re.MULTILINE))
    assert options
    assert {o for o in options if o not in page} == set()
    for heading in ("NAME", "SYNOPSIS", "DESCRIPTION", "EXIT STATUS", "SEE ALSO"):
        assert re.search(rf"^{heading}$", page, re.MULTILINE), heading


def test_an_installed_program_has_its_pages() -> None:
    """Where man looks for them: beside the folder of the program, which it finds by PATH (manpath(1))."""
    try:
        installed = distribution("snapcomb")
    except PackageNotFoundError:
        pytest.skip("Snapcomb runs from its checkout")
    told = installed.read_text("direct_url.json")
    if told and json.loads(told).get("dir_info", {}).get("editable"):
        pytest.skip("an editable installation has no pages of its own")
    place = Path(sys.prefix, "share", "man", "man1")
    assert {p.name for p in place.glob("snapcomb*.1")} == set(PAGES)
