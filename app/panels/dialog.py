"""What our dialogs share: paper, a column on the grid, a sentence for what is refused, verbs at the foot."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QVBoxLayout, QWidget

from app.look.tokens import Space, Type
from app.panels.widgets import ThemedLabel, VerbButton


class SheetDialog(QDialog):
    """A dialog beside the window, never one that must be answered first."""

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setModal(False)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(Space.XL, Space.XL, Space.XL, Space.XL)
        self.column.setSpacing(Space.M)
        self.trouble = ThemedLabel("", "attention_text", Type.LABEL)
        self.trouble.setWordWrap(True)
        self.trouble.hide()

    def words(self, text: str = "", role: str = "ink2", size: float = Type.LABEL) -> ThemedLabel:
        """A wrapped line of words in the column."""
        made = ThemedLabel(text, role, size)
        made.setWordWrap(True)
        made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.column.addWidget(made)
        return made

    def foot(self, *buttons: VerbButton) -> None:
        """What was refused, and the verbs, at the right."""
        self.column.addWidget(self.trouble)
        line = QHBoxLayout()
        line.setSpacing(Space.S)
        line.addStretch(1)
        for button in buttons:
            line.addWidget(button)
        self.column.addLayout(line)

    def refuse(self, words: str) -> None:
        """Say why something cannot be; an empty text takes it away."""
        self.trouble.setText(words)
        self.trouble.setVisible(bool(words))
