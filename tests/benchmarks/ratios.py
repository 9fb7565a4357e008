"""Measuring against a floor in the same run: the machine's speed drifts, the ratio does not."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Ratio:
    """Medians in seconds of the work and of its floor, measured in turn, and how the two compare."""

    name: str
    work: float
    floor: float
    target: str

    @property
    def ratio(self) -> float:
        return self.work / self.floor

    def __str__(self) -> str:
        return f"{self.name:<44} {1000 * self.work:9.2f} ms  floor {1000 * self.floor:8.2f} ms  × {self.ratio:7.2f}   {self.target}"


def against(
    name: str, work: Callable[[], object], floor: Callable[[], object], target: str = "", rounds: int = 7
) -> Ratio:
    """Run work and floor in turn after a warm-up and compare their medians."""
    work(), floor()
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for kept, run in zip(times, (work, floor), strict=True):
            start = time.perf_counter()
            run()
            kept.append(time.perf_counter() - start)
    return Ratio(name, statistics.median(times[0]), statistics.median(times[1]), target)
