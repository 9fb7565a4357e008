"""Putting small parts into the view, and pictures as arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage

from app.view.viewport import Viewport
from core.geometry.mesh import Mesh
from core.geometry.topology import Topology


def features(mesh: Mesh) -> NDArray[np.int32]:
    topology = Topology.of(mesh)
    return topology.edges[topology.features]


def show(view: Viewport, mesh: Mesh) -> None:
    """Put a mesh with its feature edges into the view and draw it in full."""
    view.set_mesh(mesh, features(mesh))
    view.finish()


def pixels(view: Viewport) -> NDArray[np.int16]:
    """The view as it is seen, (h, w, 3)."""
    return as_array(view.screenshot())


def as_array(picture: QImage) -> NDArray[np.int16]:
    """Red, green and blue of an image, (h, w, 3)."""
    image = picture.convertToFormat(QImage.Format.Format_RGB888)
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    return flat[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(np.int16)


def near(picture: NDArray[np.int16], colour: str, within: int = 24) -> NDArray[np.bool_]:
    """Pixels close to ``#RRGGBB``."""
    wanted = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    return np.abs(picture - wanted).max(axis=2) <= within


def purple(picture: NDArray[np.int16]) -> NDArray[np.bool_]:
    """Pixels of teeth: reddish purple, lit or in the shade (CC79A7 has 83 more red than green, 46 more blue)."""
    red, green, blue = np.moveaxis(picture, 2, 0)
    return (red - green > 30) & (blue - green > 12)


def place(view: Viewport, point: tuple[float, float, float]) -> tuple[float, float]:
    """Where a point (bed mm) is seen, logical pixels."""
    screen, _ = view.lens().project(np.array(point, float))
    return float(screen[0]), float(screen[1])
