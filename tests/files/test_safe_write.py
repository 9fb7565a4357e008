"""The old file is whole, or the new one is: under faults of every call, and when the process is killed."""

# ruff: noqa: E501 - a script within a string, and tables

from __future__ import annotations

import builtins
import errno
import os
import stat
import subprocess
import sys
import textwrap

import pytest

from core.errors import BadValue, UnreadableFile, WriteFailed
from core.files import safe_write
from core.files.safe_write import Region, write_safely

OLD, NEW = b"old" * 1000, [b"new", b"er" * 200_000]
CALLS = ("open", "write", "fsync", "replace", "readinto", "chmod")
CAUSES = {
    errno.ENOSPC: "disk is full",
    errno.EDQUOT: "quota",
    errno.EACCES: "may not write",
    errno.EROFS: "read-only",
    errno.EIO: "error",
    errno.ENOENT: "not there",
}


def fine(_):
    """A check that is content."""


class Faults:
    """Lets the n-th of one kind of call fail."""

    def __init__(self, monkeypatch, call, at, number):
        self.left, self.number, self.struck = at, number, False
        if call == "open":
            monkeypatch.setattr(safe_write, "open", self.wrap(builtins.open), raising=False)
        elif call == "readinto":
            monkeypatch.setattr(safe_write, "_read_full", self.wrap(safe_write._read_full))
        else:
            monkeypatch.setattr(os, call, self.wrap(getattr(os, call)))

    def wrap(self, real):
        def call(*args, **options):
            self.left -= 1
            if self.left == 0:
                self.struck = True
                raise OSError(self.number, os.strerror(self.number))
            return real(*args, **options)

        return call


def attempt(target):
    """The WriteFailed that writing meets, or None."""
    try:
        write_safely(target, NEW, fine)
    except WriteFailed as failed:
        return failed
    return None


@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("number", CAUSES)
def test_every_call_fails_once(call, number, tmp_path, monkeypatch):
    target = tmp_path / "hood.stl"
    for at in range(1, 30):
        target.write_bytes(OLD)
        with monkeypatch.context() as patch:
            faults = Faults(patch, call, at, number)
            problem = attempt(target)
        swallowed = faults.struck and call in (
            "fsync",
            "chmod",
        )  # the folder's fsync, the mode of a file that went away
        assert faults.struck == (problem is not None) or swallowed
        if problem is None:
            assert target.read_bytes() == b"".join(NEW)
        else:
            assert "hood.stl" in problem.what
            assert CAUSES[number] in problem.what
            assert "Nothing was changed" in problem.what
            assert problem.next_step
            assert target.read_bytes() == OLD
        assert [p.name for p in tmp_path.iterdir()] == ["hood.stl"]
        if not faults.struck:
            return
    pytest.fail("there are more calls than were tried")


def test_what_was_written_is_compared(tmp_path, monkeypatch):
    target = tmp_path / "hood.stl"
    target.write_bytes(OLD)
    real = os.write
    monkeypatch.setattr(os, "write", lambda fd, block: real(fd, bytes(block[:-1]) + b"?"))
    with pytest.raises(WriteFailed, match="read back"):
        write_safely(target, NEW, fine)
    assert target.read_bytes() == OLD


def test_short_writes_go_on(tmp_path, monkeypatch):
    real = os.write
    monkeypatch.setattr(os, "write", lambda fd, block: real(fd, block[:1000]))
    write_safely(tmp_path / "hood.stl", [b"abc" * 5000], fine)
    assert (tmp_path / "hood.stl").read_bytes() == b"abc" * 5000


def test_the_check_has_the_last_word(tmp_path):
    target = tmp_path / "hood.stl"
    target.write_bytes(OLD)

    def refuse(written):
        assert written.read_bytes() == b"".join(NEW)
        raise UnreadableFile("no")

    with pytest.raises(UnreadableFile):
        write_safely(target, NEW, refuse)
    assert target.read_bytes() == OLD
    assert len(list(tmp_path.iterdir())) == 1


def test_regions_of_other_files(tmp_path):
    source = tmp_path / "source"
    source.write_bytes(bytes(range(256)) * 4000)
    write_safely(tmp_path / "out", [b"<", Region(source, 10, 700_000), Region(source, 5, 5), b">"], fine)
    assert (tmp_path / "out").read_bytes() == b"<" + source.read_bytes()[10:700_000] + b">"


def test_a_region_that_became_shorter(tmp_path):
    source = tmp_path / "source"
    source.write_bytes(b"x" * 100)
    with pytest.raises(WriteFailed, match="shorter"):
        write_safely(tmp_path / "out", [Region(source, 0, 200)], fine)
    assert not (tmp_path / "out").exists()


def test_modes_and_links_are_kept(tmp_path):
    target, link = tmp_path / "hood.stl", tmp_path / "link.stl"
    target.write_bytes(OLD)
    target.chmod(0o640)
    link.symlink_to(target)
    write_safely(link, NEW, fine)
    assert link.is_symlink()
    assert target.read_bytes() == b"".join(NEW)
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_a_new_file_gets_the_usual_mode(tmp_path):
    write_safely(tmp_path / "a", NEW, fine)
    (tmp_path / "b").write_bytes(b"")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode


