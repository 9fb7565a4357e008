"""Puts a theme on the application: palette, style and style sheet, all ours, the same on every desktop.

Widgets that draw themselves ask :func:`current` while they paint; a change of theme repaints them.
"""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QDir, Qt, QTemporaryDir
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from app.look import fonts
from app.look.current import box_height, colour, current, line_height, set_current, sheet_width
from app.look.sheet import style_sheet
from app.look.style import write_pictures
from app.look.tokens import THEMES, Theme

__all__ = ["apply", "box_height", "colour", "current", "line_height", "palette", "prepare", "sheet_width"]


class _Lent:
    """What Qt borrows from us while the application lives."""

    pictures: QTemporaryDir | None = None
    application: QApplication | None = None


def prepare() -> None:
    """Keep the desktop's own looks out. Call before the application is made."""
    QGuiApplication.setDesktopSettingsAware(False)
    QGuiApplication.setAttribute(Qt.ApplicationAttribute.AA_DontUseNativeDialogs)
    QGuiApplication.setAttribute(Qt.ApplicationAttribute.AA_DontUseNativeMenuBar)


def apply(app: QApplication, theme: Theme | str) -> None:
    """Show the whole application in ``theme`` (a Theme, or "light" / "dark"); also after a change of type scale."""
    set_current(THEMES[theme] if isinstance(theme, str) else theme)
    if _Lent.application is not app:
        fonts.load()
        _Lent.application = app
        app.setStyle("Fusion")  # below our sheet, because it looks the same everywhere
        _Lent.pictures = QTemporaryDir()
    if _Lent.pictures is not None:
        QDir.setSearchPaths("look", [_Lent.pictures.path()])
        write_pictures(current(), _Lent.pictures.path())
    app.setFont(fonts.text_font())
    app.setPalette(palette(current()))
    app.setStyleSheet(style_sheet(current()))


_ACTIVE: Final = {
    "Window": "paper", "WindowText": "ink", "Base": "sheet", "AlternateBase": "well", "Text": "ink",
    "Button": "sheet", "ButtonText": "ink", "BrightText": "attention_text", "PlaceholderText": "ink3",
    "ToolTipBase": "sheet", "ToolTipText": "ink", "Link": "ledge_text", "LinkVisited": "ledge_text",
    "Highlight": "ledge", "HighlightedText": "paper", "Accent": "ledge",
    "Light": "sheet", "Midlight": "well", "Mid": "rule", "Dark": "line", "Shadow": "line",
}  # fmt: skip
_DISABLED: Final = {
    "WindowText": "ink3",
    "Text": "ink3",
    "ButtonText": "ink3",
    "Highlight": "pressed",
    "HighlightedText": "ink3",
}


def palette(theme: Theme) -> QPalette:
    """The theme as a palette, for what the style sheet does not reach."""
    made = QPalette()
    for role, name in _ACTIVE.items():
        made.setColor(QPalette.ColorRole[role], QColor(getattr(theme, name)))
    for role, name in _DISABLED.items():
        made.setColor(QPalette.ColorGroup.Disabled, QPalette.ColorRole[role], QColor(getattr(theme, name)))
    return made
