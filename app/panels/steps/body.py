"""What the seven bodies share: a column on the sheet's grid, the bench, and words about lengths."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from app.bench import Bench
from app.look.tokens import Space, Type
from app.panels.widgets import Banner, LengthBox, SideBySide, State, ThemedLabel
from core.units import format_length


class Body(QWidget):
    """A body shows; ``figure`` and ``state`` say what its folded line shows."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.bench = bench
        self.column = QVBoxLayout(self)
        self.column.setSpacing(Space.M)
        self.build()

    def build(self) -> None:
        """Make the controls."""

    def refresh(self) -> None:
        """Show the job as it is now."""

    def figure(self) -> str:
        """The live figure of the line."""
        return ""

    def state(self) -> State:
        """The mark of the line."""
        return State.TODO

    def mm(self, value: float, *, unit: bool = True) -> str:
        """A length in the unit that is shown."""
        return format_length(value, self.bench.view.unit, with_unit=unit)

    def label(self, text: str = "", role: str = "ink2", size: float = Type.LABEL) -> ThemedLabel:
        """A wrapped line of words in the column."""
        made = ThemedLabel(text, role, size)
        made.setWordWrap(True)
        made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        made.setTextFormat(Qt.TextFormat.PlainText)
        self.column.addWidget(made)
        return made

    def row(self, *widgets: QWidget, stretch: bool = False) -> SideBySide:
        """Widgets side by side, or one below the other where their words need the room."""
        line = SideBySide(widgets, stretch=stretch)
        self.column.addWidget(line)
        return line

    def grid(self, *boxes: QWidget) -> QGridLayout:
        """Boxes two by two."""
        made = QGridLayout()
        made.setHorizontalSpacing(Space.M)
        made.setVerticalSpacing(Space.S)
        for i, box in enumerate(boxes):
            made.addWidget(box, i // 2, i % 2, Qt.AlignmentFlag.AlignTop)
        made.setColumnStretch(0, 1)
        made.setColumnStretch(1, 1)
        self.column.addLayout(made)
        return made

    def banner(self) -> Banner:
        """A message in the column, hidden until it has something to say."""
        made = Banner()
        made.hide()
        self.column.addWidget(made)
        return made


def show_trouble(banner: Banner, text: str, steps: tuple[tuple[str, str], ...] = ()) -> None:
    """Put a sentence on a banner, or hide it when there is none."""
    if text:
        banner.show_message(text, steps)
    banner.setVisible(bool(text))


def length_box(caption: str, *, returnable: bool = True) -> LengthBox:
    """A length box."""
    return LengthBox(caption, returnable=returnable)
