"""The least that stands around an elevation: the wishes, the plan that follows, and a list of what was said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.panels.elevation import Elevation, ElevationModel, Survival, elevation_model, span_section
from app.panels.elevation.gestures import HandledCanvas
from app.panels.elevation.model import DrawnTooth
from app.panels.elevation.sheet import View
from core.design.plan import RowPlan, RowWishes, plan_row
from core.errors import PlanRefused
from tests.app.elevation.parts import Case

NONE, SHIFT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier
CTRL, ALT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier
LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton


@dataclass
class Heard:
    """What the panel said."""

    edits: list[tuple[str, RowWishes]] = field(default_factory=list)
    started: list[str] = field(default_factory=list)
    previews: list[RowWishes] = field(default_factory=list)
    ended: list[bool] = field(default_factory=list)
    hovered: list[int | None] = field(default_factory=list)
    selected: list[int | None] = field(default_factory=list)
    layers: list[int | None] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


class Bench:
    """Plays the rest of the program."""

    def __init__(
        self, case: Case, wishes: RowWishes | None = None, size: tuple[int, int] = (1096, 208),
        survival: Sequence[Survival] | Mapping[int, Survival] = (), cut: float = 0.0, detail: bool = False,
    ) -> None:  # fmt: skip
        self.case, self.wishes, self.survival, self.cut = case, wishes or RowWishes(), survival, cut
        self.section = span_section(case.mesh, case.span)
        self.plan: RowPlan | None = None
        self.steps: list[RowWishes] = []
        self._before = self.wishes
        self.heard = Heard()
        self.panel = Elevation()
        self.panel.set_detail(detail)
        self.panel.resize(*size)
        self._listen()
        self.show(self.wishes)

    def _listen(self) -> None:
        panel, heard = self.panel, self.heard
        panel.wishes_edited.connect(lambda label, w: (heard.edits.append((label, w)), self._keep(w)))
        panel.drag_started.connect(self._start)
        panel.drag_previewed.connect(lambda w: (heard.previews.append(w), self.show(w)))
        panel.drag_ended.connect(self._end)
        panel.tooth_hovered.connect(heard.hovered.append)
        panel.tooth_selected.connect(heard.selected.append)
        panel.layer_chosen.connect(heard.layers.append)
        panel.refused.connect(heard.refused.append)

    def _start(self, label: str) -> None:
        self.heard.started.append(label)
        self._before = self.wishes

    def _end(self, keep: bool) -> None:
        self.heard.ended.append(keep)
        if keep:
            self.steps.append(self.wishes)
        else:
            self.show(self._before)

    def _keep(self, wishes: RowWishes) -> None:
        if self.show(wishes):
            self.steps.append(wishes)

    def show(self, wishes: RowWishes) -> bool:
        """Plan and draw; a refused wish leaves the drawing as it was."""
        try:
            plan = plan_row(self.case.span, wishes, self.case.setup, self.case.standing)
        except PlanRefused as problem:
            self.panel.set_refusal(str(problem))
            return False
        self.wishes, self.plan = wishes, plan
        self.panel.set_drawing(
            elevation_model(
                self.case.span, plan, wishes, self.case.setup, section=self.section, standing=self.case.standing,
                survival=self.survival, title="Front lip, seen from the front", cut=self.cut,
            )
        )  # fmt: skip
        return True

    @property
    def canvas(self) -> HandledCanvas:
        return self.panel.canvas

    @property
    def view(self) -> View:
        view = self.canvas.view
        assert view is not None
        return view

    @property
    def model(self) -> ElevationModel:
        assert self.panel.model is not None
        return self.panel.model

    def tooth(self, number: int) -> DrawnTooth:
        found = self.model.tooth(number)
        assert found is not None
        return found

    # where things are

    def at(self, u: float, z: float) -> QPoint:
        """The pixel of a place on the main drawing."""
        return QPoint(round(self.view.sheet.x(u)), round(self.view.sheet.y(z)))

    def on_tooth(self, number: int, share: float = 0.5) -> QPoint:
        """The pixel in the middle of a tooth, ``share`` of the gap above the ledge."""
        tooth = self.tooth(number)
        ledge, edge = float(self.model.ledge_at(tooth.centre)), float(self.model.edge_at(tooth.centre))
        return self.at(tooth.centre, ledge + share * (edge - ledge))

    def on_stop(self, which: int) -> QPoint:
        """The pixel of an end stop's flag."""
        return QPoint(
            round(self.view.sheet.x(self.model.stops[which])) + (-7 if which == 0 else 7), round(self.view.top_lane)
        )

    def on_figure(self, key: str) -> QPoint:
        """The pixel of a dimension's figure."""
        found = self.canvas.figures.dimension(key)
        assert found is not None, [d.key for d in self.canvas.figures.dimensions]
        return QPoint(
            round((found.field.left + found.field.right) / 2), round((found.field.top + found.field.bottom) / 2)
        )

    def px(self, mm: float) -> int:
        return round(mm * self.view.sheet.scale)

    # mouse and keys

    def settle(self) -> None:
        QApplication.processEvents()

    def press(self, at: QPoint, mods: Qt.KeyboardModifier = NONE, button: Qt.MouseButton = LEFT) -> None:
        QTest.mousePress(self.canvas, button, mods, at)

    def move(self, at: QPoint, mods: Qt.KeyboardModifier = NONE, button: Qt.MouseButton | None = LEFT) -> None:
        """A real move event with the button held: the one of QTest carries no modifiers."""
        held = button if button is not None else Qt.MouseButton.NoButton
        where = QPointF(at)
        event = QMouseEvent(
            QEvent.Type.MouseMove, where, QPointF(self.canvas.mapToGlobal(at)), Qt.MouseButton.NoButton, held, mods
        )
        QApplication.sendEvent(self.canvas, event)

    def release(self, at: QPoint, mods: Qt.KeyboardModifier = NONE, button: Qt.MouseButton = LEFT) -> None:
        QTest.mouseRelease(self.canvas, button, mods, at)

    def drag(
        self, start: QPoint, by: tuple[int, int], mods: Qt.KeyboardModifier = NONE, *, release: bool = True
    ) -> None:
        """Pull from ``start`` in small steps."""
        self.press(start, mods)
        count = max(abs(by[0]), abs(by[1]), 1)
        for k in range(1, count + 1):
            self.move(start + QPoint(round(by[0] * k / count), round(by[1] * k / count)), mods)
        if release:
            self.release(start + QPoint(*by), mods)

    def click(self, at: QPoint) -> None:
        QTest.mouseClick(self.canvas, LEFT, NONE, at)

    def double_click(self, at: QPoint) -> None:
        QTest.mouseDClick(self.canvas, LEFT, NONE, at)

    def key(self, key: Qt.Key, mods: Qt.KeyboardModifier = NONE) -> None:
        QTest.keyClick(self.canvas, key, mods)

    def wheel(self, at: QPoint, notches: float) -> None:
        event = QWheelEvent(
            QPointF(at), QPointF(self.canvas.mapToGlobal(at)), QPoint(), QPoint(0, round(120 * notches)),
            Qt.MouseButton.NoButton, NONE, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(self.canvas, event)

    def type(self, text: str, end: Qt.Key = Qt.Key.Key_Return) -> None:
        """Type into the box that is open on a dimension."""
        editor = self.canvas.editor
        assert editor is not None
        editor.selectAll()
        QTest.keyClicks(editor, text)
        QTest.keyClick(editor, end)
        self.settle()

    # pixels

    def image(self) -> QImage:
        """The canvas as it paints itself, in true colours whatever depth the display has."""
        self.settle()
        ratio = self.canvas.devicePixelRatioF()
        image = QImage(
            round(self.canvas.width() * ratio), round(self.canvas.height() * ratio), QImage.Format.Format_RGB32
        )
        image.setDevicePixelRatio(ratio)
        self.canvas.render(image)
        return image

    def colour_at(self, image: QImage, at: QPoint) -> QColor:
        ratio = image.devicePixelRatio()
        return image.pixelColor(round(at.x() * ratio), round(at.y() * ratio))


def near(colour: QColor, wanted: str, tolerance: int = 14) -> bool:
    """Whether a colour is that of a role of the theme, but for smoothing."""
    other = QColor(wanted)
    return (
        max(abs(colour.red() - other.red()), abs(colour.green() - other.green()), abs(colour.blue() - other.blue()))
        <= tolerance
    )
