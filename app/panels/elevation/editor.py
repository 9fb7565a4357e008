"""The small box that opens on a dimension to type its figure."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRect, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QToolTip, QWidget

from app.look.current import current
from app.look.fonts import text_font
from app.look.tokens import Type
from app.panels.elevation.figures import Dimension
from app.panels.elevation.words import dimension_name
from core.errors import SnapcombError
from core.units import UnitName, format_length, parse_length


class DimensionEditor(QLineEdit):
    """Takes any usual spelling of a length. Enter keeps it, Esc gives it up, Tab keeps it and goes to the next one."""

    typed = Signal(str, object, float)  # key, tooth number or None, mm
    closed = Signal()
    next_wanted = Signal(str, int)  # key, +1 or −1

    def __init__(self, dimension: Dimension, unit: UnitName, parent: QWidget) -> None:
        super().__init__(parent)
        self.dimension, self._unit, self._done = dimension, unit, False
        self.setObjectName("dimension_editor")
        self.setFont(text_font(Type.VALUE, Type.SEMIBOLD))
        self.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.setText(format_length(dimension.value, unit, with_unit=False))
        self.setAccessibleName(dimension_name(dimension.key))
        self._dress(wrong=False)
        self._stand()
        self.textEdited.connect(lambda: self._dress(wrong=False))
        self.selectAll()
        self.show()
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _dress(self, *, wrong: bool) -> None:
        theme = current()
        line = theme.attention if wrong else theme.ledge
        self.setStyleSheet(
            f"QLineEdit {{ border: 2px solid {line}; border-radius: 3px; background: {theme.sheet}; color: {theme.ink};"
            " padding: 0 4px; min-height: 22px; }"
        )

    def _stand(self) -> None:
        """Over the figure, inside the parent."""
        field = self.dimension.field
        wide = max(92, round(QFontMetricsF(self.font()).horizontalAdvance(self.text()) + 34))
        x = round((field.left + field.right - wide) / 2)
        y = round((field.top + field.bottom) / 2 - 14)
        room = self.parentWidget().rect()
        self.setGeometry(QRect(min(max(x, 2), room.width() - wide - 2), min(max(y, 2), room.height() - 30), wide, 28))

    def _keep(self) -> bool:
        """Hand the figure over; False when it is none."""
        try:
            value = parse_length(self.text().replace("−", "-"), "in" if self._unit == "inch" else "mm")
        except SnapcombError as problem:
            self.refuse(str(problem))
            return False
        self._done = True
        if self.isModified():
            self.typed.emit(self.dimension.key, self.dimension.number, value)
        self.close_up()
        return True

    def refuse(self, text: str) -> None:
        """Say what is wrong with the figure."""
        self._dress(wrong=True)
        self.setAccessibleDescription(text)
        QToolTip.showText(self.mapToGlobal(self.rect().bottomLeft()), text, self)

    def close_up(self) -> None:
        self._done = True
        self.hide()
        self.closed.emit()
        self.deleteLater()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._keep()
        elif event.key() == Qt.Key.Key_Escape:
            self.close_up()
        else:
            super().keyPressEvent(event)
            return
        event.accept()

    def event(self, event: QEvent) -> bool:
        if (
            isinstance(event, QKeyEvent)
            and event.type() == QEvent.Type.KeyPress
            and event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab)
        ):
            step = 1 if event.key() == Qt.Key.Key_Tab else -1
            if self._keep():
                self.next_wanted.emit(self.dimension.key, step)
            return True
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride:
            event.accept()
            return True
        return super().event(event)

    def focusOutEvent(self, event: QEvent) -> None:  # noqa: N802
        super().focusOutEvent(event)
        if not self._done and not (self.isModified() and self._keep()):
            self.close_up()
