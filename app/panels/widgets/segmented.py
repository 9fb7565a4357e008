"""A strip of choices of which exactly one holds: tooth shapes with their drawings, mm or inch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QSizePolicy, QWidget

from app.look.current import box_height, colour, current
from app.look.fonts import scale, text_font
from app.look.icons import pixmap
from app.look.style import draw_focus
from app.look.tokens import Type

ICON = 24
LEAST_WIDE = 44  # px of a choice with a drawing


@dataclass(frozen=True)
class Choice:
    """One choice: a stable word, its caption, and the icon drawn above it."""

    key: str
    caption: str
    icon: str = ""


class _Segment(QAbstractButton):
    arrow = Signal(int)

    def __init__(self, choice: Choice, parent: QWidget) -> None:
        super().__init__(parent)
        self.choice = choice
        self.setText(choice.caption)
        self.setAccessibleName(choice.caption)
        self.setCheckable(True)
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        # a drawing says what it is without its caption, which may be shortened where there is little room
        yields = QSizePolicy.Policy.Expanding if choice.icon else QSizePolicy.Policy.MinimumExpanding
        self.setSizePolicy(yields, QSizePolicy.Policy.Fixed)
        self.setToolTip(choice.caption if choice.icon else "")

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Up: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Down: 1}
        if event.key() in steps:
            self.arrow.emit(steps[Qt.Key(event.key())])
        else:
            super().keyPressEvent(event)

    def sizeHint(self) -> QSize:  # noqa: N802
        # the bold form is reserved, so that the strip does not shift when the choice moves
        wide = QFontMetricsF(text_font(Type.LABEL, Type.SEMIBOLD)).horizontalAdvance(self.text())
        if self.choice.icon:
            return QSize(round(wide + 10), round(30 + 22 * scale()))
        return QSize(round(wide + 24), box_height() - 8)

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(LEAST_WIDE, self.sizeHint().height()) if self.choice.icon else self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        rect = QRectF(self.rect())
        plain = not self.choice.icon
        ground = (
            "pressed" if self.isDown() or (plain and self.isChecked()) else "well" if self.underMouse() else "sheet"
        )
        heavy = 1 if self.isChecked() and not plain else 0
        painter.fillRect(rect.adjusted(heavy, 1 + heavy, -heavy, -1 - heavy), colour(ground))
        self._paint_words(painter, rect)
        if self.hasFocus():
            draw_focus(painter, rect.adjusted(-1, 0, 1, 0), 0)

    def _paint_words(self, painter: QPainter, rect: QRectF) -> None:
        strong = self.isChecked() and not self.choice.icon
        painter.setFont(text_font(Type.LABEL, Type.SEMIBOLD if strong else Type.MEDIUM))
        painter.setPen(colour("ink" if self.isEnabled() else "ink3"))
        field = rect
        if self.choice.icon:
            ink = None if self.isEnabled() else current().line
            picture = pixmap(self.choice.icon, ICON, self.devicePixelRatioF(), ink=ink)
            painter.drawPixmap(round(rect.center().x() - ICON / 2), 5, picture)
            field = rect.adjusted(0, ICON + 4, 0, -2)
        words = painter.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, int(field.width()) - 4)
        painter.drawText(field, Qt.AlignmentFlag.AlignCenter, words)


class Segmented(QWidget):
    """Shows one choice as taken; a click or an arrow key wishes another."""

    chosen = Signal(str)

    def __init__(self, choices: Sequence[Choice], name: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        row = QHBoxLayout(self)
        row.setContentsMargins(1, 0, 1, 0)
        row.setSpacing(1)
        self._segments = {choice.key: _Segment(choice, self) for choice in choices}
        for segment in self._segments.values():
            self._group.addButton(segment)
            row.addWidget(segment)
            segment.arrow.connect(self._move)
        self._group.buttonToggled.connect(lambda *_: self._shown())
        self._shown()
        self._group.buttonClicked.connect(lambda button: self.chosen.emit(button.choice.key))
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def set_current(self, key: str) -> None:
        """Show ``key`` as taken; emits nothing. Raises KeyError."""
        self._segments[key].setChecked(True)
        self.update()

    def _shown(self) -> None:
        """One stop for the Tab key: the choice that holds, or the first while none does."""
        holds = self.current() or next(iter(self._segments), "")
        for key, segment in self._segments.items():
            segment.setFocusPolicy(Qt.FocusPolicy.StrongFocus if key == holds else Qt.FocusPolicy.ClickFocus)
        self.update()

    def _move(self, steps: int) -> None:
        segments = list(self._segments.values())
        held = next((k for k, segment in enumerate(segments) if segment.hasFocus() or segment.isChecked()), 0)
        other = segments[min(max(held + steps, 0), len(segments) - 1)]
        if not other.isChecked():
            other.setFocus(Qt.FocusReason.OtherFocusReason)
            other.click()

    def current(self) -> str:
        return next((key for key, segment in self._segments.items() if segment.isChecked()), "")

    def segment(self, key: str) -> QAbstractButton:
        return self._segments[key]

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("line"))
        for segment in self._segments.values():
            if segment.isChecked():  # its frame is drawn here, since it takes the lines between the segments too
                painter.fillRect(segment.geometry().adjusted(-1, 0, 1, 0), colour("ink"))
