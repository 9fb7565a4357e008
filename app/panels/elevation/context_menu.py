"""The menu of the right button in the elevation: what can be done at that place, with the keys that do it as well."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QPoint, QPointF
from PySide6.QtWidgets import QMenu

from app.panels.elevation import drags, export
from app.panels.elevation.editing_canvas import MEASURED
from app.panels.elevation.handles import Handle, in_gap

if TYPE_CHECKING:
    from app.panels.elevation.gestures import HandledCanvas
    from app.panels.elevation.widget import Elevation


def _tr(text: str) -> str:
    return QCoreApplication.translate("ElevationMenu", text)


@dataclass(frozen=True)
class Line:
    """A line of the menu: words, what it does, its keys as they are told, and whether it can be done."""

    words: str
    run: Callable[[], object]
    keys: str = ""
    can: bool = True


def menu_at(drawing: Elevation, at: QPoint) -> QMenu:
    """The menu for a place of the canvas. It deletes itself once it is closed."""
    menu = QMenu(drawing)
    menu.setAccessibleName(_tr("Elevation"))
    for group in (_about_place(drawing.canvas, at), _about_row(drawing.canvas), _about_drawing(drawing)):
        if group and not menu.isEmpty():
            menu.addSeparator()
        for line in group:
            action = menu.addAction(f"{line.words}\t{line.keys}" if line.keys else line.words)
            action.setEnabled(line.can)
            action.triggered.connect(lambda _=False, run=line.run: run())
    menu.aboutToHide.connect(menu.deleteLater)
    return menu


def _about_place(canvas: HandledCanvas, at: QPoint) -> list[Line]:
    """What can be done with what lies under the pointer."""
    handle, model, view = canvas.handle_under(QPointF(at)), canvas.model, canvas.view
    if model is None or view is None:
        return []
    if handle is None:
        inside = in_gap(view, at.x(), at.y()) and model.plan is not None
        here = view.sheet.u(at.x())
        return [Line(_tr("Add a tooth here"), lambda: canvas.add_tooth(here), _tr("Ins"))] if inside else []
    if handle.kind in ("start", "stop"):
        return [_about_stop(canvas, handle.kind)]
    if handle.kind == "place" and handle.number is not None:
        number = handle.number
        return [Line(_tr("Put tooth {0} back").format(number + 1), lambda: canvas.put_back(number))]
    if handle.kind == "dimension" and handle.key not in MEASURED:
        return [Line(_tr("Type this figure…"), lambda: canvas.edit_dimension(handle.key), "F2")]
    return _about_tooth(canvas, handle)


def _about_stop(canvas: HandledCanvas, field: str) -> Line:
    trimmed = canvas.model is not None and getattr(canvas.model.wishes, field) > 0
    words = _tr("Back to the start of the edge") if field == "start" else _tr("Back to the end of the edge")
    return Line(words, lambda: canvas.wish(field, lambda m: replace(m.wishes, **{field: 0.0})), can=trimmed)


def _about_tooth(canvas: HandledCanvas, handle: Handle) -> list[Line]:
    model, number = canvas.model, handle.number
    tooth = model.tooth(number) if model is not None else None
    if model is None or tooth is None or number is None:
        return []
    between = next((s.u for s in drags.move_snaps(model, tooth) if s.word == "between"), None)
    shift = 0.0 if between is None else between - tooth.base
    return [
        Line(_tr("Leave tooth {0} out").format(number + 1), lambda: canvas.leave_out(number), _tr("Del")),
        Line(
            _tr("Centre it between its neighbours"),
            lambda: canvas.wish("shift", lambda m: drags.moved_to(m, number, shift), number),
            can=between is not None and abs(shift - tooth.moved) >= drags.NO_SHIFT,
        ),
        Line(
            _tr("Back to its place in the row"),
            lambda: canvas.wish("shift", lambda m: drags.moved_to(m, number, 0.0), number),
            can=abs(tooth.moved) >= drags.NO_SHIFT,
        ),
    ]


def _about_row(canvas: HandledCanvas) -> list[Line]:
    model = canvas.model
    if model is None or model.plan is None:
        return []
    wishes = model.wishes
    return [
        Line(_tr("One tooth more"), lambda: canvas.change_count(1), "+"),
        Line(_tr("One tooth fewer"), lambda: canvas.change_count(-1), "−", len(model.teeth) > 1),
        Line(
            _tr("All teeth back in their places"),
            lambda: canvas.wish("all_back", lambda m: replace(m.wishes, moved=(), left_out=())),
            can=bool(wishes.moved or wishes.left_out),
        ),
    ]


def _about_drawing(drawing: Elevation) -> list[Line]:
    there = drawing.model is not None
    lines, detail = drawing.header.layer_lines, drawing.header.detail
    return [
        Line(_tr("Show whole span"), drawing.show_whole_span, _tr("Home"), there),
        Line(_tr("Hide layer lines") if lines.isChecked() else _tr("Show layer lines"), lines.toggle),
        Line(_tr("Hide the detail") if detail.isChecked() else _tr("Show the detail"), detail.toggle),
        Line(_tr("Copy as a picture"), lambda: _copied(drawing, svg=False), can=there),
        Line(_tr("Copy as SVG"), lambda: _copied(drawing, svg=True), can=there),
    ]


def _copied(drawing: Elevation, *, svg: bool) -> None:
    if drawing.model is not None:
        export.copy_alone(drawing.model, drawing.picture(), svg=svg)
