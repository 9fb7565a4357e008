"""A picture in a frame with its name, its state and a line about it: a recent file or a sample."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPixmap, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from app.look.current import colour
from app.look.drawing import kept, pen
from app.look.fonts import text_font
from app.look.style import draw_focus
from app.look.tokens import Pen, Space, Type
from app.panels.widgets.painted import framed
from app.panels.widgets.state_mark import State, mark_width, paint_state

SHAPE = 130 / 224  # height of the picture to its width
LEAST_WIDE = 168  # px


class Card(QAbstractButton):
    """A click or Enter takes it. Without a picture a plain drawing of a part stands in."""

    def __init__(
        self,
        title: str,
        about: str = "",
        picture: QPixmap | None = None,
        state: State = State.NONE,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title, self.about, self.picture, self.state = title, about, picture, state
        self.setText(title)
        self.setAccessibleName(", ".join(part for part in (title, about, state.word()) if part))
        self.setToolTip(f"{title}\n{about}".strip())
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def set_picture(self, picture: QPixmap | None) -> None:
        """Show another picture."""
        self.picture = picture
        self.update()

    def hasHeightForWidth(self) -> bool:  # noqa: N802
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802
        return round(width * SHAPE) + self._words_height()

    def _words_height(self) -> int:
        title, about = text_font(Type.TEXT, Type.SEMIBOLD), text_font(Type.LABEL)
        return round(Space.S + QFontMetricsF(title).height() + 2 + QFontMetricsF(about).height() + 2)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(224, self.heightForWidth(224))

    def minimumSizeHint(self) -> QSize:  # noqa: N802
        return QSize(LEAST_WIDE, self.heightForWidth(LEAST_WIDE))

    def keyPressEvent(self, event: object) -> None:  # noqa: N802
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        field = QRectF(0, 0, self.width(), self.height() - self._words_height())
        hovered = self.underMouse() or self.isDown()
        framed(
            painter, field, ground="sheet", line="ink" if hovered else "line", width=1.5 if hovered else 1.0, radius=0
        )
        if self.picture is not None and not self.picture.isNull():
            self._paint_picture(painter, field.adjusted(2, 2, -2, -2))
        else:
            paint_part(painter, field)
        self._paint_words(painter, field.bottom() + Space.S)
        if self.hasFocus():
            draw_focus(painter, field, 0)

    def _paint_picture(self, painter: QPainter, field: QRectF) -> None:
        size = self.picture.deviceIndependentSize().scaled(field.size(), Qt.AspectRatioMode.KeepAspectRatio)
        target = QRectF(QPointF(0, 0), size)
        target.moveCenter(field.center())
        painter.drawPixmap(target, self.picture, QRectF(self.picture.rect()))

    def _paint_words(self, painter: QPainter, top: float) -> None:
        bold, plain = text_font(Type.TEXT, Type.SEMIBOLD), text_font(Type.LABEL)
        high = QFontMetricsF(bold).height()
        mark = mark_width() if self.state is not State.NONE else 0
        room = self.width() - (mark + Space.S if mark else 0)
        painter.setFont(bold)
        painter.setPen(colour("ink"))
        middle = Qt.TextElideMode.ElideMiddle
        painter.drawText(
            QRectF(0, top, room, high),
            Qt.AlignmentFlag.AlignVCenter,
            QFontMetricsF(bold).elidedText(self.title, middle, room),
        )
        paint_state(painter, self.state, QRectF(self.width() - mark, top, mark + 8, high), self.devicePixelRatioF())
        painter.setFont(plain)
        painter.setPen(colour("ink2"))
        line = QRectF(0, top + high + 2, self.width(), QFontMetricsF(plain).height())
        words = QFontMetricsF(plain).elidedText(self.about, Qt.TextElideMode.ElideRight, line.width())
        painter.drawText(line, Qt.AlignmentFlag.AlignVCenter, words)


# A shelf on a wall, its depth drawn to the upper right; faces from back to front, in units of the drawing.
_FACES = (
    ("plaster_shade", ((14, 0), (14, 16), (26, 23), (26, 7))),
    ("plaster", ((0, 34), (14, 34), (26, 41), (12, 41))),
    ("plaster_shade", ((14, 24), (14, 34), (26, 41), (26, 31))),
    ("plaster", ((14, 24), (44, 24), (56, 31), (26, 31))),
    ("plaster_shade", ((44, 16), (44, 24), (56, 31), (56, 23))),
    ("plaster", ((0, 0), (14, 0), (14, 16), (44, 16), (44, 24), (14, 24), (14, 34), (0, 34))),
)


def paint_part(painter: QPainter, field: QRectF) -> None:
    """The stand-in picture: a plaster part with an overhang, on the line of the bed."""
    scale = field.height() * 0.62 / 41
    ox, oy = field.center().x() - 28 * scale, field.center().y() + 20.5 * scale
    with kept(painter):
        painter.setPen(pen(Pen.EXTENSION, "rule"))
        painter.drawLine(QPointF(field.left() + 20, oy), QPointF(field.right() - 20, oy))
        for ground, corners in _FACES:
            painter.setPen(pen(Pen.FEATURE, "plaster_edge"))
            painter.setBrush(colour(ground))
            painter.drawPolygon(QPolygonF([QPointF(ox + x * scale, oy - y * scale) for x, y in corners]))
