"""Writing that leaves either the whole new file or the whole old one.

A temporary file beside the target is filled, flushed, forced to the disk, read back and compared; only then is it
renamed over the target, which is one step for the file system (POSIX rename, Windows MoveFileEx with replace).
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Final

from core.errors import BadValue, SnapcombError, WriteFailed
from core.files.guard import shown

Pieces = Sequence[bytes | memoryview]
Check = Callable[[bytes], None]

_CAUSES: Final[dict[int, tuple[str, str]]] = {
    errno.ENOSPC: ("the disk is full", "Free some space or write to another disk."),
    errno.EDQUOT: ("your quota on this disk is used up", "Free some space or write to another disk."),
    errno.EFBIG: ("the file would be too large for this disk", "Write to another disk."),
    errno.EACCES: ("you may not write in this folder", "Choose another folder."),
    errno.EPERM: ("you may not write in this folder", "Choose another folder."),
    errno.EROFS: ("the disk is read-only", "Choose another folder."),
    errno.ENOENT: ("the folder is not there", "Choose another folder."),
    errno.ENOTDIR: ("the folder is not there", "Choose another folder."),
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter name."),
    errno.EISDIR: ("a folder has this name", "Choose another name."),
    errno.ENOTEMPTY: ("a folder has this name", "Choose another name."),
    errno.EIO: ("the disk reports an error", "Write to another disk."),
}
"""What an error number means to the person, and the next step."""

_BLOCK: Final = 1 << 17
"""Bytes compared at a time."""

_UNTOUCHED: Final = "Nothing was changed."


def write_safely(
    path: Path, pieces: Pieces, check: Check, *, inputs: Iterable[Path] = (), replace: bool = False
) -> None:
    """Write the pieces one after the other as the file ``path``, or leave everything as it was.

    ``check`` gets the bytes read back from the disk, after they were found equal to the pieces, and raises a
    SnapcombError when they do not hold what they should. An existing file is replaced, but one of the ``inputs``
    only with ``replace``. A symbolic link is followed; the mode of an old file is kept.
    Raises WriteFailed, and BadValue for a target that is an input.
    """
    target = _resolved(path)
    if not replace and any(_same(target, other) for other in inputs):
        raise BadValue(
            f"{shown(path)} is the file that was opened.", "Choose another name, or ask for it to be replaced."
        )
    try:
        _write(target, pieces, check)
    except OSError as error:
        if isinstance(error, SnapcombError):
            raise
        raise failure(path, error) from error


def failure(path: Path, error: OSError) -> WriteFailed:
    """The sentence for an operating system error while writing ``path``."""
    why, step = _CAUSES.get(error.errno or 0, (error.strerror or str(error), "Write to another folder."))
    return WriteFailed(f"{shown(path)} cannot be written: {why}. {_UNTOUCHED}", step)


def _resolved(path: Path) -> Path:
    try:
        target = Path(os.path.realpath(path))
        mode = target.stat().st_mode if target.exists() else 0
    except (OSError, ValueError) as error:
        raise WriteFailed(f"{shown(path)} cannot be written: {error}. {_UNTOUCHED}", "Choose another name.") from error
    if stat.S_ISDIR(mode):
        raise WriteFailed(f"{shown(path)} is a folder. {_UNTOUCHED}", "Choose another name.")
    if mode and not stat.S_ISREG(mode):
        raise WriteFailed(f"{shown(path)} is not an ordinary file. {_UNTOUCHED}", "Choose another name.")
    return target


def _same(target: Path, other: Path) -> bool:
    """Whether both are one file, also by another path or a hard link."""
    try:
        return target.samefile(other)
    except OSError:
        return target == Path(os.path.realpath(other))


def _write(target: Path, pieces: Pieces, check: Check) -> None:
    temporary = target.with_name(f".snapcomb-{secrets.token_hex(8)}.tmp")
    try:
        _fill(temporary, pieces)
        _compare(temporary, pieces, check)
        _take_mode(temporary, target)
        os.replace(temporary, target)
    finally:
        with contextlib.suppress(OSError):  # after the rename it is gone, as it should be
            os.unlink(temporary)
    _sync_folder(target.parent)


def _fill(temporary: Path, pieces: Pieces) -> None:
    with open(temporary, "xb", buffering=0) as stream:
        for piece in pieces:
            _write_all(stream.fileno(), memoryview(piece))
        stream.flush()
        os.fsync(stream.fileno())


def _write_all(descriptor: int, piece: memoryview) -> None:
    """A write may take less than it was given."""
    while len(piece):
        piece = piece[os.write(descriptor, piece) :]


def _compare(temporary: Path, pieces: Pieces, check: Check) -> None:
    with open(temporary, "rb", buffering=0) as stream:
        found = stream.readall()
    at = 0
    for piece in pieces:
        if not _equal(found, at, piece):
            raise WriteFailed(f"What was read back is not what was written. {_UNTOUCHED}", "Write to another disk.")
        at += len(piece)
    if at != len(found):
        raise WriteFailed(f"What was read back is longer than what was written. {_UNTOUCHED}", "Write to another disk.")
    check(found)


def _equal(found: bytes, at: int, piece: bytes | memoryview) -> bool:
    """Compare in blocks that fit a core's cache; comparing a memoryview directly goes item by item."""
    if len(found) < at + len(piece):
        return False
    blocks = range(0, len(piece), _BLOCK)
    return all(found[at + i : at + min(i + _BLOCK, len(piece))] == bytes(piece[i : i + _BLOCK]) for i in blocks)


def _take_mode(temporary: Path, target: Path) -> None:
    """The permissions of the file that is replaced; a new one has those that the process gives new files."""
    with contextlib.suppress(FileNotFoundError):
        os.chmod(temporary, stat.S_IMODE(target.stat().st_mode))


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable, where the system can; the file is whole either way."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
