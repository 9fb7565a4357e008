"""The ground of the elevation: lays the model out, paints it, zooms and pans. Nothing is decided here."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.look.current import colour
from app.look.fonts import lettering_font, text_font
from app.look.tokens import Space, Type
from app.panels.elevation.choose_figures import figures_of
from app.panels.elevation.detail import Detail, detail_view, frame_in, paint_detail, split
from app.panels.elevation.drags import Grip, Snap
from app.panels.elevation.figures import Figures, Focus
from app.panels.elevation.handles import Handle
from app.panels.elevation.marks import Marks
from app.panels.elevation.model import DrawnTooth, ElevationModel
from app.panels.elevation.painter import paint_view
from app.panels.elevation.sheet import Rect, Sheet, View, fitted
from app.panels.elevation.strokes import rulers, write, write_centred
from app.panels.elevation.words import fate_words
from app.panels.widgets.painted import THEME_EVENTS
from core.units import UnitName

#: A drawing can be zoomed out to this share of its fitted scale.
FARTHEST = 0.5
MM_PER_INCH = 25.4
#: Screens that say they have fewer or more dots to the inch than this do not know their size.
SANE_DPI = (30.0, 800.0)


class Canvas(QWidget):
    """Shows a model. ``scale_changed`` carries drawn mm on this screen per real mm, or None without a drawing."""

    scale_changed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model: ElevationModel | None = None
        self.unit: UnitName = "millimeter"
        self.layer_lines, self.wants_detail = True, False
        self.hovered: Handle | None = None
        self.hovered_tooth: int | None = None
        self.selected: Handle | None = None
        self.layer: int | None = None
        self.grip: Grip | None = None
        self.snap: Snap | None = None
        self.pulls_pitch = False
        self.message = ""
        self._held: Sheet | None = None
        self._view: View | None = None
        self._figures: Figures | None = None
        self._detail_view: View | None = None
        self._keyboard_focus = False
        self._told_scale: float | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumHeight(120)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)

    def sizeHint(self) -> QSize:  # noqa: N802
        return QSize(900, Space.ELEVATION - Space.LINE_HEIGHT)

    # what is laid out

    @property
    def field(self) -> Rect:
        """The whole ground, px."""
        return Rect(0.0, 0.0, float(self.width()), float(self.height()))

    @property
    def view(self) -> View | None:
        """The model on its field, as it is shown."""
        if self._view is None and self.model is not None:
            main, _ = split(self.field, self._detail_wanted())
            whole = fitted(self.model, main)
            self._view = whole if self._held is None else replace(whole, sheet=self._clamped(self._held, whole))
            self._tell_scale()
        return self._view

    @property
    def figures(self) -> Figures:
        """The figures of the view."""
        view = self.view
        if view is None:
            return Figures()
        if self._figures is None:
            self._figures = figures_of(view, rulers(), self.unit, self.focus(), fate_words)
        return self._figures

    @property
    def detail_view(self) -> View | None:
        """The view of the detail, when it is shown."""
        return self._detail_view

    def focus(self) -> Focus:
        """What gets figures and numbers of its own."""
        hand = self.grip.handle if self.grip is not None else None
        return Focus(hand, self.selected_tooth, self.hovered_tooth, self.pulls_pitch)

    @property
    def selected_tooth(self) -> int | None:
        """Number of the selected tooth."""
        return self.selected.number if self.selected is not None and self.selected.kind == "tooth" else None

    def relaid(self, *, view: bool = False) -> None:
        """Lay the figures out anew, and the view as well when something about it changed."""
        self._figures = None
        if view:
            self._view = None
        self.update()

    def show_model(self, model: ElevationModel | None) -> None:
        """Take a model; the zoom is kept as long as it is the same span."""
        before, self.model = self.model, model
        same = before is not None and model is not None and _same_span(before, model)
        if not same:
            self._held = None
        if model is None or (self.selected_tooth is not None and model.tooth(self.selected_tooth) is None):
            self.selected = None
        if model is None or not same:
            self.hovered, self.hovered_tooth = None, None
        self.relaid(view=True)
        if model is None:
            self._tell_scale()
        else:
            _ = self.view

    # zoom and pan

    def zoom(self, factor: float, at: QPointF) -> None:
        """Zoom about a point that stays where it is."""
        view = self.view
        if view is not None:
            self._held = view.sheet.zoomed(factor, at.x(), at.y())
            self.relaid(view=True)
            _ = self.view

    def pan(self, dx: float, dy: float) -> None:
        view = self.view
        if view is not None and (dx or dy):
            self._held = view.sheet.panned(dx, dy)
            self.relaid(view=True)

    def show_whole(self) -> None:
        """Fit the whole span."""
        self._held = None
        self.relaid(view=True)
        _ = self.view

    def show_place(self, u: float) -> None:
        """Pan so that a place is seen, when it is not."""
        view = self.view
        if view is None or self._held is None:
            return
        x, window = view.sheet.x(u), view.window
        if not window.left + 30 <= x <= window.right - 30:
            self.pan((window.left + window.right) / 2 - x, 0.0)

    def _clamped(self, sheet: Sheet, whole: View) -> Sheet:
        """A zoom that keeps some of the drawing in sight and its scale within reason."""
        scale = max(sheet.scale, whole.sheet.scale * FARTHEST)
        if scale != sheet.scale:
            sheet = sheet.zoomed(scale / sheet.scale, self.width() / 2, self.height() / 2)
        model, field = whole.model, whole.field
        first, last = model.profile.extent
        low, high = model.z_range
        middle = (field.left + field.right) / 2
        dx = max(middle - sheet.x(last), 0.0) + min(middle - sheet.x(first), 0.0)
        top, bottom = sheet.y(high), sheet.y(low)
        dy = max(field.top + 44 - bottom, 0.0) + min(field.bottom - 44 - top, 0.0)
        return sheet.panned(dx, dy)

    # the screen's scale

    def px_per_mm(self) -> float:
        """Logical px that a millimetre takes on this screen, from its stated size or else its logical resolution."""
        screen = self.screen()
        dpi = screen.physicalDotsPerInchX() if screen is not None else 0.0
        if not SANE_DPI[0] <= dpi <= SANE_DPI[1]:
            dpi = screen.logicalDotsPerInchX() if screen is not None else 96.0
        return dpi / MM_PER_INCH

    def _tell_scale(self) -> None:
        ratio = self._view.sheet.scale / self.px_per_mm() if self._view is not None and self.model is not None else None
        if ratio != self._told_scale:
            self._told_scale = ratio
            self.scale_changed.emit(ratio)

    # painting

    def marks(self) -> Marks:
        """What is shown besides the model."""
        return Marks(
            layer_lines=self.layer_lines,
            hovered=self.hovered,
            selected=self.selected_tooth,
            hovered_tooth=self.hovered_tooth,
            hand=self.grip.handle if self.grip is not None else self._selected_stop(),
            layer=self.layer,
            ghost=self._ghost(),
            snap=self.snap if self.grip is not None else None,
            unit=self.unit,
        )

    def _selected_stop(self) -> Handle | None:
        return self.selected if self.selected is not None and self.selected.kind in ("start", "stop") else None

    def _ghost(self) -> DrawnTooth | None:
        """Where the tooth in hand was, or where a tooth that was moved would stand in the row."""
        if self.grip is not None:
            return self.grip.model.tooth(self.grip.handle.number) if self.grip.handle.kind == "tooth" else None
        tooth = self.model.tooth(self.selected_tooth) if self.model is not None else None
        if tooth is None or abs(tooth.moved) < 0.005:
            return None
        return replace(tooth, outline=tooth.outline - [tooth.moved, 0.0], centre=tooth.base)

    def _detail_wanted(self) -> bool:
        return (
            self.model is not None
            and self.model.plan is not None
            and bool(self.model.teeth)
            and (self.wants_detail or self.grip is not None)
        )

    def _detail_tooth(self) -> DrawnTooth | None:
        """The tooth in hand, the selected one, one in trouble, or one in the middle."""
        if self.model is None or not self.model.teeth:
            return None
        hand = self.grip.handle.number if self.grip is not None else None
        for number in (hand, self.selected_tooth):
            tooth = self.model.tooth(number)
            if tooth is not None:
                return tooth
        teeth = self.model.teeth
        return next((t for t in teeth if t.survival.serious), teeth[len(teeth) // 2])

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("paper"))
        view = self.view
        if view is None:
            self._paint_empty(painter)
        else:
            self._paint_model(painter, view)
        self._paint_message(painter)
        if self.hasFocus() and self._keyboard_focus:
            painter.setPen(QPen(colour("ledge"), Space.FOCUS))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    def _paint_model(self, painter: QPainter, view: View) -> None:
        marks, tooth = self.marks(), self._detail_tooth()
        _, lower = split(self.field, self._detail_wanted())
        self._detail_view = None
        if lower is not None and tooth is not None:
            larger = detail_view(view.model, tooth, lower, self.px_per_mm())
            marks = replace(marks, detail=frame_in(view, larger))
            paint_view(painter, view, self.figures, marks)
            self._paint_letter(painter, marks.detail)
            detail = Detail(tooth, self.grip, self.snap, self.pulls_pitch, self.px_per_mm())
            self._detail_view = paint_detail(
                painter, lower, view.model, detail, replace(marks, detail=None), self.focus()
            )
        else:
            paint_view(painter, view, self.figures, marks)

    def _paint_letter(self, painter: QPainter, frame: Rect | None) -> None:
        if frame is not None:
            painter.setPen(colour("ink"))
            write(painter, QPointF(frame.right + 7, frame.top + 14), "A", lettering_font(Type.DIMENSION))

    def _paint_empty(self, painter: QPainter) -> None:
        painter.setPen(colour("ink3"))
        text = self.tr("Pick an overhang edge and its ledge: the gap is unrolled here.")
        write_centred(painter, self.width() / 2, self.height() / 2, text, text_font(Type.TEXT))

    def _paint_message(self, painter: QPainter) -> None:
        if self.message:
            font = text_font(Type.LABEL, Type.MEDIUM)
            painter.setFont(font)
            wide = min(painter.fontMetrics().horizontalAdvance(self.message) + 24, self.width() - 16)
            box = QRectF(8, self.height() - 30, wide, 24)
            painter.fillRect(box, colour("attention_ground"))
            painter.fillRect(QRectF(8, self.height() - 30, 3, 24), colour("attention"))
            painter.setPen(colour("attention_text"))
            text = painter.fontMetrics().elidedText(self.message, Qt.TextElideMode.ElideRight, int(wide - 18))
            painter.drawText(box.adjusted(12, 0, -4, 0), Qt.AlignmentFlag.AlignVCenter, text)

    # events that only change how it looks

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        super().resizeEvent(event)
        self.relaid(view=True)
        _ = self.view

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        by_key = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason)
        self._keyboard_focus = event.reason() in by_key
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802
        self.update()
        super().focusOutEvent(event)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() in THEME_EVENTS:
            self.relaid(view=True)
        super().changeEvent(event)


def _same_span(a: ElevationModel, b: ElevationModel) -> bool:
    return (
        a.direction == b.direction and a.closed == b.closed and abs(a.length - b.length) < 1e-6
        and a.profile.extent == b.profile.extent and a.z_range == b.z_range and a.title == b.title
    )  # fmt: skip
