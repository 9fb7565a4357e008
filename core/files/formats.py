"""File formats that other packages read for us."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from core.errors import SnapcombError, UnreadableFile
from core.extensions import FORMATS, offered
from core.files.content import Content, indexed
from core.files.guard import Limits

Reader = Callable[[bytes, str | None, Limits], Content]


@dataclass(frozen=True)
class FileFormat:
    """A format that another package reads, by the entry point group ``snapcomb.formats``.

    ``suffix`` is its ending with the dot, in small letters; ``words`` its name in lists. ``knows`` tells by the first
    bytes (64 KiB at most) whether a file is one; it is asked only about files that no format of ours knows. ``read``
    gives the file's numbers, unscaled (see ``Content``), and raises UnreadableFile and RefusedFile; its ``choice`` is
    the answer to a NeedsChoice that it raised before. Such a file is never patched: the result is written anew.
    """

    suffix: str
    words: str
    knows: Callable[[bytes], bool]
    read: Reader


def added_formats() -> tuple[FileFormat, ...]:
    """Formats that installed packages read."""
    return offered(FORMATS, FileFormat)


def added_suffixes() -> tuple[str, ...]:
    """Their endings, with the dot."""
    return tuple(dict.fromkeys(f.suffix for f in added_formats()))


def format_of(head: bytes) -> FileFormat | None:
    """The added format that knows these first bytes."""
    for form in added_formats():
        try:
            if form.knows(head):
                return form
        except Exception:  # a foreign package that cannot tell does not know it
            continue
    return None


def read_added(form: FileFormat, data: bytes, choice: str | None, limits: Limits) -> Content:
    """What an added format reads, checked as our own is. Raises what it raises, and UnreadableFile for what is none."""
    try:
        content = form.read(data, choice, limits)
    except SnapcombError:
        raise
    except Exception as error:  # whatever a foreign package does
        raise _failed(form, f"it ends with {type(error).__name__}") from error
    if not isinstance(content, Content):
        raise _failed(form, "it gives no mesh")
    vertices, triangles = np.asarray(content.vertices), np.asarray(content.triangles)
    if vertices.ndim != 2 or vertices.shape[1:] != (3,) or triangles.ndim != 2 or triangles.shape[1:] != (3,):
        raise _failed(form, "its arrays are not points and triangles")
    if not len(triangles) or not np.isfinite(vertices).all():
        raise _failed(form, "it gives no facets or coordinates that are no numbers")
    if triangles.min() < 0 or triangles.max() >= len(vertices):
        raise _failed(form, "its triangles name vertices that are not there")
    if len(triangles) > limits.triangles:
        raise _failed(form, f"it gives more than {limits.triangles:,} facets")
    joined = indexed(vertices.astype(np.float64), triangles.astype(np.int64), content.unit, tuple(content.notes))
    return replace(joined, metadata=tuple(content.metadata), name=content.name)


def _failed(form: FileFormat, why: str) -> UnreadableFile:
    return UnreadableFile(f"The package that reads {form.words} failed: {why}.", "Save the mesh as STL or 3MF instead.")
