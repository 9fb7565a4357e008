"""The elevation: the gap unrolled, true to scale, with handles. It holds no truth: it shows a model, emits wishes."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QSize, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.language import said
from app.look.current import line_height
from app.look.tokens import Space
from app.panels.elevation import export
from app.panels.elevation.context_menu import menu_at
from app.panels.elevation.detail import HEIGHT, LEAST_MAIN
from app.panels.elevation.export import Picture
from app.panels.elevation.gestures import HandledCanvas
from app.panels.elevation.handles import Handle
from app.panels.elevation.header import Header
from app.panels.elevation.model import ElevationModel
from app.panels.elevation.words import described
from core.units import UnitName


class Elevation(QWidget):
    """Shows a model and says what is wished.

    A drag is ``drag_started`` (name of the step), ``drag_previewed`` (wishes) any number of times, ``drag_ended``
    (whether to keep it). Keys and typed figures come as ``wishes_edited`` (name of the step, wishes), never in the
    middle of a drag, and a drag never ends with one. Tooth numbers count from 0 as planned, layer numbers from 0 at
    the bed; None means none.
    """

    wishes_edited = Signal(str, object)
    drag_started = Signal(str)
    drag_previewed = Signal(object)
    drag_ended = Signal(bool)
    tooth_hovered = Signal(object)
    tooth_selected = Signal(object)
    layer_chosen = Signal(object)
    hint_changed = Signal(str)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.header = Header(self)
        self.canvas = HandledCanvas(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.header)
        column.addWidget(self.canvas, 1)
        self._wire()
        self.setObjectName("elevation")
        self.setAccessibleName(self.tr("Elevation"))
        self.canvas.setAccessibleName(self.tr("Elevation, the gap unrolled"))
        self._describe()

    def _wire(self) -> None:
        canvas, header = self.canvas, self.header
        for name in (
            "wishes_edited", "drag_started", "drag_previewed", "drag_ended", "tooth_hovered", "tooth_selected",
            "layer_chosen", "hint_changed", "refused",
        ):  # fmt: skip
            getattr(canvas, name).connect(getattr(self, name))
        canvas.scale_changed.connect(header.show_scale)
        canvas.menu_asked.connect(self._show_menu)
        canvas.tooth_selected.connect(self._describe)
        header.layer_lines.toggled.connect(self.set_layer_lines)
        header.detail.toggled.connect(self.set_detail)
        header.whole.clicked.connect(canvas.show_whole)

    def sizeHint(self) -> QSize:  # noqa: N802
        extra = round(HEIGHT) if self.canvas.wants_detail else 0
        return QSize(1060, Space.ELEVATION + extra)

    # what is shown

    def set_drawing(self, model: ElevationModel | None) -> None:
        """Show a model, or the empty ground."""
        self.canvas.show_model(model)
        self.header.view_title.set_whole(model.title if model is not None else "")
        self.header.whole.setEnabled(model is not None)
        if not self.canvas.dragging:
            self._describe()

    @property
    def model(self) -> ElevationModel | None:
        """The model that is shown."""
        return self.canvas.model

    def set_unit(self, unit: UnitName) -> None:
        """Show and read figures in ``millimeter`` or ``inch``."""
        self.canvas.unit = unit
        self.canvas.relaid()
        self._describe()

    def set_hovered_tooth(self, number: int | None) -> None:
        """Light the tooth that is hovered elsewhere; emits nothing."""
        if number != self.canvas.hovered_tooth:
            self.canvas.hovered_tooth = number
            self.canvas.relaid()

    def set_selected_tooth(self, number: int | None) -> None:
        """Select the tooth that was selected elsewhere; emits nothing."""
        self.canvas.select(None if number is None else Handle("tooth", number), tell=False)
        self._describe()

    def set_layer(self, number: int | None) -> None:
        """Point the height rule at a layer; emits nothing."""
        if number != self.canvas.layer:
            self.canvas.layer = number
            self.canvas.update()

    def set_layer_lines(self, shown: bool) -> None:
        """Show what the printer lays down, or not."""
        self.header.layer_lines.setChecked(shown)
        self.canvas.layer_lines = shown
        self.canvas.update()

    def set_detail(self, shown: bool) -> None:
        """Show the detail; the panel then asks for the height that it takes."""
        self.header.detail.setChecked(shown)
        self.canvas.wants_detail = shown
        self.canvas.setMinimumHeight(round(LEAST_MAIN + HEIGHT) if shown else 120)
        self.canvas.relaid(view=True)
        self.updateGeometry()

    def set_refusal(self, text: str) -> None:
        """Say on the drawing why the last wish cannot be kept; an empty text takes it away."""
        self.canvas.message = said(text)
        self.canvas.update()

    def show_whole_span(self) -> None:
        """Fit the whole span into the panel."""
        self.canvas.show_whole()

    @property
    def dragging(self) -> bool:
        """Whether a handle is in hand."""
        return self.canvas.dragging

    def give_up_drag(self) -> None:
        """End a drag without keeping it, as Esc does."""
        self.canvas.finish(commit=False)

    # pictures

    def picture(self) -> Picture:
        """How a picture of the drawing is made from this panel."""
        canvas = self.canvas
        return Picture(max(canvas.width(), 640), 230.0, canvas.unit, canvas.layer_lines)

    def svg(self) -> bytes:
        """The drawing as SVG; empty without one."""
        return export.svg_of(self.model, self.picture()) if self.model is not None else b""

    def png(self) -> bytes:
        """The drawing as a PNG file; empty without one."""
        return export.png_of(self.model, self.picture()) if self.model is not None else b""

    def copy(self) -> bool:
        """Put the drawing on the clipboard as image and SVG; False without one."""
        if self.model is not None:
            export.copy_to_clipboard(self.model, self.picture())
        return self.model is not None

    def _show_menu(self, at: QPoint) -> None:
        menu_at(self, at).popup(self.canvas.mapToGlobal(at))

    # for a screen reader, and the look

    def _describe(self, _: object = None) -> None:
        text = described(self.canvas.model, self.canvas.selected, self.canvas.unit)
        if text != self.canvas.accessibleDescription():
            self.canvas.setAccessibleDescription(text)
            if QAccessible.isActive():
                QAccessible.updateAccessibility(QAccessibleEvent(self.canvas, QAccessible.Event.DescriptionChanged))

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() == QEvent.Type.StyleChange:
            self.setMinimumHeight(line_height() + 120)
        super().changeEvent(event)
