"""The sheet as PDF: boxes laid on framed pages with a title block, all drawings as vectors, our typefaces embedded."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QRectF, QSizeF
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPainter, QPdfWriter

from app.look.drawing import pen
from app.sheet import tables
from app.sheet.content import (
    BETWEEN,
    CLOSE_HIGH,
    CLOSE_WIDE,
    DETAIL_SHARE,
    PICTURE_ASPECT,
    Content,
    RowDrawings,
    elevation_words,
)
from app.sheet.flow import Art, Beside, Box, Column, Gap, Heading, Items, Stack, Table, Text
from app.sheet.marks import FindingBox, Steps
from app.sheet.pages import Chapter, paginated, paint_page, room
from app.sheet.paper import AIR, SMALL, TINY, TITLE, on_paper
from core.job.sheet import JobSheet
from core.job.sheet_row import Fact, SheetRow

#: Least height of the picture from nearby, and what its caption takes, px.
LEAST_CLOSE, CAPTION = 62.0, 20.0
#: Up to so many rows each begins on a page of its own.
ROOMY: Final = 4
RESOLUTION: Final = 1200  # dots to the inch; drawings are vectors, so it only rounds places


def pdf_of(content: Content) -> bytes:
    """The whole document."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    sheet, paper = content.sheet, content.paper
    writer = QPdfWriter(buffer)
    writer.setResolution(RESOLUTION)
    size = QPageSize(QSizeF(paper.width_mm, paper.height_mm), QPageSize.Unit.Millimeter, paper.name)
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    writer.setTitle(f"Job sheet: {sheet.name}")
    writer.setCreator(sheet.program)
    painter = QPainter(writer)
    painter.scale(RESOLUTION / 96, RESOLUTION / 96)
    painter.setRenderHint(QPainter.RenderHint.LosslessImageRendering)
    with on_paper():
        pages = paginated(list(boxes(content)), paper)
        for number, page in enumerate(pages, start=1):
            if number > 1:
                writer.newPage()
            paint_page(painter, paper, sheet, page, (number, len(pages)))
    painter.end()
    buffer.close()
    return bytes(QByteArray(buffer.data()).data())


def boxes(content: Content) -> Iterator[Box]:
    """The whole sheet from top to bottom."""
    front, width, high = tuple(_front(content)), content.paper.content_width, room(content.paper)
    used = sum(b.height(width) for b in front)
    # What can stand anywhere fills the first page, if it fits there, and else the last.
    anywhere = [Chapter(14, tuple(_papers(content.sheet))), Chapter(14, tuple(_files(content.sheet)))]
    yield from front
    for chapter in tuple(anywhere):
        if used + chapter.need(width) <= high:
            used += chapter.need(width)
            anywhere = [left for left in anywhere if left is not chapter]
            yield chapter
    for row in content.sheet.rows:
        compact = len(content.sheet.rows) > ROOMY
        yield Chapter(22, tuple(_row(content, row, content.rows[row.number])), compact)
        yield Chapter(10, tuple(_proof(row)))
    yield Chapter(26, tuple(_handing_over(content.sheet)))
    yield from anywhere


def _image(image: QImage, wide: float, high: float, caption: str) -> Art:
    """A picture in a thin frame; what is too high for the place is cut off above and below."""
    shown = min(image.width() * high / wide, image.height())

    def draw(painter: QPainter) -> None:
        source = QRectF(0, (image.height() - shown) / 2, image.width(), shown)
        painter.drawImage(QRectF(0, 0, wide, high), image, source)
        painter.setPen(pen(0.6, "line"))
        painter.drawRect(QRectF(0, 0, wide, high))

    return Art(wide, high, draw, caption)


def _facts(facts: tuple[Fact, ...]) -> Table:
    return Table((Column("", 1.0), Column("", 1.9)), tuple((f.name, f.text) for f in facts), strong=1, headed=False)


def _front(content: Content) -> Iterator[Box]:
    sheet, half = content.sheet, (content.paper.content_width - BETWEEN) / 2
    yield Heading("JOB SHEET", aside=f"{sheet.name} · {tables.size_words(sheet)}", size=TITLE)
    yield Gap(4)
    if content.pictures is not None:
        high = half * PICTURE_ASPECT
        yield Beside(
            (
                _image(content.pictures.before, half, high, "As designed: overhang edges heavy, ledges dashed"),
                _image(content.pictures.after, half, high, "With its teeth"),
            ),
            (1, 1), BETWEEN,
        )  # fmt: skip
        yield Gap(10)
    yield Beside((Steps(sheet.steps), _facts((*sheet.added, *sheet.credits)[:9])), (1, 1))
    yield Gap(12)
    yield Stack((Heading("ROWS"), _overview(sheet)))
    if sheet.skipped:
        yield Gap(8)
        yield Items("dash", sheet.skipped)
    yield Gap(12)
    yield Stack((Heading("WEAK SPOTS", "3", _spot_words(sheet)), _spots(sheet)))


def _overview(sheet: JobSheet) -> Table:
    shares = (0.6, 0.6, 0.8, 1.6, 1.3, 1.1, 1.1, 1.1, 1.1, 1.4)
    columns = tuple(
        Column(name, share, k > 1) for k, (name, share) in enumerate(zip(tables.OVERVIEW_COLUMNS, shares, strict=True))
    )
    return Table(columns, tables.overview(sheet.rows), strong=0)


