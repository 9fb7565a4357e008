"""The elevation as a picture: SVG, PNG, the clipboard, or on any painter such as a printed sheet's."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import cast

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMimeData, QPointF, Qt
from PySide6.QtGui import QFontMetricsF, QGuiApplication, QImage, QPainter

from app.look.current import colour, current, set_current
from app.look.drawing import kept
from app.look.fonts import lettering_font, text_font
from app.look.tokens import THEMES, Type
from app.panels.elevation.choose_figures import figures_of
from app.panels.elevation.marks import Marks
from app.panels.elevation.model import ElevationModel
from app.panels.elevation.painter import paint_view
from app.panels.elevation.sheet import Rect, View, fitted
from app.panels.elevation.strokes import rulers, write
from app.panels.elevation.svg_painter import SvgPainter
from app.panels.elevation.words import fate_words, translate
from core.units import UnitName

HEAD = 36.0  # px for the title line
CSS_PX_PER_MM = 96 / 25.4  # a CSS pixel is 1/96 inch: CSS Values and Units 3, §6.2


@dataclass(frozen=True)
class Picture:
    """How a picture is made: size in px, unit of figures, layer lines, px to the millimetre where it is seen."""

    width: float = 1060.0
    height: float = 230.0
    unit: UnitName = "millimeter"
    layer_lines: bool = True
    px_per_mm: float = CSS_PX_PER_MM
    titled: bool = True


def paint_page(painter: QPainter, model: ElevationModel, picture: Picture, at: QPointF | None = None) -> View:
    """Paint title and drawing into ``picture`` at ``at`` (the painter's origin when left out); returns its view."""
    with kept(painter):
        if at is not None:
            painter.translate(at)
        head = HEAD if picture.titled else 0.0
        view = fitted(model, Rect(0.0, head, picture.width, picture.height))
        if picture.titled:
            _title(painter, model, picture, view.sheet.scale / picture.px_per_mm)
        marks = Marks(layer_lines=picture.layer_lines, unit=picture.unit, flags=False)
        paint_view(painter, view, figures_of(view, rulers(), picture.unit, None, fate_words), marks)
        return view


def _title(painter: QPainter, model: ElevationModel, picture: Picture, ratio: float) -> None:
    font = lettering_font(Type.VIEW_TITLE, 1.6)
    painter.setPen(colour("ink"))
    write(painter, QPointF(12, 24), translate("Elevation", "ELEVATION"), font)
    x = 12 + QFontMetricsF(font).horizontalAdvance(translate("Elevation", "ELEVATION")) + 12
    painter.setPen(colour("ink2"))
    write(painter, QPointF(x, 23), model.title, text_font(Type.TEXT))
    word = f"{ratio:.2g} : 1" if ratio >= 1 else f"1 : {1 / ratio:.2g}"
    scale = translate("Elevation", "Scale {0}").format(word)
    wide = QFontMetricsF(text_font(Type.LABEL)).horizontalAdvance(scale)
    write(painter, QPointF(picture.width - wide - 12, 23), scale, text_font(Type.LABEL))


def svg_of(model: ElevationModel, picture: Picture | None = None) -> bytes:
    """The drawing as SVG 1.1 in the light theme; its size is stated in mm, so it prints to the scale that it says."""
    picture = picture or Picture()
    title = model.title or translate("Elevation", "Elevation")
    painter = SvgPainter(picture.width, picture.height, CSS_PX_PER_MM, title)
    with _light():
        paint_page(cast(QPainter, painter), model, picture)
    return painter.text().encode()


def image_of(model: ElevationModel, picture: Picture | None = None, ratio: float = 2.0) -> QImage:
    """The drawing as an image with ``ratio`` device px to the logical one, in the light theme on paper."""
    picture = picture or Picture()
    image = QImage(round(picture.width * ratio), round(picture.height * ratio), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    dots = round(picture.px_per_mm * ratio * 1000)
    image.setDotsPerMeterX(dots)
    image.setDotsPerMeterY(dots)
    image.fill(Qt.GlobalColor.white)
    painter = QPainter(image)
    with _light():
        paint_page(painter, model, picture)
    painter.end()
    return image


@contextmanager
def _light() -> Iterator[None]:
    """Pictures leave the program, so they are light whatever the theme."""
    before = current()
    set_current(replace(THEMES["light"], paper="#FFFFFF"))
    try:
        yield
    finally:
        set_current(before)


def png_of(model: ElevationModel, picture: Picture | None = None, ratio: float = 2.0) -> bytes:
    """The drawing as a PNG file."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image_of(model, picture, ratio).save(buffer, "PNG")  # type: ignore[call-overload]
    buffer.close()
    return bytes(buffer.data().data())


def copy_to_clipboard(model: ElevationModel, picture: Picture | None = None) -> None:
    """Put the drawing on the clipboard, as an image and as SVG, so that the program pasted into can choose."""
    data = QMimeData()
    data.setImageData(image_of(model, picture))
    data.setData("image/svg+xml", QByteArray(svg_of(model, picture)))
    QGuiApplication.clipboard().setMimeData(data)


def copy_alone(model: ElevationModel, picture: Picture | None = None, *, svg: bool) -> None:
    """Put the drawing on the clipboard in one form only: as an image, or as SVG, which is also there as its text."""
    data = QMimeData()
    if svg:
        text = svg_of(model, picture)
        data.setData("image/svg+xml", QByteArray(text))
        data.setText(text.decode())
    else:
        data.setImageData(image_of(model, picture))
    QGuiApplication.clipboard().setMimeData(data)
