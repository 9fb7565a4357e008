"""The drawing helpers put ink where drawing practice wants it."""

from __future__ import annotations

import math

import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath

from app.look import drawing, theme
from app.look.title_block import title_block

WHITE = QColor("#FFFFFF")


@pytest.fixture
def canvas(dressed: str) -> tuple[QImage, QPainter]:
    image = QImage(300, 200, QImage.Format.Format_ARGB32)
    image.fill(WHITE if dressed == "light" else QColor("#000000"))
    painter = QPainter(image)
    yield image, painter
    if painter.isActive():
        painter.end()


def ink_rows(image: QImage, x: int) -> list[int]:
    ground = image.pixelColor(0, 0)
    return [y for y in range(image.height()) if _differs(image.pixelColor(x, y), ground)]


def ink_columns(image: QImage, y: int) -> list[int]:
    ground = image.pixelColor(0, 0)
    return [x for x in range(image.width()) if _differs(image.pixelColor(x, y), ground)]


def _differs(a: QColor, b: QColor) -> bool:
    return abs(a.lightness() - b.lightness()) > 40


def test_long_dimension_is_broken_by_its_figure(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    field = drawing.dimension(painter, QPointF(50, 100.5), QPointF(250, 100.5), "72.00")
    painter.end()
    assert field.center().x() == pytest.approx(150, abs=1)
    columns = ink_columns(image, 100)
    assert 50 <= min(columns) <= 52
    assert 247 <= max(columns) <= 250  # arrowheads inside, points at the ends
    gap = [x for x in range(round(field.left()) - 1, round(field.left()) + 1) if x in columns]
    assert gap == []


def test_short_dimension_has_its_arrowheads_outside_and_its_figure_beyond(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    field = drawing.dimension(painter, QPointF(100, 100.5), QPointF(108, 100.5), "1.00")
    painter.end()
    assert field.left() > 108
    assert min(ink_columns(image, 100)) < 100 - 8


def test_upright_figure_is_read_from_the_right(canvas: tuple[QImage, QPainter]) -> None:
    _, painter = canvas
    field = drawing.dimension(painter, QPointF(100, 180), QPointF(100, 20), "2.40")
    assert field.height() > field.width()
    assert field.center().y() == pytest.approx(100, abs=1)


def test_no_length_draws_nothing(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    assert drawing.dimension(painter, QPointF(5, 50), QPointF(5, 50), "0").isEmpty()
    painter.end()
    assert ink_rows(image, 5) == []


def test_extension_line_leaves_a_gap_and_passes_the_dimension(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    drawing.extension_line(painter, QPointF(100.5, 150), QPointF(100.5, 50), "ink")
    painter.end()
    rows = ink_rows(image, 100)
    assert min(rows) == pytest.approx(50 - drawing_overshoot(), abs=1)
    assert max(rows) <= 150 - 2


def drawing_overshoot() -> float:
    from app.look.strokes import OVERSHOOT

    return OVERSHOOT


@pytest.mark.parametrize("rising", [True, False])
def test_hatching_stands_at_45_degrees_and_keeps_its_step(canvas: tuple[QImage, QPainter], rising: bool) -> None:
    image, painter = canvas
    area = QPainterPath()
    area.addRect(QRectF(50, 50, 120, 80))
    drawing.hatch(painter, area, ink=QColor("#808080"), step=9, rising=rising, width=1.0)
    painter.end()
    starts = [_runs(ink_columns_soft(image, y)) for y in (80, 90)]
    shift = -10 if rising else 10  # ten px down, an edge that rises to the right moves ten px left
    pitch = 9 * math.sqrt(2)
    for x in starts[0]:
        if 70 < x < 150:
            assert min(abs(x + shift - other) for other in starts[1]) <= 1.5
    steps = [b - a for a, b in zip(starts[0], starts[0][1:], strict=False)]
    assert sum(steps) / len(steps) == pytest.approx(pitch, abs=0.5)
    assert ink_columns_soft(image, 45) == []  # nothing outside of the area


def ink_columns_soft(image: QImage, y: int) -> list[int]:
    ground = image.pixelColor(0, 0)
    return [x for x in range(image.width()) if abs(image.pixelColor(x, y).lightness() - ground.lightness()) > 25]


def _runs(columns: list[int]) -> list[float]:
    runs: list[list[int]] = []
    for x in columns:
        if runs and x - runs[-1][-1] == 1:
            runs[-1].append(x)
        else:
            runs.append([x])
    return [sum(run) / len(run) for run in runs]


def test_hatching_of_a_moved_area_keeps_its_lines(dressed: str) -> None:
    def lines(left: float) -> set[tuple[int, int]]:
        image = QImage(200, 100, QImage.Format.Format_ARGB32)
        image.fill(Qt.GlobalColor.white)
        painter = QPainter(image)
        area = QPainterPath()
        area.addRect(QRectF(left, 20, 100, 50))
        drawing.hatch(painter, area, ink=QColor("#000000"))
        painter.end()
        return {(x, y) for x in range(60, 100) for y in range(25, 65) if image.pixelColor(x, y).lightness() < 200}

    assert lines(20) == lines(27)


@pytest.mark.parametrize(
    ("most", "length"), [(1.0, 1.0), (1.9, 1.0), (2.0, 2.0), (4.99, 2.0), (7.3, 5.0), (0.03, 0.02), (120, 100)]
)
def test_scale_bar_steps_are_one_two_five(most: float, length: float) -> None:
    assert drawing.nice_length(most) == pytest.approx(length)


def test_scale_bar_is_to_scale(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    drawing.scale_bar(painter, QPointF(30, 100), 4.0, room=200, parts=3)  # 16.7 a part at most: 10 each, 120 px
    painter.end()
    columns = ink_columns(image, 102)
    assert max(columns) - min(columns) == pytest.approx(120, abs=2)


def test_break_line_ends_where_it_should_and_is_the_same_each_time() -> None:
    a, b = QPointF(10, 40), QPointF(210, 40)
    first, second = drawing.break_line(a, b), drawing.break_line(a, b)
    assert first == second
    assert (first.pointAtPercent(0), first.pointAtPercent(1)) == (a, b)
    assert 0.5 < first.boundingRect().height() < 8


def test_frame_marks_the_middle_of_each_side(canvas: tuple[QImage, QPainter]) -> None:
    image, painter = canvas
    drawing.frame(painter, QRectF(20, 20, 260, 160))
    painter.end()
    assert min(ink_rows(image, 150)) < 20 - 3
    assert max(ink_rows(image, 150)) > 180 + 2
    assert min(ink_columns(image, 100)) < 20 - 3


def test_title_block_sits_in_its_corner(canvas: tuple[QImage, QPainter]) -> None:
    _, painter = canvas
    block = title_block(painter, QPointF(290, 190), [["hood.stl", "PLA"], ["1 × 2 × 3 mm", "layer 0.20"]])
    assert block.bottomRight() == QPointF(290, 190)
    assert block.width() >= 2 * 96


def test_painter_is_left_as_found(canvas: tuple[QImage, QPainter]) -> None:
    _, painter = canvas
    before = (painter.pen(), painter.brush(), painter.font(), painter.transform(), painter.renderHints())
    drawing.dimension(painter, QPointF(0, 50), QPointF(200, 50), "5")
    drawing.balloon(painter, QPointF(50, 50), "3", filled=True)
    drawing.leader(painter, QPointF(10, 10), QPointF(40, 30), QPointF(60, 30), halo=theme.colour("sheet"))
    drawing.frame(painter, QRectF(5, 5, 100, 100))
    drawing.corner_marks(painter, QRectF(5, 5, 100, 100))
    assert (painter.pen(), painter.brush(), painter.font(), painter.transform(), painter.renderHints()) == before
