"""What the model says is there as pixels, in both themes; and pictures that leave the program."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication

from app.look import fonts, theme
from app.look.tokens import THEMES
from app.panels.elevation import Picture, Survival, image_of, svg_of
from core.design.plan import RowWishes
from tests.app.elevation import parts
from tests.app.elevation.bench import near


@pytest.fixture(params=["light", "dark"])
def tones(request, qapp):
    theme.apply(qapp, request.param)
    yield THEMES[request.param]
    theme.apply(qapp, "light")


def test_teeth_are_where_the_model_says(bench, tones):
    b = bench(parts.straight(8.0), size=(1096, 420), survival={1: Survival("will not print")})
    b.panel.set_layer_lines(False)
    image = b.image()
    for tooth in b.model.teeth:
        at = b.on_tooth(tooth.number, 0.5)
        inside = [b.colour_at(image, at + QPoint(dx, dy)) for dx in range(-5, 6) for dy in range(-5, 6)]
        lost = tooth.number == 1
        assert any(near(c, tones.attention, 40) for c in inside) == lost
        assert any(near(c, tones.attention_ground) for c in inside) == lost
        assert all(near(c, tones.tooth_fill) for c in inside) != lost
    beside = b.colour_at(image, b.at((b.tooth(0).foot[1] + b.tooth(1).foot[0]) / 2, 17.0))
    assert near(beside, tones.paper)


def test_edge_and_ledge_have_their_own_lines(bench, tones):
    b = bench(parts.straight(8.0), size=(1096, 420))
    image = b.image()
    middle = (b.tooth(0).tip[1] + b.tooth(1).tip[0]) / 2
    assert near(b.colour_at(image, b.at(middle, 18.0)), tones.edge, 30)
    row = [b.colour_at(image, QPoint(x, b.at(0, 15.6).y())) for x in range(b.at(0.5, 0).x(), b.at(7.5, 0).x())]
    blue = sum(near(c, tones.ledge, 40) for c in row)
    assert 0.5 * len(row) < blue < 0.85 * len(row)  # dashed 9 to 4.5: two thirds


def test_a_tooth_is_drawn_as_wide_as_it_is(bench, tones):
    """Counted in pixels: foot 2.0 and tip 0.45 seen halfway up are 1.225 wide, whatever way they are measured."""
    b = bench(parts.straight(8.0), size=(1096, 420))
    b.panel.set_layer_lines(False)
    image = b.image()
    y, x = b.on_tooth(0, 0.5).y(), b.on_tooth(0, 0.5).x()
    fill = QColor(tones.tooth_fill)
    run = [i for i in range(x - 80, x + 80) if near(image.pixelColor(i, y), fill.name(), 6)]
    wide = (run[-1] - run[0] + 1 + 1.5) / b.view.sheet.scale  # half the outline on both sides
    assert wide == pytest.approx(1.225, abs=2.0 / b.view.sheet.scale)


def test_standing_teeth_are_hatched_in_ink_not_coloured(bench, tones):
    b = bench(parts.with_teeth(), size=(1096, 300))
    image = b.image()
    centre = b.model.section.standing[1]
    box = [b.colour_at(image, b.at((centre.tip[0] + centre.tip[1]) / 2, z / 100)) for z in range(1590, 1770, 4)]
    assert any(near(c, tones.ink, 60) for c in box)
    assert any(near(c, tones.sheet, 20) for c in box)
    assert not any(near(c, tones.tooth_fill, 6) for c in box)


def test_left_out_and_layers_show(bench, tones):
    b = bench(parts.straight(8.0), size=(1096, 420), wishes=RowWishes(left_out=(1,)))
    with_lines, y = b.image(), round(b.view.sheet.y(16.6))
    b.panel.set_layer_lines(False)
    without = b.image()
    x = b.at(b.tooth(0).foot[1] + 0.15, 0).x()
    column = range(y - 3, y + 4)
    assert any(with_lines.pixelColor(x, k) != without.pixelColor(x, k) for k in column)
    assert all(near(without.pixelColor(x, k), tones.paper) for k in column)


def test_larger_type_needs_no_cut_text(bench, qapp):
    fonts.set_scale(14 / 13)
    theme.apply(qapp, "light")
    try:
        b = bench()
        b.image()
        assert b.canvas.figures.dimension("length") is not None
    finally:
        fonts.set_scale(1.0)
        theme.apply(qapp, "light")


def test_svg_stands_on_its_own(bench):
    b = bench(survival={3: Survival("will not print")})
    root = ElementTree.fromstring(b.panel.svg())
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == f"{space}svg"
    assert root.find(f"{space}title").text == "Front lip, seen from the front"
    assert root.findall(f".//{space}text") == []  # letters are outlines: our faces may be missing elsewhere
    defined = {c.get("id") for c in root.iter(f"{space}clipPath")}
    used = {m for e in root.iter() for m in re.findall(r"url\(#(.*?)\)", e.get("clip-path") or "")}
    assert used <= defined
    fills = {e.get("fill") for e in root.iter(f"{space}path")}
    light = THEMES["light"]
    assert {light.tooth_fill.lower(), light.attention_ground.lower()} <= fills


def test_svg_is_drawn_to_the_scale_that_it_says(bench):
    """1/96 inch to the CSS pixel (CSS Values and Units 3, §6.2)."""
    b = bench()
    picture = Picture(width=960)
    root = ElementTree.fromstring(svg_of(b.model, picture))
    assert root.get("width") == "254.000mm"
    assert root.get("viewBox") == "0 0 960 230"


def test_pictures_are_light_whatever_the_theme(bench, tones):
    b = bench()
    image = image_of(b.model, ratio=1.0)
    assert image.pixelColor(2, 2) == QColor("#ffffff")
    assert QColor(theme.current().paper) == QColor(tones.paper)


def test_png_and_clipboard(bench):
    b = bench()
    picture = QImage.fromData(b.panel.png())
    assert picture.width() == 2 * b.panel.picture().width
    assert b.panel.copy()
    data = QApplication.clipboard().mimeData()
    assert data.hasImage()
    assert bytes(data.data("image/svg+xml").data()).startswith(b"<?xml")


SCRIPT = """
import sys
from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QApplication
from app.look import theme
from app.look.tokens import LIGHT
from tests.app.elevation import parts
from tests.app.elevation.bench import CTRL, Bench, near

