"""The widget that keeps the picture up to date: when to draw, with which camera, and how it is painted."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEasingCurve, QEvent, QRectF, QSize, Qt, QTimer, QVariantAnimation, Signal
from PySide6.QtGui import QCloseEvent, QFocusEvent, QHideEvent, QImage, QPainter, QPaintEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from app.look.current import current
from app.look.tokens import Theme
from app.view import painting
from app.view.camera import Camera
from app.view.lens import Lens
from app.view.page import Page, frame_of
from app.view.picking import Picker
from app.view.rendering import FINE, Picture, Rendering

F64 = NDArray[np.float64]

#: The view counts as resting when nothing has moved it for this long, ms.
SETTLE_MS = 140
FLIGHT_MS = 260
#: Strips kept free when the part is framed, logical px: tools above, blocks below.
ROOM_ABOVE, ROOM_BELOW = 56.0, 84.0
#: Room before and behind the part in which teeth and walls are drawn, as a share of its diagonal.
DEPTH_ROOM = 0.3
#: What is seen of an empty bed, mm.
EMPTY_BOUNDS = np.array([[-60.0, -40.0, 0.0], [60.0, 40.0, 50.0]])


class Canvas(QWidget):
    """Draws once per turn of the event loop at most, only what changed, never while hidden and never after close."""

    camera_changed = Signal()
    drawn = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(QSize(160, 120))
        self.animated = True
        self.camera = Camera()
        self.layers = painting.Layers()
        self.picker = Picker()
        self.rendering = Rendering()
        self._theme: Theme = current()
        self._picture: Picture | None = None
        self._closed = False
        self._moving = False
        self._part_due, self._teeth_due = True, False
        self._unframed = True
        self._focus_shown = False
        self._turn = self._timer(0, self._draw_due)
        self._settle = self._timer(SETTLE_MS, self._rest)
        self._idle = self._timer(0, self._work_idle)
        self._flight = QVariantAnimation(self)
        self._flight.setDuration(FLIGHT_MS)
        self._flight.setEasingCurve(QEasingCurve.Type.InOutCubic)
        self._flight.setStartValue(0.0)
        self._flight.setEndValue(1.0)
        self._flight.valueChanged.connect(self._fly)
        self._flight.finished.connect(self._rest)
        self._from = self._to = self.camera

    def _timer(self, ms: int, work: object) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(ms)
        timer.timeout.connect(work)
        return timer

    # What is seen

    @property
    def bounds(self) -> F64:
        """The part's box (2, 3), bed mm; a stretch of empty bed where there is none."""
        mesh = self.rendering.part.mesh
        return EMPTY_BOUNDS if mesh is None else mesh.bounds

    def device_size(self) -> tuple[int, int]:
        """Width and height of the picture, device pixels."""
        ratio = self.devicePixelRatioF()
        return max(math.ceil(self.width() * ratio), 1), max(math.ceil(self.height() * ratio), 1)

    def lens(self) -> Lens:
        """The camera over the widget as it is now."""
        ratio = self.devicePixelRatioF()
        width, height = self.device_size()
        pad = DEPTH_ROOM * float(np.linalg.norm(np.ptp(self.bounds, axis=0))) + 1e-3
        return Lens(self.camera, width / ratio, height / ratio, self.bounds + np.array([[-pad], [pad]]))

    def page(self) -> Page:
        """The page to paint: the picture's own lens where there is one, so that lines lie where the part lies."""
        sight = None if self._picture is None else self._picture.sight
        lens = sight.lens if sight is not None else self.lens()
        return Page(lens, self._theme, frame_of(self.width(), self.height()), sight)

    def framing(self, camera: Camera, bounds: F64) -> Camera:
        """The camera moved to show a box (2, 3), clear of the strips where tools and blocks stand."""
        above, below = ROOM_ABOVE, ROOM_BELOW
        used = max(self.height() - above - below, 1)
        return camera.framed(bounds, self.width() / used).with_room(above, below, self.height())

    # Moving

    def move_camera(self, camera: Camera, *, settle: bool = True) -> None:
        """Look from elsewhere at once; the fine picture follows when the view rests."""
        self.camera = camera
        self._moving = True
        if settle:
            self._settle.start()
        else:
            self._settle.stop()
        self.request(part=True)
        self.camera_changed.emit()

    def fly(self, camera: Camera) -> None:
        """Go to another camera in a short flight, at once where nothing is animated."""
        self._flight.stop()
        if not self.animated or not self.isVisible() or self._unframed:
            self._unframed = self._unframed and not self.isVisible()  # its size is not known before it is shown
            self.camera, self._moving = camera, False
            self.request(part=True)
            self.camera_changed.emit()
            return
        self._from, self._to = self.camera, camera
        self._flight.start()

    def _fly(self, share: float) -> None:
        if self._flight.state() == QVariantAnimation.State.Running:
            self.move_camera(self._from.between(self._to, float(share)), settle=False)

    def stop_flight(self) -> None:
        """Stay where the flight has come to."""
        if self._flight.state() == QVariantAnimation.State.Running:
            self._flight.stop()
            self._rest()

    def _rest(self) -> None:
        if not self._closed and self._moving:
            self._moving = False
            self.request(part=True)

    # Drawing

    def request(self, *, part: bool = False, teeth: bool = False) -> None:
        """Ask for a drawing at the end of this turn of the event loop; without a word, for painting only."""
        self._part_due |= part
        self._teeth_due |= teeth
        if part or teeth:
            self._turn.start()
        else:
            self.update()

    def _may_draw(self) -> bool:
        return not self._closed and self.isVisible() and self.width() > 1 and self.height() > 1

    def _draw_due(self) -> None:
        if not self._may_draw():
            return
        if self._part_due:
            ratio = self.devicePixelRatioF()
            self.rendering.draw(self.lens(), self.device_size(), ratio, self._moving)
        elif self._teeth_due:
            self.rendering.draw_teeth()
        else:
            return
        self._part_due = self._teeth_due = False
        self._show_picture()
        self._idle.start()

    def _show_picture(self) -> None:
        self._picture = self.rendering.picture()
        self.picker.set_picture(None if self._picture is None else self._picture.sight)
        self.update()
        self.drawn.emit()

    def _work_idle(self) -> None:
        """One small step of what can wait: a smoother picture, the stand-in of a big part."""
        if not self._may_draw() or self._moving or self._turn.isActive():
            return
        if self.rendering.wants_more:
            self.rendering.refine()
            self._picture = self.rendering.picture()
            self.update()
            self._idle.start()
        elif self.rendering.part.work():
            self._idle.start()
        elif self.rendering.part.outline_is_new:
            self.request(part=True)
        else:
            self.picker.prepare()

    def finish(self) -> None:
        """Draw now what is due and make the picture as good as it gets, for a screenshot."""
        if not self._may_draw():
            return
        self.stop_flight()
        self._settle.stop()
        if self._moving:
            self._moving, self._part_due = False, True
        while self.rendering.part.work():
            pass
        self._part_due |= self.rendering.part.outline_is_new
        self._draw_due()
        for _ in range(2 * FINE):
            if self.rendering.wants_more:
                self.rendering.refine()
        self._picture = self.rendering.picture()
        self.update()

    def screenshot(self) -> QImage:
        """The view as it is seen, with all that is drawn over it, in device pixels."""
        self.finish()
        ratio = self.devicePixelRatioF()
        # Into an image of our own: a pixmap would have no more colours than the screen.
        image = QImage(self.size() * ratio, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(ratio)
        self.render(image)
        return image

    def taken_places(self) -> list[QRectF]:
        """Where widgets stand on the page, so that balloons keep away from them."""
        return [QRectF(child.geometry()) for child in self.findChildren(QWidget, options=_DIRECT) if child.isVisible()]

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The page with everything on it."""
        painter = QPainter(self)
        page, ratio = self.page(), self.devicePixelRatioF()
        painting.paint(painter, page, self.layers, self._picture, ratio=ratio, taken=self.taken_places())
        if self._focus_shown:
            painting.paint_focus(painter, page)
        painter.end()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """The frame shows the focus when the keyboard brought it here; a click needs no telling."""
        keys = Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason
        self._focus_shown = event.reason() in keys
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """The focus went elsewhere."""
        self._focus_shown = False
        self.update()
        super().focusOutEvent(event)

    # Life

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Draw what became due while hidden."""
        super().showEvent(event)
        self.request(part=True)

    def hideEvent(self, event: QHideEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing is drawn while hidden."""
        self._flight.stop()
        self._moving = False
        super().hideEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """A new size needs a new picture."""
        super().resizeEvent(event)
        self.request(part=True)

    def event(self, event: QEvent) -> bool:
        """A window moved to another screen may have another device scale."""
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self.request(part=True)
        return super().event(event)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Free the drawing memory with the window."""
        self.shut()
        super().closeEvent(event)

    def shut(self) -> None:
        """Free the drawing memory for good; call it before the application ends. Harmless when repeated."""
        if self._closed:
            return
        self._closed = True
        for timer in (self._turn, self._settle, self._idle):
            timer.stop()
        self._flight.stop()
        self.picker.set_picture(None)
        self.rendering.close()


_DIRECT = Qt.FindChildOption.FindDirectChildrenOnly
