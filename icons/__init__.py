"""Icons, the typefaces and their licences, read as package data.

Every icon is drawn in the light theme's own colours, so that the files show as they are anywhere; the window puts the
colours of its theme in their place. ``name.16.svg`` is a drawing of its own for small sizes.
"""

from __future__ import annotations

from importlib import resources
from importlib.resources.abc import Traversable

SMALL = 19  # logical px; below this the drawing made for 16 is the clearer one


def icon_names() -> tuple[str, ...]:
    """Every icon by name, sorted."""
    files = (entry.name for entry in resources.files(__name__).iterdir())
    return tuple(sorted(n.removesuffix(".svg") for n in files if n.endswith(".svg") and not n.endswith(".16.svg")))


def icon_bytes(name: str, size: float = 24) -> bytes:
    """The SVG of icon ``name`` as drawn for ``size`` logical px. Raises KeyError for a name that is not there."""
    folder = resources.files(__name__)
    small, large = folder / f"{name}.16.svg", folder / f"{name}.svg"
    chosen = small if size < SMALL and small.is_file() else large
    if not chosen.is_file():
        raise KeyError(name)
    return chosen.read_bytes()


def font_files() -> tuple[Traversable, ...]:
    """The bundled typefaces, each under the SIL Open Font License (texts beside them)."""
    folder = resources.files(__name__) / "fonts"
    return tuple(sorted((f for f in folder.iterdir() if f.name.endswith((".otf", ".ttf"))), key=lambda f: f.name))
