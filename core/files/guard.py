"""Limits before work: what a file may be before anything in it is believed.

A file comes from the internet. It is opened only when it is an ordinary file of a sane size, it is read once, and
what it is is told from its first bytes, never from its name.
"""

from __future__ import annotations

import io
import os
import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

import numpy as np

from core.errors import RefusedFile, SnapcombError, UnreadableFile

Format = Literal["stl", "stl text", "obj", "ply", "3mf"]

MIB: Final = 1 << 20
GIB: Final = 1 << 30


@dataclass(frozen=True)
class Limits:
    """How much a file may ask for. A person raises all of it by LIMITS_VARIABLE, a caller each with ``replace``."""

    file_bytes: int = 2 * GIB
    """Bytes on disk. 4 M triangles are 0.2 GB as binary STL and about 1.2 GB as ASCII STL."""
    inflated_bytes: int = 1 * GIB
    """Bytes of all the 3MF parts that are needed, inflated. 4 M triangles are about 0.3 GB of XML."""
    inflation_ratio: float = 200.0
    """Inflated over packed bytes of one part. Model XML packs 4 to 40 times; deflate's own end is 1,032."""
    ratio_from_bytes: int = 16 * MIB
    """Below this inflated size the ratio does not matter: a small empty part may pack very well."""
    zip_entries: int = 10_000
    """Entries of a 3MF package. Plates with some hundred objects in own parts exist."""
    triangles: int = 20_000_000
    """Facets after all instances. Five times the largest part this program is meant for; about 3 GB of arrays."""
    component_depth: int = 32
    """Components within components. Real assemblies nest two or three deep."""
    instances: int = 10_000
    """Placed meshes after all components. Doubling components reach 2^32 with 32 lines of XML."""
    xml_depth: int = 64
    """Elements within elements. The core specification needs seven."""
    xml_elements: int = 1_000_000
    """Elements of a model other than vertices and triangles: colours, properties, items. About a second of parsing."""
    polygon_corners: int = 2_000
    """Corners of one polygon: ear clipping takes their square in time."""
    header_bytes: int = 1 * MIB
    """A PLY header. Real ones have some hundred bytes."""
    coordinate_mm: float = 1e9
    """Farthest coordinate, a thousand kilometres: beyond it float64 no longer resolves a micron."""
    seconds: float = 120.0
    """Time for one parse in the worker; 4 M triangles of the slowest text format need about a third."""
    memory_bytes: int = 8 * GIB
    """Memory for one parse in the worker; four times the largest file."""

    def times(self, factor: int) -> Limits:
        """Limits of size, number and time so many times as wide; ratio, depths and coordinates stay."""
        return replace(self, **{name: getattr(self, name) * factor for name in _GROWING})


_GROWING: Final = ("file_bytes", "inflated_bytes", "zip_entries", "triangles", "instances", "xml_elements", "seconds",
                   "memory_bytes")  # fmt: skip

LIMITS_VARIABLE: Final = "SNAPCOMB_LIMITS"
"""The environment variable by which a person raises the limits: a whole number from 1 to MOST_TIMES."""

MOST_TIMES: Final = 16
"""A job of that size would already be far beyond any machine that has a printer beside it."""


RAISE: Final = (
    "Reduce the mesh, or raise the limits for files: in the preferences, or by SNAPCOMB_LIMITS=2 for a command."
)
"""The next step where a limit stands in the way."""


def chosen_limits(environment: Mapping[str, str] = os.environ) -> Limits:
    """The limits as the environment has them; what makes no sense there is one times."""
    word = environment.get(LIMITS_VARIABLE, "1")
    factor = int(word) if word.isascii() and word.isdigit() and len(word) < 4 else 1
    return Limits().times(factor if 1 <= factor <= MOST_TIMES else 1)


DEFAULT: Final = chosen_limits()


def quoted(text: str | bytes, most: int = 40) -> str:
    """A piece of a file or a name, safe to show: one line, printable, not long.

    >>> quoted(b"vertx\\x00")
    '“vertx�”'
    """
    if isinstance(text, bytes):
        text = text[: 4 * most].decode("utf-8", "replace")
    short = text if len(text) <= most else text[: most - 1] + "…"
    return "“" + "".join(c if c.isprintable() else "�" for c in short) + "”"


def shown(path: Path) -> str:
    """The name of a file as a person reads it, in quotes; unprintable characters are replaced."""
    return quoted(path.name or str(path), 120)


def load(path: Path, limits: Limits = DEFAULT) -> tuple[bytes, os.stat_result]:
    """The whole file and its state when it was read; nothing but ordinary files is opened.

    Raises UnreadableFile when it is not there or cannot be read, RefusedFile for folders, devices and sizes.
    """
    data, state = load_raw(path, limits)
    return data.tobytes(), state


