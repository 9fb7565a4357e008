"""How long the window's event loop is held up, beat by beat, and by what.

A timer beats as often as the loop lets it. The time between two beats, less what the renderer spent on frames in it,
is what a hand at the mouse would have waited for. Next to the time on the clock stands the processor time of the
window's own thread, which other programs on the machine do not lengthen. An alarm looks now and then at what the
thread is doing, so that a long beat can be explained. (Looking from a second thread would hold on to frames, and with
them to painters that Qt wants back.)
"""

from __future__ import annotations

import signal
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from PySide6.QtCore import QTimer

from app.view.rendering import Rendering

#: Time between two looks at the stack, s; and how many of the innermost own frames are told.
LOOK_EVERY = 0.004
DEPTH = 4
FRAMES = ("draw", "draw_teeth", "refine", "picture")


@dataclass
class Stretch:
    """The beats of one stretch of work: the longest ones in ms, on the clock and by the processor, and their causes."""

    name: str
    clock: float = 0.0
    busy: float = 0.0
    frame: float = 0.0
    beats: int = 0
    causes: Counter[str] = field(default_factory=Counter)

    def __str__(self) -> str:
        return (
            f"{self.name:<22} longest wait {self.clock:7.1f} ms on the clock, {self.busy:7.1f} ms of processor; "
            f"longest frame {self.frame:6.1f} ms; {self.beats} beats"
        )


class Heartbeat:
    """Beats while the event loop runs; ``stretch`` begins a new stretch."""

    def __init__(self) -> None:
        self.now = Stretch("before")
        self.done: list[Stretch] = []
        self._drawn, self._drawn_busy, self._deep = 0.0, 0.0, 0
        self._looks: list[str] = []
        self._timer = QTimer(interval=0)
        self._timer.timeout.connect(self._beat)
        for name in FRAMES:
            setattr(Rendering, name, self._timed(getattr(Rendering, name)))
        self._last, self._last_busy = time.perf_counter(), time.thread_time()
        signal.signal(signal.SIGALRM, self._look)
        signal.setitimer(signal.ITIMER_REAL, LOOK_EVERY, LOOK_EVERY)
        self._timer.start()

    def stretch(self, name: str) -> None:
        """Begin to count anew."""
        self.done.append(self.now)
        self.now = Stretch(name)
        self._last, self._last_busy, self._drawn, self._drawn_busy = time.perf_counter(), time.thread_time(), 0.0, 0.0

    def end(self) -> list[Stretch]:
        """Stop beating; the stretches counted."""
        self._timer.stop()
        signal.setitimer(signal.ITIMER_REAL, 0)
        return [*self.done[1:], self.now]

    def _beat(self) -> None:
        clock, busy = time.perf_counter(), time.thread_time()
        waited = 1000 * (clock - self._last - self._drawn)
        worked = 1000 * (busy - self._last_busy - self._drawn_busy)
        now = self.now
        now.beats += 1
        now.frame = max(now.frame, 1000 * self._drawn)
        now.clock, now.busy = max(now.clock, waited), max(now.busy, worked)
        if worked > 20:
            now.causes[f"{worked:5.0f} ms " + " | ".join(w for w, _ in Counter(self._looks).most_common(2))] += 1
        self._looks = []
        self._last, self._last_busy, self._drawn, self._drawn_busy = clock, busy, 0.0, 0.0

    def _timed(self, work):
        def run(*args, **kwargs):
            start, busy = time.perf_counter(), time.thread_time()
            self._deep += 1
            try:
                return work(*args, **kwargs)
            finally:
                self._deep -= 1
                if not self._deep:
                    self._drawn += time.perf_counter() - start
                    self._drawn_busy += time.thread_time() - busy

        return run

    def _look(self, _number: int, frame: FrameType | None) -> None:
        own: list[str] = []
        while frame is not None and len(own) < DEPTH and not self._deep:
            if "/app/" in frame.f_code.co_filename or "/core/" in frame.f_code.co_filename:
                own.append(f"{Path(frame.f_code.co_filename).stem}.{frame.f_code.co_name}:{frame.f_lineno}")
            frame = frame.f_back
        if own:
            self._looks.append(" < ".join(own))
