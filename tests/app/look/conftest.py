"""Every test here starts in the light theme at the drawn type size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtWidgets import QApplication

from app.look import fonts, theme


@pytest.fixture(params=["light", "dark"])
def dressed(request: pytest.FixtureRequest, qapp: QApplication) -> Iterator[str]:
    """The application in one of the themes."""
    theme.apply(qapp, request.param)
    yield request.param
    fonts.set_scale(1.0)
    theme.apply(qapp, "light")
