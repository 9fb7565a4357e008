"""Which figures the drawing carries and where they stand, so that none lies on another: pure, in logical pixels.

Figures are placed one after the other, the most wanted first; one that finds no free place is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from app.look.tokens import Pen
from app.panels.elevation.handles import Handle, rule_field
from app.panels.elevation.model import Bridge, DrawnTooth
from app.panels.elevation.sheet import FAR_GAP, Rect, View
from core.units import UnitName, format_length

Place = Literal["in", "above", "beyond", "before", "aside"]

# Logical pixels.
CLEAR = 5.0  # between a line and the figure that breaks it
TAIL = 13.0  # line behind an arrowhead that stands outside
NARROW = 2 * Pen.ARROW_LONG + 4  # arrowheads of a shorter dimension stand outside
APART = 3.0  # between figures
PART_LANE = 12.0  # dimension line above the edge
NUMBER_LANE = 15.0  # middle of the tooth numbers, below the ledge
NUMBER_ROOM: Final = 30.0  # between the middles of two tooth numbers
FLAG_ROOM: Final = 15.0  # what the flag of an end stop takes beside the span's dimension
FIGURE_REACH = 46.0  # how far a figure beside its dimension reaches along a sloping edge
LEAST_TIP = 14.0  # a narrower tip gets no figure unless it is in hand


@dataclass(frozen=True)
class Rulers:
    """How wide a text is: in lettering and in words; ``high`` is the height of a capital of the lettering. px."""

    lettering: Callable[[str], float]
    words: Callable[[str], float]
    high: float = 10.0


@dataclass(frozen=True)
class Dimension:
    """A dimension ready to be drawn: its line from ``a`` to ``b``, where the figure stands and what that takes up."""

    key: str
    text: str
    value: float
    a: tuple[float, float]
    b: tuple[float, float]
    place: Place
    field: Rect
    extensions: tuple[tuple[float, float, float, float], ...] = ()
    ink: str = "ink"
    ground: bool = False
    strong: bool = False
    chain: bool = False
    number: int | None = None
    visible: tuple[float, float] | None = None

    @property
    def upright(self) -> bool:
        return abs(self.a[0] - self.b[0]) < 1e-9

    @property
    def length(self) -> float:
        return abs(self.b[0] - self.a[0]) + abs(self.b[1] - self.a[1])

    @property
    def outside(self) -> bool:
        """Whether the arrowheads stand outside and point inward."""
        return self.length < NARROW

    @property
    def shaft(self) -> Rect:
        """What the line and its arrowheads take up."""
        tail = TAIL if self.outside else 0.0
        (ax, ay), (bx, by) = self.a, self.b
        if self.upright:
            return Rect(ax - 3, min(ay, by) - tail, ax + 3, max(ay, by) + tail)
        return Rect(min(ax, bx) - tail, ay - 3, max(ax, bx) + tail, ay + 3)


@dataclass(frozen=True)
class Label:
    """A tooth number, its middle and its colour."""

    text: str
    centre: tuple[float, float]
    field: Rect
    ink: str


@dataclass(frozen=True)
class Note:
    """Words with leaders (x, y, x, y) to what they are about."""

    text: str
    centre: tuple[float, float]
    field: Rect
    leaders: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True)
class Figures:
    """All figures of a drawing."""

    dimensions: tuple[Dimension, ...] = ()
    labels: tuple[Label, ...] = ()
    notes: tuple[Note, ...] = ()

    def fields(self) -> list[tuple[str, Rect]]:
        """The fields of the dimensions by key, for the pointer."""
        return [(d.key, d.field) for d in self.dimensions]

    def dimension(self, key: str) -> Dimension | None:
        return next((d for d in self.dimensions if d.key == key), None)


@dataclass(frozen=True)
class Focus:
    """What the person has in hand: the handle that is dragged, and the tooth that is selected or hovered."""

    hand: Handle | None = None
    selected: int | None = None
    hovered: int | None = None
    pitch: bool = False
    detail: bool = False

    @property
    def number(self) -> int | None:
        """The tooth that gets figures of its own."""
        return self.hand.number if self.hand is not None else self.selected


@dataclass
class _Board:
    """Places figures and remembers what is taken."""

    view: View
    rulers: Rulers
    unit: UnitName
    taken: list[Rect] = field(default_factory=list)
    done: list[Dimension] = field(default_factory=list)

    def text(self, value: float, sign: bool = False) -> str:
        word = format_length(value, self.unit, with_unit=False)
        return f"+{word}" if sign and value > 0 else word.replace("-", "−")

    def free(self, rects: Sequence[Rect]) -> bool:
        """Whether nothing is there yet and all of it lies on the field."""
        f = self.view.field
        inside = all(r.left >= f.left + 1 and r.right <= f.right - 1 and r.top >= f.top and r.bottom <= f.bottom for r in rects)
        return inside and not any(r.meets(t, APART) for r in rects for t in self.taken)

    def put(self, dimension: Dimension) -> bool:
        """Add a dimension when its figure and its line are free."""
        shaft = dimension.shaft
        if dimension.visible:
            shaft = replace(shaft, left=dimension.visible[0], right=dimension.visible[1])
        if not self.free([dimension.field]) or any(shaft.meets(t, 0.0) for t in self.taken):
            return False
        self.taken += [dimension.field, shaft]
        self.done.append(dimension)
        return True

    def level(
        self, key: str, u: tuple[float, float], y: float, *, value: float | None = None, places: Sequence[Place] = ("in", "above", "beyond", "before"),
        sign: bool = False, aside: float = 0.0, extensions: tuple[tuple[float, float, float, float], ...] = (), **more: object,
    ) -> bool:  # fmt: skip
        """A level dimension between two places, wherever of ``places`` its figure has room."""
        x0, x1 = self.view.sheet.x(u[0]), self.view.sheet.x(u[1])
        window = self.view.window
        if x1 < window.left or x0 > window.right or not self.view.field.top <= y <= self.view.field.bottom:
            return False
        value = u[1] - u[0] if value is None else value
        text = self.text(value, sign)
        seen = (max(x0, window.left), min(x1, window.right))
        cut = seen != (x0, x1) and x1 - x0 > window.width / 2
        if not cut and (x0 < window.left - TAIL or x1 > window.right + TAIL):
            return False
        shown = tuple(e for e in extensions if window.left - 2 <= e[0] <= window.right + 2)
        base = Dimension(key, text, value, (x0, y), (x1, y), "in", Rect(0, 0, 0, 0), shown, visible=seen if cut else None)
        base = replace(base, **more)  # type: ignore[arg-type]
        wide = self.rulers.lettering(text)
        for place in places:
            spot = self._field(seen if cut else (x0, x1), y, wide, place, aside)
            if spot is not None and self.put(replace(base, place=place, field=spot)):
                return True
        return False

    def _field(self, x: tuple[float, float], y: float, wide: float, place: Place, aside: float) -> Rect | None:
        """Where the figure of a level dimension stands, ``aside`` px farther out beside it; None without room."""
        half, length, middle = self.rulers.high / 2 + 2, x[1] - x[0], (x[0] + x[1]) / 2
        tail = TAIL if length < NARROW else 0.0
        if place == "in":
            fits = length >= wide + 2 * (CLEAR + Pen.ARROW_LONG + 6)
            return Rect(middle - wide / 2 - 2, y - half, middle + wide / 2 + 2, y + half) if fits else None
        if place == "above":
            if length < wide + 2:
                return None
            return Rect(middle - wide / 2 - 2, y - 2 * half - 2.5, middle + wide / 2 + 2, y - 2.5)
        left = x[1] + max(tail, TAIL / 2, aside) + CLEAR if place == "beyond" else x[0] - max(tail, TAIL / 2, aside) - CLEAR - wide
        return Rect(left - 2, y - half, left + wide + 2, y + half)

    def upright(self, key: str, x: float, z: tuple[float, float], feet: tuple[float, float], aside: float | None = None) -> bool:
        """An upright dimension: its figure turned along it, or beside it when it is short; the line then stands at ``aside``.

        ``feet`` are where its extension lines begin, at the height of ``z[1]`` and of ``z[0]``, px.
        """
        y0, y1 = self.view.sheet.y(z[0]), self.view.sheet.y(z[1])
        text = self.text(z[1] - z[0])
        wide, half = self.rulers.lettering(text), self.rulers.high / 2 + 2
        middle = (y0 + y1) / 2

        def at(x: float, place: Place, box: Rect) -> Dimension:
            end = x - 3 if feet[0] > x else x + 3
            lines = tuple((end, y, foot, y) for foot, y in zip(feet, (y1, y0), strict=True))
            return Dimension(key, text, z[1] - z[0], (x, y0), (x, y1), place, box, lines)

        turned = Rect(x - 2 * half - 2.5, middle - wide / 2 - 2, x - 2.5, middle + wide / 2 + 2)
        if y0 - y1 >= wide + 2 and self.put(at(x, "above", turned)):
            return True
        if aside is None:
            return False
        beside = Rect(aside - wide - 8, middle - half, aside - 4, middle + half)
        return self.put(at(aside, "aside", beside))


def figures_of(view: View, rulers: Rulers, unit: UnitName = "millimeter", focus: Focus | None = None, words: Callable[[DrawnTooth], str] = lambda t: t.survival.fate) -> Figures:
    """The figures of a drawing; ``words`` say what becomes of a tooth that does not print whole."""
    focus = focus or Focus()
    board = _Board(view, rulers, unit)
    labels = _numbers(view, rulers, focus)
    board.taken += [label.field for label in labels]
    if view.model.layers.axis == "u":
        board.taken.append(rule_field(view).grown(1))
    notes = _notes(view, rulers, words)
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
    return tuple((view.sheet.x(u), view.sheet.y(float(view.model.edge_at(u))) - 2, view.sheet.x(u), y - 3) for u in places)


def _down_from_ledge(view: View, places: Sequence[float], y: float) -> tuple[tuple[float, float, float, float], ...]:
    """Extension lines from the ledge down to a dimension line."""
    return tuple((view.sheet.x(u), view.sheet.y(float(view.model.ledge_at(u))) + 2, view.sheet.x(u), y + 3) for u in places)


def _in_hand(board: _Board, focus: Focus) -> None:
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


def _bridge(board: _Board, key: str, bridge: Bridge, number: int | None = None, strong: bool = False) -> bool:
    start, stop = bridge.start, bridge.stop
    if stop > board.view.model.length and board.view.model.closed and key == "clear_left":
        start, stop = start - board.view.model.length, stop - board.view.model.length
    ink = "attention_text" if bridge.over else "ink"
    return _level_above(board, key, (start, stop), ink=ink, strong=strong, number=number, value=bridge.clear)


def _level_above(board: _Board, key: str, u: tuple[float, float], **more: object) -> bool:
    y = _part_lane(board.view, *u)
    return board.level(key, u, y, extensions=_up_from_edge(board.view, u, y), ground=True, **more)  # type: ignore[arg-type]


def _level_below(board: _Board, key: str, u: tuple[float, float], **more: object) -> bool:
    y = board.view.low_lane
    if y < board.view.floor + 8 and not more.get("strong"):
        return False  # zoomed in so far that the lane below would lie on the drawing
    return board.level(key, u, y, extensions=_down_from_ledge(board.view, u, y), ground=True, **more)  # type: ignore[arg-type]


def _shift(board: _Board, tooth: DrawnTooth, *, strong: bool) -> None:
    """How far the tooth was moved from its place in the row."""
    low, high = sorted((tooth.base, tooth.centre))
    places: Sequence[Place] = ("beyond", "before") if tooth.moved > 0 else ("before", "beyond")
    _level_below(board, "shift", (low, high), value=tooth.moved, sign=True, places=places, strong=strong, chain=True, number=tooth.number)


def _span(board: _Board, focus: Focus) -> None:
    view = board.view
    start, stop = view.model.stops
    y = view.top_lane
    if y > view.ceiling - 8:
        return
    strong = focus.hand is not None and focus.hand.kind in ("start", "stop")
    board.level("length", (start, stop), y, strong=strong, aside=FLAG_ROOM)


def _gap(board: _Board) -> None:
    """The gap, left of the drawing."""
    view = board.view
    window, sheet, model = view.window, view.sheet, view.model
    u = min(max(sheet.u(window.left), 0.0), model.length)
    ledge, edge = float(model.ledge_at(u)), float(model.edge_at(u))
    feet = (window.left - 4, max(window.left - 4, sheet.x(0.0) - 4))
    if sheet.y(edge) > view.field.top and sheet.y(ledge) < view.field.bottom:
        board.upright("gap", window.left - 27.0, (ledge, edge), feet, window.left - 16.0)


def _far_gap(board: _Board) -> None:
    """A second figure at the other end where the gap is not the same all along."""
    view = board.view
    window, sheet, model = view.window, view.sheet, view.model
    if not view.far_gap:
        return
    u = max(min(sheet.u(window.right), model.length), 0.0)
    ledge, edge = float(model.ledge_at(u)), float(model.edge_at(u))
    feet = (min(window.right, sheet.x(float(model.profile.edge[-1, 0]))) + 4, min(window.right, sheet.x(model.length)) + 4)
    if sheet.y(edge) > view.field.top and sheet.y(ledge) < view.field.bottom:
        board.upright("gap_far", window.right + FAR_GAP - 4, (ledge, edge), feet)


def _over(board: _Board) -> None:
    """The longest bridges among those that are longer than allowed."""
    over = sorted((b for b in board.view.model.bridges if b.over), key=lambda b: -b.clear)
    for i, bridge in enumerate(over[:3]):
        _bridge(board, f"over:{i}", bridge)


def _ends(board: _Board) -> None:
    """What is left free at both ends of the span."""
    model = board.view.model
    ends = model.row_ends
    if ends is None or model.closed and not (model.wishes.start or model.wishes.stop):
        return
    start, stop = model.stops
    if ends[0] - start > 0.01:
        _level_above(board, "end_left", (start, ends[0]), places=("beyond", "in", "above"))
    if stop - ends[1] > 0.01:
        _level_above(board, "end_right", (ends[1], stop), places=("before", "in", "above"))


def _outward(count: int, start: int) -> Iterator[int]:
    """Numbers from 0 to count − 1, those near ``start`` first."""
    return iter(sorted(range(count), key=lambda i: (abs(i - start), i)))


def _pitch(board: _Board, focus: Focus, shown: frozenset[str]) -> None:
    """The pitch between two teeth that stand where the row put them."""
    teeth = board.view.model.teeth
    pairs = [
        (a, b) for a, b in zip(teeth, teeth[1:], strict=False)
        if b.number - a.number == 1 and abs(a.moved) < 0.005 and abs(b.moved) < 0.005
    ]  # fmt: skip
    if not pairs:
        return
    start = len(pairs) // 6 + 1
    if focus.pitch and focus.hand is not None:
        start = next((i for i, p in enumerate(pairs) if focus.hand.number in (p[0].number, p[1].number)), start)
    order = [pairs[i] for i in _outward(len(pairs), start)]
    bare = [p for p in order if not focus.pitch and str(p[0].number + 1) not in shown and str(p[1].number + 1) not in shown]
    for a, b in [*bare, *order][:24]:
        if _level_below(board, "pitch", (a.centre, b.centre), strong=focus.pitch, chain=True):
            return


def _foot(board: _Board, focus: Focus, shown: frozenset[str]) -> None:
    if board.view.model.plan is None or any(d.key == "foot" for d in board.done):
        return
    teeth = board.view.model.teeth
    start = next((i for i, t in enumerate(teeth) if focus.detail and t.number == focus.number), len(teeth) // 2)
    order = [teeth[i] for i in _outward(len(teeth), start)]
    bare = [t for t in order if str(t.number + 1) not in shown]
    for tooth in [*bare, *order][:16]:
        if _level_below(board, "foot", tooth.foot, number=tooth.number):
            return


def _clear(board: _Board) -> None:
    """One clear bridge that is as long as the row makes it."""
    usual = [b for b in board.view.model.bridges if not b.over and b.stop <= board.view.model.length]
    if any(d.key.startswith("clear") for d in board.done):
        return
    for i in _outward(len(usual), round(len(usual) * 0.46)):
        if _bridge(board, "clear", usual[i]):
            return


def _tip(board: _Board, focus: Focus) -> None:
    """The tip, where it is wide enough on the screen to be measured."""
    plan = board.view.model.plan
    if plan is None or plan.tip * board.view.sheet.scale < LEAST_TIP or any(d.key == "tip" for d in board.done):
        return
    teeth = board.view.model.teeth
    for i in _outward(len(teeth), len(teeth) * 3 // 4):
        if _level_above(board, "tip", teeth[i].tip, number=teeth[i].number):
            return


def _numbers(view: View, rulers: Rulers, focus: Focus) -> tuple[Label, ...]:
    """Numbers below the ledge: the ones in hand and in trouble first, then both ends, then every so many."""
    teeth = view.model.teeth
    if not teeth:
        return ()
    step = 1 if focus.detail else _step(view, len(teeth))
    ends = {teeth[0].number, teeth[-1].number}
    urgent = {focus.selected, focus.hovered, focus.hand.number if focus.hand else None}

    def rank(tooth: DrawnTooth) -> int:
        if tooth.number in urgent:
            return 0
        if tooth.survival.serious:
            return 1
        return 2 if tooth.number in ends else 3

    wanted = [t for t in teeth if rank(t) < 3 or (t.number + 1) % step == 0]
    placed: list[Label] = []
    for tooth in sorted(wanted, key=lambda t: (rank(t), t.number)):
        label = _number(view, rulers, tooth)
        if label is not None and not any(label.field.meets(p.field, 9) for p in placed):
            placed.append(label)
    return tuple(placed)


def _step(view: View, count: int) -> int:
    """Every how many teeth a number is shown."""
    plan = view.model.plan
    pitch = (plan.pitch if plan else 5.0) * view.sheet.scale
    if count <= 6 and pitch > NUMBER_ROOM:
        return 1
    return next((n for n in (5, 10, 20, 50, 100) if n * pitch >= NUMBER_ROOM), 500)


def _number(view: View, rulers: Rulers, tooth: DrawnTooth) -> Label | None:
    x = view.sheet.x(tooth.centre)
    y = view.sheet.y(float(view.model.ledge_at(tooth.centre))) + NUMBER_LANE
    text = str(tooth.number + 1)
    half, high = rulers.lettering(text) / 2 + 2, rulers.high / 2 + 2
    box = Rect(x - half, y - high, x + half, y + high)
    if not (view.window.left <= box.left and box.right <= view.window.right and y + high < view.field.bottom):
        return None
    return Label(text, (x, y), box, "attention_text" if tooth.survival.serious else "ink")


def _notes(view: View, rulers: Rulers, words: Callable[[DrawnTooth], str]) -> tuple[Note, ...]:
    """What becomes of teeth that do not print whole: neighbours with the same words share them."""
    placed: list[Note] = []
    for group in _groups(view, words):
        note = _note(view, rulers, group, words(group[0]))
        if note is not None and not any(note.field.meets(p.field, 6) for p in placed):
            placed.append(note)
    return tuple(placed)


def _groups(view: View, words: Callable[[DrawnTooth], str]) -> list[list[DrawnTooth]]:
    groups: list[list[DrawnTooth]] = []
    for i, tooth in enumerate(view.model.teeth):
        if not tooth.survival.serious or not view.window.left <= view.sheet.x(tooth.centre) <= view.window.right:
            continue
        before = view.model.teeth[i - 1] if i else None
        if groups and groups[-1][-1] is before and words(before) == words(tooth):
            groups[-1].append(tooth)
        else:
            groups.append([tooth])
    return groups


def _note(view: View, rulers: Rulers, group: list[DrawnTooth], text: str) -> Note | None:
    sheet, field = view.sheet, view.field
    wide = rulers.words(text)
    middle = (sheet.x(group[0].centre) + sheet.x(group[-1].centre)) / 2
    middle = min(max(middle, field.left + wide / 2 + 4), field.right - wide / 2 - 4)
    y = view.low_lane
    box = Rect(middle - wide / 2 - 3, y - 8, middle + wide / 2 + 3, y + 8)
    if box.bottom > field.bottom + 4 or y < view.floor + 8:
        return None
    few = group if len(group) <= 3 else [group[0], group[-1]]
    leaders = []
    for tooth in few:
        x = sheet.x(tooth.centre)
        top = sheet.y(float(view.model.ledge_at(tooth.centre))) + NUMBER_LANE + rulers.high / 2 + 4
        end = min(max(x, middle - wide * 0.34), middle + wide * 0.34)
        leaders.append((x, top, end, y - 9))
    return Note(text, (middle, y), box, tuple(leaders))
