"""Puts the settings on the running program: theme, size of letters, language."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from app.look import fonts, theme
from app.look.tokens import THEMES
from app.settings import Settings


def dress(app: QApplication, settings: Settings) -> None:
    """Show the whole application in the theme and size of letters of the settings."""
    fonts.set_scale(settings.type_scale)
    theme.apply(app, settings.theme if settings.theme in THEMES else "light")
