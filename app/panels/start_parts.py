"""The pieces of the start page that are drawn: the mark, headings, the drop area, the four actions."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.look import drawing
from app.look.current import colour
from app.look.fonts import lettering_font, scale, text_font
from app.look.icons import pixmap
from app.look.tokens import Pen, Space, Type
from app.panels.widgets.buttons import VerbButton
from app.panels.widgets.painted import ThemedLabel

MARK = QSize(72, 40)


class Mark(QWidget):
    """The comb and the program's name in drawing lettering."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Snapcomb")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(360, 44)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.drawPixmap(QPointF(0, 2), pixmap("mark", MARK, self.devicePixelRatioF()))
        font = lettering_font((Type.MARK + 4) / scale(), 3.0 / scale())  # a mark, not a text: it keeps its size
        painter.setFont(font)
        painter.setPen(colour("ink"))
        painter.drawText(QPointF(MARK.width() + 24, 22 + QFontMetricsF(font).capHeight() / 2), "SNAPCOMB")


class Heading(QWidget):
    """A view title in lettering, ruled below, with room for a link at its right."""

    def __init__(self, text: str, parent: QWidget | None = None, *, ruled: bool = True) -> None:
        super().__init__(parent)
        self._text, self._ruled = text, ruled
        self.setAccessibleName(text)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 6)
        self._row.addStretch(1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def add(self, widget: QWidget) -> None:
        self._row.addWidget(widget)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(200, round(32 * scale()))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        wide = QFontMetricsF(lettering_font(Type.VIEW_TITLE, 1.2)).horizontalAdvance(self._text)
        return QSize(round(wide), self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(lettering_font(Type.VIEW_TITLE + 1, 1.2))
        painter.setPen(colour("ink"))
        painter.drawText(QPointF(0, self.height() - 12), self._text)
        if self._ruled:
            painter.fillRect(0, self.height() - 1, self.width(), 1, colour("rule"))


class Picture(QWidget):
    """An icon to look at, no button."""

    def __init__(self, name: str, size: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._name = name
        self.setFixedSize(size, size)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        QPainter(self).drawPixmap(0, 0, pixmap(self._name, self.width(), self.devicePixelRatioF()))


class DropArea(QWidget):
    """Where a mesh may be dropped; trimming marks on its corners, a dashed line inside."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._hovered = False
        self.setMinimumSize(360, round(268 * scale()))
        self.setMaximumHeight(round(324 * scale()))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.button = VerbButton(self.tr("Open a file…"), self, primary=True)
        self.button.setMinimumSize(148, 36)
        column = QVBoxLayout(self)
        column.setContentsMargins(32, 44, 32, 44)
        column.setSpacing(Space.S)
        centred = Qt.AlignmentFlag.AlignHCenter
        column.addStretch(1)
        column.addWidget(Picture("open", 48, self), 0, centred)
        column.addSpacing(Space.M)
        column.addWidget(ThemedLabel(self.tr("Drop a mesh here"), "ink", Type.DISPLAY, Type.SEMIBOLD, self), 0, centred)
        column.addWidget(
            ThemedLabel(self.tr("STL, 3MF, OBJ or PLY, in mm or inches"), "ink2", Type.TEXT, parent=self), 0, centred
        )
        column.addSpacing(Space.XXL)
        column.addWidget(self.button, 0, centred)
        column.addStretch(1)

    def set_hovered(self, hovered: bool) -> None:
        """Show that a drop would be taken."""
        self._hovered = hovered
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        rect = QRectF(self.rect())
        painter.fillRect(rect, colour("well" if self._hovered else "sheet"))
        drawing.corner_marks(painter, rect.adjusted(1, 1, -1, -1))
        with drawing.kept(painter):
            painter.setPen(drawing.pen(2.0, "ledge") if self._hovered else drawing.pen(Pen.FRAME, "line", (6, 4)))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(rect.adjusted(12.5, 12.5, -12.5, -12.5))


class FourActions(QWidget):
    """The quick way as four numbered steps on a line."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.steps = (
            (self.tr("Open"), self.tr("weak spots appear, worst first")),
            (self.tr("Enter"), self.tr("takes the worst, the row appears")),
            (self.tr("Look"), self.tr("check the row in the elevation")),
            (self.tr("Ctrl+E"), self.tr("hands over a file beside the original")),
        )
        self.setAccessibleName("; ".join(f"{k}: {a}, {b}" for k, (a, b) in enumerate(self.steps, 1)))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def _pitch(self) -> float:
        return self.width() / len(self.steps)

    def hasHeightForWidth(self) -> bool:  # noqa: N802
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802
        metrics = QFontMetricsF(text_font(Type.LABEL))
        field = QRectF(0, 0, width / len(self.steps) - Space.M, 999)
        high = max(metrics.boundingRect(field, Qt.TextFlag.TextWordWrap, about).height() for _, about in self.steps)
        return round(60 * scale() + high)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(480, self.heightForWidth(480))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        pitch, y = self._pitch(), 13.0
        painter.setPen(drawing.pen(Pen.FRAME, "line"))
        for k in range(len(self.steps) - 1):
            painter.drawLine(QLineF(k * pitch + 26, y, (k + 1) * pitch, y))
        for k, (verb, about) in enumerate(self.steps):
            drawing.balloon(painter, QPointF(k * pitch + 13, y), str(k + 1))
            painter.setFont(text_font(Type.TITLE, Type.SEMIBOLD))
            painter.setPen(colour("ink"))
            painter.drawText(QPointF(k * pitch, y + 34 * scale()), verb)
            painter.setFont(text_font(Type.LABEL))
            painter.setPen(colour("ink2"))
            field = QRectF(k * pitch, y + 42 * scale(), pitch - Space.M, self.height())
            painter.drawText(field, Qt.TextFlag.TextWordWrap, about)
