"""Locks that the system lets go of when a process dies, however it dies, and what windows tell each other by them."""

from __future__ import annotations

import contextlib
import json
import os
import sys
from pathlib import Path
from typing import IO, Any, Final

if sys.platform == "win32":
    import msvcrt

    #: Locked far behind the words in the file, because a locked byte cannot be read by others.
    _FAR: Final = 1 << 30

    def _lock(stream: IO[bytes]) -> bool:
        stream.seek(_FAR)
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(stream: IO[bytes]) -> bool:
        try:
            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


class FileLock:
    """A lock on a file, held until it is released or the process ends. A started process does not inherit it."""

    def __init__(self, stream: IO[bytes], path: Path) -> None:
        self._stream, self.path = stream, path

    @classmethod
    def take(cls, path: Path) -> FileLock | None:
        """The lock on ``path``, or None while somebody else has it. Raises OSError where there can be no file."""
        stream = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o600), "r+b", buffering=0)
        if _lock(stream):
            return cls(stream, path)
        stream.close()
        return None

    @property
    def held(self) -> bool:
        """Whether it is still ours."""
        return not self._stream.closed

    def tell(self, words: dict[str, Any]) -> None:
        """Write something into the locked file for others to read: one line of JSON, so that half a line is seen."""
        line = json.dumps(words, ensure_ascii=False).encode() + b"\n"
        with contextlib.suppress(OSError):
            self._stream.seek(0)
            self._stream.write(line)
            self._stream.truncate(len(line))

    def release(self) -> None:
        """Let others have it. Harmless when repeated."""
        self._stream.close()


def told(path: Path) -> dict[str, Any]:
    """What the holder of a lock wrote into it; nothing where that cannot be made out at the moment."""
    try:
        line, end, _ = path.read_bytes().partition(b"\n")
        found = json.loads(line) if end else {}
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
