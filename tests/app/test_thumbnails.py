"""Pictures of parts for the start page, with real pixels. They are drawn off the screen, also where there is none."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from app import thumbnails
from app.look.tokens import DARK, LIGHT
from app.thumbnails import HIGH, WIDE, Thumbnails, drawn, known_picture, make_picture, turned
from core.files.read import read_part
from core.geometry.mesh import Mesh
from core.geometry.part import Part
from core.job.job import new_job
from core.job.job_file import save_job
from samples import sample_path
from tests.meshes import box


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SNAPCOMB_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    return Path(shutil.copy(sample_path("bare_bracket"), tmp_path / "bracket.stl"))


def pixels(image: QImage) -> np.ndarray:
    plain = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(plain.constBits(), np.uint8).reshape(plain.height(), plain.bytesPerLine())
    return rows[:, : 3 * plain.width()].reshape(plain.height(), plain.width(), 3).astype(int)


def rgb(colour: str) -> np.ndarray:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)])


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_a_part_stands_whole_on_the_sheet(theme: object) -> None:
    image = drawn(read_part(sample_path("rain_hood")), theme)  # type: ignore[arg-type]
    assert image is not None
    picture = pixels(image)
    assert picture.shape == (HIGH, WIDE, 3)
    sheet = (abs(picture - rgb(theme.sheet)) < 4).all(axis=2)  # type: ignore[attr-defined]
    assert sheet[:6].all()
    assert sheet[-6:].all()
    assert sheet[:, :6].all()
    assert sheet[:, -6:].all()
    rows = np.flatnonzero(~sheet.all(axis=1))
    assert 0.6 < np.ptp(rows) / HIGH < 0.95
    assert (picture.max(axis=2) < 70)[~sheet].mean() > 0.02  # its lines
    assert (picture.min(axis=2) > 150)[~sheet].mean() > 0.4  # plaster, never mid-grey


def test_a_part_is_squared_up_with_its_lively_side_in_front() -> None:
    """A plate of 40 × 20 with a post before its long side, turned by 30°: its box is 40 × 23 again, post in front."""
    plate, post = box((0, 0, 0), (40, 20, 5)), box((15, -3, 0), (20, 0, 5))
    vertices = np.vstack([plate.vertices, post.vertices])
    triangles = np.vstack([plate.triangles, post.triangles + len(plate.vertices)])
    turn = np.deg2rad(30.0)
    spin = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    made, _ = turned(Part("plate", Mesh(vertices @ spin.T, triangles.astype(np.int32))))
    assert np.ptp(made.bounds, axis=0)[:2] == pytest.approx([40.0, 23.0], abs=1e-6)
    middle = made.vertices.mean(axis=0)
    assert made.vertices[-8:].mean(axis=0)[1] < middle[1]


def test_a_picture_is_kept_by_contents(mesh: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = make_picture(mesh, "light")
    assert first is not None
    assert QImage(str(first)).width() == WIDE
    monkeypatch.setattr(thumbnails, "_save", lambda *_: pytest.fail("drawn again"))
    assert make_picture(mesh, "light") == first
    copy = Path(shutil.copy(mesh, mesh.with_name("copy.stl")))
    assert make_picture(copy, "light") == first
    assert make_picture(mesh, "light") != thumbnails.picture_path(first.name, "dark")


def test_a_changed_file_is_not_known_any_more(mesh: Path) -> None:
    assert known_picture(mesh, "light") is None
    first = make_picture(mesh, "light")
    assert known_picture(mesh, "light") == first
    assert known_picture(mesh, "dark") is None
    shutil.copy(sample_path("round_shroud"), mesh)
    assert known_picture(mesh, "light") is None
    assert make_picture(mesh, "light") not in (None, first)
    mesh.unlink()
    assert known_picture(mesh, "light") is None


def test_a_job_shows_its_mesh(mesh: Path) -> None:
    job = mesh.with_name("bracket.snapcomb")
    save_job(new_job(read_part(mesh)), job)
    assert make_picture(job, "light") == make_picture(mesh, "light")
    assert known_picture(job, "light") is not None


@pytest.mark.parametrize("content", [b"", b"solid nothing\nendsolid\n", b"\0" * 500, b"not a mesh at all"])
def test_what_is_no_mesh_has_no_picture(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "odd.stl"
    path.write_bytes(content)
    assert make_picture(path, "light") is None
    assert make_picture(tmp_path / "gone.stl", "light") is None


def test_what_the_driver_died_on_is_not_tried_again(mesh: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class DriverDiesError(BaseException):
        """Stands for a process that ends in the driver."""

    def die(*_: object) -> None:
        raise DriverDiesError

    with monkeypatch.context() as patch:
        patch.setattr(thumbnails, "_save", die)
        with pytest.raises(DriverDiesError):
            make_picture(mesh, "light")
    assert make_picture(mesh, "light") is None
    assert make_picture(mesh, "dark") is not None


def test_a_broken_index_is_made_anew(mesh: Path) -> None:
    make_picture(mesh, "light")
    (thumbnails.pictures_folder() / "index.json").write_text('["odd"')
    assert known_picture(mesh, "light") is None
    make_picture(mesh, "light")
    assert known_picture(mesh, "light") is not None


def test_the_largest_files_are_left_out(mesh: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(thumbnails, "LARGEST_BYTES", mesh.stat().st_size - 1)
    assert make_picture(mesh, "light") is None


# In the window


@pytest.fixture
def pictures(qtbot: QtBot) -> Iterator[Thumbnails]:
    made = Thumbnails()
    yield made
    made.close()


def test_pictures_come_from_a_process_of_their_own(qtbot: QtBot, pictures: Thumbnails, mesh: Path) -> None:
    odd = mesh.with_name("odd.stl")
    odd.write_bytes(b"no mesh")
    told: list[Path] = []
    pictures.ready.connect(lambda path, picture: told.append(path))
    assert pictures.pixmap(mesh, "light") is None
    with qtbot.waitSignal(pictures.finished, timeout=60_000):
        pictures.want([odd, mesh], "light")
    assert told == [mesh]
    picture = pictures.pixmap(mesh, "light")
    assert picture is not None
    assert (picture.width(), picture.devicePixelRatio()) == (WIDE, 2.0)
    pictures.want([odd, mesh], "light")
    assert pictures._process is None  # one is known, the other was tried


def test_closing_ends_the_process(qtbot: QtBot, pictures: Thumbnails, mesh: Path) -> None:
    pictures.want([mesh], "light")
    assert pictures._process is None  # the window's own first picture comes before it
    qtbot.waitUntil(lambda: pictures._process is not None, timeout=5000)
    process = pictures._process
    assert process.is_alive()
    pictures.close()
    assert not process.is_alive()
