"""A bench for the elevation: it plans what is wished and gives the drawing back, as the window does."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from pytestqt.qtbot import QtBot

from tests.app.elevation.bench import Bench
from tests.app.elevation.parts import Case, straight


@pytest.fixture
def bench(qtbot: QtBot, looked: object) -> Callable[..., Bench]:
    """Makes benches; their panels are shown and closed again."""

    def make(case: Case | None = None, **more: object) -> Bench:
        one = Bench(case or straight(), **more)  # type: ignore[arg-type]
        qtbot.addWidget(one.panel)
        with qtbot.waitExposed(one.panel):
            one.panel.show()
        one.settle()
        return one

    return make
