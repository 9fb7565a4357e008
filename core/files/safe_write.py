"""Writing that leaves either the whole new file or the whole old one.

A temporary file beside the target is filled, forced to the disk, read back and compared; only then is it
renamed over the target, which is one step for the file system (POSIX rename, Windows MoveFileEx with replace).
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import secrets
import stat
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import Final, Protocol

from core.errors import BadValue, SnapcombError, WriteFailed
from core.files.guard import shown

Check = Callable[[Path], None]

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

_BLOCK: Final = 1 << 20
"""Bytes copied or compared at a time: few enough that no new memory is touched, many enough for two threads."""

_ALL: Final = 1 << 62
"""More bytes than any file has: all that will be written is there."""

_UNTOUCHED: Final = "Nothing was changed."


class Digest(Protocol):
    """A running checksum, as hashlib makes them."""

    def update(self, data: bytes | bytearray, /) -> None:
        """Take in more bytes."""


@dataclass(frozen=True)
class Region:
    """Bytes of another file, from one offset to another, that are copied without being held in memory.

    With a ``digest`` the bytes that are read back are fed to it, for the check to look at; without one they are
    compared with the other file once more.
    """

    path: Path
    begin: int
    end: int
    digest: Digest | None = None

    def __len__(self) -> int:
        return self.end - self.begin


Piece = bytes | memoryview | Region
Pieces = Sequence[Piece]


def write_safely(
    path: Path, pieces: Pieces, check: Check, *, inputs: Iterable[Path] = (), replace: bool = False
) -> None:
    """Write the pieces one after the other as the file ``path``, or leave everything as it was.

    ``check`` gets the path of the finished temporary file, after it was read back and found equal to the pieces, and
    raises a SnapcombError when it does not hold what it should. An existing file is replaced, but one of the ``inputs``
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
        with open(temporary, "xb", buffering=0) as stream, ThreadPoolExecutor(1) as pool:
            written: SimpleQueue[int] = SimpleQueue()
            compared = pool.submit(_compare, temporary, pieces, written)
            try:
                _fill(stream, pieces, written)
                os.fsync(stream.fileno())
            finally:
                written.put(_ALL)  # the reader must come to its end, whatever happened here
            compared.result()
        check(temporary)
        _take_mode(temporary, target)
        os.replace(temporary, target)
    finally:
        with contextlib.suppress(OSError):  # after the rename it is gone, as it should be
            os.unlink(temporary)
    _sync_folder(target.parent)


def _fill(stream: io.FileIO, pieces: Pieces, written: SimpleQueue[int]) -> None:
    """Write all pieces, and say of every block that it is there to be read back."""
    for piece in pieces:
        for block in _blocks(piece):
            _write_all(stream.fileno(), memoryview(block))
            written.put(len(block))


def _write_all(descriptor: int, block: memoryview) -> None:
    """A write may take less than it was given."""
    while len(block):
        block = block[os.write(descriptor, block) :]


def _blocks(piece: Piece) -> Iterator[memoryview | bytearray]:
    """A piece in blocks; each is to be used before the next is asked for."""
    if not isinstance(piece, Region):
        view = memoryview(piece)
        yield from (view[i : i + _BLOCK] for i in range(0, len(view), _BLOCK))
        return
    with open(piece.path, "rb", buffering=0) as stream:
        stream.seek(piece.begin)
        buffer = bytearray(_BLOCK)
        for start in range(piece.begin, piece.end, _BLOCK):
            size = min(_BLOCK, piece.end - start)
            if size < _BLOCK:
                buffer = bytearray(size)
            _read_full(stream, buffer)
            yield buffer


def _read_full(stream: io.RawIOBase, buffer: bytearray) -> None:
    """Fill the buffer, or raise WriteFailed when the file ends before."""
    view = memoryview(buffer)
    while view:
        got = stream.readinto(view)
        if not got:
            raise WriteFailed(f"A file became shorter while it was read. {_UNTOUCHED}", "Open it again and retry.")
        view = view[got:]


def _compare(temporary: Path, pieces: Pieces, written: SimpleQueue[int]) -> None:
    """Read the file back, close behind the one who writes it, and compare it with the pieces."""
    with open(temporary, "rb", buffering=0) as stream:
        back = _ReadBack(stream, written)
        for piece in pieces:
            if isinstance(piece, Region) and piece.digest is not None:
                for start in range(0, len(piece), _BLOCK):
                    piece.digest.update(back.next(min(_BLOCK, len(piece) - start)))
            else:
                for block in _blocks(piece):
                    _vet_equal(back.next(len(block)) == block)
        back.wait(_ALL)
        _vet_equal(not stream.read(1))


class _ReadBack:
    """Reads a file that another thread is still writing, never past what is written."""

    def __init__(self, stream: io.FileIO, written: SimpleQueue[int]) -> None:
        self._stream, self._written = stream, written
        self._there = self._at = 0
        self._buffer = bytearray(_BLOCK)

    def wait(self, until: int) -> None:
        """Return when so many bytes were written, or no more will be."""
        while self._there < until:
            self._there += self._written.get()

    def next(self, size: int) -> bytearray:
        """The next bytes; they are to be used before the next are asked for."""
        self._at += size
        self.wait(self._at)
        if len(self._buffer) != size:
            self._buffer = bytearray(size)
        _read_full(self._stream, self._buffer)
        return self._buffer


def _vet_equal(equal: bool) -> None:
    if not equal:
        raise WriteFailed(f"What was read back is not what was written. {_UNTOUCHED}", "Write to another disk.")


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
