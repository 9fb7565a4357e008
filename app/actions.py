"""Every action of the window: its words, icon and keys, in one table, so that menus, tools and finder agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication
from PySide6.QtGui import QAction, QKeySequence

from app.carrying import ask_newer
from app.look.icons import icon
from app.printing import ask_sheet

if TYPE_CHECKING:
    from app.window import Window


@dataclass(frozen=True)
class Entry:
    """One action: stable name, words, icon, keys, what it does, and whether it needs a job."""

    name: str
    words: str
    icon: str
    keys: QKeySequence | str | None
    run: Callable[[], None]
    needs_job: bool = True
    checkable: bool = False


def _tr(text: str) -> str:
    return QCoreApplication.translate("Actions", text)


Menu = list[Entry | None]


def table(w: Window) -> dict[str, Menu]:
    """Menus in order; None is a separator."""
    return {
        _tr("&File"): _file(w),
        _tr("&Edit"): _edit(w),
        _tr("&View"): _view(w),
        _tr("&Part"): _part(w),
        _tr("&Teeth"): _teeth(w),
        _tr("&Help"): _help(w),
    }


def _file(w: Window) -> Menu:
    key = QKeySequence.StandardKey
    return [
        Entry("open", _tr("&Open…"), "open", QKeySequence(key.Open), w.ask_open, False),
        Entry("save", _tr("&Save the job"), "save", QKeySequence(key.Save), w.keep.save),
        Entry("save_as", _tr("Save the job as…"), "", QKeySequence(key.SaveAs), w.keep.save_as),
        Entry("carry_over", _tr("Carry the rows over to a &newer file…"), "", None, lambda: ask_newer(w)),
        Entry("share", _tr("Save the job to pass it on…"), "", None, lambda: w.keep.save_as(places=False)),
        None,
        Entry("hand_over", _tr("&Hand over"), "hand_over", "Ctrl+E", w.quick_hand_over),
        Entry(
            "hand_over_as",
            _tr("Hand over &as…"),
            "hand_over",
            "Ctrl+Shift+E",
            lambda: w.ask_hand_over("part", "file"),
        ),
        Entry("teeth_only", _tr("Hand over &teeth only…"), "row", None, lambda: w.ask_hand_over("teeth", "file")),
        None,
        Entry("picture", _tr("Save a &picture…"), "picture", None, w.ask_picture),
        Entry("print_sheet", _tr("Print the &job sheet…"), "job_sheet", "Ctrl+Shift+P", lambda: ask_sheet(w)),
        Entry("copy_picture", _tr("&Copy a picture"), "copy", "Ctrl+Shift+C", w.copy_picture),
        None,
        Entry("close_part", _tr("Put the part away"), "close", QKeySequence(key.Close), w.put_away),
        Entry("quit", _tr("&Quit"), "", QKeySequence(key.Quit), w.close, False),
    ]


def _edit(w: Window) -> Menu:
    key = QKeySequence.StandardKey
    return [
        Entry("undo", _tr("&Undo"), "undo", QKeySequence(key.Undo), w.store.undo),
        Entry("redo", _tr("&Redo"), "redo", QKeySequence(key.Redo), w.store.redo),
        None,
        Entry("history", _tr("Steps…"), "", "Ctrl+H", w.side.show_history),
        None,
        Entry("copy_measure", _tr("Copy the measurement"), "copy", QKeySequence(key.Copy), w.copy_measurement),
        None,
        Entry("setup", _tr("Print &setup…"), "settings", "Ctrl+P", w.side.show_setup, False),
        Entry("preferences", _tr("Pr&eferences…"), "", "Ctrl+,", w.side.show_preferences, False),
    ]


def _view(w: Window) -> Menu:
    return [
        Entry("front", _tr("&Front elevation"), "standard_views", "Alt+1", lambda: w.view.view_named("front")),
        Entry("back", _tr("&Back elevation"), "", "Alt+2", lambda: w.view.view_named("back")),
        Entry("left", _tr("&Left end elevation"), "", "Alt+3", lambda: w.view.view_named("left")),
        Entry("right", _tr("&Right end elevation"), "", "Alt+4", lambda: w.view.view_named("right")),
        Entry("plan", _tr("&Plan"), "", "Alt+5", lambda: w.view.view_named("plan")),
        Entry("below", _tr("From b&elow"), "", "Alt+6", lambda: w.view.view_named("below")),
        Entry("frame", _tr("Frame the &whole part"), "frame", "Home", w.view.frame_all),
        Entry("parallel", _tr("Parallel lines"), "", None, w.toggle_parallel, True, True),
        None,
        Entry("heat", _tr("Show how far it hangs"), "weak_spots", "H", w.toggle_heat, True, True),
        Entry("section", _tr("Look inside"), "section", None, w.toggle_section, True, True),
        Entry("sheet", _tr("&Job sheet"), "job_sheet", "F9", w.toggle_sheet, True, True),
        Entry("theme", _tr("Light or &dark"), "theme", "Ctrl+T", w.toggle_theme, False),
        Entry("full", _tr("Full screen"), "", "F11", w.toggle_full_screen, False),
        Entry("find", _tr("Find an action…"), "find", "F3", w.side.show_finder, False),
    ]


def _part(w: Window) -> Menu:
    return [
        Entry("as_filed", _tr("Pose as &filed"), "", None, w.bench.pose_as_filed),
        Entry("seat", _tr("&Seat on a face"), "seat", "S", lambda: w.bench.set_mode("seat")),
        Entry("turn_over", _tr("Turn &over"), "turn_over", None, w.bench.turn_over),
        Entry("turn", _tr("&Turn a quarter"), "turn", None, lambda: w.bench.turn(90)),
        None,
        Entry("axes", _tr("Line up a face or edge"), "working_axes", "L", lambda: w.bench.set_mode("axes")),
        Entry("drop_axes", _tr("Drop working axes"), "", None, w.bench.drop_axes),
        None,
        Entry("measure", _tr("&Measure"), "measure", "M", lambda: w.bench.set_mode("measure")),
    ]


def _teeth(w: Window) -> Menu:
    return [
        Entry("take", _tr("Ta&ke, accept, add"), "done", "Return", w.enter),
        Entry("take_all", _tr("Take all gaps"), "row", "Ctrl+Return", w.bench.take_all),
        Entry("ledge", _tr("Choose another &ledge"), "ledge", "G", lambda: w.bench.set_mode("ledge")),
        Entry(
            "longer_start",
            _tr("Carry the edge on past its start"),
            "",
            "Ctrl+Left",
            lambda: w.bench.extend_edge(False),
        ),
        Entry("longer_end", _tr("Carry the edge on past its end"), "", "Ctrl+Right", lambda: w.bench.extend_edge(True)),
        Entry("add", _tr("&Add the row"), "row", "Ctrl+Shift+A", w.bench.add_row),
        Entry("points", _tr("Wall or post at picked &points"), "", "P", lambda: w.bench.set_mode("points")),
        Entry("let_go", _tr("Let the edge &go"), "", None, w.bench.step_back),
        None,
        Entry("next_edge", _tr("Next candidate edge"), "overhang_edge", "N", lambda: w.walk_edges(1)),
        Entry("previous_edge", _tr("Previous candidate edge"), "", "Shift+N", lambda: w.walk_edges(-1)),
        None,
        Entry("coupon", _tr("Make a &coupon…"), "", None, w.side.show_coupon, False),
        Entry("trial", _tr("Cut a &trial piece…"), "", None, w.side.show_trial),
        Entry("outcomes", _tr("Ho&w did it print?…"), "", None, w.side.show_outcomes),
    ]


def _help(w: Window) -> Menu:
    return [
        Entry("minding", _tr("What to mind when printing"), "help", "F1", w.side.show_minding, False),
        Entry("tour", _tr("A short &tour on a sample"), "", None, w.side.show_tour, False),
        Entry("log", _tr("&Log and system…"), "", None, w.side.show_log, False),
        Entry("about", _tr("About Snapcomb"), "", None, w.side.show_about, False),
    ]


TOOLS = ("open", "hand_over", None, "undo", "redo", None, "measure", "section", "seat", "turn", "frame", None, "find")


def build(w: Window) -> dict[str, QAction]:
    """Make all actions, put them into the menus and return them by name."""
    made: dict[str, QAction] = {}
    for title, entries in table(w).items():
        menu = w.menuBar().addMenu(title)
        for entry in entries:
            if entry is None:
                menu.addSeparator()
                continue
            action = QAction(entry.words, w)
            if entry.icon:
                action.setIcon(icon(entry.icon))
            if entry.keys is not None:
                action.setShortcut(entry.keys)
            action.setCheckable(entry.checkable)
            action.setData(entry.needs_job)
            action.triggered.connect(lambda _=False, run=entry.run: run())
            menu.addAction(action)
            made[entry.name] = action
    return made
