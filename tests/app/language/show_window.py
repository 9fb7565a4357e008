"""Shows the window in a language and size of letters, does a job in it, and prints what is cut off, as JSON.

A process of its own, because words are taken when a window is built: ``show_window.py pseudo 1.0 FOLDER``.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from app.dressing import dress
from app.language import install
from app.look import theme
from app.settings import Settings
from tests.app.language.room import cut_off

Found = dict[str, list[str]]


def main(language: str, letters: float, folder: Path) -> Found:
    """The places that were looked at, with what is cut off there."""
    for name in ("STATE", "CONFIG", "CACHE"):
        os.environ[f"SNAPCOMB_{name}"] = str(folder / name.lower())
    theme.prepare()
    app = QApplication([])
    install(language)
    settings = Settings(type_scale=letters)
    dress(app, settings)

    from app.window import Window
    from app.work.runner import SyncRunner

    found: Found = {}
    window = Window(SyncRunner(), settings)
    window.resize(1440, 900)
    window.show()
    look(found, "start page", window)
    walk_the_tour(found, window)
    for number in window.sheet.lines:
        window.sheet.unfold(number)
        look(found, f"line {number} of the job sheet", window)
    open_dialogs(found, window)
    window.store.mark_saved()
    window.close()
    return found


def look(found: Found, place: str, widget: QWidget) -> None:
    """Note what is cut off."""
    QTest.qWait(120)  # what was asked for comes in,
    QTest.qWait(60)  # and then finds its place
    found[place] = cut_off(widget)


def walk_the_tour(found: Found, window: object) -> None:
    """All pages of the tour but the last, which would write a file."""
    from app.tour import Tour

    tour = Tour(window)
    tour.start()
    for page in range(1, 6):
        for _ in range(3000):
            if tour.page == page:
                break
            QTest.qWait(10)
        window.view.stop_flight()
        look(found, f"tour, page {page}", window)
        if page < 5:
            tour._next()
    tour.stop()


def open_dialogs(found: Found, window: object) -> None:
    """Everything that opens beside the work."""
    side = window.side
    for name, dialog in (("preferences", "preferences"), ("setup", "setup_dialog"), ("log", "log")):
        getattr(side, f"show_{name}")()
        opened = getattr(side, dialog)
        for k in range(opened.pages.count()):
            opened.pages.setCurrentIndex(k)
            look(found, f"page {k} of the {name}", opened)
        opened.close()
    for name, dialog in (("coupon", "piece"), ("trial", "piece"), ("outcomes", "outcomes"), ("history", "history")):
        getattr(side, f"show_{name}")()
        look(found, name, getattr(side, dialog))
        getattr(side, dialog).close()


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], float(sys.argv[2]), Path(sys.argv[3]))))
