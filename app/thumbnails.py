"""Small pictures of parts for the start page, drawn off the screen in a process of their own.

A picture is kept in the cache by the contents of its file, so that a copy elsewhere has one already and a changed file
gets a new one. A driver that ends the process costs the pictures, never the window; the file it died on is not tried
again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import math
import multiprocessing
import os
from collections.abc import Iterable
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QImage, QPixmap

from app.keeping.places import cache_folder
from app.look.tokens import THEMES, Theme
from core.errors import SnapcombError
from core.files.confine import confined
from core.files.read import read_part
from core.geometry.mesh import Mesh
from core.job.job_file import is_job_file, read_record

if TYPE_CHECKING:
    from core.geometry.part import Part
    from core.geometry.topology import Topology

log = logging.getLogger(__name__)

#: Pixels of a picture: twice the size of a card's, for screens of scale 2.
WIDE, HIGH, SCALE = 448, 260, 2.0
#: Widths of lines, as a factor of those in the view; how much of the height is filled.
LINES, FILLED = 1.25, 0.86
#: A face that is turned at least so much towards the eye (cosine in plan) shows its lines.
LEAST_FACING: Final = 0.3
#: Raised when pictures are drawn differently, so that the old ones are not shown any more.
EDITION: Final = 1
#: Larger files would keep the process busy for too long.
LARGEST_BYTES: Final = 150 << 20
MOST_KEPT: Final = 200
POLL_MS: Final = 80
#: The process begins so long after it is asked for, ms: the window's own first picture comes before it.
BEGIN_AFTER_MS = 300
_BLOCK: Final = 1 << 20


# What is known without drawing


def pictures_folder() -> Path:
    """Where the pictures are."""
    return cache_folder() / "pictures"


def picture_path(sha256: str, theme: str) -> Path:
    """Where the picture of a file with these contents is, or would be."""
    return pictures_folder() / f"{sha256[:40]}-{theme}-{EDITION}.png"


def known_picture(path: Path, theme: str) -> Path | None:
    """The picture of a file that has not changed since it was drawn. Reads an index, never the file itself."""
    entry = _index().get(os.path.abspath(path))
    try:
        found = path.stat()
    except OSError:
        return None
    if entry is None or entry[:2] != [found.st_size, found.st_mtime_ns]:
        return None
    picture = picture_path(str(entry[2]), theme)
    return picture if picture.exists() else None


def _index() -> dict[str, list[Any]]:
    try:
        found = json.loads((pictures_folder() / "index.json").read_bytes())
    except (OSError, ValueError):
        return {}
    entries = found.items() if isinstance(found, dict) else ()
    return {name: entry for name, entry in entries if isinstance(entry, list) and len(entry) == 3}


def _note(path: Path, sha256: str) -> None:
    """Remember what is in a file, the latest last, and forget the oldest."""
    found, index = path.stat(), _index()
    index.pop(os.path.abspath(path), None)
    index[os.path.abspath(path)] = [found.st_size, found.st_mtime_ns, sha256]
    fresh = pictures_folder() / f"index.{os.getpid()}"
    fresh.write_text(json.dumps(dict(list(index.items())[-MOST_KEPT:])), encoding="utf-8")
    os.replace(fresh, pictures_folder() / "index.json")


# Drawing, in the worker


def make_picture(path: Path, theme: str) -> Path | None:
    """The picture of a mesh file (or of the mesh of a job), drawn if there is none yet; None where that cannot be.

    A task for a worker process: it loads VTK and may, with a broken driver, take its process down.
    """
    try:
        mesh = _mesh_of(path)
        if mesh.stat().st_size > LARGEST_BYTES:
            return None
        sha256 = _digest(mesh)
        picture = picture_path(sha256, theme)
        picture.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        trying = picture.with_suffix(".trying")
        if not picture.exists():
            if trying.exists():
                return None
            trying.touch()
            with confined():
                part = read_part(mesh)
            _save(part, THEMES[theme], picture)
            _sweep()
        trying.unlink(missing_ok=True)
        _note(path, sha256)
    except (SnapcombError, OSError, MemoryError) as problem:
        log.info("There is no picture of %s: %s", path.name, problem)
        return None
    return picture


def _mesh_of(path: Path) -> Path:
    """The mesh itself, or the first place of a job's mesh that exists."""
    if not is_job_file(path):
        return path
    source = read_record(path).source
    places = [path.parent / source.name, path.parent / source.relative, Path(source.absolute)]
    return next((p for p in places if p.is_file()), path)


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def _save(part: Part, theme: Theme, picture: Path) -> None:
    image = drawn(part, theme)
    fresh = picture.with_suffix(f".{os.getpid()}")
    if image is not None and image.save(str(fresh), "PNG"):
        os.replace(fresh, picture)
    elif image is None:
        raise OSError("nothing was drawn")


def drawn(part: Part, theme: Theme, wide: int = WIDE, high: int = HIGH) -> QImage | None:
    """A part as plaster on the sheet, squared up, from its liveliest side; None where nothing can be drawn."""
    # VTK takes half a second to load, and only the process that draws needs it.
    from app.keeping.picture import composed  # noqa: PLC0415
    from app.view.camera import Camera  # noqa: PLC0415
    from app.view.lens import Lens  # noqa: PLC0415
    from app.view.rendering import FINE, Rendering  # noqa: PLC0415

    mesh, topology = turned(part)
    rendering = Rendering()
    try:
        rendering.set_theme(theme, LINES)
        rendering.part.set_mesh(mesh, mesh.vertices[topology.edges[topology.features]], topology)
        camera = Camera(azimuth=math.radians(-32.0), elevation=math.radians(24.0))
        camera = camera.framed(mesh.bounds, wide / (FILLED * high)).with_room(*([(1 - FILLED) / 2 * high] * 2), high)
        rendering.draw(Lens(camera, wide, high, mesh.bounds), (wide, high), LINES, False)
        for _ in range(2 * FINE):
            if rendering.wants_more:
                rendering.refine()
        picture = rendering.picture()
    finally:
        rendering.close()
    if picture is None or not picture.part[..., 3].any():
        return None
    return composed(picture, theme)


