"""Icons in the colours of the theme, sharp at every device scale.

``icon(name)`` gives a QIcon that asks for the theme each time it is drawn: nothing has to be set again after a change
of theme. A disabled icon is drawn in one ink.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from PySide6.QtCore import QByteArray, QPoint, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QIconEngine, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from app.look import current as look
from app.look.tokens import LIGHT, Theme
from icons import icon_bytes

# The files are drawn in the light theme; these are the roles whose colour is exchanged.
ROLES: Final = ("ink", "ledge", "tooth", "tooth_fill", "attention", "paper", "line")
LARGE: Final = 40  # logical px; from here on the pens of the 24 drawing would look clumsy
_LARGE_PENS: Final = ((b'stroke-width="1.6"', b'stroke-width="1.3"'), (b'stroke-width="0.9"', b'stroke-width="0.65"'))


#: Icons that are drawn while the program runs, by name.
_drawn: dict[str, bytes] = {}


def put_icon(name: str, svg: bytes) -> None:
    """Have an icon that is in no file: drawn for 24 px in the light theme's colours."""
    _drawn[name] = svg


def recoloured(name: str, theme: Theme, size: float = 24, *, ink: str | None = None) -> bytes:
    """The SVG of an icon in the colours of ``theme``, or in one ``ink`` (``#RRGGBB``)."""
    svg = _drawn[name] if name in _drawn else icon_bytes(name, size)
    if size >= LARGE:
        for pen, thinner in _LARGE_PENS:
            svg = svg.replace(pen, thinner)
    for role in ROLES:
        keep = role in ("paper", "tooth_fill") or ink is None
        colour = getattr(theme, role) if keep else ink
        svg = svg.replace(getattr(LIGHT, role).encode(), b"@" + role.encode() + b"@" + (colour or "").encode())
    for role in ROLES:
        svg = svg.replace(b"@" + role.encode() + b"@", b"")
    return svg


@lru_cache(maxsize=512)
def _pixmap(name: str, theme: Theme, size: tuple[int, int], ratio: float, ink: str | None) -> QPixmap:
    """Drawn for ``size`` device px."""
    width, height = size
    svg = recoloured(name, theme, min(size) / ratio, ink=ink)
    picture = QPixmap(width, height)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    renderer = QSvgRenderer(QByteArray(svg))
    renderer.render(painter, QRectF(_fitted(renderer.defaultSize(), width, height)))
    painter.end()
    picture.setDevicePixelRatio(ratio)
    return picture


def _fitted(natural: QSize, width: int, height: int) -> QRect:
    size = natural.scaled(width, height, Qt.AspectRatioMode.KeepAspectRatio)
    return QRect(QPoint((width - size.width()) // 2, (height - size.height()) // 2), size)


def pixmap(
    name: str, size: float | QSize = 24, ratio: float = 1.0, *, ink: str | None = None, theme: Theme | None = None
) -> QPixmap:
    """An icon as a picture of ``size`` logical px for a screen of device pixel ratio ``ratio``."""
    wide, high = (size.width(), size.height()) if isinstance(size, QSize) else (size, size)
    return _pixmap(name, theme or look.current(), (round(wide * ratio), round(high * ratio)), ratio, ink)


class _Engine(QIconEngine):
    """Draws one icon by name in the theme of the moment."""

    def __init__(self, name: str, ink: str | None) -> None:
        super().__init__()
        self._name, self._ink = name, ink

    def paint(self, painter: QPainter, rect: QRect, mode: QIcon.Mode, state: QIcon.State) -> None:
        device = painter.device()
        ratio = device.devicePixelRatio() if device is not None else 1.0
        painter.drawPixmap(rect, pixmap(self._name, rect.size(), ratio, ink=self._ink_for(mode)))

    def scaledPixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State, scale: float) -> QPixmap:  # noqa: N802
        return pixmap(self._name, size, scale, ink=self._ink_for(mode))  # logical size since Qt 6.8

    def pixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State) -> QPixmap:
        return self.scaledPixmap(size, mode, state, 1.0)

    def clone(self) -> QIconEngine:
        twin = _Engine(self._name, self._ink)
        _clones.append(twin)  # Qt owns the copy, but not the Python half of it
        return twin

    def _ink_for(self, mode: QIcon.Mode) -> str | None:
        theme = look.current()
        if mode == QIcon.Mode.Disabled:
            return theme.line
        return getattr(theme, self._ink) if self._ink else None


_clones: list[_Engine] = []


@lru_cache(maxsize=256)
def icon(name: str, role: str | None = None) -> QIcon:
    """The icon ``name``; ``role`` (a field of Theme) draws it in that one colour. Raises KeyError."""
    icon_bytes(name)
    return QIcon(_Engine(name, role))


def window_icon() -> QIcon:
    """The program's own icon: the same in both themes, since desktops show it on their own ground."""
    made = QIcon()
    for size in (16, 24, 32, 48, 64, 128, 256):
        made.addPixmap(pixmap("window", size, theme=LIGHT))
    return made
