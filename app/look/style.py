"""The small drawings that the style sheet names, and the focus mark for widgets that paint themselves."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPen

from app.look.current import colour
from app.look.icons import recoloured
from app.look.tokens import Space, Theme


def draw_focus(painter: QPainter, rect: QRectF, radius: float = Space.RADIUS) -> None:
    """The focus mark: two px of ledge blue inside ``rect``."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(colour("ledge"), Space.FOCUS))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    half = Space.FOCUS / 2
    painter.drawRoundedRect(rect.adjusted(half, half, -half, -half), radius, radius)
    painter.restore()


_BOX: Final = """<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16" viewBox="0 0 16 16" fill="none">
<path d="M3 1H13A2 2 0 0 1 15 3V13A2 2 0 0 1 13 15H3A2 2 0 0 1 1 13V3A2 2 0 0 1 3 1z"
 fill="{ground}" stroke="{line}" stroke-width="{pen}"/>{mark}</svg>"""
_RING: Final = """<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16" viewBox="0 0 16 16" fill="none">
<circle cx="8" cy="8" r="6.75" fill="{ground}" stroke="{line}" stroke-width="{pen}"/>{mark}</svg>"""
_TICK: Final = '<path d="M3.8 8.4L6.8 11.6L12.2 4.6" stroke="{ink}" stroke-width="1.8"/>'
_PARTLY: Final = '<path d="M4 8H12" stroke="{ink}" stroke-width="1.8"/>'
_DOT: Final = '<circle cx="8" cy="8" r="3.2" fill="{ink}"/>'
ARROWS: Final = ("chevron_down", "chevron_up", "chevron_left", "chevron_right", "close", "done", "plus", "minus")
SIGNS: Final = ("note", "look", "help", "folder", "file", "save", "open", "remove", "job_sheet", "settings")


def write_pictures(theme: Theme, folder: str) -> None:
    """Write the small drawings that the style sheet names, in the colours of ``theme``.

    The theme is part of each file name because Qt keeps pictures by name.
    """
    for name in ARROWS:
        for tail, ink in (("", theme.ink2), ("-off", theme.line)):
            (Path(folder) / f"{name}-{theme.name}{tail}.svg").write_bytes(recoloured(name, theme, 16, ink=ink))
    for name in SIGNS:
        (Path(folder) / f"{name}-{theme.name}.svg").write_bytes(recoloured(name, theme, 24))
    for name, (shape, mark) in {
        "box": (_BOX, ""),
        "ticked": (_BOX, _TICK),
        "partly": (_BOX, _PARTLY),
        "ring": (_RING, ""),
        "dot": (_RING, _DOT),
    }.items():
        for tail, line, ink, pen in _indicator_states(theme):
            svg = shape.format(ground=theme.sheet, line=line, pen=pen, mark=mark.format(ink=ink))
            (Path(folder) / f"{name}-{theme.name}{tail}.svg").write_text(svg, encoding="utf-8")


def _indicator_states(theme: Theme) -> tuple[tuple[str, str, str, float], ...]:
    return (
        ("", theme.ink2, theme.ink, 1.2),
        ("-off", theme.line, theme.ink3, 1.0),
        ("-focus", theme.ledge, theme.ink, 2.0),
    )
