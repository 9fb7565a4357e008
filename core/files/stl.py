"""Binary STL: 80 bytes of header, a uint32 count, 50 bytes a facet, little-endian, no unit.

Source: 3D Systems, Stereolithography Interface Specification (1989), reprinted in Burns, Automated Fabrication, §6.5.
File size = 84 + 50 n. A file whose size says something else is not guessed at: the person chooses.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import NeedsChoice, UnreadableFile
from core.files.content import Added, Content, counted, vet_count, vet_numbers, welded
from core.files.guard import DEFAULT, Limits
from core.files.safe_write import Digest, Pieces, Region
from core.geometry.mesh import F64, I32, cross, dot

FACET: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
"""One facet record; ``itemsize`` is 50."""

HEAD: Final = 84
"""Bytes before the first record."""

_NUMBERS: Final = 48
"""Bytes of a record before the attribute: twelve float32."""

_CHUNK: Final = 1 << 14
"""Facets made into records at a time: the scratch arrays stay in a core's cache."""

TAKE_WHOLE: Final = "take_whole_facets"
TAKE_DECLARED: Final = "take_declared_facets"


def read(data: bytes | memoryview, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """The mesh of a binary STL file, file numbers, welded bit for bit.

    Raises NeedsChoice ("take_whole_facets", "take_declared_facets") when count and size disagree,
    UnreadableFile and RefusedFile for what cannot be trusted.
    """
    _vet_whole(data)
    count, notes = facet_count(bytes(data[:HEAD]), len(data), choice)
    vet_count(count, limits)
    records = facets(data, count)
    corners = np.ascontiguousarray(records["corners"])
    vet_numbers(corners.reshape(-1, 3), limits)
    return welded(corners, notes=notes)


def facets(data: bytes | memoryview, count: int) -> NDArray[np.void]:
    """The first ``count`` records as a read-only view of the bytes, (count,) of FACET, file numbers."""
    return np.frombuffer(data, FACET, count, HEAD)


def _vet_whole(data: bytes | memoryview) -> None:
    """Nothing is offered for recovery that is not made of facets. Raises UnreadableFile."""
    if len(data) < HEAD:
        raise UnreadableFile(
            f"A binary STL file has at least {HEAD} bytes; this one has {len(data)}.", "Download it again."
        )
    declared, whole = int.from_bytes(data[80:HEAD], "little"), (len(data) - HEAD) // FACET.itemsize
    if declared == whole:
        return
    corners = facets(data, whole)["corners"]
    if not np.isfinite(corners).all() or not corners.any():
        text = f"{_says(declared, whole)}, and what is there is not made of facets."
        raise UnreadableFile(text, "Download or export the file again.")


def _says(declared: int, whole: int) -> str:
    return f"The header says {counted(declared, 'facet')}, {whole:,} whole ones are there"


def facet_count(head: bytes, size: int, choice: str | None = None) -> tuple[int, tuple[str, ...]]:
    """How many records to take, and what to say about the rest; from the first 84 bytes of a file and its size.

    Raises NeedsChoice when that is not certain.
    """
    declared = int.from_bytes(head[80:HEAD], "little")
    whole, rest = divmod(size - HEAD, FACET.itemsize)
    if declared == whole:
        spare = (f"{counted(rest, 'byte')} after the last facet mean nothing to STL; the file keeps them.",)
        return whole, spare if rest else ()
    choices = (TAKE_WHOLE, TAKE_DECLARED) if 0 < declared < whole else (TAKE_WHOLE,)
    if choice not in choices:
        step = "Take the whole facets that are there, or download the file again."
        raise NeedsChoice(f"{_says(declared, whole)}.", step, choices)
    taken = whole if choice == TAKE_WHOLE else declared
    return taken, (f"{_says(declared, whole)}; {counted(taken, 'facet')} taken, as chosen.",)


def records_of(corners: F64) -> NDArray[np.void]:
    """Facet records (m,) of FACET for corners (m, 3, 3) in file numbers: unit normals, attribute bytes zero.

    Normals are computed from the float64 corners; a facet without area gets the normal 0 0 0.
    """
    out = np.zeros(len(corners), FACET)
    out["corners"] = corners
    normal = cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.sqrt(dot(normal, normal))[:, None]
    out["normal"] = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0)
    return out


def write_records(vertices: F64, triangles: I32, out: NDArray[np.uint8]) -> None:
    """The same records for vertices (n, 3) in file numbers and triangles (m, 3), put into ``out`` (50·m,) bytes.

    Twice as fast as by corners: nine columns are gathered a chunk at a time, and a record is copied as one piece.
    """
    records = out.view(FACET)
    rows = out.reshape(-1, FACET.itemsize)[:, :_NUMBERS]
    for i in range(0, len(triangles), _CHUNK):
        a, b, c = (np.take(vertices, triangles[i : i + _CHUNK, k], axis=0) for k in range(3))
        block = np.empty((len(a), 12), np.float32)
        normal = cross(b - a, c - a)
        length = np.sqrt(dot(normal, normal))
        length[length == 0.0] = 1.0  # no area: 0 0 0
        normal /= length[:, None]
        block[:, :3], block[:, 3:6], block[:, 6:9], block[:, 9:] = normal, a, b, c
        rows[i : i + _CHUNK] = block.view(np.uint8).reshape(-1, _NUMBERS)
    records["attribute"] = 0


def patched(
    path: Path, head: bytes, size: int, added: Added, choice: str | None = None, digest: Digest | None = None
) -> Pieces:
    """The file ``path`` with facets appended, in pieces to be written one after the other.

    ``head`` is its first 84 bytes; ``digest`` gets all that follow and are kept, as they are read back. Header,
    records and attribute bytes stay as they are, bytes after the last facet go after the new ones, the count is
    updated. Raises what ``facet_count`` raises.
    """
    count, _ = facet_count(head, size, choice)
    end = HEAD + FACET.itemsize * count
    total = (count + len(added.triangles)).to_bytes(4, "little")
    tail = Region(path, end, end if choice == TAKE_WHOLE else size, digest)
    return [head[:80], total, Region(path, HEAD, end, digest), records_of(added.corners).tobytes(), tail]


def header(name: str, unit: str) -> bytes:
    """The 80 bytes of a fresh file. They never begin with "solid", which many readers take for the text form."""
    text = f"Snapcomb, unit {unit}: {name}".encode("ascii", "replace")
    return text[:80].ljust(80, b" ")
