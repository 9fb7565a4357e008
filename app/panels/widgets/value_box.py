"""A box for one figure, with its caption above, its unit behind the figure, and what is wrong with it below.

A figure that the program chose carries the mark *auto*; one that the person typed carries *set*, and a click on that
hands it back. The box decides nothing: it shows what it is given and emits wishes.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QPainter, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from app.look.current import box_height, colour
from app.look.fonts import text_font
from app.look.tokens import Space, Type
from app.panels.widgets.painted import THEME_EVENTS, ThemedLabel, framed
from core.errors import SnapcombError


class _Edit(QLineEdit):
    """The line in a box: draws the unit right behind the figure unless the person is typing one."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setProperty("bare", True)
        self.setFrame(False)
        self.suffix = ""
        self.setFont(text_font(Type.VALUE, Type.SEMIBOLD))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        if not self.suffix or any(c.isalpha() or c in "\"'″′" for c in self.text()) or not self.text():
            return
        base = self.fontMetrics()
        small = text_font(Type.TEXT)
        x = 2 + base.horizontalAdvance(self.text()) + 5
        if x + QFontMetricsF(small).horizontalAdvance(self.suffix) > self.width():
            return
        painter = QPainter(self)
        painter.setFont(small)
        painter.setPen(colour("ink2" if self.isEnabled() else "ink3"))
        painter.drawText(
            QRectF(x, 0, 80, self.height()).bottomLeft() - QRectF(0, 0, 0, self._base_from_bottom()).bottomLeft(),
            self.suffix,
        )

    def _base_from_bottom(self) -> float:
        metrics = self.fontMetrics()
        return (self.height() - metrics.height()) / 2 + metrics.descent()


