"""One window for all tests of the window, emptied in between; work runs in its own thread."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app import settings
from app.view.viewport import Viewport
from app.window import Window
from app.work.runner import SyncRunner


@pytest.fixture(scope="session")
def _one_window(_one_view: Viewport, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    import os

    os.environ["SNAPCOMB_CONFIG"] = str(tmp_path_factory.mktemp("config"))
    os.environ["SNAPCOMB_STATE"] = str(tmp_path_factory.mktemp("state"))
    window = Window(SyncRunner(), settings.Settings(), _one_view)
    window.resize(1440, 900)
    window.view.show()  # other tests have hidden it
    yield window
    window.store.open(None)
    window.view.setParent(None)
    window.close()


@pytest.fixture
def window(_one_window: Window, looked: QApplication) -> Iterator[Window]:
    """The window, shown, on the start page."""
    _one_window.bench.close()
    _one_window.set_unit("millimeter")
    _one_window.show()
    _one_window.activateWindow()
    assert QTest.qWaitForWindowActive(_one_window)
    yield _one_window  # and stays shown: without a window manager a hidden window never becomes the active one again
    _one_window.bench.close()


@pytest.fixture
def until(looked: QApplication) -> Callable[..., None]:
    """Let the window work until something holds, at most so long."""

    def wait(holds: Callable[[], object], seconds: float = 30.0) -> None:
        end = time.monotonic() + seconds
        while not holds():
            assert time.monotonic() < end, "it did not come to be"
            looked.processEvents()
            time.sleep(0.002)
        looked.processEvents()

    return wait


@pytest.fixture
def opened(window: Window, until: Callable[..., None]) -> Callable[[Path], Window]:
    """Open a file in the window and wait until it has been inspected."""

    def open_it(path: Path) -> Window:
        window.open(path)
        until(lambda: window.bench.job is not None and window.bench.results.inspection is not None)
        window.view.finish()
        return window

    return open_it


class Hand:
    """A hand on the mouse in the 3D view: points are bed mm."""

    def __init__(self, window: Window) -> None:
        self.window = window

    def place(self, point: np.ndarray) -> QPoint:
        screen, _ = self.window.view.lens().project(np.atleast_2d(point))
        return QPoint(*(round(float(x)) for x in screen[0]))

    def move(self, point: np.ndarray) -> None:
        QTest.mouseMove(self.window.view, QPoint(2, 2))
        QTest.mouseMove(self.window.view, self.place(point))
        QApplication.processEvents()

    def click(self, point: np.ndarray) -> None:
        self.move(point)
        QTest.mouseClick(self.window.view, Qt.MouseButton.LeftButton, pos=self.place(point))
        QApplication.processEvents()

    def drag(self, start: QPoint, end: QPoint) -> None:
        view = self.window.view
        QTest.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
        for t in np.linspace(0.1, 1, 10):
            QTest.mouseMove(view, start + (end - start) * float(t))
            QApplication.processEvents()
        QTest.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
        QApplication.processEvents()


@pytest.fixture
def hand(window: Window) -> Hand:
    """A hand on the mouse."""
    return Hand(window)
