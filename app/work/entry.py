"""Where a worker process begins. The window imports this, so nothing is imported here that only the worker needs."""

from __future__ import annotations

from multiprocessing.connection import Connection
from typing import Any

from core.files.guard import Limits

#: Tasks that read a file that may come from anywhere: they work under limits of memory and time.
READING = ("open", "carry_job", "carry_file")


def begin(connection: Connection, latest: Any, folder: str, limits: Limits) -> None:
    """Serve requests until the window closes the connection."""
    from app.work.server import serve  # noqa: PLC0415 - a third of the window's start

    serve(connection, latest, folder, limits)
