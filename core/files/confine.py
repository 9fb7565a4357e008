"""A ceiling on a process's memory, for the worker that parses files from the internet."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from core.files.guard import DEFAULT, Limits

try:
    import resource
except ImportError:  # Windows has no such limits
    resource = None  # type: ignore[assignment]


def confine_memory(limits: Limits = DEFAULT) -> bool:
    """Let this process map ``limits.memory_bytes`` more than it has now; returns whether the system can do that.

    A parse that wants more meets MemoryError, which reading turns into a RefusedFile. Time is watched from outside:
    a process cannot be trusted to end itself (``limits.seconds``).
    """
    if resource is None:
        return False
    with contextlib.suppress(OSError, ValueError):
        pages = int(Path("/proc/self/statm").read_text().split()[0])
        ceiling = pages * resource.getpagesize() + limits.memory_bytes
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        if hard != resource.RLIM_INFINITY:
            ceiling = min(ceiling, hard)
        resource.setrlimit(resource.RLIMIT_AS, (ceiling, hard))
        return True
    return False


@contextlib.contextmanager
def confined(limits: Limits = DEFAULT) -> Iterator[None]:
    """The same for as long as a file is read; work on what was read has no ceiling."""
    before = None if resource is None else resource.getrlimit(resource.RLIMIT_AS)
    confine_memory(limits)
    try:
        yield
    finally:
        if before is not None:
            with contextlib.suppress(OSError, ValueError):
                resource.setrlimit(resource.RLIMIT_AS, before)
