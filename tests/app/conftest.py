"""What every test of the window needs: the look put on once, and one 3D view for the whole run.

Opening and closing views costs memory that the graphics driver does not give back, so all tests share one.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

from app.look import theme as look
from app.look.tokens import LIGHT
from app.view.viewport import Viewport


@pytest.fixture(scope="session")
def looked(qapp: QApplication) -> QApplication:
    """The application in the light theme."""
    look.apply(qapp, LIGHT)
    logging.getLogger("matplotlib").setLevel(logging.WARNING)
    return qapp


@pytest.fixture(scope="session")
def _one_view(looked: QApplication) -> Iterator[Viewport]:
    view = Viewport()
    view.animated = False
    view.resize(800, 600)
    yield view
    view.close()
    view.deleteLater()
    looked.processEvents()


@pytest.fixture
def viewport(_one_view: Viewport, qapp: QApplication) -> Iterator[Viewport]:
    """The shared view, empty, shown, in the light theme and with its first camera."""
    view = _one_view
    view.clear()
    view.set_view_rotation(np.eye(3))
    view.set_pick_kinds(("edge", "face"))
    view.set_theme(LIGHT)
    view.camera = type(view.camera)()
    view.resize(800, 600)
    view.show()
    qapp.processEvents()
    yield view
    view.clear()
    view.hide()
