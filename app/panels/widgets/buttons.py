"""Buttons that say what they do: a verb in a frame, a filled one for the main step, and a text link."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QToolButton, QWidget

from app.look.icons import icon


class VerbButton(QPushButton):
    """An action as a verb. ``primary`` fills it with ink: one a panel, for the step that the person came for."""

    def __init__(self, text: str, parent: QWidget | None = None, *, primary: bool = False, kind: str = "") -> None:
        super().__init__(text, parent)
        self.setProperty("verb", kind or ("primary" if primary else "secondary"))
        self.setAutoDefault(False)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)


class LinkButton(QPushButton):
    """An action as a line of text, for the way on that is taken less often."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setProperty("verb", "link")
        self.setAutoDefault(False)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)


class IconButton(QToolButton):
    """A 32 px button with an icon of ours; the name is shown as a tip and read aloud."""

    def __init__(self, name: str, text: str, parent: QWidget | None = None, *, checkable: bool = False) -> None:
        super().__init__(parent)
        self.setIcon(icon(name))
        self.setIconSize(QSize(24, 24))
        self.setFixedSize(32, 32)
        self.setCheckable(checkable)
        self.setText(text)
        self.setToolTip(text)
        self.setAccessibleName(text)
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonIconOnly)


class Stepper(QWidget):
    """− and + side by side; held down they repeat. Emits a wish of one step down or up."""

    stepped = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self.less = self._button("minus", self.tr("One less"), -1)
        self.more = self._button("plus", self.tr("One more"), 1)
        row.addWidget(self.less)
        row.addWidget(self.more)

    def _button(self, name: str, text: str, step: int) -> QPushButton:
        button = QPushButton(icon(name), "", self)
        button.setProperty("verb", "step")
        button.setIconSize(QSize(16, 16))
        button.setFixedWidth(28)
        button.setAutoRepeat(True)
        button.setAutoDefault(False)
        button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the keys Up and Down in the box do the same
        button.setAccessibleName(text)
        button.setToolTip(text)
        button.clicked.connect(lambda: self.stepped.emit(step))
        return button
