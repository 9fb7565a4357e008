"""Everything that a sheet shows, drawn or ready to be: the data, the drawings of each row, and the pictures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from app.sheet.cross_section import CrossSection, cross_section
from app.sheet.drawings import Drawing, detail, framed, row_model, strips, telling_tooth
from app.sheet.paper import AIR, PAPERS, Paper, on_paper
from app.sheet.pictures import Pictures, pictures
from core.job.pipeline import Pipeline
from core.job.sheet import JobSheet
from core.job.sheet_row import SheetRow

Progress = Callable[[float, str], None]

#: Height over width of the pictures of the whole part, and size of a close one, px of paper.
PICTURE_ASPECT: Final = 0.62
CLOSE_WIDE, CLOSE_HIGH = 284, 104
#: Share of the width that the detail takes beside the section, and their height, px.
DETAIL_SHARE: Final = 0.62
DETAIL_HIGH: Final = 232.0
BETWEEN: Final = 16.0


@dataclass(frozen=True, eq=False)
class RowDrawings:
    """The drawings of one row."""

    strips: list[Drawing]
    detail: Drawing | None
    section: CrossSection | None


@dataclass(frozen=True, eq=False)
class Content:
    """A sheet with all that is drawn on it; ``pictures`` is None where nothing can draw them."""

    sheet: JobSheet
    rows: dict[int, RowDrawings]
    pictures: Pictures | None
    paper: Paper


def content(
    sheet: JobSheet, pipeline: Pipeline, paper: Paper = PAPERS["a4"], progress: Progress = lambda _f, _t: None
) -> Content:
    """Draw everything for a sheet. Needs a QGuiApplication, which may be without a display."""
    mesh = pipeline.bed_mesh(sheet.job)
    drawn = {}
    with on_paper():
        for k, row in enumerate(sheet.rows):
            progress(0.4 * k / len(sheet.rows), f"Drawing row {k + 1} of {len(sheet.rows)}")
            drawn[row.number] = _row(pipeline, sheet, row, paper)
    progress(0.4, "Taking pictures")
    half = (paper.content_width - BETWEEN) / 2
    topology = sheet.job.part.topology.carried_to(mesh)
    size = (round(half), round(half * PICTURE_ASPECT))
    taken = pictures(mesh, topology, sheet.rows, size, (CLOSE_WIDE, CLOSE_HIGH))
    return Content(sheet, drawn, taken, paper)


def _row(pipeline: Pipeline, sheet: JobSheet, row: SheetRow, paper: Paper) -> RowDrawings:
    mesh, wide = pipeline.mesh_below(sheet.job, row.design.row), paper.content_width
    model = row_model(mesh, row, sheet.job.setup)
    large = detail(model, wide * DETAIL_SHARE, DETAIL_HIGH)
    whole = strips(model, wide + 2 * AIR)
    tooth = telling_tooth(model)
    if tooth is None or large is None:
        return RowDrawings(whole, None, None)
    room = wide * (1 - DETAIL_SHARE) - BETWEEN
    section = cross_section(mesh, row, room, DETAIL_HIGH, number=tooth.number)
    return RowDrawings([framed(s, large, tooth.centre) for s in whole], large, section)


def elevation_words(drawn: list[Drawing]) -> str:
    """The caption of an elevation, with its scale."""
    many = f", in {len(drawn)} strips from left to right" if len(drawn) > 1 else ""
    return f"Elevation, scale {drawn[0].scale}: the gap unrolled along the edge{many}, dimensions in mm"