def _spot_words(sheet: JobSheet) -> str:
    if sheet.spots is None:
        return "not looked for on this sheet"
    return "" if sheet.spots else "none was found"


def _spots(sheet: JobSheet) -> Box:
    if sheet.spots is None:
        return Text(tables.NOT_INSPECTED, SMALL)
    if not sheet.spots:
        return Text(tables.NO_SPOTS, SMALL)
    shares = (0.7, 2.0, 1.1, 1.1, 1.1, 1.0, 2.6)
    columns = tuple(
        Column(name, share, 1 < k < 6) for k, (name, share) in enumerate(zip(tables.SPOT_COLUMNS, shares, strict=True))
    )
    return Table(columns, tables.spots(sheet.spots))


def _row(content: Content, row: SheetRow, drawn: RowDrawings) -> Iterator[Box]:
    words = elevation_words(drawn.strips)
    arts = [Art(s.width, s.height, s.paint, words if k == 0 else "", AIR) for k, s in enumerate(drawn.strips)]
    yield Stack((Heading(f"ROW {row.number}", "5", row.title), Text(row.where, SMALL, ink="ink2"), Gap(6), arts[0]))
    yield from arts[1:]
    yield from _details(content, drawn)
    yield Gap(6)
    shares = (2.9, 0.9, 1.0, 1.3)
    names = tables.MEASURE_COLUMNS
    columns = tuple(Column(n, s, 0 < k < 3) for k, (n, s) in enumerate(zip(names, shares, strict=True)))
    left, right = Table(columns, tables.measures(row)), (_facts(row.facts), Gap(8), _pulls(row), Gap(6))
    wide = content.paper.content_width / 2
    free = left.height(wide) - sum(b.height(wide) for b in right)
    yield Beside((left, Stack((*right, *_close(content, row, free)))), (1.2, 1.0))


def _details(content: Content, drawn: RowDrawings) -> Iterator[Box]:
    if drawn.detail is None:
        return
    wide = content.paper.content_width
    left = Art(drawn.detail.width, drawn.detail.height, drawn.detail.paint,
               f"Detail A, scale {drawn.detail.scale}", centred=False)  # fmt: skip
    if drawn.section is None:
        yield left
        return
    right = Art(drawn.section.width, drawn.section.height, drawn.section.paint,
                f"Section B–B, scale {drawn.section.scale}", centred=False)  # fmt: skip
    share = wide * DETAIL_SHARE
    yield Beside((left, right), (share, wide - share - BETWEEN), BETWEEN)


def _pulls(row: SheetRow) -> Table:
    names, shares = tables.PULL_COLUMNS, (1.7, 1.0, 1.1)
    columns = tuple(Column(n, s, k > 0) for k, (n, s) in enumerate(zip(names, shares, strict=True)))
    return Table(columns, tables.pulls(row.pulls))


def _close(content: Content, row: SheetRow, free: float) -> tuple[Box, ...]:
    """The picture from nearby, cut so that it ends where the table beside it does, if that leaves enough of it."""
    if content.pictures is None or row.number not in content.pictures.close:
        return ()
    high = min(max(free - CAPTION, LEAST_CLOSE), CLOSE_HIGH)
    return (_image(content.pictures.close[row.number], CLOSE_WIDE, high, "From nearby"),)


def _proof(row: SheetRow) -> Iterator[Box]:
    findings = row.proof.findings
    head = Heading(f"PROOF OF ROW {row.number}", "6", tables.verdict(row))
    texts = Items("dash", tables.sentences(row))
    if not findings:
        yield Stack((head, texts))
        return
    yield Stack((head, FindingBox(findings[0])))
    yield from (FindingBox(f) for f in findings[1:])
    yield Gap(4)
    yield texts


def _handing_over(sheet: JobSheet) -> Iterator[Box]:
    yield Stack((Heading("HAND OVER", "7", "tick off before you print"), Items("tick", sheet.handing_over)))
    yield Gap(10)
    order = Items("number", tables.order(sheet))
    yield Stack((Heading("TAKING IT OFF", aside="in this order; forces are estimates"), order))
    yield Gap(10)
    yield Stack((Heading("CAUTIONS"), Items("dash", sheet.cautions)))


def _papers(sheet: JobSheet) -> Iterator[Box]:
    """Part and setup beside each other, and what was noticed while reading."""
    names = tables.SETUP_COLUMNS
    columns = tuple(Column(n, s, k > 0) for k, (n, s) in enumerate(zip(names, (2.2, 1.0, 1.0), strict=True)))
    part = Stack((Heading("PART", "1"), _facts(sheet.part), Gap(8), _facts(sheet.material)))
    setup = Stack((Heading("PRINT SETUP", "2", "angles from vertical"), Table(columns, tables.setup(sheet.setup))))
    yield Beside((part, setup), (1.15, 1.0))
    if sheet.notes:
        yield Gap(8)
        yield Items("dash", sheet.notes)


def _files(sheet: JobSheet) -> Iterator[Box]:
    shares, sizes = (1.35, 1.9, 0.85, 6.3), (SMALL, SMALL, SMALL, TINY)
    each = enumerate(zip(tables.FILE_COLUMNS, shares, sizes, strict=True))
    marks = tuple(Column(name, share, k == 2, size) for k, (name, share, size) in each)
    yield Stack((Heading("FILES"), Table(marks, tables.files(sheet.files))))