class _Frame(QWidget):
    """The drawn box around line, mark and buttons."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.wrong = False
        self.edit: QLineEdit | None = None
        self.row = QHBoxLayout(self)
        self.row.setContentsMargins(10, 1, 1, 1)
        self.row.setSpacing(0)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(140, box_height())

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(super().minimumSizeHint().width(), box_height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        rect = QRectF(self.rect())
        if not self.isEnabled():
            framed(painter, rect, ground="paper", line="rule")
        else:
            focused = self.edit is not None and self.edit.hasFocus()
            line = "ledge" if focused else "attention" if self.wrong else "line"
            framed(painter, rect, line=line, width=Space.FOCUS if focused else 1.5 if self.wrong else 1.0)


class ValueBox(QWidget):
    """What length, count and number boxes have in common. ``value`` is a float in the box's own unit of truth."""

    edited = Signal(float)  # the person is done with a figure
    live = Signal(float)  # the figure while it is typed
    given_up = Signal()  # Esc: what was typed is taken back
    returned_to_auto = Signal()

    def __init__(self, caption: str = "", parent: QWidget | None = None, *, returnable: bool = True) -> None:
        super().__init__(parent)
        self._value: float | None = None
        self._automatic, self._returnable, self._step = False, returnable, 1.0
        self._shown_live = False
        self.caption = ThemedLabel(caption, "ink2", Type.LABEL, parent=self)
        self.frame = _Frame(self)
        self.edit = self.frame.edit = _Edit(self.frame)
        self.mark = self._make_mark()
        self.error = ThemedLabel("", "attention_text", Type.LABEL, parent=self)
        self._lay_out()
        self._wire()
        self.set_caption(caption)
        self._show_mark()

    def _make_mark(self) -> QPushButton:
        mark = QPushButton(self.frame)
        mark.setProperty("verb", "mark")
        mark.setAutoDefault(False)
        mark.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        mark.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        return mark

    def _lay_out(self) -> None:
        self.frame.row.addWidget(self.edit, 1)
        self.frame.row.addWidget(self.mark)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.XS)
        for part in (self.caption, self.frame, self.error):
            column.addWidget(part)
        column.addStretch(1)  # boxes of one row stand on one line even where one has a sentence below
        self.error.setWordWrap(True)
        self.error.hide()
        self.setFocusProxy(self.edit)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)

    def _wire(self) -> None:
        self.edit.textEdited.connect(self._typed)
        self.edit.editingFinished.connect(self._finished)
        self.edit.installEventFilter(self)
        self.mark.clicked.connect(self._mark_clicked)

    # what is shown

    def value(self) -> float | None:
        """The figure that the box was last given or that was typed into it."""
        return self._value

    def automatic(self) -> bool:
        return self._automatic

    def set_value(self, value: float | None, *, automatic: bool = False) -> None:
        """Show a figure; emits nothing. A figure that is being typed keeps its letters."""
        self._value, self._automatic = value, automatic
        if not (self.edit.hasFocus() and self.edit.isModified()):
            self._refresh()
        self._show_mark()

    def set_caption(self, caption: str) -> None:
        self.caption.setText(caption)
        self.caption.setVisible(bool(caption))
        self.edit.setAccessibleName(caption)
        self.setAccessibleName(caption)

    def set_error(self, text: str) -> None:
        """Say below the box what is wrong with its figure; an empty text takes it away."""
        self.error.setText(text)
        self.error.setVisible(bool(text))
        self.frame.wrong = bool(text)
        self.edit.setAccessibleDescription(self.error.text() or self._mark_tip())
        self.frame.update()

    def set_returnable(self, returnable: bool) -> None:
        """Whether the figure has an automatic value to go back to."""
        self._returnable = returnable
        self._show_mark()

    def set_step(self, step: float) -> None:
        """What one press of Up or Down adds; ten times that with Shift."""
        self._step = step

    def _refresh(self) -> None:
        self.edit.setText("" if self._value is None else self.text_of(self._value))
        self.edit.setModified(False)
        self._shown_live = False

    def _show_mark(self) -> None:
        self.mark.setVisible(self._returnable and self._value is not None)
        self.mark.setText(self.tr("auto") if self._automatic else self.tr("set"))
        self.mark.setToolTip(self._mark_tip())
        self.mark.setAccessibleName(f"{self.caption.text()}: {self._mark_tip()}".lstrip(": "))
        if self.mark.property("quiet") != (not self._automatic):
            self.mark.setProperty("quiet", not self._automatic)
            self.mark.style().unpolish(self.mark)
            self.mark.style().polish(self.mark)

    def _mark_tip(self) -> str:
        if self._automatic:
            return self.tr("Chosen by the program. Type a figure to set your own.")
        return self.tr("Set by you. Click to let the program choose again.")

    # what the person does

    def text_of(self, value: float) -> str:
        """The figure as it stands in the box."""
        return f"{value:g}"

    def value_of(self, text: str) -> float:
        """The figure that was typed. Raises SnapcombError with a sentence for the person."""
        raise NotImplementedError

    def step_of(self, value: float, steps: float) -> float:
        """The figure that many steps on."""
        return value + steps * self._step

    def _typed(self, text: str) -> None:
        try:
            value = self.value_of(text)
        except SnapcombError:
            return  # half typed; judged when the person is done
        self.set_error("")
        self._shown_live = True
        self.live.emit(value)

    def _finished(self) -> None:
        if not self.edit.isModified():
            return
        try:
            value = self.value_of(self.edit.text())
        except SnapcombError as problem:
            self.set_error(str(problem))
            return
        self.set_error("")
        self._wish(value)

    def _wish(self, value: float) -> None:
        self._value, self._automatic = value, False
        self._refresh()
        self._show_mark()
        self.edited.emit(value)

    def step(self, steps: float) -> None:
        """Wish the next figure, from the one that is shown."""
        if self._value is None or not self.isEnabled():
            return
        self.set_error("")
        self._wish(self.step_of(self._value, steps))
        self.edit.selectAll()

    def _give_up(self) -> bool:
        touched = self.edit.isModified() or bool(self.error.text())
        self.set_error("")
        self._refresh()
        if touched:
            self.given_up.emit()
        return touched

    def _mark_clicked(self) -> None:
        if not self._automatic:
            self.set_error("")
            self.returned_to_auto.emit()
        else:
            self.edit.setFocus(Qt.FocusReason.OtherFocusReason)
            self.edit.selectAll()

    def eventFilter(self, watched: object, event: QEvent) -> bool:  # noqa: N802
        if watched is self.edit:
            if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
                self.frame.update()
            elif event.type() == QEvent.Type.ShortcutOverride and self.edit.isModified():
                if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
                    event.accept()  # what is being typed goes before what the window does with these keys
                    return True
            elif isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
                return self._key(event)
            elif isinstance(event, QWheelEvent):
                return self._wheel(event)
        return super().eventFilter(watched, event)

    def _key(self, event: QKeyEvent) -> bool:
        times = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        steps = {Qt.Key.Key_Up: times, Qt.Key.Key_Down: -times, Qt.Key.Key_PageUp: 10, Qt.Key.Key_PageDown: -10}
        if event.key() in steps:
            self.step(steps[Qt.Key(event.key())])
            return True
        return event.key() == Qt.Key.Key_Escape and self._give_up()

    def _wheel(self, event: QWheelEvent) -> bool:
        if not self.edit.hasFocus():
            event.ignore()
            return True  # the panel scrolls; figures change only where the person is
        self.step(1 if event.angleDelta().y() > 0 else -1)
        event.accept()
        return True

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() in THEME_EVENTS:
            self.frame.updateGeometry()
            self.frame.update()
        super().changeEvent(event)
