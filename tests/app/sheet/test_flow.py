"""How boxes flow over pages: nothing is lost, nothing overlaps, and pages break where that reads well."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtWidgets import QApplication

from app.sheet.flow import Box, Column, Gap, Items, Stack, Table, Text
from app.sheet.pages import Chapter, paginated, room
from app.sheet.paper import PAPERS

PAPER = PAPERS["a4"]
WIDE, HIGH = PAPER.content_width, room(PAPER)


@dataclass(frozen=True)
class Block(Box):
    """A box of a given height."""

    high: float

    def height(self, width: float) -> float:
        return self.high


def placed(flow: list[Box]) -> list[list[tuple[float, Box]]]:
    return paginated(flow, PAPER)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.lists(st.floats(1.0, HIGH), min_size=1, max_size=40), st.sets(st.integers(0, 39)))
def test_nothing_is_lost_nothing_overlaps(qapp: QApplication, heights: list[float], starts: set[int]) -> None:
    blocks: list[Box] = [Block(h) for h in heights]
    flow = [Chapter(8.0, (b,)) if k in starts else b for k, b in enumerate(blocks)]
    pages = placed(flow)
    seen = [b for page in pages for _, b in page if not isinstance(b, Gap)]
    assert seen == blocks
    for page in pages:
        y = 0.0
        for top, box in page:
            assert top >= y - 1e-6
            y = top + box.height(WIDE)
        assert y <= HIGH + 1e-6


def table(rows: int) -> Table:
    return Table((Column("n", 1), Column("square", 1, True)), tuple((str(n), str(n * n)) for n in range(rows)))


@pytest.mark.parametrize("before", [0.0, HIGH - 30, HIGH - 55, HIGH - 90, HIGH / 2])
def test_a_long_table_goes_on_with_its_head_and_leaves_no_row_alone(qapp: QApplication, before: float) -> None:
    pages = placed([Block(before), table(150)] if before else [table(150)])
    parts = [box for page in pages for _, box in page if isinstance(box, Table)]
    assert [row for part in parts for row in part.rows] == list(table(150).rows)
    assert len(parts) > 2
    for part in parts:
        assert part.headed
        assert len(part.rows) >= 2


def test_a_list_is_numbered_on(qapp: QApplication) -> None:
    lines = tuple(f"line {n}" for n in range(120))
    parts = [box for page in placed([Items("number", lines)]) for _, box in page if isinstance(box, Items)]
    assert [line for part in parts for line in part.lines] == list(lines)
    assert [part.first for part in parts] == [1, 1 + len(parts[0].lines), 1 + sum(len(p.lines) for p in parts[:2])]


def test_a_heading_is_never_left_alone(qapp: QApplication) -> None:
    pages = placed([Block(HIGH - 40), Stack((Block(30), table(3)))])
    assert [len(page) for page in pages] == [1, 1]


def test_a_chapter_begins_on_a_new_page_when_it_fits_there_only(qapp: QApplication) -> None:
    chapter = Chapter(10.0, (Block(HIGH * 0.4), Block(HIGH * 0.4)))
    assert [len([b for _, b in p if not isinstance(b, Gap)]) for p in placed([Block(HIGH * 0.5), chapter])] == [1, 2]
    assert len(placed([Block(HIGH * 0.15), chapter])) == 1


def test_words_are_wrapped_not_cut(qapp: QApplication) -> None:
    """A string without a place to break, such as a checksum, is broken anywhere rather than run over the edge."""
    assert Text("0" * 400).height(200) > 3 * Text("0").height(200)
    assert Text("one two three").height(1e4) == Text("x").height(1e4)
