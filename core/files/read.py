"""Reading: the one way from a file to a part."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from core.errors import RefusedFile, SnapcombError, UnreadableFile
from core.files import obj, ply, stl, stl_text, threemf
from core.files.content import Content, likely_unit, step_note
from core.files.formats import format_of, read_added
from core.files.guard import DEFAULT, HEAD, Format, Limits, load_raw, shown, sniff
from core.geometry.mesh import Mesh
from core.geometry.part import Part, Source
from core.units import MM_PER, UnitName

Reader = Callable[[bytes, str | None, Limits], Content]

_TEXTS: Final[dict[Format, Reader]] = {
    "stl text": stl_text.read,
    "obj": obj.read,
    "ply": ply.read,
    "3mf": threemf.read,
}

_WORDS: Final[dict[UnitName, str]] = {
    "micron": "microns", "millimeter": "millimetres", "centimeter": "centimetres", "inch": "inches", "foot": "feet",
    "meter": "metres",
}  # fmt: skip


def read_part(
    path: Path | str, unit: UnitName | None = None, *, choice: str | None = None, limits: Limits = DEFAULT
) -> Part:
    """The part that a file holds: its vertices times millimetres per unit, in the file's own frame.

    ``unit`` is what a file without a unit is in, millimetres when not given; a file that states its unit keeps it.
    ``choice`` answers a NeedsChoice of an earlier call. Everything left out or joined is counted in ``notes``.
    The file is read once; size and SHA-256 of the part's source are those of the bytes that were parsed.
    Raises UnreadableFile, RefusedFile and NeedsChoice, each naming the file and the trouble.
    """
    path = Path(path)
    with naming(path):
        data, state = load_raw(path, limits)
        content, digest, form = parse(data, path.suffix, choice, limits)
        return _part(path, content, unit, _source(path, state, digest, form, choice))


def parse(
    data: bytes | memoryview, suffix: str, choice: str | None, limits: Limits = DEFAULT
) -> tuple[Content, str, str]:
    """Content, SHA-256 and format of a file's bytes; the digest is computed beside the parsing."""
    with ThreadPoolExecutor(1) as pool:
        digest = pool.submit(hashlib.sha256, data)
        head = bytes(data[:HEAD])
        try:
            form = sniff(head, suffix, len(data))
        except UnreadableFile:
            added = format_of(head) if len(data) else None
            if added is None:
                raise
            content = read_added(added, bytes(data), choice, limits)
            return content, digest.result().hexdigest(), added.suffix.lstrip(".")
        content = stl.read(data, choice, limits) if form == "stl" else _TEXTS[form](bytes(data), choice, limits)
        return content, digest.result().hexdigest(), form


@contextmanager
def naming(path: Path) -> Iterator[None]:
    """Put the name of the file before the sentence of any error raised within."""
    try:
        yield
    except SnapcombError as error:
        name = shown(path)
        if not error.what.startswith(name):
            error.what = f"{name}: {error.what}"
            error.args = (error.what, *error.args[1:])
        raise
    except MemoryError as error:
        raise RefusedFile(
            f"{shown(path)} needs more memory than there is.", "Close programs or reduce the mesh."
        ) from error


def _source(path: Path, state: os.stat_result, digest: str, form: str, choice: str | None) -> Source:
    return Source(path, state.st_size, digest, form.split(maxsplit=1)[0], state.st_mtime_ns, choice, state.st_ctime_ns)


def _part(path: Path, content: Content, unit: UnitName | None, source: Source) -> Part:
    known: UnitName = content.unit or unit or "millimeter"
    scale = MM_PER[known]
    vertices = content.vertices.astype(np.float64, copy=False)
    mesh = Mesh(vertices if scale == 1.0 else vertices * scale, content.triangles)
    part = Part(path.stem, mesh, known, content.unit is not None, source, content.notes, content.metadata)
    notes = (*part.notes, *_unit_notes(part), *(step_note(mesh) if source.format == "stl" else ()))
    return replace(part, notes=notes)


def _unit_notes(part: Part) -> tuple[str, ...]:
    """A sentence when the size speaks for another unit than the one taken."""
    guess = likely_unit(part.mesh, part.unit)
    if guess is None or part.unit_stated:
        return ()
    largest = float((part.mesh.bounds[1] - part.mesh.bounds[0]).max())
    other = largest / part.mm_per_unit * MM_PER[guess]
    return (
        f"The file does not state its unit. Read in {_WORDS[part.unit]} the part is {largest:.4g} mm long; "
        f"in {_WORDS[guess]} it would be {other:.4g} mm. Set the unit if that is right.",
    )
