"""The words of the elevation: names of undo steps, hints for the next move, and the lines beside the detail."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QCoreApplication

from app.panels.elevation.drags import Grip, Snap
from app.panels.elevation.handles import Handle
from app.panels.elevation.model import Bridge, DrawnTooth, ElevationModel
from core.units import UnitName, format_length

translate = QCoreApplication.translate


@dataclass(frozen=True)
class Line:
    """A line beside the detail: what, how much, and a remark; ``look`` marks what wants attention."""

    label: str
    value: str
    remark: str = ""
    look: bool = False


def fate_words(tooth: DrawnTooth) -> str:
    """What becomes of a tooth, under it."""
    fate = tooth.survival
    if fate.whole:
        return translate("Elevation", "will not print")
    if fate.fate == "lost layers":
        return (
            translate("Elevation", "loses {0} layers").format(fate.layers)
            if fate.layers > 1
            else translate("Elevation", "loses 1 layer")
        )
    return ""


def drag_label(handle: Handle, *, pitch: bool = False) -> str:
    """Name of the undo step that a drag makes."""
    if handle.kind == "start":
        return translate("Elevation", "Trim the start of the span")
    if handle.kind == "stop":
        return translate("Elevation", "Trim the end of the span")
    if handle.kind.startswith("foot"):
        return translate("Elevation", "Change the foot")
    if handle.kind.startswith("tip"):
        return translate("Elevation", "Change the tip")
    return (
        translate("Elevation", "Change the pitch")
        if pitch
        else translate("Elevation", "Move tooth {0}").format((handle.number or 0) + 1)
    )


def edit_label(key: str, number: int | None) -> str:
    """Name of the undo step of a typed dimension or a key."""
    tooth = (number or 0) + 1
    names = {
        "length": translate("Elevation", "Trim the end of the span"),
        "start": translate("Elevation", "Trim the start of the span"),
        "stop": translate("Elevation", "Trim the end of the span"),
        "all_back": translate("Elevation", "All teeth back in their places"),
        "end_left": translate("Elevation", "Set the end clearance"),
        "end_right": translate("Elevation", "Set the end clearance"),
        "clear": translate("Elevation", "Set the clear bridge"),
        "pitch": translate("Elevation", "Change the pitch"),
        "foot": translate("Elevation", "Change the foot"),
        "tip": translate("Elevation", "Change the tip"),
        "leave_out": translate("Elevation", "Leave out tooth {0}").format(tooth),
        "put_back": translate("Elevation", "Put tooth {0} back").format(tooth),
        "more": translate("Elevation", "One tooth more"),
        "fewer": translate("Elevation", "One tooth fewer"),
    }
    return names.get(key, translate("Elevation", "Move tooth {0}").format(tooth))


def dimension_name(key: str) -> str:
    """What a dimension measures, for tips and for a screen reader."""
    names = {
        "length": translate("Elevation", "Length of the span"),
        "gap": translate("Elevation", "Gap"),
        "gap_far": translate("Elevation", "Gap at the far end"),
        "end_left": translate("Elevation", "End clearance"),
        "end_right": translate("Elevation", "End clearance"),
        "clear": translate("Elevation", "Clear bridge"),
        "clear_left": translate("Elevation", "Clear bridge to the left"),
        "clear_right": translate("Elevation", "Clear bridge to the right"),
        "pitch": translate("Elevation", "Pitch"),
        "foot": translate("Elevation", "Foot"),
        "tip": translate("Elevation", "Tip"),
        "shift": translate("Elevation", "Moved along the edge"),
    }
    return names.get(key, translate("Elevation", "Clear bridge"))


def snap_words(snap: Snap | None) -> str:
    """What a drag caught on."""
    if snap is None:
        return ""
    return {
        "middle": translate("Elevation", "middle of the span"),
        "equal": translate("Elevation", "its place in the row"),
        "between": translate("Elevation", "midway between its neighbours"),
        "line": translate("Elevation", "one line wide"),
        "auto": translate("Elevation", "the usual foot"),
        "feet": translate("Elevation", "feet touch"),
        "layer": translate("Elevation", "a layer boundary"),
        "end": translate("Elevation", "as far as it goes"),
    }[snap.word]


def hover_hint(handle: Handle | None, editable: bool) -> str:
    """What the next click or drag would do."""
    if handle is None:
        return ""
    if handle.kind == "dimension" and not editable:
        return translate("Elevation", "Measured on the part.")
    trim = translate("Elevation", "Drag trims the span.")
    foot = translate("Elevation", "Drag changes the foot of all teeth.")
    tip = translate("Elevation", "Drag changes the tip of all teeth.")
    tooth = translate("Elevation", "Drag moves tooth {0}, with Alt the pitch. Delete leaves it out.")
    return {
        "dimension": translate("Elevation", "Double-click types a figure."),
        "start": trim,
        "stop": trim,
        "foot_left": foot,
        "foot_right": foot,
        "tip_left": tip,
        "tip_right": tip,
        "layer": translate("Elevation", "Click or drag steps through the layers."),
        "place": translate("Elevation", "Double-click puts the tooth back."),
        "tooth": tooth.format((handle.number or 0) + 1),
    }[handle.kind]


def detail_hint(grip: Grip | None, snap: Snap | None) -> str:
    """The line under the figures of the detail."""
    if grip is None:
        return translate("Elevation", "Drag moves it · Ctrl and arrows nudge it by 0.10 mm · Delete leaves it out")
    caught = snap_words(snap)
    if caught:
        return translate("Elevation", "Caught: {0} · Ctrl lets go of it · Esc gives it up").format(caught)
    return translate("Elevation", "Let go to keep · Esc gives it up · hold Shift to move in steps of 0.10 mm")


def detail_title(grip: Grip | None, tooth: DrawnTooth, *, pitch: bool) -> str:
    if grip is None:
        return translate("Elevation", "Tooth {0}").format(tooth.number + 1)
    if grip.handle.kind.startswith("foot"):
        return translate("Elevation", "Changing the foot of the row")
    if grip.handle.kind.startswith("tip"):
        return translate("Elevation", "Changing the tip of the row")
    if grip.handle.kind in ("start", "stop"):
        return translate("Elevation", "Trimming the span")
    return (
        translate("Elevation", "Changing the pitch of the row")
        if pitch
        else translate("Elevation", "Moving tooth {0} along the edge").format(tooth.number + 1)
    )


def detail_lines(
    model: ElevationModel, tooth: DrawnTooth, unit: UnitName, grip: Grip | None, *, pitch: bool
) -> list[Line]:
    """The figures beside the detail."""
    left, right = model.neighbours(tooth.number)
    lines = [_first_line(model, tooth, unit, grip, pitch=pitch)]
    if left is not None:
        lines.append(_bridge_line(translate("Elevation", "Clear bridge, left"), left, model, unit))
    if right is not None:
        lines.append(_bridge_line(translate("Elevation", "Clear bridge, right"), right, model, unit))
    lines.append(_size_line(model, unit, grip))
    fate = fate_words(tooth)
    if fate:
        lines.append(Line(translate("Elevation", "In print"), fate, "", tooth.survival.serious))
    return lines


def centre_of(model: ElevationModel, tooth: DrawnTooth) -> float:
    """Where a tooth stands, mm: from the middle of an open span, from the start of a closed one."""
    return model.to_s(tooth.centre) if model.closed else tooth.centre - model.length / 2


def _signed(value: float, unit: UnitName) -> str:
    return format_length(value, unit).replace("-", "−")


def _first_line(model: ElevationModel, tooth: DrawnTooth, unit: UnitName, grip: Grip | None, *, pitch: bool) -> Line:
    if grip is not None and grip.handle.kind in ("start", "stop"):
        was = grip.model.stops[1] - grip.model.stops[0]
        return Line(
            translate("Elevation", "Length of the span"),
            format_length(model.stops[1] - model.stops[0], unit),
            _was(was, unit),
        )
    if pitch and grip is not None and model.plan is not None and grip.model.plan is not None:
        return Line(
            translate("Elevation", "Pitch"), format_length(model.plan.pitch, unit), _was(grip.model.plan.pitch, unit)
        )
    before = grip.model.tooth(tooth.number) if grip is not None and grip.handle.kind == "tooth" else None
    if before is None and abs(tooth.moved) >= 0.005:
        return Line(
            translate("Elevation", "Centre"),
            _signed(centre_of(model, tooth), unit),
            translate("Elevation", "moved by {0}").format(_signed(tooth.moved, unit)),
        )
    remark = _was(centre_of(grip.model, before), unit) if grip is not None and before is not None else ""
    return Line(translate("Elevation", "Centre"), _signed(centre_of(model, tooth), unit), remark)


def _was(value: float, unit: UnitName) -> str:
    return translate("Elevation", "was {0}").format(format_length(value, unit, with_unit=False).replace("-", "−"))


def _bridge_line(label: str, bridge: Bridge, model: ElevationModel, unit: UnitName) -> Line:
    limit = model.plan.clear_limit if model.plan else 0.0
    remark = (
        translate("Elevation", "longest you allow: {0}").format(format_length(limit, unit, with_unit=False))
        if bridge.over
        else ""
    )
    return Line(label, format_length(bridge.clear, unit), remark, bridge.over)


def _size_line(model: ElevationModel, unit: UnitName, grip: Grip | None) -> Line:
    plan = model.plan
    assert plan is not None
    value = f"{format_length(plan.foot, unit, with_unit=False)} / {format_length(plan.tip, unit)}"
    if grip is not None and grip.handle.corner and grip.model.plan is not None:
        old = grip.model.plan
        was = f"{format_length(old.foot, unit, with_unit=False)} / {format_length(old.tip, unit, with_unit=False)}"
        return Line(translate("Elevation", "Foot and tip"), value, translate("Elevation", "was {0}").format(was))
    return Line(translate("Elevation", "Foot and tip"), value, translate("Elevation", "as the row"))


def described(model: ElevationModel | None, selected: Handle | None, unit: UnitName) -> str:
    """The drawing in words, for a screen reader."""
    if model is None:
        return translate("Elevation", "No span is in hand.")
    low, high = model.gap
    gap = (
        format_length(low, unit)
        if high - low < 0.005
        else translate("Elevation", "{0} to {1}").format(format_length(low, unit), format_length(high, unit))
    )
    parts = [
        translate("Elevation", "Span {0} long, gap {1}.").format(
            format_length(model.stops[1] - model.stops[0], unit), gap
        )
    ]
    if model.plan is not None:
        parts.append(
            translate("Elevation", "{0} teeth, pitch {1}.").format(
                len(model.teeth), format_length(model.plan.pitch, unit)
            )
        )
    tooth = model.tooth(selected.number) if selected is not None and selected.kind == "tooth" else None
    if tooth is not None:
        parts.append(
            translate("Elevation", "Tooth {0} selected, centre at {1}.").format(
                tooth.number + 1, _signed(centre_of(model, tooth), unit)
            )
        )
        if fate_words(tooth):
            parts.append(translate("Elevation", "It {0}.").format(fate_words(tooth)))
    elif selected is not None:
        parts.append(
            translate("Elevation", "Start stop selected.")
            if selected.kind == "start"
            else translate("Elevation", "End stop selected.")
        )
    return " ".join(parts)
