"""Measuring against a floor in the same run: the machine's speed drifts, the ratio does not.

Time is told twice, on the clock and by the processor. The second hardly changes while other programs run; it counts
every thread, so work that is spread over two cores looks twice as long in it.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Ratio:
    """Medians in seconds of the work and of its floor, measured in turn, and how the two compare."""

    name: str
    work: float
    floor: float
    target: str
    busy: float = 0.0
    busy_floor: float = 0.0

    @property
    def ratio(self) -> float:
        """On the clock."""
        return self.work / self.floor

    @property
    def busy_ratio(self) -> float:
        """By the processor."""
        return self.busy / max(self.busy_floor, 1e-9)

    def __str__(self) -> str:
        return (
            f"{self.name:<44} {1000 * self.work:9.2f} ms  floor {1000 * self.floor:8.2f} ms  × {self.ratio:7.2f}"
            f"   processor {1000 * self.busy:9.2f} ms × {self.busy_ratio:7.2f}   {self.target}"
        )


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds of one run, on the clock and by the processor."""
    clock, busy = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - busy


def against(
    name: str, work: Callable[[], object], floor: Callable[[], object], target: str = "", rounds: int = 7
) -> Ratio:
    """Run work and floor in turn after a warm-up and compare their medians."""
    work(), floor()
    times: tuple[list[tuple[float, float]], list[tuple[float, float]]] = ([], [])
    for _ in range(rounds):
        for kept, run in zip(times, (work, floor), strict=True):
            kept.append(timed(run))
    (clock, busy), (clock_floor, busy_floor) = ([statistics.median(v) for v in zip(*t, strict=True)] for t in times)
    return Ratio(name, clock, clock_floor, target, busy, busy_floor)


def growth(sizes: Sequence[float], seconds: Sequence[float]) -> float:
    """The power with which time grows with size: the slope of a straight line through the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])