def turned(part: Part) -> tuple[Mesh, Topology]:
    """The part turned about the vertical so that its plan lies square and the side with most lines faces the front."""
    mesh, topology = part.mesh, part.topology
    edges = topology.edges[topology.features]
    length = np.linalg.norm(np.subtract(*(mesh.vertices[edges[:, k]] for k in (0, 1))), axis=1)
    normals = mesh.normals[topology.edge_triangles[topology.features]]
    normals[topology.edge_triangles[topology.features] < 0] = 0.0
    square = _plan_angle(mesh)
    angles = square + np.arange(4) * math.pi / 2
    # Towards the eye, which stands at −Y and a little to the left, before the part is turned by the angle.
    eyes = np.column_stack([np.sin(-angles - math.radians(32.0)), -np.cos(-angles - math.radians(32.0))])
    seen = [(length * ((normals[..., :2] @ eye) > LEAST_FACING).any(axis=1)).sum() for eye in eyes]
    angle = angles[int(np.argmax(seen))]
    turn = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1.0]])
    made = Mesh(mesh.vertices @ turn.T, mesh.triangles)
    return made, replace(topology, mesh=made)


def _plan_angle(mesh: Mesh) -> float:
    """By how much (rad) to turn the part so that the smallest rectangle round its plan lies square, long side first."""
    frame = shapely.minimum_rotated_rectangle(shapely.MultiPoint(mesh.vertices[:, :2]).convex_hull)
    if frame.geom_type != "Polygon":
        return 0.0
    sides = np.diff(shapely.get_coordinates(frame), axis=0)
    along = sides[int(np.argmax(np.linalg.norm(sides, axis=1)))]
    return -math.atan2(along[1], along[0])


def _sweep() -> None:
    """Keep the newest pictures."""
    found = sorted(pictures_folder().glob("*.png"), key=lambda p: p.stat().st_mtime)
    for old in found[: -2 * MOST_KEPT]:
        old.unlink(missing_ok=True)


def _work(connection: Connection, paths: list[Path], theme: str) -> None:
    """The whole life of the drawing process."""
    if hasattr(os, "nice"):
        os.nice(10)
    for path in paths:
        made = make_picture(path, theme)
        with contextlib.suppress(OSError):
            connection.send((path, made))
    connection.close()


# In the window


class Thumbnails(QObject):
    """Pictures by file. ``ready`` carries a file and its picture; files that get none are not told of."""

    ready = Signal(Path, Path)
    finished = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._process: Any = None
        self._replies: Connection | None = None
        self._waiting: list[Path] = []
        self._theme = ""
        self._tried: set[tuple[Path, str]] = set()
        self._poll = QTimer(self, interval=POLL_MS)
        self._poll.timeout.connect(self._look)
        self._soon = QTimer(self, singleShot=True, interval=BEGIN_AFTER_MS)
        self._soon.timeout.connect(self._begin)

    def pixmap(self, path: Path, theme: str) -> QPixmap | None:
        """The picture of a file, if it has been drawn already."""
        picture = known_picture(path, theme)
        if picture is None:
            return None
        made = QPixmap(str(picture))
        made.setDevicePixelRatio(SCALE)
        return None if made.isNull() else made

    def want(self, paths: Iterable[Path], theme: str) -> None:
        """Draw what is not known yet, once each. A request for another theme replaces the one before."""
        if theme != self._theme:
            self._end()
            self._waiting = []
        self._theme = theme
        fresh = [p for p in paths if known_picture(p, theme) is None and (p, theme) not in self._tried]
        self._waiting += [p for p in fresh if p not in self._waiting]
        if self._waiting and self._process is None:
            self._soon.start()

    def close(self) -> None:
        """Draw nothing any more."""
        self._waiting = []
        self._end()

    def _begin(self) -> None:
        if self._process is not None or not self._waiting:
            return
        paths, self._waiting = self._waiting, []
        self._tried |= {(p, self._theme) for p in paths}
        spawn = multiprocessing.get_context("spawn")
        self._replies, there = spawn.Pipe(duplex=False)
        self._process = spawn.Process(
            target=_work, args=(there, paths, self._theme), daemon=True, name="snapcomb-pictures"
        )
        self._process.start()
        there.close()
        self._poll.start()

    def _look(self) -> None:
        assert self._replies is not None
        try:
            while self._replies.poll():
                path, picture = self._replies.recv()
                if picture is not None:
                    self.ready.emit(path, picture)
                if self._replies is None:  # closed by whoever was told
                    return
        except (EOFError, OSError):
            self._end()
            if self._waiting:
                self._begin()
            else:
                self.finished.emit()

    def _end(self) -> None:
        self._soon.stop()
        self._poll.stop()
        if self._replies is not None:
            self._replies.close()
            self._replies = None
        if self._process is not None:
            self._process.terminate()
            self._process.join(2)
            self._process = None
