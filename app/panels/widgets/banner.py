"""A message inside the window, with the next steps as buttons. Never a box that must be answered first."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from app.language import said
from app.look.current import colour
from app.look.tokens import Space, Type
from app.panels.widgets.buttons import IconButton, VerbButton
from app.panels.widgets.painted import ThemedLabel

BAR = 3
PICTURE_HIGH = 56  # px


class Banner(QWidget):
    """``kind`` is "note" or "attention". ``steps`` are (stable word, verb) pairs; a click emits the word.

    ``wide`` sets the buttons to the right of the words, for banners across the window.
    """

    chosen = Signal(str)
    dismissed = Signal()

    def __init__(
        self, text: str = "", steps: Sequence[tuple[str, str]] = (), parent: QWidget | None = None, *,
        kind: str = "attention", title: str = "", wide: bool = False, dismissable: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._kind, self._wide = kind, wide
        self.title = ThemedLabel("", "ink", Type.TEXT, Type.SEMIBOLD, self)
        self.text = ThemedLabel("", "ink", Type.TEXT, parent=self)
        self.picture = QLabel(self)
        self.picture.hide()
        self.buttons: dict[str, VerbButton] = {}
        self._row = QHBoxLayout()
        self._lay_out(dismissable)
        self.show_message(text, steps, kind=kind, title=title)

    def _lay_out(self, dismissable: bool) -> None:
        outer = QHBoxLayout(self)
        outer.setContentsMargins(BAR + Space.L - 3, Space.M - 2, Space.M, Space.M - 2)
        outer.setSpacing(Space.L)
        outer.addWidget(self.picture, 0, Qt.AlignmentFlag.AlignVCenter)
        main = QBoxLayout(QBoxLayout.Direction.LeftToRight if self._wide else QBoxLayout.Direction.TopToBottom)
        main.setSpacing(Space.L if self._wide else Space.S)
        words = QVBoxLayout()
        words.setSpacing(2)
        for label in (self.title, self.text):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            words.addWidget(label)
        self._row.setSpacing(Space.S)
        main.addLayout(words, 1)
        main.addLayout(self._row)
        outer.addLayout(main, 1)
        if dismissable:
            close = IconButton("close", self.tr("Put this message away"), self)
            close.clicked.connect(self.dismissed)
            outer.addWidget(close, 0, Qt.AlignmentFlag.AlignTop)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)

    def show_message(
        self, text: str, steps: Sequence[tuple[str, str]] = (), *, kind: str = "attention", title: str = ""
    ) -> None:
        """Put up other words and buttons."""
        self._kind = kind
        self.title.setText(title)
        self.title.setVisible(bool(title))
        self.text.setText(text)
        self.text.setVisible(bool(text))
        self.text.set_role("ink2" if title else "ink")
        self._set_steps(steps)
        self.setAccessibleName(f"{self.title.text()} {self.text.text()}".strip())
        self.updateGeometry()
        self.update()

    def set_picture(self, picture: QPixmap | None) -> None:
        """A small picture before the words, or none."""
        there = picture is not None and not picture.isNull()
        if there:
            high = round(PICTURE_HIGH * picture.devicePixelRatio())
            small = picture.scaledToHeight(high, Qt.TransformationMode.SmoothTransformation)
            small.setDevicePixelRatio(picture.devicePixelRatio())
            self.picture.setPixmap(small)
        self.picture.setVisible(there)

    def _set_steps(self, steps: Sequence[tuple[str, str]]) -> None:
        while self._row.count():
            item = self._row.takeAt(0)
            if item.widget() is not None:
                item.widget().deleteLater()
        self.buttons = {}
        for key, verb in steps:
            button = VerbButton(said(verb), self, kind="" if self._wide else self._kind)
            button.clicked.connect(lambda _=False, word=key: self.chosen.emit(word))
            self.buttons[key] = button
            self._row.addWidget(button)
        if not self._wide:
            self._row.addStretch(1)  # also without a button: an empty row would pass for one of no width

    def showEvent(self, event: object) -> None:  # noqa: N802
        super().showEvent(event)
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        attention = self._kind == "attention"
        painter.fillRect(self.rect(), colour("attention_ground" if attention else "well"))
        painter.fillRect(0, 0, BAR, self.height(), colour("attention" if attention else "ink"))
