"""The log in the state folder: every window and worker process writes into one file, which never grows for long.

An error that nobody expected is written down with its traceback, and the person gets a sentence instead of it.
"""

from __future__ import annotations

import faulthandler
import logging
import os
import sys
import threading
from collections.abc import Callable
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Final

from PySide6.QtCore import QCoreApplication, QMessageLogContext, QObject, Qt, QtMsgType, Signal, qInstallMessageHandler

from app.keeping.locks import FileLock
from app.keeping.places import state_folder

log = logging.getLogger(__name__)

LARGEST: Final = 1_000_000
KEPT_FILES: Final = 3
#: As much of the file's end as is read for showing its last lines.
_TAIL: Final = 256_000
_FORM: Final = "%(asctime)s %(process)d %(levelname)s %(name)s: %(message)s"


def log_path() -> Path:
    """Where the log is."""
    return state_folder() / "log" / "snapcomb.log"


class _SharedFile(RotatingFileHandler):
    """Rotates while other processes write into the same file: one turns it over, the others notice and follow."""

    def emit(self, record: logging.LogRecord) -> None:
        self._follow()
        super().emit(record)

    def _follow(self) -> None:
        try:
            here = os.fstat(self.stream.fileno()) if self.stream else None
            there = os.stat(self.baseFilename)
            if here is not None and (here.st_ino, here.st_dev) == (there.st_ino, there.st_dev):
                return
        except (OSError, ValueError):
            pass
        if self.stream:
            self.stream.close()
            self.stream = self._open()

    def doRollover(self) -> None:  # noqa: N802 - the library's name
        lock = FileLock.take(Path(f"{self.baseFilename}.lock"))
        if lock is None:
            return
        try:
            self._follow()
            if os.path.getsize(self.baseFilename) >= self.maxBytes // 2:
                super().doRollover()
        except OSError:  # somebody else has it open where that forbids renaming: grow a little longer
            self._follow()
        finally:
            lock.release()


class _Logging:
    """What was installed, so that it can be taken out again."""

    handler: logging.Handler | None = None
    faults: IO[str] | None = None
    teller: _Teller | None = None


def start(*, faults: bool = True) -> Path | None:
    """Write the log of this process into the state folder; returns its path, or None where that cannot be written."""
    if _Logging.handler is not None:
        return log_path()
    path = log_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handler = _SharedFile(path, maxBytes=LARGEST, backupCount=KEPT_FILES, encoding="utf-8", errors="replace")
    except OSError as problem:
        log.warning("There is no log: %s", problem)
        return None
    handler.setFormatter(logging.Formatter(_FORM))
    root = logging.getLogger()
    root.addHandler(handler)
    if root.level in (logging.NOTSET, logging.WARNING):
        root.setLevel(logging.INFO)
    logging.getLogger("matplotlib").setLevel(logging.WARNING)
    _Logging.handler = handler
    if faults and not faulthandler.is_enabled():
        _Logging.faults = (path.parent / "faults.txt").open("a", encoding="utf-8")
        faulthandler.enable(_Logging.faults)
    return path


def stop() -> None:
    """Write no more."""
    if _Logging.handler is not None:
        logging.getLogger().removeHandler(_Logging.handler)
        _Logging.handler.close()
        _Logging.handler = None
    if _Logging.faults is not None:
        faulthandler.disable()
        _Logging.faults.close()
        _Logging.faults = None


def last_lines(count: int = 400) -> list[str]:
    """The end of the log, oldest first; where the file has just been turned over, also the end of the one before."""
    lines: list[str] = []
    for path in (log_path(), log_path().with_name("snapcomb.log.1")):
        lines = _tail(path) + lines
        if len(lines) >= count:
            break
    return lines[-count:]


def _tail(path: Path) -> list[str]:
    try:
        with path.open("rb") as stream:
            size = stream.seek(0, os.SEEK_END)
            stream.seek(max(0, size - _TAIL))
            text = stream.read().decode("utf-8", "replace")
    except OSError:
        return []
    lines = text.splitlines()
    return lines[1:] if size > _TAIL else lines


class _Teller(QObject):
    """Carries a sentence from whatever thread into the window's."""

    happened = Signal(str)


def watch_exceptions(say: Callable[[str], None]) -> Callable[[], None]:
    """Log every error that nobody caught and ``say`` a sentence, in the window's thread; returns what undoes this.

    Qt's own warnings go into the log too.
    """
    before = (sys.excepthook, threading.excepthook, sys.unraisablehook)
    teller = _Teller()
    teller.happened.connect(say, Qt.ConnectionType.QueuedConnection)
    _Logging.teller = teller

    def caught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            before[0](kind, error, trace)
            return
        log.error("Unexpected error", exc_info=(kind, error, trace))
        teller.happened.emit(sentence(error))

    sys.excepthook = caught
    threading.excepthook = lambda args: caught(args.exc_type, args.exc_value or args.exc_type(), args.exc_traceback)
    sys.unraisablehook = lambda args: log.error(
        "Error while tidying up %r", args.object, exc_info=(args.exc_type, args.exc_value, args.exc_traceback)
    )
    previous = qInstallMessageHandler(_from_qt)

    def undo() -> None:
        sys.excepthook, threading.excepthook, sys.unraisablehook = before
        qInstallMessageHandler(previous)
        _Logging.teller = None

    return undo


def sentence(error: BaseException) -> str:
    """What a person is told of an error that nobody expected."""
    what = QCoreApplication.translate("Log", "Something unexpected went wrong ({0}).").format(type(error).__name__)
    return f"{what} {QCoreApplication.translate('Log', 'Your work is kept; the log in the Help menu has the details.')}"


_LEVELS: Final[dict[Any, int]] = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


def _from_qt(kind: QtMsgType, context: QMessageLogContext, message: str) -> None:
    logging.getLogger(f"qt.{context.category or 'default'}").log(_LEVELS.get(kind, logging.WARNING), "%s", message)