def load_raw(path: Path, limits: Limits = DEFAULT) -> tuple[memoryview, os.stat_result]:
    """The same without copying into an object of Python's own.

    numpy's memory comes in huge pages, which are first touched four times as fast (measured).
    """
    try:
        return _load(path, limits)
    except SnapcombError:
        raise
    except FileNotFoundError as error:
        raise UnreadableFile("There is no such file.", "Check the path; the file may have been moved.") from error
    except PermissionError as error:
        raise UnreadableFile("You may not read this file.", "Change its permissions or copy it.") from error
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the path
        raise UnreadableFile(
            f"The file cannot be read ({error}).", "Copy it to another place and try again."
        ) from error


def _load(path: Path, limits: Limits) -> tuple[memoryview, os.stat_result]:
    _vet_kind(os.stat(path))  # before opening: opening a device may already do something
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
    with open(os.open(path, flags), "rb", buffering=0) as stream:
        state = os.fstat(stream.fileno())
        _vet_kind(state)
        if state.st_size > limits.file_bytes:
            raise RefusedFile(
                f"The file has {state.st_size:,} bytes; the limit is {limits.file_bytes:,}.",
                RAISE,
            )
        data = np.empty(state.st_size, np.uint8).data
        got = _fill(stream, data)
        if got != state.st_size or stream.read(1):
            raise UnreadableFile("The file changes while it is being read.", "Wait until it is complete and try again.")
    return data.toreadonly(), state


def _fill(stream: io.FileIO, buffer: memoryview) -> int:
    """Read until the buffer is full or the file ends; returns how many bytes came."""
    at = 0
    while at < len(buffer):
        got = stream.readinto(buffer[at:])
        if not got:
            break
        at += got
    return at


def _vet_kind(state: os.stat_result) -> None:
    if stat.S_ISDIR(state.st_mode):
        raise RefusedFile("This is a folder, not a file.", "Choose a mesh file in it.")
    if not stat.S_ISREG(state.st_mode):
        raise RefusedFile("This is not an ordinary file.", "Save the data to a file and open that.")


_FOREIGN: Final[tuple[tuple[bytes, str], ...]] = (
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"ISO-10303-21", "a STEP file"),
    (b"glTF", "a binary glTF file"),
    (b"#VRML", "a VRML file"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90", "a program"),
    (b"\xff\xfe", "UTF-16 text"),
    (b"\xfe\xff", "UTF-16 text"),
    (b"<", "an XML or HTML text"),
    (b"{", "a JSON text"),
)
"""First bytes of files that people mistake for meshes, and what to call them."""

OBJ_WORDS: Final = frozenset(
    b"v vt vn vp f fo l p o g s mg mtllib usemtl usemap maplib lod bevel c_interp d_interp shadow_obj trace_obj "
    b"cstype deg bmat step curv curv2 surf parm trim hole scrv sp end con ctech stech call csh".split()
)
"""Statements of the OBJ format (the published appendix on object files, version 3.0)."""

HEAD: Final = 1 << 16
"""Bytes that tell what a file is."""

_HEAD: Final = 4096
_BOM: Final = b"\xef\xbb\xbf"


def sniff(data: bytes, suffix: str = "", size: int | None = None) -> Format:
    """What a file is, from its bytes or the first 64 KiB of them and its ``size``.

    ``suffix`` (".stl") decides only when the bytes do not.

    Raises UnreadableFile naming what the file is instead, where that can be told.
    """
    if not data:
        raise UnreadableFile("The file is empty.", "Export or download it again.")
    if data[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        return "3mf"
    if re.match(rb"ply[ \t]*[\r\n]", data):
        return "ply"
    size = len(data) if size is None else size
    if size >= 84 and size == 84 + 50 * int.from_bytes(data[80:84], "little"):
        return "stl"
    return _sniff_text(data[:_HEAD].removeprefix(_BOM).lstrip(), data, suffix.lower())


def _sniff_text(head: bytes, data: bytes, suffix: str) -> Format:
    if _looks_like_text_stl(head, data):
        return "stl text"
    for magic, what in _FOREIGN:
        if data.startswith(magic) or head.startswith(magic):
            raise UnreadableFile(f"This is {what}, not a mesh.", "Open an STL, OBJ, PLY or 3MF file.")
    if _looks_like_obj(head):
        return "obj"
    if suffix == ".stl" and len(data) >= 84:
        return "stl"
    if suffix == ".obj" and b"\0" not in head:
        return "obj"
    raise UnreadableFile("This is not a mesh that this program knows.", "Open an STL, OBJ, PLY or 3MF file.")


def _looks_like_text_stl(head: bytes, data: bytes) -> bool:
    if head[:5].lower() != b"solid" or not (len(head) == 5 or head[5:6].isspace()):
        return False
    return re.search(rb"(?i)(^|\s)(facet|endsolid)(\s|$)", data[:HEAD]) is not None or b"\0" not in head


def _looks_like_obj(head: bytes) -> bool:
    """The first statement is one of OBJ's, and no byte is one that texts never have."""
    if b"\0" in head:
        return False
    lines = (line.split(None, 1) for line in head.splitlines()[:200])
    first = next((words[0] for words in lines if words and not words[0].startswith(b"#")), b"")
    return first in OBJ_WORDS
