"""What the program remembers between runs, in a small file of the person's own configuration folder."""

from __future__ import annotations

import logging
import os
from pathlib import Path

import msgspec
import platformdirs

log = logging.getLogger(__name__)
MOST_RECENT = 12


class Settings(msgspec.Struct):
    """Everything remembered. Missing or unreadable settings are the defaults."""

    theme: str = "light"
    unit: str = "millimeter"
    recent: list[str] = []
    folder: str = ""
    geometry: str = ""
    type_scale: float = 1.0
    setup: dict[str, float | str] = {}


def settings_path() -> Path:
    """Where the settings are kept; ``SNAPCOMB_CONFIG`` names another folder."""
    folder = os.environ.get("SNAPCOMB_CONFIG") or platformdirs.user_config_dir("snapcomb")
    return Path(folder) / "settings.json"


def load() -> Settings:
    """The settings, or the defaults."""
    try:
        return msgspec.json.decode(settings_path().read_bytes(), type=Settings)
    except FileNotFoundError:
        return Settings()
    except (OSError, msgspec.MsgspecError) as problem:
        log.warning("Settings could not be read and start afresh: %s", problem)
        return Settings()


def save(settings: Settings) -> None:
    """Keep the settings; a folder that cannot be written only costs the memory."""
    path = settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_suffix(".new")
        fresh.write_bytes(msgspec.json.format(msgspec.json.encode(settings)))
        os.replace(fresh, path)
    except OSError as problem:
        log.warning("Settings could not be kept: %s", problem)


def remember_file(settings: Settings, path: Path) -> None:
    """Put a file at the head of the recent ones."""
    name = str(path)
    settings.recent = [name, *(r for r in settings.recent if r != name)][:MOST_RECENT]
    settings.folder = str(path.parent)
