"""What the documents say, done: the scripts of DEVELOPERS.md are taken out of it, checked by mypy, and run.

The package of the example is installed by pip from a wheel that is built here (PyPA: binary distribution format,
entry points specification), so nothing is fetched.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication

import app
from app.commands.doctor import PACKAGE_OF
from app.look import theme
from app.look.tokens import LIGHT
from core import extensions
from core.design.materials import material, materials
from core.design.shapes import added_shapes, shape_names
from core.design.tooth import flank
from core.errors import SnapcombError
from core.files.formats import added_suffixes
from samples import sample_path, truth
from tests.commands.conftest import snapcomb
from tests.meshes import box

HOME = Path(app.__file__).parents[1]
PAGE = next(
    (p for p in (Path(__file__).parents[1] / "DEVELOPERS.md", Path("DEVELOPERS.md")) if p.is_file()), Path("missing")
)
pytestmark = pytest.mark.skipif(not PAGE.is_file(), reason="the documents are not beside the tests")


def blocks(heading: str, language: str) -> list[str]:
    """The blocks of code of a section."""
    text = PAGE.read_text(encoding="utf-8")
    section = re.search(rf"^## {re.escape(heading)}$(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert section is not None, heading
    return re.findall(rf"^```{language}\n(.*?)^```", section[1], re.MULTILINE | re.DOTALL)


def run(script: str, folder: Path, **environment: str) -> str:
    (folder / "script.py").write_text(script, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "script.py"], cwd=folder, capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"PYTHONPATH": str(HOME)} | environment,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def typed(script: str, folder: Path) -> None:
    """mypy --strict finds our types by ``py.typed`` and has nothing to say about the script."""
    (folder / "typed.py").write_text(script, encoding="utf-8")
    (folder / "mypy.ini").write_text("[mypy]\nstrict = True\n[mypy-numpy.*,scipy.*,trimesh.*]\nfollow_imports = skip\n")
    where = {} if HOME.name == "site-packages" else {"MYPYPATH": str(HOME)}  # mypy finds what is installed by itself
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", "mypy.ini", "typed.py"], cwd=folder, capture_output=True,
        text=True, timeout=240, check=False, env=os.environ | where,
    )  # fmt: skip
    wrong = [line for line in done.stdout.splitlines() if line.startswith("typed.py") and "error:" in line]
    assert (wrong, done.stderr) == ([], ""), done.stdout


def test_our_types_are_shipped() -> None:
    """PEP 561."""
    assert (files("core") / "py.typed").is_file()


def test_the_script_from_file_to_file_runs(tmp_path: Path) -> None:
    script = blocks("As a library", "python")[0]
    shutil.copy(sample_path("rain_hood"), tmp_path)
    assert len([line for line in script.splitlines() if line and not line.startswith(("from", "import"))]) <= 11
    said = run(script, tmp_path)
    assert said.count("teeth, tip") == 1  # the designer's own rows are enough everywhere but at the short lip
    assert "every original one as it was: True" in said
    assert (tmp_path / "rain_hood_with_teeth.stl").stat().st_size > (tmp_path / "rain_hood.stl").stat().st_size
    typed(script, tmp_path)


def test_the_script_with_an_edge_of_ones_own_runs(tmp_path: Path) -> None:
    script = blocks("As a library", "python")[1]
    shutil.copy(sample_path("rain_hood"), tmp_path)
    gap = next(g for g in truth()["samples"]["rain_hood"]["gaps"] if g["id"] == "short_lip")
    assert run(script, tmp_path) == f"4 teeth over {gap['length_mm']:.2f} mm, gap {gap['gap_min_mm']:.2f} mm\n"


# The package


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder into which pip has installed the example."""
    folder = tmp_path_factory.mktemp("garden")
    (about,), (module,) = blocks("From another package", "toml"), blocks("From another package", "python")
    project = tomllib.loads(about)["project"]
    name, version = project["name"].replace("-", "_"), project["version"]
    info, tag = f"{name}-{version}.dist-info", "py3-none-any"
    points = "".join(
        f"[{group}]\n" + "".join(f"{k} = {v}\n" for k, v in found.items())
        for group, found in project["entry-points"].items()
    )
    inside = {
        f"{name}.py": module,
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {version}\n",
        f"{info}/WHEEL": f"Wheel-Version: 1.0\nGenerator: tests\nRoot-Is-Purelib: true\nTag: {tag}\n",
        f"{info}/entry_points.txt": points,
    }
    inside[f"{info}/RECORD"] = "".join(f"{path},,\n" for path in (*inside, f"{info}/RECORD"))
    wheel = folder / f"{name}-{version}-{tag}.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in inside.items():
            archive.writestr(path, text)
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-index", "--no-deps", "--target", str(folder / "site"),
         "--disable-pip-version-check", str(wheel)], check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return folder / "site"


