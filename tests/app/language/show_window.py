"""Shows the window in a language and size of letters, does a job in it, and prints what is cut off, as JSON.

A process of its own, because words are taken when a window is built: ``show_window.py pseudo 1.0 FOLDER``.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

language, letters, folder = sys.argv[1], float(sys.argv[2]), Path(sys.argv[3])
for name in ("STATE", "CONFIG", "CACHE"):
    os.environ[f"SNAPCOMB_{name}"] = str(folder / name.lower())

from PySide6.QtTest import QTest  # noqa: E402
from PySide6.QtWidgets import QApplication, QWidget  # noqa: E402

from app.dressing import dress  # noqa: E402
from app.language import install  # noqa: E402
from app.look import theme  # noqa: E402
from app.settings import Settings  # noqa: E402

theme.prepare()
app = QApplication([])
install(language)
settings = Settings(type_scale=letters)
dress(app, settings)

from app.panels.history import HistoryPanel  # noqa: E402
from app.panels.log_view import LogView  # noqa: E402
from app.panels.preferences import Preferences  # noqa: E402
from app.shortcuts import Shortcuts  # noqa: E402
from app.tour import Tour  # noqa: E402
from app.window import Window  # noqa: E402
from app.work.runner import SyncRunner  # noqa: E402
from tests.app.language.room import cut_off  # noqa: E402

found: dict[str, list[str]] = {}
window = Window(SyncRunner(), settings)
window.resize(1440, 900)
window.show()


def look(place: str, widget: QWidget) -> None:
    QTest.qWait(120)
    found[place] = cut_off(widget)


look("start page", window)
tour = Tour(window)
tour.start()
for page in range(1, 6):
    for _ in range(3000):
        if tour.page == page:
            break
        QTest.qWait(10)
    window.view.stop_flight()
    look(f"tour, page {page}", window)
    if page < 5:
        tour._next()
tour.stop()
window.store.undo()
for number in window.sheet.lines:
    window.sheet.unfold(number)
    look(f"line {number} of the job sheet", window)
preferences = Preferences(settings, Shortcuts(window.actions_by_name, settings), window)
preferences.show()
for k in range(preferences.pages.count()):
    preferences.pages.setCurrentIndex(k)
    look(f"page {k} of the preferences", preferences)
preferences.close()
log = LogView("a renderer", window)
log.show()
look("log", log)
log.close()
window.side.show_setup()
look("setup", window.side.setup_dialog)
window.side.setup_dialog.close()
history = HistoryPanel(window.store, window)
history.open_at(window.menuBar())
look("steps", history)
history.close()
window.store.mark_saved()
window.close()
print(json.dumps(found))
