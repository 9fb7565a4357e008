"""Where a worker process begins. The window imports this, so nothing is imported here that only the worker needs."""

from __future__ import annotations

from multiprocessing.connection import Connection
from typing import Any


def begin(connection: Connection, latest: Any, folder: str) -> None:
    """Serve requests until the window closes the connection."""
    from app.work.server import serve  # noqa: PLC0415 - a third of the window's start

    serve(connection, latest, folder)
