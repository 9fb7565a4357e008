"""The program among the others of a person's desktop: menu entry, file types, what software lists tell, and the icon.

The places are those of the XDG Base Directory, Desktop Entry, Shared MIME-info, Icon Theme and AppStream
specifications (freedesktop.org), below the person's own data folder; nothing of the system is touched.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from core.errors import WriteFailed
from core.files.safe_write import write_safely

#: The program's name among all programs: reversed, below a top-level domain that is never given out (RFC 6762).
ID: Final = "local.snapcomb.Snapcomb"
#: The day of the version in ``pyproject.toml``.
DATE: Final = "2026-11-25"
#: Characters for which an argument of Exec is quoted, and those that are escaped within quotes.
_RESERVED: Final = set(" \t\n\"'\\><~|&;$*?#()`")
_ESCAPED: Final = '"`$\\'
_UPDATE_SECONDS: Final = 30


@dataclass(frozen=True)
class Change:
    """What was done about one file: "written", "as it was" or "removed"."""

    path: Path
    done: str


def data_home() -> Path:
    """Where programs of this person alone keep what the desktop shows of them."""
    named = os.environ.get("XDG_DATA_HOME", "")
    return Path(named) if named and Path(named).is_absolute() else Path.home() / ".local" / "share"


def wanted(version: str) -> dict[Path, bytes]:
    """Every file of the integration, relative to the data folder, with its content."""
    words = {
        "@ID@": ID, "@EXEC@": " ".join(map(_quoted, command())), "@PROGRAM@": command()[0], "@DATE@": DATE,
        "@VERSION@": version,
    }  # fmt: skip

    def filled(name: str) -> bytes:
        text = (files(__package__) / name).read_text(encoding="utf-8")
        for place, word in words.items():
            text = text.replace(place, word)
        return text.encode()

    return {
        Path("applications", f"{ID}.desktop"): filled("program.desktop"),
        Path("mime", "packages", f"{ID}.xml"): filled("types.xml"),
        Path("metainfo", f"{ID}.metainfo.xml"): filled("program.metainfo.xml"),
        Path("icons", "hicolor", "scalable", "apps", f"{ID}.svg"): (files("icons") / "window.svg").read_bytes(),
    }


def command() -> list[str]:
    """How this very installation is started."""
    if getattr(sys, "frozen", False):
        return [sys.executable]
    script = Path(sys.executable).parent / "snapcomb"
    return [str(script)] if script.is_file() else [sys.executable, "-m", "app.main"]


def integrate(version: str) -> list[Change]:
    """Write what is not there yet or differs. Raises WriteFailed for a folder that cannot be written."""
    done = []
    for name, content in wanted(version).items():
        path = data_home() / name
        if path.is_file() and path.read_bytes() == content:
            done.append(Change(path, "as it was"))
            continue
        _make_folder(path.parent)
        write_safely(path, [content], lambda _: None)
        done.append(Change(path, "written"))
    _tell_desktop()
    return done


def remove() -> list[Change]:
    """Remove what ``integrate`` writes, with the folders that are empty then."""
    done = []
    for name in wanted(""):
        path = data_home() / name
        if path.is_file():
            path.unlink()
            done.append(Change(path, "removed"))
            _tidy(path.parent)
    _tell_desktop()
    return done


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WriteFailed(
            f"The folder “{folder}” cannot be made ({error.strerror}).", "Set XDG_DATA_HOME to a folder of your own."
        ) from error


def _tidy(folder: Path) -> None:
    """Remove a folder and those above it as long as they are empty, up to the data folder."""
    while folder != data_home() and folder.is_relative_to(data_home()):
        try:
            folder.rmdir()
        except OSError:
            return
        folder = folder.parent


def _quoted(argument: str) -> str:
    """An argument of an Exec line. The string rule doubles each backslash that the quoting rule has put there."""
    plain = argument.replace("%", "%%")
    if not _RESERVED & set(plain):
        return plain
    quoted = "".join(f"\\{c}" if c in _ESCAPED else c for c in plain)
    return f'"{quoted}"'.replace("\\", "\\\\")


def _tell_desktop() -> None:
    """Have the desktop's own caches renewed where its tools are there; without them it finds out by itself."""
    for tool, folder in (("update-desktop-database", "applications"), ("update-mime-database", "mime")):
        place, found = data_home() / folder, shutil.which(tool)
        if found and place.is_dir():
            with contextlib.suppress(OSError, subprocess.TimeoutExpired):
                subprocess.run([found, str(place)], capture_output=True, timeout=_UPDATE_SECONDS, check=False)
