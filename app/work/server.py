"""The worker process: takes requests one after the other, drops those that a later one has replaced."""

from __future__ import annotations

import contextlib
import logging
import os
import traceback
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from app.keeping import log as log_keeping
from app.work import mending, tasks
from app.work.context import Context
from app.work.entry import READING
from app.work.wire import Locker
from core.errors import SnapcombError
from core.files.confine import confined
from core.files.guard import Limits
from core.job.pipeline import Pipeline

log = logging.getLogger(__name__)

TASKS = tasks.TASKS | mending.TASKS


def run_task(name: str, args: tuple[Any, ...], context: Context) -> tuple[str, Any]:
    """Run one task; an unexpected error becomes a sentence, with the details in the log."""
    try:
        return "done", TASKS[name](context, *args)
    except SnapcombError as problem:
        return "failed", problem.with_traceback(None)
    except MemoryError:
        return "failed", SnapcombError(
            "There is not enough memory for this.", "Close other programs or use a smaller mesh."
        )
    except Exception:  # the boundary of the process: nothing may pass it but a sentence
        log.error("Task %s failed:\n%s", name, traceback.format_exc())
        return "failed", SnapcombError(
            "Something unexpected went wrong while working on this.", "The log in the Help menu has the details."
        )


def serve(connection: Connection, latest: Any, folder: str, limits: Limits) -> None:
    """The loop of a worker process, until the window closes the connection.

    It says of every request when it begins with it, so that the window can watch the time and knows what was lost if
    the process is ended. Files are read under the memory limit.
    """
    locker = Locker(Path(folder))
    pipeline = Pipeline()
    lower_priority()
    log_keeping.start()
    while True:
        try:
            ticket, lane, name, args = locker.loads(connection.recv_bytes())
        except (EOFError, OSError):
            return

        def stale(lane: int = lane, ticket: int = ticket) -> bool:
            return latest[lane] != ticket

        def tell(fraction: float, text: str, ticket: int = ticket) -> None:
            connection.send_bytes(locker.dumps(("progress", ticket, (fraction, text))))

        if stale():
            continue
        try:
            connection.send_bytes(locker.dumps(("begun", ticket, name)))
            with confined(limits) if name in READING else contextlib.nullcontext():
                kind, result = run_task(name, args, Context(pipeline, tell, stale))
            connection.send_bytes(locker.dumps((kind, ticket, result)))
        except (BrokenPipeError, OSError):
            return


def lower_priority() -> None:
    """Let the window go first where the system allows it."""
    if hasattr(os, "nice"):
        os.nice(5)
