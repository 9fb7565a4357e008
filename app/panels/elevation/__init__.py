"""The elevation: the gap of a span unrolled to a workshop drawing, on which the row is edited directly."""

from app.panels.elevation.build import elevation_model
from app.panels.elevation.export import Picture, copy_to_clipboard, image_of, paint_page, png_of, svg_of
from app.panels.elevation.fates import fates_of
from app.panels.elevation.model import ElevationModel, Survival
from app.panels.elevation.section import SpanSection, plain_section, span_section
from app.panels.elevation.widget import Elevation

__all__ = [
    "Elevation",
    "ElevationModel",
    "Picture",
    "SpanSection",
    "Survival",
    "copy_to_clipboard",
    "elevation_model",
    "fates_of",
    "image_of",
    "paint_page",
    "plain_section",
    "png_of",
    "span_section",
    "svg_of",
]
