"""A small picture of the view for a kept job, from what is on show already: nothing is drawn for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from app.look.current import current
from app.look.tokens import Theme
from app.view.rendering import Picture
from app.view.viewport import Viewport

#: Twice the logical size of a card's picture.
SIZE: Final = QSize(448, 260)


def view_picture(view: Viewport) -> Callable[[], Callable[[], QImage | None] | None]:
    """For ``Keeper(picture=…)``: takes the layers that the view shows; they are put together in the writing thread."""

    def take() -> Callable[[], QImage | None] | None:
        picture, theme = view.rendering.picture(), current()
        return None if picture is None else lambda: composed(picture, theme)

    return take


def composed(picture: Picture, theme: Theme, size: QSize = SIZE) -> QImage:
    """Part, hatching and teeth on the sheet's colour, cut to the shape of ``size`` about the middle."""
    height, width = picture.part.shape[:2]
    whole = QImage(width, height, QImage.Format.Format_RGB32)
    whole.fill(QColor(theme.sheet))
    painter = QPainter(whole)
    for layer in (picture.part, picture.hatching, picture.teeth):
        if layer is not None:
            pixels = np.ascontiguousarray(layer)
            painter.drawImage(0, 0, QImage(pixels.data, width, height, QImage.Format.Format_RGBA8888_Premultiplied))
    painter.end()
    small = whole.scaled(
        size, Qt.AspectRatioMode.KeepAspectRatioByExpanding, Qt.TransformationMode.SmoothTransformation
    )
    x, y = (small.width() - size.width()) // 2, (small.height() - size.height()) // 2
    return small.copy(x, y, size.width(), size.height())
