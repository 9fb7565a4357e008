"""Work off the window: requests by lane, the latest of a lane wins, stale replies are dropped.

``WorkerRunner`` has two spawned processes, a quick one for what the hand waits for and a slow one for diagnosis and
files. ``SyncRunner`` has the same face and no process.
"""

from __future__ import annotations

import itertools
import multiprocessing
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from app.work.entry import READING, begin
from app.work.wire import Locker
from core.errors import RefusedFile, SnapcombError
from core.files.guard import Limits, chosen_limits, shown
from core.job.pipeline import Pipeline

#: Lanes and the process that serves each.
LANES = {
    "open": "slow", "inspect": "slow", "write": "slow", "heat": "slow",
    "span": "quick", "proof": "quick", "edges": "quick", "rest": "quick", "layer": "quick", "piece": "quick",
    "walls": "slow",
    "sheet": "slow", "defects": "quick", "mend": "quick",
}  # fmt: skip
_LANE_NUMBER = {name: i for i, name in enumerate(LANES)}

Then = Callable[[Any], None]
Fail = Callable[[SnapcombError], None]
Progress = Callable[[float, str], None]


def _ignore(*_: object) -> None:
    return


@dataclass
class _Waiting:
    lane: str
    then: Then
    fail: Fail
    progress: Progress
    task: str
    args: tuple[Any, ...]


class Runner(QObject):
    """Common face: ``post`` a task on a lane; the callbacks come back in the window's thread unless stale."""

    busy_changed = Signal(str, bool)

    def __init__(self) -> None:
        super().__init__()
        self._tickets = itertools.count(1)
        self._waiting: dict[int, _Waiting] = {}
        self._latest: dict[str, int] = {}

    def post(
        self, lane: str, task: str, *args: Any, then: Then, fail: Fail = _ignore, progress: Progress = _ignore
    ) -> int:
        """Ask for a task. Any earlier request on the same lane is given up."""
        ticket = next(self._tickets)
        old = self._latest.get(lane)
        if old is not None:
            self._waiting.pop(old, None)
        self._latest[lane] = ticket
        self._waiting[ticket] = _Waiting(lane, then, fail, progress, task, args)
        self.busy_changed.emit(lane, True)
        self._send(ticket, lane, task, args)
        return ticket

    def cancel(self, lane: str) -> None:
        """Give up whatever runs on a lane."""
        ticket = self._latest.pop(lane, None)
        if ticket is not None and self._waiting.pop(ticket, None):
            self.busy_changed.emit(lane, False)

    def busy(self, lane: str) -> bool:
        """Whether a request on the lane is still out."""
        return self._latest.get(lane) in self._waiting

    def close(self) -> None:
        """End everything."""
        self._waiting.clear()
        self._latest.clear()

    def _send(self, ticket: int, lane: str, task: str, args: tuple[Any, ...]) -> None:
        raise NotImplementedError

    def _receive(self, kind: str, ticket: int, payload: Any) -> None:
        waiting = self._waiting.get(ticket)
        if waiting is None:
            return
        if kind == "progress":
            waiting.progress(*payload)
            return
        del self._waiting[ticket]
        self.busy_changed.emit(waiting.lane, False)
        (waiting.then if kind == "done" else waiting.fail)(payload)


class SyncRunner(Runner):
    """Runs each task in the window's own thread at the next turn of the event loop."""

    def __init__(self) -> None:
        super().__init__()
        self._pipeline = Pipeline()

    def _send(self, ticket: int, lane: str, task: str, args: tuple[Any, ...]) -> None:
        from app.work.context import Context  # noqa: PLC0415 - as below
        from app.work.server import run_task  # noqa: PLC0415 - the window starts without the tasks

        def run() -> None:
            if ticket not in self._waiting:
                return
            context = Context(
                self._pipeline,
                lambda fraction, text: self._receive("progress", ticket, (fraction, text)),
                lambda: ticket not in self._waiting,
            )
            kind, result = run_task(task, args, context)
            self._receive(kind, ticket, result)

        QTimer.singleShot(0, run)


@dataclass
class _Process:
    """A worker, the ticket that it is at (0 for none), and the watch on the time that reading takes."""

    process: Any
    connection: Connection
    reader: threading.Thread
    watch: QTimer
    ticket: int = 0
    late: bool = False


