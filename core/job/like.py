"""Sizing a new row like one that is there, and saying what does not carry over."""

from __future__ import annotations

from dataclasses import replace

from core.design.plan import INSET_ACROSS, RowWishes
from core.design.setup import PrintSetup
from core.design.span import Span
from core.diagnose.rows_present import RowPresent


def like_row(
    pattern: RowPresent, wishes: RowWishes, span: Span | None, setup: PrintSetup
) -> tuple[RowWishes, tuple[str, ...]]:
    """Wishes with the pattern's form, foot, tip, thickness and pitch (mm), and sentences about what was left behind.

    A side tooth breaks within its layers, an upright one between them, so sizes do not mean the same strength.
    """
    words: list[str] = []
    thickness = pattern.thickness
    if span is not None:
        room = span.width - 2 * INSET_ACROSS
        if thickness > room + 2 * INSET_ACROSS:
            words.append(f"Their thickness of {thickness:.2f} mm does not fit; {room:.2f} mm are there.")
            thickness = room
        if pattern.direction != span.direction:
            words.append(
                "Those teeth break the other way through the layers; the same size will not be equally strong."
            )
        low, high = span.gap_range
        if not 0.8 * low <= pattern.height <= 1.25 * high:
            words.append(f"They are {pattern.height:.2f} mm high; here the gap is {low:.2f} to {high:.2f} mm.")
    if pattern.tip < setup.least_printable:
        words.append(f"Their tips of {pattern.tip:.2f} mm are thinner than what your setup prints.")
    if pattern.pitch - pattern.tip > setup.clear_bridge:
        words.append("Their clear bridge is longer than you allow, so the pitch was left automatic.")
    pitch = pattern.pitch if 0 < pattern.pitch - pattern.tip <= setup.clear_bridge else None
    sized = replace(
        wishes,
        shape=pattern.shape,
        foot=round(max(pattern.foot, pattern.tip), 3),
        tip=round(pattern.tip, 3),
        thickness=round(thickness, 3),
        pitch=None if pitch is None else round(pitch, 3),
        teeth=None,
    )
    return sized, tuple(words)
