"""The sheet as one HTML file that needs no other: drawings as SVG, pictures and typefaces within it."""

from __future__ import annotations

import base64
from importlib.resources import files
from pathlib import PurePath
from typing import Any, Final

from jinja2 import Environment, StrictUndefined
from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QImage

from app.look.fonts import LETTERING_FAMILY, TEXT_FAMILY
from app.look.tokens import LIGHT
from app.sheet import tables
from app.sheet.content import Content, RowDrawings, elevation_words
from app.sheet.drawings import Drawing, svg
from app.sheet.marks import LEVELS
from app.sheet.paper import PRINT
from icons import font_files

TEMPLATE: Final = "sheet.html.jinja"
#: The faces that the page uses, by the end of the file's name.
WEIGHTS: Final = {"Inter-Regular": (TEXT_FAMILY, 400), "Inter-SemiBold": (TEXT_FAMILY, 600),
                  "SnapcombLettering-Regular": (LETTERING_FAMILY, 400)}  # fmt: skip
STATE_SIGNS: Final = {"Done": "✓", "Look": "△", "To do": "○"}


def html_of(content: Content) -> bytes:
    """The whole page, UTF-8. Every text is escaped; only our own drawings go in as they are."""
    source = files("app.sheet").joinpath(TEMPLATE).read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = environment.from_string(source)
    sheet, taken = content.sheet, content.pictures
    text = template.render(
        sheet=sheet,
        t=tables,
        rows={number: _row(content, number, drawn) for number, drawn in content.rows.items()},
        pictures=None if taken is None else {"before": _png(taken.before), "after": _png(taken.after)},
        faces=_faces(),
        ink=PRINT.colours(),
        ground=LIGHT.paper,
        paper=content.paper.name,
        marks=STATE_SIGNS,
        levels=LEVELS,
        words={"not_inspected": tables.NOT_INSPECTED, "no_spots": tables.NO_SPOTS},
    )
    return text.encode("utf-8")


def _row(content: Content, number: int, drawn: RowDrawings) -> dict[str, Any]:
    close = None if content.pictures is None else content.pictures.close.get(number)
    detail, section = drawn.detail, drawn.section
    return {
        "elevation": elevation_words(drawn.strips),
        "strips": [_svg(s, f"Row {number}, elevation") for s in drawn.strips],
        "detail": None if detail is None else _svg(detail, f"Row {number}, detail A"),
        "detail_words": "" if detail is None else f"Detail A, scale {detail.scale}",
        "section": None if section is None
        else svg(section.width, section.height, f"Row {number}, section B–B", section.paint, f"s{number}"),
        "section_words": "" if section is None else f"Section B–B, scale {section.scale}",
        "close": None if close is None else _png(close),
    }  # fmt: skip


def _svg(drawing: Drawing, title: str) -> str:
    return svg(drawing.width, drawing.height, title, drawing.paint, "".join(c for c in title if c.isalnum()))


def _png(image: QImage) -> str:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")  # type: ignore[call-overload]
    buffer.close()
    return "data:image/png;base64," + base64.b64encode(bytes(buffer.data().data())).decode("ascii")


def _faces() -> list[dict[str, object]]:
    out: list[dict[str, object]] = []
    for file in font_files():
        stem, kind = PurePath(file.name).stem, PurePath(file.name).suffix.lstrip(".")
        if stem in WEIGHTS:
            family, weight = WEIGHTS[stem]
            data = base64.b64encode(file.read_bytes()).decode("ascii")
            out.append({"family": family, "weight": weight, "kind": kind, "data": data})
    return out
