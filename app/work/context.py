"""What every task of the worker is given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from core.errors import Cancelled
from core.job.pipeline import Pipeline


@dataclass(frozen=True)
class Context:
    """What a task gets beside its arguments: a pipeline that lives on, progress, and whether it still matters."""

    pipeline: Pipeline
    progress: Callable[[float, str], None]
    cancelled: Callable[[], bool]

    def check(self) -> None:
        """Raise Cancelled when the request was replaced."""
        if self.cancelled():
            raise Cancelled("Replaced by a later request.")
