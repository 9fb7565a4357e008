"""Which theme is on at the moment, for everything that paints itself."""

from __future__ import annotations

from PySide6.QtGui import QColor

from app.look import fonts
from app.look.tokens import LIGHT, Space, Theme

_now: list[Theme] = [LIGHT]


def current() -> Theme:
    """The theme of the moment."""
    return _now[0]


def set_current(theme: Theme) -> None:
    """Remember the theme. Use :func:`app.look.theme.apply` to show it as well."""
    _now[0] = theme


def colour(role: str, alpha: float = 1.0) -> QColor:
    """A colour of the theme of the moment by its role (a field of Theme), for painting."""
    made = QColor(getattr(current(), role))
    made.setAlphaF(alpha)
    return made


def _grown(pixels: int) -> int:
    return max(pixels, 4 * round(pixels * fonts.scale() / 4))


def box_height() -> int:
    """Height of boxes and buttons (logical px): 32 at the drawn type size, more when type is enlarged."""
    return _grown(Space.BOX)


def sheet_width() -> int:
    """Width of the job sheet (logical px): 344 at the drawn type size."""
    return _grown(Space.SHEET_WIDTH)


def line_height() -> int:
    """Height of a folded job-sheet line (logical px): 40 at the drawn type size."""
    return _grown(Space.LINE_HEIGHT)