class WorkerRunner(Runner):
    """Runs tasks in spawned processes; one that dies is started again and its request is answered with a sentence.

    A file that takes longer to read than the ``limits`` allow costs its process the life. What else waited for that
    process is asked for again.
    """

    _arrived = Signal(str, str, int, object)
    _died = Signal(str, object)

    def __init__(self, limits: Limits | None = None) -> None:
        super().__init__()
        self._limits = limits or chosen_limits()
        self._spawn = multiprocessing.get_context("spawn")
        self._folder = tempfile.TemporaryDirectory(prefix="snapcomb-")
        self._locker = Locker(Path(self._folder.name))
        self._numbers = self._spawn.Array("q", len(LANES), lock=False)
        self._processes: dict[str, _Process] = {}
        self._closing = False
        self._arrived.connect(self._take)
        self._died.connect(self._restart)

    def warm_up(self) -> None:
        """Start the processes before they are needed."""
        for name in dict.fromkeys(LANES.values()):
            self._process(name)

    def _process(self, name: str) -> _Process:
        if name not in self._processes:
            here, there = self._spawn.Pipe()
            process = self._spawn.Process(
                target=begin, args=(there, self._numbers, self._folder.name, self._limits), daemon=True,
                name=f"snapcomb-{name}",
            )  # fmt: skip
            process.start()
            there.close()
            reader = threading.Thread(target=self._read, args=(name, here), daemon=True, name=f"reader-{name}")
            watch = QTimer(self, singleShot=True, interval=round(1000 * self._limits.seconds))
            watch.timeout.connect(lambda: self._end_late(name))
            self._processes[name] = _Process(process, here, reader, watch)
            reader.start()
        return self._processes[name]

    def _read(self, name: str, connection: Connection) -> None:
        """In a thread: pass replies on to the window's thread."""
        while True:
            try:
                kind, ticket, payload = self._locker.loads(connection.recv_bytes())
            except (EOFError, OSError):
                if not self._closing:
                    self._died.emit(name, connection)
                return
            if self._closing:
                return
            self._arrived.emit(name, kind, ticket, payload)

    def _take(self, name: str, kind: str, ticket: int, payload: Any) -> None:
        """A message of a process: what it has begun with, or something for the one who asked."""
        held = self._processes.get(name)
        if held is not None and kind != "progress":
            held.watch.stop()
            held.ticket = ticket if kind == "begun" else 0
            if kind == "begun" and payload in READING:
                held.watch.start()
        if kind != "begun":
            self._receive(kind, ticket, payload)

    def _end_late(self, name: str) -> None:
        held = self._processes.get(name)
        if held is not None:
            held.late = True
            held.process.kill()  # its reader meets the end of the connection

    def _send(self, ticket: int, lane: str, task: str, args: tuple[Any, ...]) -> None:
        self._numbers[_LANE_NUMBER[lane]] = ticket
        message = self._locker.dumps((ticket, _LANE_NUMBER[lane], task, args))
        try:
            self._process(LANES[lane]).connection.send_bytes(message)
        except OSError:
            self._died.emit(LANES[lane], self._processes[LANES[lane]].connection)

    def cancel(self, lane: str) -> None:
        """See Runner.cancel; a running task notices at its next check."""
        self._numbers[_LANE_NUMBER[lane]] = 0
        super().cancel(lane)

    def _restart(self, name: str, connection: Connection) -> None:
        dead = self._processes.get(name)
        if dead is None or dead.connection is not connection:
            return
        del self._processes[name]
        dead.process.join(0.1)
        dead.watch.stop()
        lost = [(t, w) for t, w in self._waiting.items() if LANES[w.lane] == name]
        for ticket, waiting in lost:
            if dead.ticket in (0, ticket):
                self._receive("failed", ticket, _why(waiting, dead.late, self._limits))
            else:
                self._send(ticket, waiting.lane, waiting.task, waiting.args)

    def close(self) -> None:
        """End the processes and throw their folder away."""
        self._closing = True
        super().close()
        for held in self._processes.values():
            held.watch.stop()
            held.connection.close()
            held.process.terminate()
            held.process.join(2)
        self._processes.clear()
        self._folder.cleanup()


def _why(lost: _Waiting, late: bool, limits: Limits) -> SnapcombError:
    """The sentence for work whose process was ended."""
    files = [shown(a) for a in lost.args if isinstance(a, Path)]
    if lost.task not in READING or not files:
        return SnapcombError(
            "The work on this stopped unexpectedly; perhaps it needed too much memory.", "Nothing is lost: try again."
        )
    if late:
        return RefusedFile(
            f"{files[-1]}: Reading it took longer than {limits.seconds:g} s and was stopped.",
            "Reduce the mesh, or export it as binary STL, which is read fastest.",
        )
    return RefusedFile(
        f"{files[-1]}: Reading it was stopped by the system, most likely for want of memory.",
        "Close other programs, or reduce the mesh.",
    )
