"""Framed pages with a title block, and how boxes are laid on them: chapters whole where that can be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from app.look.drawing import frame
from app.sheet.flow import Box, Gap
from app.sheet.marks import Cells
from app.sheet.paper import AIR, PX_PER_MM, Paper
from core.job.sheet import JobSheet

#: A chapter longer than a page begins on a page of which this share is free.
FRESH: Final = 0.7
#: Height of the title block, px.
BLOCK: Final = 62.0


def _frame(paper: Paper) -> QRectF:
    left, rim = paper.filing_mm * PX_PER_MM, paper.rim_mm * PX_PER_MM
    return QRectF(left, rim, paper.width - left - rim, paper.height - 2 * rim)


def room(paper: Paper) -> float:
    """Height between the frame's top and the title block, px."""
    return _frame(paper).height() - 2 * AIR - BLOCK


@dataclass(frozen=True, eq=False)
class Chapter(Gap):
    """The start of a chapter: a new page unless it fits on this one, or is long anyway and most of this one is free.

    A compact one goes on where the last one ended as long as all but its last box fits.
    """

    boxes: tuple[Box, ...] = ()
    compact: bool = False

    def need(self, width: float) -> float:
        """The height of the whole chapter, px."""
        return self.high + sum(b.height(width) for b in self.boxes)

    def wants_page(self, y: float, width: float, room: float) -> bool:
        """Whether the chapter had better begin on a new page."""
        if self.compact:
            return y + self.high + sum(b.height(width) for b in self.boxes[:-1]) > room
        need = self.need(width)
        return y + need > room and (need <= room or y > room * (1 - FRESH))


def paginated(flow: list[Box], paper: Paper) -> list[list[tuple[float, Box]]]:
    """Boxes on pages, each with its top; what does not fit is split where it reads well, or moved on."""
    width, high_enough = paper.content_width, room(paper)
    pages: list[list[tuple[float, Box]]] = [[]]
    y, todo = 0.0, list(flow)
    while todo:
        box = todo.pop(0)
        if isinstance(box, Chapter):
            todo = [*box.boxes, *todo]
            if y > 0 and box.wants_page(y, width, high_enough):
                pages.append([])
                y = 0.0
        if isinstance(box, Gap) and y == 0:
            continue
        high = box.height(width)
        if y + high <= high_enough or (isinstance(box, Gap) and not todo):
            pages[-1].append((y, box))
            y += high
            continue
        parts = box.split(width, high_enough - y)
        if parts is not None:
            pages[-1].append((y, parts[0]))
            todo.insert(0, parts[1])
        elif y == 0:
            pages[-1].append((y, box))  # taller than a page: nothing better can be done with it
            continue
        else:
            todo.insert(0, box)
        pages.append([])
        y = 0.0
    return [p for p in pages if any(not isinstance(b, Gap) for _, b in p)] or [[]]


def paint_page(
    painter: QPainter, paper: Paper, sheet: JobSheet, page: list[tuple[float, Box]], number: tuple[int, int]
) -> None:
    """Frame, title block and the boxes of a page, ``number`` (which, of how many)."""
    rim = _frame(paper)
    frame(painter, rim, "ink")
    block = _title_block(sheet, number)
    block.paint(painter, rim.left() + 0.5, rim.bottom() - 0.5 - block.height(rim.width()), rim.width() - 1)
    for top, box in page:
        box.paint(painter, rim.left() + AIR, rim.top() + AIR + top, paper.content_width)


def _title_block(sheet: JobSheet, number: tuple[int, int]) -> Cells:
    setup = sheet.job.setup
    source = sheet.files[0].name if sheet.files else sheet.name
    scales = "as stated at each view"
    return Cells((
        (("Part", sheet.name, 3.2), ("Document", "Job sheet", 1.5), ("Made", sheet.made.isoformat(), 1.4),
         ("Sheet", f"{number[0]} of {number[1]}", 1.0)),
        (("File", source, 3.2), ("Material", setup.filament.name, 1.5),
         ("Layer, line", f"{setup.layer_height:g}, {setup.line_width:g} mm", 1.4), ("Scale", scales, 1.9 - 0.9)),
    ))  # fmt: skip
