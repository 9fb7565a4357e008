"""A finding as a banner: what it is, what to do about it, and a click on it looks at the place."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from app.look.style import draw_focus
from app.panels.widgets import Banner
from core.proof.findings import Finding

REMEDY = "remedy"


class FindingBanner(Banner):
    """``looked`` asks to look at the place, ``cured`` to take the remedy. ``whose`` names its row."""

    looked = Signal()
    cured = Signal()

    def __init__(self, finding: Finding, whose: str = "", parent: QWidget | None = None) -> None:
        kind = "note" if finding.level == "note" else "attention"
        heading = f"{whose}: {finding.heading}" if whose else finding.heading
        steps = ((REMEDY, finding.remedy.text),) if finding.remedy is not None else ()
        super().__init__(finding.text, steps, parent, kind=kind, title=heading)
        self.finding = finding
        self.chosen.connect(lambda _: self.cured.emit())
        about = self.tr("Limit: {0}").format(finding.source)
        if finding.place is not None:
            about += "\n" + self.tr("Click to look at the place")
            self.setCursor(Qt.CursorShape.PointingHandCursor)
            self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setToolTip(about)
        self.setAccessibleDescription(about)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        if event.button() == Qt.MouseButton.LeftButton and self.rect().contains(event.position().toPoint()):
            self._look()
        super().mouseReleaseEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._look()
            return
        super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        """Enter looks at the place while the finding has the focus, whatever the window does with it."""
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()
            return True
        return super().event(event)

    def _look(self) -> None:
        if self.finding.place is not None:
            self.looked.emit()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        super().paintEvent(event)
        if self.hasFocus():
            draw_focus(QPainter(self), self.rect().toRectF(), 0)