@pytest.mark.parametrize(
    "name", ["Hütchen 帽子 🌦.stl", "rain hood, left.stl", "-rf.stl", "a" * 251 + ".stl", "trailing .stl", "%41.stl"]
)
def test_names(tmp_path, name):
    write_safely(tmp_path / name, NEW, fine)
    assert [p.name for p in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("gone/hood.stl", "folder is not there"),
        ("a" * 300 + ".stl", "too long"),
        (".", "folder"),
        ("zero\0.stl", "cannot be"),
    ],
)
def test_impossible_targets(tmp_path, name, words):
    with pytest.raises(WriteFailed, match=words):
        write_safely(tmp_path / name, NEW, fine)
    assert list(tmp_path.iterdir()) == []


def test_a_device_is_no_target():
    from pathlib import Path

    with pytest.raises(WriteFailed, match="not an ordinary file"):
        write_safely(Path("/dev/null"), NEW, fine)


def test_a_folder_that_vanishes(tmp_path, monkeypatch):
    folder = tmp_path / "out"
    folder.mkdir()
    real = os.replace

    def vanish(a, b):
        os.unlink(a)
        folder.rmdir()
        return real(a, b)

    monkeypatch.setattr(os, "replace", vanish)
    with pytest.raises(WriteFailed, match="not there"):
        write_safely(folder / "hood.stl", NEW, fine)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(WriteFailed, match="may not write"):
        write_safely(tmp_path / "hood.stl", NEW, fine)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs the device that is always full")
def test_a_disk_that_is_really_full(tmp_path, monkeypatch):
    """The kernel's own ENOSPC: the temporary file is written to the device that is always full."""
    full = os.open("/dev/full", os.O_WRONLY)
    real = os.write
    monkeypatch.setattr(os, "write", lambda _, block: real(full, block))
    with pytest.raises(WriteFailed, match="disk is full"):
        write_safely(tmp_path / "hood.stl", NEW, fine)
    os.close(full)
    assert list(tmp_path.iterdir()) == []


def test_inputs_are_not_overwritten(tmp_path):
    target = tmp_path / "hood.stl"
    target.write_bytes(OLD)
    with pytest.raises(BadValue):
        write_safely(target, NEW, fine, inputs=[target])
    write_safely(target, NEW, fine, inputs=[target], replace=True)
    assert target.read_bytes() == b"".join(NEW)


HANDOVER = textwrap.dedent(
    """
    import os, random, signal, sys, threading, time
    from pathlib import Path
    import numpy as np
    from core.files import safe_write
    from core.files.read import read_part
    from core.files.write import write_patched
    from core.geometry.mesh import Mesh

    folder, mode, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
    source, target = folder / "hood.stl", folder / "out.stl"
    part = read_part(source)
    tooth = Mesh(np.float64([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]), np.int32([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    write_patched(part, tooth, target)
    new = target.read_bytes()
    target.unlink()
    old = b"an old file that must survive"
    started = time.perf_counter()
    write_patched(part, tooth, target)
    usual = time.perf_counter() - started
    outcomes = {"old": 0, "new": 0}
    reached = 0
    fatal = 0

    def trace(frame, event, argument):
        # counts the lines of the writer, in this thread and in those that it starts; the fatal one is the last
        global reached
        if frame.f_code.co_filename != safe_write.__file__:
            return None
        if event == "line":
            reached += 1
            if reached == fatal:
                os.kill(os.getpid(), signal.SIGKILL)
        return trace

    def traced():
        threading.settrace(trace)
        sys.settrace(trace)
        write_patched(part, tooth, target)
        sys.settrace(None)
        threading.settrace(None)

    traced()
    lines = reached
    points = np.linspace(1, 1.2 * lines, count).astype(int).tolist() if mode == "line" else [0] * count

    for number, fatal in enumerate(points):
        target.write_bytes(old)
        pid = os.fork()
        if pid == 0:
            reached = 0
            traced() if mode == "line" else write_patched(part, tooth, target)
            os._exit(0)
        if mode == "time":
            time.sleep(random.Random(number).random() * usual * 1.5)
            os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        found = target.read_bytes()
        assert found in (old, new), "half-written"
        outcomes["old" if found == old else "new"] += 1
        for left in folder.glob(".snapcomb-*"):
            left.unlink()
    print(outcomes["old"], outcomes["new"], lines)
    """
)


def hand_over(tmp_path, *arguments):
    from tests.files import build

    (tmp_path / "hood.stl").write_bytes(build.stl(build.TETRA[build.TETRA_FACES].repeat(2_000, axis=0)))
    done = subprocess.run(
        [sys.executable, "-c", HANDOVER, str(tmp_path), *map(str, arguments)],
        capture_output=True, text=True, check=False, cwd=os.getcwd(), timeout=280,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [int(word) for word in done.stdout.split()]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_killed_at_twenty_points(tmp_path):
    """kill -9 at twenty lines spread over the writing, the last of them behind its end."""
    old, new, lines = hand_over(tmp_path, "line", 20)
    assert old + new == 20
    assert lines > 100
    assert old >= 10
    assert new >= 1


@pytest.mark.soak
@pytest.mark.parametrize("mode", ["line", "time"])
def test_killed_at_any_moment(tmp_path, mode):
    """At three hundred lines of the writing, and at as many random moments of it."""
    old, new, _ = hand_over(tmp_path, mode, 300)
    assert old + new == 300
    if mode == "line":  # when the moments are random, so is what they strike
        assert min(old, new) > 0
