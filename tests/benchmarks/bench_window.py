"""The window with a large part: what a hand at the mouse waits for. Run under a display, alone on the machine:

    SIZE=1000000 python -m tests.benchmarks.bench_window [organic|machined]

Times are told on the clock and by the processor time of the window's thread, which other programs do not lengthen.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QObject, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

LEFT, NONE, CTRL = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
Times = list[tuple[float, float]]
PAINTED_MS, DRAG_MS, LOOP_MS, FRAME_MS, FIRST_MS, ORBIT_MS = 1200, 50, 50, 200, 600, 90


def since_start() -> float:
    """Seconds since this process was begun."""
    ticks = int(Path("/proc/self/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[19])
    uptime = float(Path("/proc/uptime").read_text(encoding="ascii").split()[0])
    return uptime - ticks / os.sysconf("SC_CLK_TCK")


def tell(name: str, times: Times, target: float) -> None:
    """One line: median and 95th percentile in ms."""
    clock, busy = (1000 * np.array(column) for column in zip(*times, strict=True))
    p95 = [np.percentile(one, 95) for one in (clock, busy)]
    print(
        f"{name:<34} clock {np.median(clock):7.1f} / {p95[0]:7.1f} ms   processor {np.median(busy):7.1f} / "
        f"{p95[1]:7.1f} ms (median / p95 of {len(times)})   target {target:g}",
        flush=True,
    )


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock and by this thread."""
    clock, busy = time.perf_counter(), time.thread_time()
    work()
    return time.perf_counter() - clock, time.thread_time() - busy


def until(holds: Callable[[], object], seconds: float = 90.0) -> None:
    """Let the window work until something holds."""
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            raise SystemExit("It did not come to be.")
        QApplication.processEvents()
        time.sleep(0.001)
    QApplication.processEvents()


def move(widget: QWidget, at: QPoint, mods: Qt.KeyboardModifier = NONE) -> None:
    """A real move event with the left button held."""
    place = QPointF(widget.mapToGlobal(at))
    event = QMouseEvent(QEvent.Type.MouseMove, QPointF(at), place, Qt.MouseButton.NoButton, LEFT, mods)
    QApplication.sendEvent(widget, event)


def main(kind: str) -> None:
    """Start the window as the program does, open a part, take the row, pull, turn."""
    folder = Path(tempfile.mkdtemp(prefix="bench_window"))
    for name in ("STATE", "CONFIG", "CACHE"):
        os.environ[f"SNAPCOMB_{name}"] = str(folder / name.lower())
    from app import settings
    from app.look import theme
    from app.window import Window

    theme.prepare()
    app = QApplication([])
    theme.apply(app, "light")
    window = Window(remembered=settings.Settings())
    painted: list[float] = []
    watch = Painted(window.start.widget())
    window.show()
    while not watch.count:
        QApplication.processEvents()
    painted = [since_start(), time.process_time()]
    print(f"window painted {1000 * painted[0]:.0f} ms after start, {1000 * painted[1]:.0f} ms of processor"
          f"   target {PAINTED_MS}")  # fmt: skip
    window.runner.warm_up()
    with_part(window, written(folder, kind))
    window.store.mark_saved()
    window.close()


class Painted(QObject):
    """Counts the times that a widget was painted."""

    def __init__(self, widget: QWidget) -> None:
        super().__init__(widget)
        self.count = 0
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        self.count += event.type() == QEvent.Type.Paint
        return False


def written(folder: Path, kind: str) -> Path:
    """The part as a file."""
    from core.files.write import write_part
    from tests.benchmarks.parts import PARTS

    path = folder / f"{kind}.stl"
    write_part(PARTS[kind](int(os.environ.get("SIZE", "1000000"))), path, unit="millimeter", name=kind)
    return path


