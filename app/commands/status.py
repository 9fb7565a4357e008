"""Exit statuses, and what is said about the program itself."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from core.errors import SnapcombError

DONE, NEEDS_A_PERSON, BAD_USAGE, REFUSED = 0, 1, 2, 3
#: What shells report for a program that was interrupted: 128 + SIGINT.
INTERRUPTED = 130


class UsageError(SnapcombError):
    """The command line asks for something that does not go together; exit status 2."""

    code = "usage"


def program_version() -> str:
    """The version installed."""
    try:
        return version("snapcomb")
    except PackageNotFoundError:
        return "unknown (not installed)"
