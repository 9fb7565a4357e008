"""A finished picture of a part without a window, for the job sheet and for thumbnails.

Needs a QGuiApplication for the lettering; the platform "offscreen" will do, and no display.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage, QPainter

from app.look.tokens import LIGHT, Theme
from app.view import painting
from app.view.camera import Camera
from app.view.lens import Lens
from app.view.page import Page, frame_of
from app.view.rendering import Rendering
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology

F64 = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Subject:
    """What is portrayed, in bed mm: the part, its teeth, and what is painted over it."""

    part: Mesh
    topology: Topology | None = None
    added: Mesh | None = None
    ghosts: Mesh | None = None
    attention: NDArray[np.bool_] | None = None
    layers: painting.Layers | None = None


class Portraitist:
    """Makes any number of pictures of one subject, and frees its memory with ``close``."""

    def __init__(self, subject: Subject, theme: Theme = LIGHT) -> None:
        topology = Topology.of(subject.part) if subject.topology is None else subject.topology
        self._theme = theme
        self._bounds = subject.part.bounds
        self._layers = subject.layers or painting.Layers(show_sheet=False)
        self._at_the_part(self._layers)
        self._rendering = Rendering()
        self._rendering.set_theme(theme, 1.0)
        segments = subject.part.vertices[topology.edges[topology.features]]
        self._rendering.part.set_mesh(subject.part, segments, topology)
        self._rendering.teeth.set_ghosts(subject.ghosts, subject.attention)
        self._rendering.teeth.set_added(subject.added)

    def show_added(self, teeth: Mesh | None) -> None:
        """Put teeth (bed mm) on the part, or take them off again, for the pictures that follow."""
        self._rendering.teeth.set_added(teeth)

    def picture(
        self,
        size: tuple[int, int],
        turn: Callable[[Camera], Camera] | None = None,
        ratio: float = 1.0,
        *,
        layers: painting.Layers | None = None,
        bounds: F64 | None = None,
    ) -> QImage:
        """A picture of ``size`` logical px with the part framed; ``turn`` says from where it is looked at.

        ``layers`` are painted over it in place of the subject's own; ``bounds`` (2, 3), bed mm, is framed instead.
        """
        width, height = size
        drawn = self._layers if layers is None else self._at_the_part(layers)
        camera = Camera() if turn is None else turn(Camera())
        camera = camera.framed(self._bounds if bounds is None else bounds, width / height)
        pad = 0.3 * float(np.linalg.norm(np.ptp(self._bounds, axis=0)))
        lens = Lens(camera, float(width), float(height), self._bounds + np.array([[-pad], [pad]]))
        self._rendering.draw(lens, (round(width * ratio), round(height * ratio)), ratio, moving=False)
        while self._rendering.wants_more:
            self._rendering.refine()
        image = QImage(round(width * ratio), round(height * ratio), QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(ratio)
        page = Page(lens, self._theme, frame_of(width, height), self._rendering.sight)
        painter = QPainter(image)
        painting.paint(painter, page, drawn, self._rendering.picture(), ratio=ratio)
        painter.end()
        return image

    def _at_the_part(self, layers: painting.Layers) -> painting.Layers:
        layers.bounds = self._bounds
        layers.bed.set_bounds(self._bounds)
        return layers

    def close(self) -> None:
        """Free the drawing memory."""
        self._rendering.close()
