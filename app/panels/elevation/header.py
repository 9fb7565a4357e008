"""The line above the drawing: its name, what it shows, the scale on this screen, and its few switches."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QSizePolicy, QWidget

from app.look.current import line_height
from app.look.fonts import lettering_font
from app.look.tokens import Space, Type
from app.panels.widgets.buttons import VerbButton
from app.panels.widgets.painted import ThemedLabel

#: A title cut shorter than this says nothing.
LEAST_LETTERS = 5
#: Room (px) below which the title of the view says nothing.
LEAST_TITLE = 160


class _Title(ThemedLabel):
    """A title in drawing lettering."""

    def _dress(self) -> None:
        super()._dress()
        font = lettering_font(Type.VIEW_TITLE, 1.6)
        if self.font() != font:
            self.setFont(font)


class _Elided(ThemedLabel):
    """A label that gives way: it shortens its text instead of pushing others out."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__("", "ink2", parent=parent)
        self._whole = ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def set_whole(self, text: str) -> None:
        self._whole = text
        self.setToolTip(text)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        text = self.fontMetrics().elidedText(self._whole, Qt.TextElideMode.ElideRight, max(self.width() - 2, 0))
        self.setText(text if text == self._whole or len(text) > LEAST_LETTERS else "")


class Header(QWidget):
    """Emits nothing itself: the panel connects to its ticks and its button."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.title = _Title(self.tr("ELEVATION"), parent=self)
        self.view_title = _Elided(self)
        self.scale = ThemedLabel("", "ink2", Type.LABEL, parent=self)
        self.layer_lines = QCheckBox(self.tr("Layer lines"), self)
        self.detail = QCheckBox(self.tr("Detail"), self)
        self.whole = VerbButton(self.tr("Show whole span"), self, kind="note")
        self._rule = QFrame(self)
        self._rule.setFrameShape(QFrame.Shape.VLine)
        self._lay_out()
        self._name()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(Space.XXL, 2, Space.XXL, 2)
        row.setSpacing(Space.L)
        row.addWidget(self.title)
        row.addWidget(self.view_title, 1)
        for part in (self.scale, self.layer_lines, self.detail, self._rule, self.whole):
            row.addWidget(part)
        self._rule.setFixedHeight(Space.XL)
        self.layer_lines.setChecked(True)
        self.setFixedHeight(line_height())

    def _name(self) -> None:
        self.layer_lines.setToolTip(self.tr("Show what the printer lays down"))
        self.detail.setToolTip(self.tr("Draw the tooth in hand larger; takes a taller panel"))
        self.whole.setToolTip(self.tr("Fit the whole span into the panel (Home)"))
        for part in (self.layer_lines, self.detail, self.whole):
            part.setAccessibleName(part.text())
            part.setAccessibleDescription(part.toolTip())

    def show_scale(self, ratio: float | None) -> None:
        """Say the scale: drawn mm on this screen to real mm."""
        if ratio is None:
            self.scale.setText("")
            return
        word = f"{ratio:.1f} : 1" if ratio >= 1 else f"1 : {1 / ratio:.1f}"
        if ratio >= 20:
            word = f"{ratio:.0f} : 1"
        self.scale.setText(self.tr("Scale {0} on this screen").format(word))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """On a narrow panel the scale gives way first, then the title of the view."""
        super().resizeEvent(event)
        needed = (
            sum(w.sizeHint().width() + Space.L for w in (self.title, self.layer_lines, self.detail, self.whole))
            + 3 * Space.XXL
        )
        room = event.size().width()
        self.scale.setVisible(room > needed + self.scale.sizeHint().width() + LEAST_TITLE)
        self.view_title.setVisible(room > needed + LEAST_TITLE)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() == QEvent.Type.StyleChange:
            self.setFixedHeight(line_height())
        super().changeEvent(event)
