"""Which figures the drawing carries: the most wanted are placed first, and one that finds no free place is left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from app.panels.elevation.board import Board
from app.panels.elevation.figures import Figures, Focus, Place, Rulers
from app.panels.elevation.handles import rule_field
from app.panels.elevation.labels import notes_of, numbers_of
from app.panels.elevation.model import Bridge, DrawnTooth
from app.panels.elevation.sheet import FAR_GAP, View, scale_field
from core.units import UnitName

# Logical pixels.
PART_LANE = 12.0  # dimension line above the edge
FLAG_ROOM: Final = 15.0  # what the flag of an end stop takes beside the span's dimension
FIGURE_REACH = 46.0  # how far a figure beside its dimension reaches along a sloping edge
LEAST_TIP = 14.0  # a narrower tip gets no figure unless it is in hand


def figures_of(
    view: View,
    rulers: Rulers,
    unit: UnitName = "millimeter",
    focus: Focus | None = None,
    words: Callable[[DrawnTooth], str] = lambda t: t.survival.fate,
) -> Figures:
    """The figures of a drawing; ``words`` say what becomes of a tooth that does not print whole."""
    focus = focus or Focus()
    board = Board(view, rulers, unit)
    labels = numbers_of(view, rulers, focus)
    board.taken += [scale_field(view), *(label.field for label in labels)]
    if view.model.layers.axis == "u":
        board.taken.append(rule_field(view).grown(1))
    notes = notes_of(view, rulers, words)
    board.taken += [note.field for note in notes]
    shown = frozenset(label.text for label in labels)
    _in_hand(board, focus)
    _gap(board)
    if focus.detail:
        _foot(board, focus, frozenset())
        return Figures(tuple(board.done), labels, notes)
    _span(board, focus)
    _over(board)
    _ends(board)
    _pitch(board, focus, shown)
    _foot(board, focus, shown)
    _clear(board)
    _far_gap(board)
    _tip(board, focus)
    return Figures(tuple(board.done), labels, notes)


def _part_lane(view: View, u0: float, u1: float) -> float:
    """Height in px of a dimension line just above the edge between two places."""
    reach = FIGURE_REACH / view.sheet.scale
    places = np.clip(np.linspace(u0 - reach, u1 + reach, 9), *view.model.profile.extent)
    return view.sheet.y(float(view.model.edge_at(places).max())) - PART_LANE


def _up_from_edge(view: View, places: Sequence[float], y: float) -> tuple[tuple[float, float, float, float], ...]:
    """Extension lines from the edge up to a dimension line."""
    return tuple(
        (view.sheet.x(u), view.sheet.y(float(view.model.edge_at(u))) - 2, view.sheet.x(u), y - 3) for u in places
    )


def _down_from_ledge(view: View, places: Sequence[float], y: float) -> tuple[tuple[float, float, float, float], ...]:
    """Extension lines from the ledge down to a dimension line."""
    return tuple(
        (view.sheet.x(u), view.sheet.y(float(view.model.ledge_at(u))) + 2, view.sheet.x(u), y + 3) for u in places
    )


def _in_hand(board: Board, focus: Focus) -> None:
    """The figures of the tooth in hand, before all others."""
    view, hand = board.view, focus.hand
    tooth = view.model.tooth(focus.number)
    if tooth is None:
        return
    if hand is not None and hand.corner:
        if hand.kind.startswith("foot"):
            _level_below(board, "foot", tooth.foot, strong=True, number=tooth.number)
        else:
            _level_above(board, "tip", tooth.tip, strong=True, number=tooth.number)
        return
    if focus.pitch:
        return
    left, right = view.model.neighbours(tooth.number)
    for key, bridge in (("clear_left", left), ("clear_right", right)):
        if bridge is not None:
            _bridge(board, key, bridge, tooth.number, strong=hand is not None)
    if abs(tooth.moved) >= 0.005 and not focus.detail:
        _shift(board, tooth, strong=hand is not None)


def _bridge(board: Board, key: str, bridge: Bridge, number: int | None = None, strong: bool = False) -> bool:
    start, stop = bridge.start, bridge.stop
    if stop > board.view.model.length and board.view.model.closed and key == "clear_left":
        start, stop = start - board.view.model.length, stop - board.view.model.length
    ink = "attention_text" if bridge.over else "ink"
    return _level_above(board, key, (start, stop), ink=ink, strong=strong, number=number, value=bridge.clear)


def _level_above(board: Board, key: str, u: tuple[float, float], **more: object) -> bool:
    y = _part_lane(board.view, *u)
    return board.level(key, u, y, extensions=_up_from_edge(board.view, u, y), ground=True, **more)  # type: ignore[arg-type]


def _level_below(board: Board, key: str, u: tuple[float, float], **more: object) -> bool:
    y = board.view.low_lane
    if y < board.view.floor + 8 and not more.get("strong"):
        return False  # zoomed in so far that the lane below would lie on the drawing
    return board.level(key, u, y, extensions=_down_from_ledge(board.view, u, y), ground=True, **more)  # type: ignore[arg-type]


def _shift(board: Board, tooth: DrawnTooth, *, strong: bool) -> None:
    """How far the tooth was moved from its place in the row."""
    low, high = sorted((tooth.base, tooth.centre))
    places: Sequence[Place] = ("beyond", "before") if tooth.moved > 0 else ("before", "beyond")
    _level_below(
        board,
        "shift",
        (low, high),
        value=tooth.moved,
        sign=True,
        places=places,
        strong=strong,
        chain=True,
        number=tooth.number,
    )


def _span(board: Board, focus: Focus) -> None:
    view = board.view
    start, stop = view.model.stops
    y = view.top_lane
    if y > view.ceiling - 8:
        return
    strong = focus.hand is not None and focus.hand.kind in ("start", "stop")
    board.level("length", (start, stop), y, strong=strong, aside=FLAG_ROOM)


def _gap(board: Board) -> None:
    """The gap, left of the drawing."""
    view = board.view
    window, sheet, model = view.window, view.sheet, view.model
    u = min(max(sheet.u(window.left), 0.0), model.length)
    ledge, edge = float(model.ledge_at(u)), float(model.edge_at(u))
    feet = (window.left - 4, max(window.left - 4, sheet.x(0.0) - 4))
    if sheet.y(edge) > view.field.top and sheet.y(ledge) < view.field.bottom:
        board.upright("gap", window.left - 27.0, (ledge, edge), feet, window.left - 16.0)


def _far_gap(board: Board) -> None:
    """A second figure at the other end where the gap is not the same all along."""
    view = board.view
    window, sheet, model = view.window, view.sheet, view.model
    if not view.far_gap:
        return
    u = max(min(sheet.u(window.right), model.length), 0.0)
    ledge, edge = float(model.ledge_at(u)), float(model.edge_at(u))
    feet = (
        min(window.right, sheet.x(float(model.profile.edge[-1, 0]))) + 4,
        min(window.right, sheet.x(model.length)) + 4,
    )
    if sheet.y(edge) > view.field.top and sheet.y(ledge) < view.field.bottom:
        board.upright("gap_far", window.right + FAR_GAP - 4, (ledge, edge), feet)


def _over(board: Board) -> None:
    """The longest bridges among those that are longer than allowed."""
    over = sorted((b for b in board.view.model.bridges if b.over), key=lambda b: -b.clear)
    for i, bridge in enumerate(over[:3]):
        _bridge(board, f"over:{i}", bridge)


def _ends(board: Board) -> None:
    """What is left free at both ends of the span."""
    model = board.view.model
    ends = model.row_ends
    if ends is None or (model.closed and not (model.wishes.start or model.wishes.stop)):
        return
    start, stop = model.stops
    if ends[0] - start > 0.01:
        _level_above(board, "end_left", (start, ends[0]), places=("beyond", "in", "above"))
    if stop - ends[1] > 0.01:
        _level_above(board, "end_right", (ends[1], stop), places=("before", "in", "above"))


def _outward(count: int, start: int) -> Iterator[int]:
    """Numbers from 0 to count − 1, those near ``start`` first."""
    return iter(sorted(range(count), key=lambda i: (abs(i - start), i)))


def _pitch(board: Board, focus: Focus, shown: frozenset[str]) -> None:
    """The pitch between two teeth that stand where the row put them."""
    teeth = board.view.model.teeth
    pairs = [
        (a, b) for a, b in pairwise(teeth)
        if b.number - a.number == 1 and abs(a.moved) < 0.005 and abs(b.moved) < 0.005
    ]  # fmt: skip
    if not pairs:
        return
    start = len(pairs) // 6 + 1
    if focus.pitch and focus.hand is not None:
        start = next((i for i, p in enumerate(pairs) if focus.hand.number in (p[0].number, p[1].number)), start)
    order = [pairs[i] for i in _outward(len(pairs), start)]
    bare = [
        p for p in order if not focus.pitch and str(p[0].number + 1) not in shown and str(p[1].number + 1) not in shown
    ]
    for a, b in [*bare, *order][:24]:
        if _level_below(board, "pitch", (a.centre, b.centre), strong=focus.pitch, chain=True):
            return


def _foot(board: Board, focus: Focus, shown: frozenset[str]) -> None:
    if board.view.model.plan is None or any(d.key == "foot" for d in board.done):
        return
    teeth = board.view.model.teeth
    start = next((i for i, t in enumerate(teeth) if focus.detail and t.number == focus.number), len(teeth) // 2)
    order = [teeth[i] for i in _outward(len(teeth), start)]
    bare = [t for t in order if str(t.number + 1) not in shown]
    for tooth in [*bare, *order][:16]:
        if _level_below(board, "foot", tooth.foot, number=tooth.number):
            return


def _clear(board: Board) -> None:
    """One clear bridge that is as long as the row makes it."""
    usual = [b for b in board.view.model.bridges if not b.over and b.stop <= board.view.model.length]
    if any(d.key.startswith("clear") for d in board.done):
        return
    for i in _outward(len(usual), round(len(usual) * 0.46)):
        if _bridge(board, "clear", usual[i]):
            return


def _tip(board: Board, focus: Focus) -> None:
    """The tip, where it is wide enough on the screen to be measured."""
    plan = board.view.model.plan
    if plan is None or plan.tip * board.view.sheet.scale < LEAST_TIP or any(d.key == "tip" for d in board.done):
        return
    teeth = board.view.model.teeth
    for i in _outward(len(teeth), len(teeth) * 3 // 4):
        if _level_above(board, "tip", teeth[i].tip, number=teeth[i].number):
            return
