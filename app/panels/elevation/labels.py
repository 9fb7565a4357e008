"""Tooth numbers below the ledge, and words under the teeth that do not print whole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from app.panels.elevation.figures import Focus, Label, Note, Rulers
from app.panels.elevation.model import DrawnTooth
from app.panels.elevation.sheet import Rect, View

# Logical pixels.
NUMBER_LANE = 15.0  # middle of the tooth numbers, below the ledge
NUMBER_ROOM: Final = 30.0  # between the middles of two tooth numbers


def numbers_of(view: View, rulers: Rulers, focus: Focus) -> tuple[Label, ...]:
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
    if not (
        view.window.left <= box.left
        and box.right <= view.window.right
        and view.field.top < box.top
        and box.bottom < view.field.bottom
    ):
        return None
    return Label(text, (x, y), box, "attention_text" if tooth.survival.serious else "ink")


def notes_of(view: View, rulers: Rulers, words: Callable[[DrawnTooth], str]) -> tuple[Note, ...]:
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
