"""Controls beside each other where there is room, else one below the other: words are longer in other languages."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QSizePolicy, QWidget

from app.look.tokens import Space

_ACROSS, _DOWN = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom


class SideBySide(QWidget):
    """A row of controls that breaks when its width does not suffice. ``stretch`` keeps them at its left."""

    def __init__(self, controls: Sequence[QWidget], parent: QWidget | None = None, *, stretch: bool = False) -> None:
        super().__init__(parent)
        self._controls = list(controls)
        self._box = QBoxLayout(_ACROSS, self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(Space.S)
        for control in self._controls:
            self._box.addWidget(control)
        if stretch:
            self._box.addStretch(1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def set_stretch(self, number: int, share: int) -> None:
        """How much of the room a control takes, beside the others."""
        self._box.setStretch(number, share)

    def broken(self) -> bool:
        """Whether the controls stand one below the other."""
        return self._box.direction() == _DOWN

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        widths = [c.minimumSizeHint().width() for c in self._controls if not c.isHidden()]
        return QSize(max(widths, default=0), self._box.minimumSize().height())

    def _needed(self) -> int:
        shown = [max(c.minimumSizeHint().width(), c.minimumWidth()) for c in self._controls if not c.isHidden()]
        return sum(shown) + self._box.spacing() * max(len(shown) - 1, 0)

    def _arrange(self) -> None:
        wanted = _ACROSS if self._needed() <= self.width() else _DOWN
        if wanted != self._box.direction():
            self._box.setDirection(wanted)
            self.updateGeometry()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self._arrange()

    def event(self, event: QEvent) -> bool:
        done = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:  # a control has other words, or is shown or hidden
            self._arrange()
        return done