def with_part(window: object, path: Path) -> None:
    """Open, take an edge, pull at a tooth, turn, draw in full, hand over; with the longest waits of each."""
    from tests.benchmarks.heartbeat import Heartbeat

    frames: list[tuple[str, float, float]] = []
    watch_frames(frames)
    beat = Heartbeat()
    beat.stretch("open")
    start = time.perf_counter()
    window.open(path)
    until(lambda: window.bench.job is not None)
    print(f"open: part shown after {time.perf_counter() - start:.2f} s", flush=True)
    until(lambda: frames)
    tell("first full frame", [frames[0][1:]], FIRST_MS)
    until(lambda: not window.runner.busy("open"))
    rest(window)
    beat.stretch("take an edge")
    window.walk_edges(1)
    until(lambda: window.bench.draft_design() is not None)
    rest(window)
    beat.stretch("pull at a tooth")
    pull(window)
    rest(window)
    beat.stretch("turn")
    turn(window, frames)
    rest(window)
    frames.clear()
    for _ in range(6):
        window.view.request(part=True)
        until(lambda: not window.view._turn.isActive() and not window.view._idle.isActive())
    tell("full frame at rest", [f[1:] for f in frames if f[0] == "rest"], FRAME_MS)
    beat.stretch("hand over")
    window.bench.accept()
    window.bench.hand_over(path.with_name("out.stl"), replace_it=True)
    until(lambda: window.bench.results.handed is not None)
    for stretch in beat.end():
        print(stretch, *(f"\n      {cause}" for cause, _ in stretch.causes.most_common(4)))


def watch_frames(frames: list[tuple[str, float, float]]) -> None:
    """Note how long each whole frame took."""
    from app.view.rendering import Rendering

    plain = Rendering.draw

    def draw(this: Rendering, *args: object, **named: object) -> None:
        clock, busy = timed(lambda: plain(this, *args, **named))
        if this.part.mesh is not None:
            frames.append(("moving" if args[-1] else "rest", clock, busy))

    Rendering.draw = draw


def rest(window: object) -> None:
    """Until nothing is drawn any more."""
    end = time.monotonic() + 1.0
    until(lambda: time.monotonic() > end and not window.view._idle.isActive() and not window.view._settle.isActive())


def pull(window: object) -> None:
    """Pull at a tooth of the row, back and forth; the picture is there once drawing and view are both painted."""
    canvas, view = window.elevation.drawing.canvas, window.view
    seen = [Painted(canvas), Painted(view)]
    tooth = canvas.model.teeth[len(canvas.model.teeth) // 2]
    low, high = canvas.model.z_range
    at = QPoint(round(canvas.view.sheet.x(tooth.centre)), round(canvas.view.sheet.y((low + high) / 2)))
    print(f"{len(canvas.model.teeth)} teeth")
    path = [at + QPoint(round(14 * np.sin(k / 5)) + 6, 0) for k in range(60)]
    wants = [0, 0]

    def done() -> object:
        return tuple(one.count > want for one, want in zip(seen, wants, strict=True)) == (True, True)

    QTest.mousePress(canvas, LEFT, CTRL, at)
    times = []
    last = at
    for place in path:
        if place == last:
            continue
        last = place
        wants[:] = [one.count for one in seen]

        def step(place: QPoint = place) -> None:
            move(canvas, place, CTRL)
            end = time.monotonic() + 5
            while not done() and time.monotonic() < end:
                QApplication.processEvents()

        times.append(timed(step))
    QTest.mouseRelease(canvas, LEFT, CTRL, last)
    tell("pull at a tooth: hand to picture", times[2:], DRAG_MS)


def turn(window: object, frames: list[tuple[str, float, float]]) -> None:
    """Orbit with the mouse."""
    view = window.view
    seen = Painted(view)
    middle = QPoint(view.width() // 2, view.height() // 2)
    QTest.mousePress(view, LEFT, NONE, middle)
    times = []
    for k in range(40):
        want = seen.count

        def step(k: int = k, want: int = want) -> None:
            move(view, middle + QPoint(6 * k + 8, k))
            end = time.monotonic() + 5
            while seen.count == want and time.monotonic() < end:
                QApplication.processEvents()

        times.append(timed(step))
    QTest.mouseRelease(view, LEFT, NONE, middle + QPoint(250, 40))
    tell("turn: hand to picture", times[2:], ORBIT_MS)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "organic")