app = QApplication(sys.argv)
theme.apply(app, LIGHT)
b = Bench(parts.straight(), size=(1000, 208))
b.panel.show()
b.panel.set_layer_lines(False)
b.settle()
scale = float(sys.argv[1])
assert b.canvas.devicePixelRatioF() == scale, b.canvas.devicePixelRatioF()
image = b.image()
assert image.width() == round(1000 * scale), image.width()
for tooth in b.model.teeth:
    assert near(b.colour_at(image, b.on_tooth(tooth.number)), LIGHT.tooth_fill, 30), tooth.number
before = b.tooth(5).centre
b.drag(b.on_tooth(5), (14, 0), CTRL)
assert abs(b.tooth(5).centre - before - 14 / b.view.sheet.scale) < 0.011
b.drag(b.on_stop(0), (40, 0))
assert abs(b.wishes.start - 40 / b.view.sheet.scale) < 0.02
b.double_click(b.on_figure("foot"))
b.type("2.4")
assert abs(b.plan.foot - 2.4) < 1e-9
assert len(b.steps) == 3
print("as drawn")
"""


@pytest.mark.parametrize("scale", ["1.5", "2"])
def test_other_device_scales(scale):
    """Device scale is fixed for a process."""
    root = Path(__file__).parents[3]
    environment = {**os.environ, "QT_SCALE_FACTOR": scale, "PYTHONPATH": os.pathsep.join([str(root), *sys.path])}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, scale], env=environment, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "as drawn" in done.stdout
