"""Snapcomb among the other programs of a desktop: judged by the validators of freedesktop.org, and taken out again."""

from __future__ import annotations

import configparser
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from lxml import etree

from app import desktop
from app.commands.reading import MESH_SUFFIXES
from tests.commands.conftest import Ran, snapcomb

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="desktops that follow freedesktop.org")


def integrated(folder: Path) -> Ran:
    return snapcomb("doctor", "--integrate", XDG_DATA_HOME=str(folder))


def ours(folder: Path) -> dict[Path, bytes]:
    return {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*local.snapcomb*") if p.is_file()}


def run(tool: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} is not installed")
    return subprocess.run([tool, *map(str, arguments)], capture_output=True, text=True, check=False, timeout=60)


def test_it_goes_in_twice_without_a_change_and_comes_out_again(tmp_path: Path) -> None:
    assert integrated(tmp_path).code == 0
    once = ours(tmp_path)
    assert {p.suffix for p in once} == {".desktop", ".xml", ".svg"}
    again = integrated(tmp_path)
    assert again.out.count("as it was: ") == 4
    assert ours(tmp_path) == once
    out = snapcomb("doctor", "--remove", XDG_DATA_HOME=str(tmp_path))
    assert (out.code, out.out.count("removed: ")) == (0, 4)
    assert ours(tmp_path) == {}
    assert not (tmp_path / "icons").exists()
    nothing = snapcomb("doctor", "--remove", XDG_DATA_HOME=str(tmp_path))
    assert "nothing of Snapcomb" in nothing.out


def test_what_others_put_there_stays(tmp_path: Path) -> None:
    theirs = tmp_path / "icons" / "hicolor" / "scalable" / "apps" / "other.svg"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("<svg/>")
    integrated(tmp_path)
    snapcomb("doctor", "--remove", XDG_DATA_HOME=str(tmp_path))
    assert theirs.read_text() == "<svg/>"


def test_the_menu_entry_is_valid(tmp_path: Path) -> None:
    integrated(tmp_path)
    judged = run("desktop-file-validate", tmp_path / "applications" / f"{desktop.ID}.desktop")
    assert (judged.returncode, judged.stdout + judged.stderr) == (0, "")


def test_the_software_list_entry_is_valid(tmp_path: Path) -> None:
    integrated(tmp_path)
    judged = run("appstreamcli", "validate", "--no-net", tmp_path / "metainfo" / f"{desktop.ID}.metainfo.xml")
    assert judged.returncode == 0, judged.stdout
    assert not [line for line in judged.stdout.splitlines() if line.startswith(("E:", "W:"))]


def test_a_job_and_every_mesh_are_known_by_their_type(tmp_path: Path) -> None:
    """By the desktop's own database, made anew by update-mime-database."""
    integrated(tmp_path)
    if shutil.which("update-mime-database") is None:
        pytest.skip("update-mime-database is not installed")
    globs = (tmp_path / "mime" / "globs2").read_text()
    entry = configparser.ConfigParser(interpolation=None)
    entry.optionxform = str  # type: ignore[assignment]
    entry.read(tmp_path / "applications" / f"{desktop.ID}.desktop", encoding="utf-8")
    kinds = entry["Desktop Entry"]["MimeType"].rstrip(";").split(";")
    types = {line.split(":")[2]: line.split(":")[1] for line in globs.splitlines() if line[:1].isdigit()}
    assert {f"*{s}" for s in (*MESH_SUFFIXES, ".snapcomb", ".snapcomb.json")} == set(types)
    assert set(types.values()) == set(kinds)


def test_lists_and_entry_offer_the_same_types() -> None:
    files = {p.suffix: content for p, content in desktop.wanted("1").items() if p.parts[0] != "mime"}
    listed = [e.text for e in etree.fromstring(files[".xml"]).iter("mediatype")]
    (line,) = [x for x in files[".desktop"].decode().splitlines() if x.startswith("MimeType=")]
    assert line == f"MimeType={';'.join(listed)};"


@pytest.mark.parametrize("folder", ["plain", "with space", 'a "quote" and $money', "back\\slash", "100 %"])
def test_the_command_comes_through_the_rules_of_the_entry(folder: str) -> None:
    """Undone as the Desktop Entry Specification says: the string rule first, then quoting, then field codes."""
    program = f"/opt/{folder}/snapcomb"
    text = desktop._quoted(program).replace("\\\\", "\\")
    # the shell of POSIX takes the same four characters as escaped within double quotes (2.2.3)
    argument = subprocess.run(["/bin/sh", "-c", f"printf %s {text}"], capture_output=True, text=True, check=True).stdout
    assert argument.replace("%%", "%") == program


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ran = snapcomb("doctor", "--integrate", XDG_DATA_HOME=str(tmp_path / "file"))
    assert ran.code == 3
    assert "cannot be made" in ran.err


def test_in_and_out_at_once_is_no_wish() -> None:
    assert snapcomb("doctor", "--integrate", "--remove").code == 2
