"""What counts as a failure while the window is played with: complaints of the toolkit, faults of our own, memory."""

from __future__ import annotations

import ctypes
import gc
import logging
import os
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from PySide6.QtCore import QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication

#: What a display without a window manager complains of, and no program can help.
EXPECTED = ("This plugin does not support propagateSizeHints", "does not support window opacity")


class _LogWatch(logging.Handler):
    """A warning or an error in the program's own log is a complaint."""

    def __init__(self, into: list[str]) -> None:
        super().__init__(logging.WARNING)
        self._into = into

    def emit(self, record: logging.LogRecord) -> None:
        self._into.append(f"log: {record.name}: {self.format(record)}")


@contextmanager
def watched() -> Iterator[list[str]]:
    """Everything that is complained of while this is open."""
    complaints: list[str] = []

    def heard(kind: QtMsgType, _: object, text: str) -> None:
        if kind not in (QtMsgType.QtDebugMsg, QtMsgType.QtInfoMsg) and not any(e in text for e in EXPECTED):
            complaints.append(f"toolkit: {text}")

    def raised(kind: type[BaseException], fault: BaseException, trace: object) -> None:
        complaints.append("".join(traceback.format_exception(kind, fault, trace)))  # type: ignore[arg-type]

    log = _LogWatch(complaints)
    hook, before = sys.excepthook, qInstallMessageHandler(heard)
    sys.excepthook = raised
    logging.getLogger().addHandler(log)
    try:
        yield complaints
    finally:
        logging.getLogger().removeHandler(log)
        sys.excepthook = hook
        qInstallMessageHandler(before)


def resident() -> float:
    """Memory that the process holds once everything that can be given back has been, MiB."""
    for _ in range(3):
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, 52)  # QEvent.DeferredDelete: what asked to be deleted is
        gc.collect()
    with suppress(OSError, AttributeError):
        ctypes.CDLL("libc.so.6").malloc_trim(0)
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20
