"""Exit statuses and sentences for what a person can get wrong: one line, no traceback, nothing half-written."""

from __future__ import annotations

import os
import resource
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from app.main import COMMANDS, tidied
from tests.commands.conftest import Ran, snapcomb, start

HOOD = "rain_hood.stl"
Here = Callable[..., Ran]


def said_in_one_line(ran: Ran) -> str:
    assert ran.out == ""
    lines = ran.err.strip().splitlines()
    assert len(lines) == 1, ran.err
    return lines[0]


def test_help_names_every_command_and_comes_at_once() -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    ran = snapcomb("--help")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert ran.code == 0
    assert all(name in ran.out for name in COMMANDS)
    # time of the processor, so that a busy machine does not count
    assert after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime < 0.4


@pytest.mark.parametrize(
    ("command", "defaults"),
    [
        ("inspect", ["[default: mm]", "[default: file]", "[default: 0.2]", "[default: 0.4]", "[default: 0.44]",
                     "[default: fixed]", "[default: 0]", "[default: PLA]", "[default: 45.0]", "[default: 5.0]"]),
        ("fit", ["[default: shells]", "[default: straight]", "(by rule when not given)"]),
    ],
)  # fmt: skip
def test_help_states_the_defaults(command: str, defaults: list[str]) -> None:
    text = " ".join(snapcomb(command, "--help").out.split())
    assert [d for d in defaults if d not in text] == []


def test_version_is_one_line() -> None:
    ran = snapcomb("--version")
    assert (ran.code, len(ran.out.splitlines())) == (0, 1)


@pytest.mark.parametrize(
    "arguments",
    [
        ["inspect"],
        ["inspect", HOOD, "--layer-height", "thick"],
        ["inspect", HOOD, "--layer-height", "0"],
        ["inspect", HOOD, "--material", "wood"],
        ["inspect", HOOD, "--overhang", "95"],
        ["inspect", HOOD, "--up", "sideways"],
        ["inspect", HOOD, "--up", "0,0,0"],
        ["inspect", HOOD, "--unit", "furlong"],
        ["inspect", HOOD, "--walls", "thin"],
        ["inspect", HOOD, "--no-such-option"],
        ["inspect", HOOD, "--processes", "0"],
        ["fit", HOOD, "--all"],
        ["fit", HOOD, "-o", "out.stl"],
        ["fit", HOOD, "-o", "out.stl", "--gap"],
        ["fit", HOOD, "-o", "out.stl", "--all", "--gap", "1"],
        ["fit", HOOD, "-o", HOOD, "--all"],
        ["fit", HOOD, "-o", "./" + HOOD, "--all"],
        ["fit", HOOD, "-o", "out.txt", "--all"],
        ["fit", HOOD, "-o", "out.stl", "--all", "--job", HOOD],
        ["fit", HOOD, "-o", "out.stl", "--all", "--job", "out.stl"],
        ["fit", HOOD, "-o", "out.stl", "--all", "--tip", "much"],
        ["fit", HOOD, "-o", "out.stl", "--all", "--shape", "wavy"],
        ["apply", HOOD],
        ["sheet", HOOD],
        ["coupon"],
    ],
    ids=" ".join,
)
def test_bad_usage_is_status_2_in_one_line(here: Here, samples: Path, tmp_path: Path, arguments: list[str]) -> None:
    shutil.copy(samples / HOOD, tmp_path / HOOD)
    before = (tmp_path / HOOD).read_bytes()
    ran = here(*arguments)
    assert ran.code == 2, ran.err
    assert said_in_one_line(ran)
    assert os.listdir(tmp_path) == [HOOD]
    assert (tmp_path / HOOD).read_bytes() == before


HOSTILE = {
    "empty.stl": b"",
    "short.stl": b"x" * 80 + (5).to_bytes(4, "little") + b"\0" * 50,
    "text.stl": b"solid\nfacet normal 0 0\n",
    "nothing.obj": b"# no faces\n",
    "archive.3mf": b"PK\x03\x04 not really",
    "picture.stl": b"\x89PNG\r\n\x1a\n" + b"\0" * 100,
    "new\nline.ply": b"ply\nformat ascii 2.0\n",
}


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("command", ["inspect", "fit"])
def test_what_cannot_be_read_is_status_3_in_one_line(here: Here, tmp_path: Path, name: str, command: str) -> None:
    (tmp_path / name).write_bytes(HOSTILE[name])
    more = [] if command == "inspect" else ["-o", tmp_path / "out.stl", "--all"]
    ran = here(command, tmp_path / name, *more)
    assert ran.code == 3
    assert name.partition("\n")[0] in said_in_one_line(ran)
    assert os.listdir(tmp_path) == [name]


def test_missing_files_and_folders_without_meshes_are_status_3(here: Here, tmp_path: Path) -> None:
    assert "nowhere.stl" in said_in_one_line(three(here("inspect", tmp_path / "nowhere.stl")))
    assert "no mesh file" in said_in_one_line(three(here("inspect", tmp_path)))
    assert "folder" in said_in_one_line(three(here("fit", tmp_path, "-o", tmp_path / "out.stl", "--all")))
    assert "no file" in said_in_one_line(three(here(tmp_path / "nothing.stl")))
    assert "snapcomb inspect" in said_in_one_line(three(here("inspct")))


def test_statuses_reach_the_shell(tmp_path: Path) -> None:
    assert [snapcomb(*a).code for a in (["coupon"], ["inspect", tmp_path])] == [2, 3]


def three(ran: Ran) -> Ran:
    assert ran.code == 3, ran
    return ran


@pytest.mark.skipif(sys.platform != "linux", reason="only there is a display a matter of environment variables")
def test_without_a_display_the_window_says_so() -> None:
    assert "display" in said_in_one_line(three(snapcomb()))


def test_a_reader_that_goes_away_is_no_failure() -> None:
    with start("fit", "--help") as running:
        running.stdout.close()
        assert running.stderr.read() == b""


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        (["fit", "--gap", "1", "2", "a.stl"], ["fit", "--gap=1", "--gap=2", "a.stl"]),
        (["fit", "--gap", "G1", "a.stl", "--gap", "3"], ["fit", "--gap=G1", "a.stl", "--gap=3"]),
        (["fit", "--gap"], ["fit", "--gap"]),
        (["inspect", "--up", "-1,0,0", "a"], ["inspect", "--up=-1,0,0", "a"]),
        (["inspect", "--", "--gap", "1"], ["inspect", "--", "--gap", "1"]),
    ],
)
def test_arguments_are_brought_to_one_form(given: list[str], meant: list[str]) -> None:
    assert tidied(given) == meant
