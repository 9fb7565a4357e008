"""The strip of tools over the view."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QAction, QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QToolButton, QWidget

from app.look.current import colour
from app.look.tokens import Space
from app.panels.widgets.painted import framed


class _Gap(QFrame):
    def __init__(self) -> None:
        super().__init__()
        self.setFixedSize(17, 24)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        QPainter(self).fillRect(8, 2, 1, 20, colour("rule"))


class ToolStrip(QWidget):
    """A framed row of icon buttons, each for an action of the window."""

    def __init__(self, actions: dict[str, QAction], names: Sequence[str | None], parent: QWidget) -> None:
        super().__init__(parent)
        row = QHBoxLayout(self)
        row.setContentsMargins(Space.XS, Space.XS, Space.XS, Space.XS)
        row.setSpacing(0)
        self.buttons: list[QToolButton] = []
        for name in names:
            if name is None:
                row.addWidget(_Gap())
                continue
            button = QToolButton()
            button.setDefaultAction(actions[name])
            button.setIconSize(QSize(24, 24))
            button.setFixedSize(32, 32)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)
            button.setAccessibleName(actions[name].text().replace("&", ""))
            self.buttons.append(button)
            row.addWidget(button)
        self.adjustSize()
        self.move(Space.XXL, Space.XXL)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        framed(QPainter(self), QRectF(self.rect()))