@pytest.fixture
def added(installed: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The example, for this process."""
    monkeypatch.syspath_prepend(str(installed))
    extensions.look_again()
    yield installed
    monkeypatch.undo()
    sys.modules.pop("snapcomb_garden", None)
    extensions.look_again()


def test_without_the_package_nothing_is_added() -> None:
    extensions.look_again()
    assert (added_shapes(), added_suffixes()) == ((), ())


def test_its_types_are_right(installed: Path, tmp_path: Path) -> None:
    typed((installed / "snapcomb_garden.py").read_text(encoding="utf-8"), tmp_path)


def test_the_shape_the_material_and_the_format_are_known(added: Path) -> None:
    assert shape_names()[-1] == "bell"
    assert added_suffixes() == (".corners",)
    assert material("flax pla") is materials()[-1]
    y, half = flank("bell", 3.0, 0.6, 1.5)
    # the cosine is as much above the straight line as below it: (foot + tip) / 2 · gap
    assert np.trapezoid(2 * half, y) == pytest.approx((3.0 + 0.6) / 2 * 1.5, rel=1e-9)


def corners(path: Path) -> Path:
    """A shelf over a ledge, as a list of corners: an edge 30 mm long, 1.6 mm above the ledge."""
    bodies = [box((0, 0, 0), (30, 4, 20)), box((0, -6, 12), (30, 0.5, 14)), box((0, -6, 0), (30, -4.8, 10.4))]
    points = np.concatenate([b.vertices[b.triangles].reshape(-1, 3) for b in bodies])
    path.write_text("corners mm\n" + "".join(f"{x} {y} {z}\n" for x, y, z in points))
    return path


def test_the_commands_take_all_three(installed: Path, tmp_path: Path) -> None:
    mesh, out = corners(tmp_path / "shelf.corners"), tmp_path / "out.stl"
    paths = {"PYTHONPATH": f"{installed}{os.pathsep}{HOME}"}
    seen = snapcomb("inspect", tmp_path, "--json", **paths)
    assert seen.json["file"] | {"triangles": 36, "unit": "millimeter"} == seen.json["file"]
    assert [round(g["gap_min_mm"], 3) for g in seen.json["gaps"]] == [1.6]
    ran = snapcomb("fit", mesh, "-o", out, "--all", "--shape", "bell", "--material", "Flax PLA", "--json",
                   "--job", tmp_path / "shelf.snapcomb", **paths)  # fmt: skip
    assert ran.code == 0, ran.err
    (row,) = ran.json["added"]
    assert row["mass_g"] == pytest.approx(row["volume_mm3"] * 1.3e-3, rel=0.01)
    assert out.is_file()
    told = snapcomb("doctor", **paths).out
    assert told.count("Added by snapcomb-garden") == 3
    kept = json.loads((tmp_path / "shelf.snapcomb").read_text(encoding="utf-8"))
    assert kept["rows"][0]["set"]["shape"] == "bell"
    lost = snapcomb("apply", tmp_path / "shelf.snapcomb", "-o", tmp_path / "again.stl")
    assert lost.code == 3
    bad = snapcomb("fit", sample_path("rain_hood"), "-o", out, "--all", "--shape", "bell")
    assert (bad.code, "There is no tooth shape “bell”" in bad.err) == (2, True)


def test_the_windows_lists_have_them(added: Path, qapp: QApplication) -> None:
    theme.apply(qapp, LIGHT)
    from app.bench import Bench
    from app.look.icons import pixmap
    from app.panels.fields import setup_fields
    from app.panels.steps.teeth_step import TeethStep
    from app.store import Store
    from app.window.files import meshes
    from app.work.runner import SyncRunner

    step = TeethStep(Bench(Store(), SyncRunner()))
    assert step.shape.segment("bell").text() == "Bell"
    ours, theirs = (pixmap(f"tooth_{n}", 24).toImage() for n in ("arc_tip", "bell"))
    assert theirs != ours
    assert any("Flax PLA" in str(f.choices) for f in setup_fields())
    assert "*.corners" in meshes()


@pytest.mark.parametrize(
    ("give", "why"),
    [
        (lambda foot, tip, gap: (np.array([0.0, gap]), np.array([tip / 2, foot / 2])), "as wide as the foot"),
        (lambda foot, tip, gap: (np.array([gap, 0.0]), np.array([foot / 2, tip / 2])), "must rise"),
        (lambda foot, tip, gap: (np.array([0.0, gap / 2, gap]), np.array([foot / 2, foot, tip / 2])), "nowhere grow"),
        (lambda foot, tip, gap: (np.array([0.0, gap]), np.array([foot / 2])), "half widths"),
        (lambda foot, tip, gap: 1 / 0, "ZeroDivisionError"),
    ],
)
def test_a_shape_that_makes_no_solid_is_a_sentence(
    added: Path, monkeypatch: pytest.MonkeyPatch, give: object, why: str
) -> None:
    import snapcomb_garden

    monkeypatch.setattr(snapcomb_garden, "BELL", type(snapcomb_garden.BELL)("bell", "Bell", give))
    extensions.look_again()
    with pytest.raises(SnapcombError, match=why):
        flank("bell", 3.0, 0.6, 1.5)


def test_a_package_that_cannot_be_loaded_is_told_and_stops_nothing(installed: Path, tmp_path: Path) -> None:
    broken = tmp_path / "site"
    shutil.copytree(installed, broken)
    (broken / "snapcomb_garden.py").write_text("raise RuntimeError('no')")
    ran = snapcomb("inspect", sample_path("bare_bracket"), PYTHONPATH=f"{broken}{os.pathsep}{HOME}")
    assert ran.code == 1
    told = snapcomb("doctor", PYTHONPATH=f"{broken}{os.pathsep}{HOME}")
    assert told.out.count("cannot be loaded: RuntimeError: no") == 3


def test_the_readme_names_the_system_packages_that_the_doctor_knows() -> None:
    """Both commands, so that what the window loads is there after either; PACKAGE_OF was checked on a bare Debian."""
    text = PAGE.with_name("README.md").read_text(encoding="utf-8")
    commands = re.findall(r"apt-get install -yq (.*?) &&", text)
    window = set(PACKAGE_OF.values())
    assert [set(words.split()) - window for words in commands] == [{"python3-venv"}, {"python3-venv", "xvfb"}]
    assert all(window <= set(words.split()) for words in commands)


def test_every_picture_of_the_documents_is_there() -> None:
    for page in (PAGE, PAGE.with_name("README.md")):
        for place in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
            if (PAGE.parent / ".github").is_dir():
                assert (PAGE.parent / place).is_file(), place
