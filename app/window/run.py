"""Starts the window as a program of its own."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from PySide6.QtCore import QByteArray, QTimer
from PySide6.QtWidgets import QApplication

from app import settings
from app.desktop import ID
from app.keeping import log as log_keeping
from app.language import translator
from app.look import fonts, theme
from app.window.window import Window
from core.files.guard import LIMITS_VARIABLE

#: The worker processes start so long after the window is shown, ms: its first picture comes before them.
WARM_UP_AFTER = 150


def run(path: Path | None = None) -> int:
    """Open the window, on a file if one is given, and return the exit status."""
    theme.prepare()
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName("Snapcomb")
    app.setDesktopFileName(ID)
    remembered = settings.load()
    os.environ.setdefault(LIMITS_VARIABLE, remembered.file_limits)  # the worker processes take it over
    log_keeping.start()
    translator.install(translator.chosen_language(remembered.language))
    fonts.set_scale(remembered.type_scale)
    theme.apply(app, remembered.theme if remembered.theme in ("light", "dark") else "light")
    window = Window(remembered=remembered)
    if remembered.geometry:
        window.restoreGeometry(QByteArray.fromBase64(remembered.geometry.encode()))
    window.view.animated = remembered.animation
    unwatch = log_keeping.watch_exceptions(lambda text: window.say("attention", text, ()))
    window.show()
    if path is not None:
        QTimer.singleShot(0, lambda: window.open(path))
    QTimer.singleShot(WARM_UP_AFTER, window.runner.warm_up)
    try:
        return app.exec()
    finally:
        unwatch()
        log_keeping.stop()
