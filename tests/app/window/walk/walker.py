"""A hand that does anything a person can do at the window, in an order that a seed decides."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QFileDialog,
    QLineEdit,
    QListWidget,
    QMenu,
    QMessageBox,
    QTabBar,
    QWidget,
)

from app.window import Window

K, M = Qt.Key, Qt.KeyboardModifier
LEFT, NONE = Qt.MouseButton.LeftButton, M.NoModifier
#: Ends the program, which the walk itself decides on.
NOT_ALONE = ("quit",)
KEYS = (
    K.Key_Return, K.Key_Escape, K.Key_Tab, K.Key_Backtab, K.Key_Delete, K.Key_Insert, K.Key_Left, K.Key_Right, K.Key_Up,
    K.Key_Down, K.Key_Home, K.Key_End, K.Key_PageUp, K.Key_PageDown, K.Key_Space, K.Key_Plus, K.Key_Minus, K.Key_N,
    K.Key_M, K.Key_S, K.Key_L, K.Key_G, K.Key_H, K.Key_1, K.Key_F2,
)  # fmt: skip
#: A part read in a larger unit by a step is put away when it is larger than this, mm: work on it takes minutes, and the
#: window of a test waits for it.
LARGEST = 250.0
FIGURES = ("0.8", "1,2", "3 mm", "0.06 in", "60 thou", "-1", "", "abc", "1e9", "0", "12", "4.65", "999999")


class Walker:
    """Takes one step after the other; ``done`` tells what was done."""

    def __init__(self, window: Window, files: list[Path], folder: Path, seed: int) -> None:
        self.window, self.files, self.folder = window, files, folder
        self.chance = random.Random(seed)
        self.done: list[str] = []
        self._stay = False
        self._answers = QTimer(window, interval=5)
        # An answer may open another question; a timer does not beat again inside of its own beat.
        self._answers.timeout.connect(lambda: QTimer.singleShot(0, self._answer))
        self._steps: list[tuple[float, Callable[[], str]]] = [
            (2, self._open), (24, self._action), (14, self._elevation_drag), (8, self._elevation_key),
            (8, self._view_click), (5, self._view_drag), (3, self._view_wheel), (4, self._view_key), (12, self._button),
            (8, self._type), (4, self._row_of_list), (5, self._take), (10, self._undo_redo), (3, self._elevation_menu),
            (2, self._elevation_wheel), (2, self._hand_over), (1, self._close), (1, self._wait), (2, self._tidy),
        ]  # fmt: skip

    def walk(self, count: int, failed: Callable[[], object] = lambda: None) -> None:
        """So many steps; ends early once something failed."""
        self._answers.start()
        try:
            weights = [w for w, _ in self._steps]
            for _ in range(count):
                (step,) = self.chance.choices([s for _, s in self._steps], weights)
                self.done.append(f"{step.__name__.strip('_')} …")
                self.done[-1] = step()
                self._settle()
                self._put_away_what_is_huge()
                if failed():
                    return
        finally:
            self._answers.stop()

    def _put_away_what_is_huge(self) -> None:
        job = self.window.bench.job
        if job is not None and float(np.ptp(job.part.mesh.bounds, axis=0).max()) > LARGEST:
            self.window.store.end_drag(commit=False)
            self.window.bench.close()
            self._settle()

    def rest(self) -> None:
        """Everything closed, back on the start page."""
        self._answers.start()
        self._tidy()
        self.window.store.end_drag(commit=False)
        self.window.bench.close()
        self._settle()
        self._answers.stop()
        for path in self.folder.glob("*with_teeth*"):
            path.unlink()

    # dialogs that wait for an answer

    def _answer(self) -> None:
        """Answer what waits: a menu, a question, a file dialog."""
        popup = QApplication.activePopupWidget()
        if isinstance(popup, QMenu):
            self._answer_menu(popup)
            return
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, QFileDialog):
            self._answer_file(dialog)
        elif isinstance(dialog, QMessageBox):
            (dialog.escapeButton() if self._stay else self.chance.choice(dialog.buttons())).click()
        elif isinstance(dialog, QDialog):
            dialog.reject()

    def _answer_menu(self, menu: QMenu) -> None:
        usable = [a for a in menu.actions() if a.isEnabled() and not a.isSeparator() and a.menu() is None]
        if usable and self.chance.random() < 0.7:
            action = self.chance.choice(usable)
            menu.close()
            action.trigger()
        else:
            menu.close()

    def _answer_file(self, dialog: QFileDialog) -> None:
        if self.chance.random() < 0.3:
            dialog.reject()
            return
        if dialog.acceptMode() == QFileDialog.AcceptMode.AcceptOpen:
            target = self.chance.choice(self.files)
        else:
            target = self.folder / f"given_{self.chance.randrange(4)}.{dialog.defaultSuffix() or 'stl'}"
            with suppress(OSError):
                target.unlink()  # or the toolkit's own question would wait for an answer as well
        box = dialog.findChild(QLineEdit, "fileNameEdit")
        if box is None:
            dialog.reject()
            return
        box.setText(str(target))
        dialog.accept()

    # steps

    def _settle(self, seconds: float = 0.02) -> None:
        """Let everything that was asked for come in."""
        runner, end = self.window.runner, time.monotonic() + seconds
        while time.monotonic() < end or (self._waiting(runner) and time.monotonic() < end + 120):
            QApplication.processEvents()
            time.sleep(0.001)

    @staticmethod
    def _waiting(runner: object) -> bool:
        return bool(runner._waiting)  # type: ignore[attr-defined]

    def _open(self) -> str:
        path = self.chance.choice(self.files)
        self.window.open(path)
        return f"open {path.name}"

    def _action(self) -> str:
        names = [n for n, a in self.window.actions_by_name.items() if a.isEnabled() and n not in NOT_ALONE]
        name = self.chance.choice(names)
        self.window.actions_by_name[name].trigger()
        return f"action {name}"

    def _take(self) -> str:
        QTest.keyClick(self.window, K.Key_Return)
        return "Enter"

    def _undo_redo(self) -> str:
        name = self.chance.choice(("undo", "undo", "redo"))
        keys = self.window.actions_by_name[name]
        if keys.isEnabled():
            keys.trigger()
        elif self.window.store.history:
            self.window.store.jump(self.chance.randrange(len(self.window.store.history) + 1))
        return name

    def _hand_over(self) -> str:
        self.window.quick_hand_over()
        return "hand over"

    def _close(self) -> str:
        name = self.chance.choice(("close_part", "close_part", "window"))
        if name == "window" and self.window.store.unsaved:
            self._stay = True
            self.window.close()  # it asks, and the answer is to stay
            self._stay = False
            return "close the window, and stay"
        self.window.put_away()
        return "put away"

    def _wait(self) -> str:
        self._settle(0.3)
        return "wait"

    def _tidy(self) -> str:
        """Close whatever stands beside the window."""
        for widget in QApplication.topLevelWidgets():
            if widget is not self.window and widget.isVisible() and not isinstance(widget, QMenu):
                widget.close()
        if self.window.isFullScreen():
            self.window.showNormal()
        if self.window.sheet.isHidden() and self.chance.random() < 0.5:
            self.window.toggle_sheet()
        return "close what stands beside"

    # the elevation

    def _elevation_drag(self) -> str:
        canvas = self.window.elevation.drawing.canvas
        start = self._handle() if self.chance.random() < 0.85 else self._inside(canvas)
        by = QPoint(self.chance.randint(-120, 120), self.chance.randint(-12, 12))
        mods = self.chance.choice((NONE, NONE, M.ControlModifier, M.ShiftModifier, M.AltModifier))
        button = self.chance.choice((LEFT, LEFT, LEFT, LEFT, Qt.MouseButton.MiddleButton))
        QTest.mousePress(canvas, button, mods, start)
        for k in range(1, 7):
            self._move(canvas, start + by * (k / 6), mods, button)
            QApplication.processEvents()
        ending = self.chance.random()
        if ending < 0.15:
            QTest.keyClick(canvas, K.Key_Escape)
        elif ending < 0.2:
            self.window.store.undo()
        elif ending < 0.23:
            self.window.open(self.chance.choice(self.files))
        QTest.mouseRelease(canvas, button, mods, start + by)
        return f"drag in the elevation from {start.x()}, {start.y()} by {by.x()} {mods.name}"

    def _handle(self) -> QPoint:
        """The place of some handle: a tooth, a corner, an end stop, a figure."""
        canvas = self.window.elevation.drawing.canvas
        view = canvas.view
        if view is None or not canvas.isVisible():
            return self._inside(canvas)
        sheet, model = view.sheet, view.model
        low, high = model.z_range
        places = [(sheet.x(model.stops[0]) - 7, view.top_lane), (sheet.x(model.stops[1]) + 7, view.top_lane)]
        for tooth in model.teeth:
            places.append((sheet.x(tooth.centre), sheet.y((low + high) / 2)))
            places += [(sheet.x(u), sheet.y(low)) for u in tooth.foot] + [
                (sheet.x(u), sheet.y(high)) for u in tooth.tip
            ]
        places += [((f.left + f.right) / 2, (f.top + f.bottom) / 2) for _, f in canvas.figures.fields()]
        x, y = self.chance.choice(places)
        return QPoint(round(x), round(y))

    def _elevation_key(self) -> str:
        canvas = self.window.elevation.drawing.canvas
        if canvas.isVisible():
            canvas.setFocus()
        target = canvas.editor if canvas.editor is not None else canvas
        key = self.chance.choice(KEYS)
        mods = self.chance.choice((NONE, NONE, M.ShiftModifier, M.ControlModifier))
        if isinstance(target, QLineEdit) and self.chance.random() < 0.7:
            QTest.keyClicks(target, self.chance.choice(FIGURES))
            key = K.Key_Return
        if not self._leads_out(key, mods):
            QTest.keyClick(target, key, mods)
        return f"{key.name} {mods.name} in the elevation"

    def _elevation_menu(self) -> str:
        canvas = self.window.elevation.drawing.canvas
        at = self._handle()
        QTest.mouseDClick(canvas, LEFT, NONE, at)
        self._settle()
        from PySide6.QtGui import QContextMenuEvent

        event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, at, canvas.mapToGlobal(at), NONE)
        QApplication.sendEvent(canvas, event)
        return "double click and menu in the elevation"

    def _elevation_wheel(self) -> str:
        canvas = self.window.elevation.drawing.canvas
        self._wheel(canvas, self._inside(canvas))
        return "wheel in the elevation"

    # the view

    def _view_click(self) -> str:
        view = self.window.view
        at = self._inside(view)
        self._move(view, at, NONE, Qt.MouseButton.NoButton)
        QApplication.processEvents()
        QTest.mouseClick(view, LEFT, NONE, at)
        return f"click in the view at {at.x()}, {at.y()}"

    def _view_drag(self) -> str:
        view = self.window.view
        start, end = self._inside(view), self._inside(view)
        button = self.chance.choice((LEFT, LEFT, Qt.MouseButton.MiddleButton, Qt.MouseButton.RightButton))
        mods = self.chance.choice((NONE, M.ShiftModifier, M.ControlModifier))
        QTest.mousePress(view, button, mods, start)
        for k in range(1, 4):
            self._move(view, start + (end - start) * (k / 3), mods, button)
            QApplication.processEvents()
        QTest.mouseRelease(view, button, mods, end)
        return "drag in the view"

    def _view_wheel(self) -> str:
        self._wheel(self.window.view, self._inside(self.window.view))
        return "wheel in the view"

    def _view_key(self) -> str:
        key, mods = self.chance.choice(KEYS), self.chance.choice((NONE, M.AltModifier, M.ShiftModifier))
        if not self._leads_out(key, mods):
            QTest.keyClick(self.window.view, key, mods)
        return f"{key.name} {mods.name} in the view"

    # whatever is there

    def _shown(self, kind: type[QWidget]) -> list[QWidget]:
        tops = [w for w in QApplication.topLevelWidgets() if w.isVisible() and not isinstance(w, QMenu)]
        found = [c for t in tops for c in t.findChildren(kind) if c.isVisible() and c.isEnabled()]
        return [c for c in found if not c.visibleRegion().isEmpty()]

    def _button(self) -> str:
        buttons = self._shown(QAbstractButton) + self._shown(QTabBar)
        if not buttons:
            return "no button"
        button = self.chance.choice(buttons)
        words = f"{type(button.window()).__name__}: {button.accessibleName() or getattr(button, 'text', str)()}"
        at = self._inside(button) if isinstance(button, QTabBar) else button.rect().center()
        QTest.mouseClick(button, LEFT, NONE, at)
        return f"button {words}"

    def _type(self) -> str:
        boxes = self._shown(QLineEdit)
        if not boxes:
            return "nothing to type in"
        box = self.chance.choice(boxes)
        name = box.accessibleName()
        QTest.mouseClick(box, LEFT, NONE, box.rect().center())
        box.selectAll()
        text = self.chance.choice(FIGURES)
        QTest.keyClicks(box, text)
        if self.chance.random() < 0.9:
            QTest.keyClick(box, self.chance.choice((K.Key_Return, K.Key_Tab, K.Key_Escape, K.Key_Up, K.Key_Down)))
        return f"type {text!r} into {name}"

    def _row_of_list(self) -> str:
        lists = [w for w in self._shown(QListWidget) if w.count()]
        if not lists:
            return "no list"
        found = self.chance.choice(lists)
        found.setCurrentRow(self.chance.randrange(found.count()))
        if self.chance.random() < 0.5:
            QTest.keyClick(found, K.Key_Return)
        return f"row of {found.accessibleName()}"

    # events

    def _inside(self, widget: QWidget) -> QPoint:
        return QPoint(self.chance.randrange(max(widget.width(), 1)), self.chance.randrange(max(widget.height(), 1)))

    @staticmethod
    def _leads_out(key: Qt.Key, mods: M) -> bool:
        """Keys that the display itself would take."""
        return key == K.Key_Tab and mods == M.AltModifier

    @staticmethod
    def _move(widget: QWidget, at: QPoint, mods: M, button: Qt.MouseButton) -> None:
        event = QMouseEvent(
            QEvent.Type.MouseMove, QPointF(at), QPointF(widget.mapToGlobal(at)), Qt.MouseButton.NoButton, button, mods
        )
        QApplication.sendEvent(widget, event)

    def _wheel(self, widget: QWidget, at: QPoint) -> None:
        turn = QPoint(0, self.chance.choice((-240, -120, 120, 240)))
        event = QWheelEvent(
            QPointF(at), QPointF(widget.mapToGlobal(at)), QPoint(), turn, Qt.MouseButton.NoButton, NONE,
            Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(widget, event)


def small_files(folder: Path) -> list[Path]:
    """Small parts to open: some good, some that make the program ask or refuse."""
    from core.files.read import read_part
    from core.files.write import write_part
    from samples import sample_path
    from tests import meshes

    made = []
    for name, mesh in (
        ("bar", meshes.bar_over_ledge().mesh),
        ("long_bar", meshes.bar_over_ledge(90.0, 2.4, posts=True).mesh),
        ("box", meshes.box()),
        ("open_box", meshes.open_box()),
    ):
        for suffix in ("stl", "3mf") if name != "open_box" else ("stl",):
            made.append(folder / f"{name}.{suffix}")
            write_part(mesh, made[-1], unit="millimeter", name=name)
    # With its unit: read as inches or centimetres it would be a part as large as a cupboard, and take as long.
    made.append(folder / "hood.3mf")
    write_part(read_part(sample_path("rain_hood")).mesh, made[-1], unit="millimeter", name="hood")
    bad = folder / "bad.stl"
    bad.write_bytes(b"solid nothing at all")
    return [*made, bad, folder / "gone.stl"]
