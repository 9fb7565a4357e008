"""What the program remembers between runs, in a small file of the person's own configuration folder.

A setting that the person may change says its title, its page and its choices here; the preferences are built from that.
"""

from __future__ import annotations

import logging
import os
from pathlib import Path
from typing import Annotated, Any, Final, Literal, get_type_hints

import msgspec
import platformdirs
from msgspec import Meta

log = logging.getLogger(__name__)
MOST_RECENT = 12

#: Type sizes on offer, as factors of the drawn size of 13 px; the largest is 14 pt at 96 dpi (14 × 96/72 / 13).
TYPE_SCALES: Final = (0.9, 1.0, 1.15, 1.3, 1.436)


def _shown(page: str, title: str, about: str = "", **words: str) -> Meta:
    """A setting with its page, its title, a sentence about it, and the words for its choices."""
    return Meta(title=title, description=about, extra={"page": page, "words": words})


class Settings(msgspec.Struct):
    """Everything remembered. What is missing or makes no sense is the default, field by field."""

    theme: Annotated[Literal["light", "dark"], _shown("look", "Theme", light="Light", dark="Dark")] = "light"
    type_scale: Annotated[
        float, Meta(ge=0.8, le=1.6), _shown("look", "Size of letters", "The largest is 14 pt; the drawing grows along.")
    ] = 1.0
    animation: Annotated[bool, _shown("look", "Fly from view to view", "Without it the view jumps.")] = True
    language: Annotated[
        Literal["system", "en", "de"],
        _shown("look", "Language", "From the next start on.", system="As the system", en="English", de="Deutsch"),
    ] = "system"
    unit: Annotated[
        Literal["millimeter", "inch"],
        _shown("work", "Unit shown", "Files and jobs do not change.", millimeter="mm", inch="inch"),
    ] = "millimeter"
    file_limits: Annotated[
        Literal["1", "2", "4", "8"],
        _shown(
            "work", "Limits for files", "In size, memory and time of reading. From the next start on.",
            **{"1": "Usual: 20 million facets", "2": "Twice that", "4": "Four times that", "8": "Eight times that"},
        ),
    ] = "1"  # fmt: skip
    recent: list[str] = []
    folder: str = ""
    geometry: str = ""
    setup: dict[str, float | str] = {}
    #: Name of the kept setup that is worked with, "" for none; and what was printed in an unnamed one.
    setup_name: str = ""
    lessons: list[dict[str, Any]] = []
    setups: list[dict[str, Any]] = []
    materials: list[dict[str, Any]] = []
    #: Keys that the person chose, by the action's name; "" for none at all.
    shortcuts: dict[str, str] = {}
    toured: bool = False


def settings_path() -> Path:
    """Where the settings are kept; ``SNAPCOMB_CONFIG`` names another folder."""
    folder = os.environ.get("SNAPCOMB_CONFIG") or platformdirs.user_config_dir("snapcomb")
    return Path(folder) / "settings.json"


def load() -> Settings:
    """The settings, or the defaults."""
    try:
        found = msgspec.json.decode(settings_path().read_bytes())
    except FileNotFoundError:
        return Settings()
    except (OSError, msgspec.MsgspecError, UnicodeDecodeError) as problem:
        log.warning("Settings could not be read and start afresh: %s", problem)
        return Settings()
    return _sane(found if isinstance(found, dict) else {})


def _sane(found: dict[str, Any]) -> Settings:
    """Each field on its own, so that one slip in the file does not cost all the others."""
    out = Settings()
    types = get_type_hints(Settings, include_extras=True)
    for name in types.keys() & found.keys():
        try:
            setattr(out, name, msgspec.convert(found[name], types[name]))
        except msgspec.ValidationError as problem:
            log.warning("The setting %s is left at its default: %s", name, problem)
    return out


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
