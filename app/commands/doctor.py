"""``snapcomb doctor``: what is installed, what draws, and what is missing, by the name of its package."""

from __future__ import annotations

import ctypes
import platform
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, version
from typing import Annotated

from cyclopts import Parameter

from app.commands.output import heading, one_line, say, table
from app.commands.status import DONE, NEEDS_A_PERSON, UsageError, program_version

LIBRARIES = (
    "PySide6-Essentials", "vtk", "pyvista", "pyvistaqt", "numpy", "scipy", "manifold3d", "shapely", "trimesh", "lxml",
    "msgspec", "cyclopts", "rich", "platformdirs", "Jinja2", "matplotlib",
)  # fmt: skip

#: System libraries that the window loads, each with the Debian package that holds it.
PACKAGE_OF = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
}

#: Drawn in a process of its own, because a broken driver may end it.
DRAW = """
import pyvista
plotter = pyvista.Plotter(off_screen=True, window_size=(64, 64))
plotter.add_mesh(pyvista.Sphere())
picture = plotter.screenshot(return_img=True)
told = plotter.render_window.ReportCapabilities() or ""
lines = [l.split(":", 1)[1].strip() for l in told.splitlines() if l.startswith("OpenGL renderer string")]
print((lines or ["unnamed renderer"])[0] if picture.std() > 1 else "")
"""
DRAW_SECONDS = 60


def doctor(
    *,
    integrate: Annotated[
        bool, Parameter(negative=(), help="Put Snapcomb into this person's menus and file types (Linux desktops).")
    ] = False,
    remove: Annotated[bool, Parameter(negative=(), help="Take out again what --integrate put in.")] = False,
    draw: Annotated[bool, Parameter(negative=(), show=False)] = False,
) -> int:
    """Tell versions, renderer and missing system libraries by package name; put Snapcomb into the desktop.

    Exit status: 0 the window can start, 1 something has to be installed first.
    """
    if draw:
        exec(DRAW, {})  # the program draws for itself where there is no interpreter to call
        return DONE
    if integrate or remove:
        return _desktop(integrate=integrate, remove=remove)
    heading(f"Snapcomb {program_version()} (MIT), Python {platform.python_version()}, {platform.platform()}")
    installed = [(name, _version(name)) for name in LIBRARIES]
    table(("library", "version"), installed)
    _say_extensions()
    missing = missing_packages()
    renderer, trouble = try_renderer()
    print(f"Renderer: {renderer}" if renderer else f"Renderer: none ({trouble})")
    if missing:
        print(f"Missing system libraries. On Debian install them with: apt-get install {' '.join(missing)}")
    lacking = [name for name, found in installed if found == "missing"]
    if lacking:
        print(f"Missing Python libraries: {', '.join(lacking)}. Install Snapcomb anew into its environment.")
    if not (missing or lacking) and renderer:
        print("Nothing is missing.")
    return DONE if renderer and not (missing or lacking) else NEEDS_A_PERSON


def _say_extensions() -> None:
    """What other packages add, and what is wrong with them."""
    from core.extensions import owners

    for group, owner, thing in owners():
        name = getattr(thing, "words", getattr(thing, "name", "something")) if thing is not None else "nothing"
        broken = isinstance(thing, Exception)
        told = f"cannot be loaded: {type(thing).__name__}: {thing}" if broken else str(name)
        print(one_line(f"Added by {owner} ({group}): {told}"))


def _desktop(*, integrate: bool, remove: bool) -> int:
    """Into the person's desktop, or out of it again."""
    if integrate and remove:
        raise UsageError("Snapcomb cannot be put in and taken out at once.", "Give --integrate or --remove.")
    if sys.platform != "linux":
        raise UsageError("Menu entries are written for Linux desktops only.", "Make a shortcut to “snapcomb-window”.")
    from app import desktop

    changes = desktop.integrate(program_version()) if integrate else desktop.remove()
    for change in changes:
        print(f"{change.done}: {change.path}")
    if not changes:
        print("There is nothing of Snapcomb to remove.")
    elif integrate:
        say("Take it out again with: snapcomb doctor --remove")
    return DONE


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"


def missing_packages() -> list[str]:
    """Debian packages of the system libraries that cannot be loaded; none elsewhere than on Linux."""
    if sys.platform != "linux":
        return []
    return [package for library, package in PACKAGE_OF.items() if not _loads(library)]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def try_renderer() -> tuple[str, str]:
    """The name of the renderer that drew a picture off screen, or "" and why there is none."""
    itself = [sys.executable, "doctor", "--draw"] if getattr(sys, "frozen", False) else [sys.executable, "-c", DRAW]
    try:
        done = subprocess.run(
            itself, capture_output=True, text=True, timeout=DRAW_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return "", f"no picture within {DRAW_SECONDS} s"
    except OSError as error:
        return "", str(error)
    name = done.stdout.strip().splitlines()[-1] if done.returncode == 0 and done.stdout.strip() else ""
    lines = done.stderr.strip().splitlines()
    return name, "" if name else (lines[-1] if lines else f"the drawing process ended with status {done.returncode}")
