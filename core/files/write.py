"""Writing: the whole mesh as a fresh file, or the original file with teeth in it and nothing else changed."""

from __future__ import annotations

import hashlib
import io
import os
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from xml.sax.saxutils import quoteattr

import numpy as np

from core.errors import BadValue, UnreadableFile, WriteFailed
from core.files import obj, ply, ply_patch, stl, stl_text, threemf, threemf_patch
from core.files.content import Added, Content, step_note
from core.files.guard import DEFAULT, HEAD, Format, load, shown, sniff
from core.files.read import naming
from core.files.safe_write import Pieces, Region, write_safely
from core.files.zip_parts import open_archive
from core.files.zip_rebuild import rebuilt
from core.geometry.mesh import Mesh
from core.geometry.part import Part, Source
from core.units import MM_PER, UnitName

WRITTEN: Final = (".stl", ".3mf")
"""Endings of the formats in which a whole part is written."""

_CHUNK: Final = 1 << 14
"""Facets compared at a time: the scratch arrays stay in cache."""

_CORE: Final = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
_TYPES: Final = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS: Final = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
"""The fixed parts of a package (core specification 1.4.0, appendix C; Open Packaging Conventions)."""

_DATE: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest date a ZIP entry can have: equal parts make equal files."""


@dataclass(frozen=True)
class Written:
    """What was written and found again on the disk: facets in the file, its size in bytes, and what to say."""

    path: Path
    triangles: int
    size: int
    notes: tuple[str, ...] = ()


def write_part(
    mesh_mm: Mesh, path: Path | str, *, unit: UnitName, name: str, replace: bool = False, source: Path | None = None
) -> Written:
    """Write a mesh (mm, the frame the file shall have) as binary STL or 3MF, told by the path's extension.

    The file's numbers are millimetres divided by millimetres per ``unit``; 3MF states the unit, STL cannot. The file
    is read back and compared before it takes its name. ``source``, when given, is not overwritten without ``replace``.
    Raises WriteFailed, and BadValue for another extension or the source.
    """
    path = Path(path)
    form = path.suffix.lower()
    if form not in WRITTEN:
        raise BadValue(f"{shown(path)} names no format that is written.", "End the name with .stl or .3mf.")
    if not len(mesh_mm.triangles):
        raise BadValue("There is nothing to write: the mesh has no facets.", "Open a part first.")
    with naming(path):
        numbers = Added(mesh_mm.vertices / MM_PER[unit], mesh_mm.triangles)
        pieces = _fresh_stl(numbers, unit, name) if form == ".stl" else _fresh_3mf(numbers, unit, name)
        check = _stl_check(numbers, pieces) if form == ".stl" else _3mf_check(numbers)
        write_safely(path, pieces, check, inputs=[source] if source else [], replace=replace)
    notes = step_note(mesh_mm) if form == ".stl" else ()
    return Written(path, len(mesh_mm.triangles), sum(map(len, pieces)), notes)


def _fresh_stl(mesh: Added, unit: UnitName, name: str) -> Pieces:
    _vet_float32(mesh)
    # One array of numpy's, which comes in huge pages and is first touched several times as fast.
    out = np.empty(stl.HEAD + stl.FACET.itemsize * len(mesh.triangles), np.uint8)
    head = stl.header(name, unit) + len(mesh.triangles).to_bytes(4, "little")
    out[: stl.HEAD] = np.frombuffer(head, np.uint8)
    stl.write_records(mesh.vertices, mesh.triangles, out[stl.HEAD :])
    return [out.data]


def _vet_float32(mesh: Added) -> None:
    if np.abs(mesh.vertices).max(initial=0.0) > np.finfo(np.float32).max:
        raise WriteFailed("The coordinates are too large for STL.", "Write 3MF instead.")


def _stl_check(mesh: Added, pieces: Pieces) -> Check:
    """The records hold the corners as float32, and nothing else is there (size law 84 + 50 n).

    They are looked at in memory: the file has been read back and is equal, byte for byte.
    """

    def check(_: Path) -> None:
        (found,) = pieces
        assert isinstance(found, memoryview)
        count, notes = stl.facet_count(bytes(found[: stl.HEAD]), len(found))
        same = count == len(mesh.triangles) and not notes
        if same:
            corners, numbers = stl.facets(found, count)["corners"], mesh.vertices.astype(np.float32)
            chunks = (slice(i, i + _CHUNK) for i in range(0, count, _CHUNK))
            same = all(np.array_equal(corners[c], np.take(numbers, mesh.triangles[c], axis=0)) for c in chunks)
        _vet_same(same)

    return check


def _fresh_3mf(mesh: Added, unit: UnitName, name: str) -> Pieces:
    title = quoteattr("".join(c if c.isprintable() else "�" for c in name))
    head = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="{unit}" xml:lang="en-US" xmlns="{_CORE}">\n'
        f'<resources>\n<object id="1" type="model" name={title}>\n<mesh>\n<vertices>\n'
    )
    tail = '</triangles>\n</mesh>\n</object>\n</resources>\n<build>\n<item objectid="1"/>\n</build>\n</model>\n'
    vertices, triangles = threemf_patch.vertex_text(mesh.vertices), threemf_patch.triangle_text(mesh.triangles)
    model = b"".join([head.encode(), vertices, b"</vertices>\n<triangles>\n", triangles, tail.encode()])
    return zipped([("[Content_Types].xml", _TYPES.encode()), ("_rels/.rels", _RELATIONS.encode()),
                   ("3D/3dmodel.model", model)])  # fmt: skip


def zipped(parts: list[tuple[str, bytes]]) -> Pieces:
    """A fresh archive; built empty by the standard library and filled by our own, which packs on all cores."""
    empty = io.BytesIO()
    with zipfile.ZipFile(empty, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, _ in parts:
            info = zipfile.ZipInfo(name, _DATE)
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, b"")
    return rebuilt(open_archive(empty.getvalue(), DEFAULT), dict(parts))


def _3mf_check(mesh: Added) -> Check:
    """Our reader finds the same vertices, to the last bit, and the same triangles."""

    def check(written: Path) -> None:
        instance = threemf.instances(threemf.open_package(written.read_bytes(), DEFAULT))[0]
        _vet_same(
            np.array_equal(instance.placed()[0], mesh.vertices) and np.array_equal(instance.placed()[1], mesh.triangles)
        )

    return check


def _vet_same(same: bool) -> None:
    if not same:
        raise WriteFailed("The mesh that was read back is not the mesh that was written.", "Write to another disk.")


def write_patched(
    part: Part, added_mm: Mesh, path: Path | str, *, replace: bool = False, choice: str | None = None
) -> Written:
    """Write the part's own file with facets added (``added_mm``: file frame, mm), and nothing else changed.

    The format is that of the original. ``choice``: see core.files.threemf_patch.patched ("all", "copy").
    The original must still be the one that was read. Raises UnreadableFile when it changed on disk, NeedsChoice,
    RefusedFile for what would be damaged, WriteFailed, BadValue for a target that is the original, without ``replace``.
    """
    path = Path(path)
    source = part.source
    if source is None:
        raise BadValue("The part comes from no file, so there is none to patch.", "Write the whole part instead.")
    if path.suffix.lower() not in ("", f".{source.format}"):
        raise BadValue(
            f"{shown(path)} is to be another format than the original ({source.format.upper()}).",
            f"End the name with .{source.format}, or write the whole part in the other format.",
        )
    added = Added(added_mm.vertices / part.mm_per_unit, added_mm.triangles)
    with naming(source.path):
        _vet_unchanged(source)
        pieces, check, total, notes = _patch(source, added, choice)
        notes += step_note(added_mm) if source.format == "stl" else ()
    with naming(path):
        write_safely(path, pieces, check, inputs=[source.path], replace=replace)
    return Written(path, total, sum(map(len, pieces)), notes)


Check = Callable[[Path], None]


def _vet_unchanged(source: Source) -> bool:
    """Raise UnreadableFile when the original is gone, or its size or time is another and its digest too.

    Returns whether it is certainly the one that was read: POSIX sets the time of the last status change, which no
    program can set back, at every write. Windows knows no such time; there the digest is looked at by the check,
    before the new file takes its name.
    """
    try:
        state = source.path.stat()
    except OSError as error:
        raise UnreadableFile("The file is no longer there.", "Bring it back, or open it from its new place.") from error
    same = (state.st_size, state.st_mtime_ns) == (source.size, source.mtime_ns)
    if same and os.name == "posix" and state.st_ctime_ns == source.ctime_ns:
        return True
    if not same and not _is_original(source):
        raise _changed(source)
    return False


def _is_original(source: Source) -> bool:
    with open(source.path, "rb", buffering=0) as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == source.sha256


def _changed(source: Source) -> UnreadableFile:
    text = f"{shown(source.path)}: The file changed on disk since it was opened."
    return UnreadableFile(text, "Open it again before writing.")


_Plan = tuple[Pieces, Check, int, tuple[str, ...]]


def _patch(source: Source, added: Added, choice: str | None) -> _Plan:
    """What to write, how to check it, how many facets there will be, and what to say."""
    if source.format == "stl":
        with open(source.path, "rb") as stream:
            head = stream.read(HEAD)
        if sniff(head, source.path.suffix, source.size) == "stl":
            return _patch_stl(source, head[: stl.HEAD], added)
    data, _ = load(source.path)
    if hashlib.sha256(data).hexdigest() != source.sha256:
        raise _changed(source)
    form = sniff(data, source.path.suffix)
    return _patch_3mf(data, source, added, choice) if form == "3mf" else _patch_text(data, source, added, form)


def _patch_stl(source: Source, head: bytes, added: Added) -> _Plan:
    _vet_float32(added)
    digest = None if _vet_unchanged(source) else hashlib.sha256(head)
    total = stl.facet_count(head, source.size, source.choice)[0] + len(added.triangles)
    pieces = stl.patched(source.path, head, source.size, added, source.choice, digest)

    def check(_: Path) -> None:
        """The bytes kept, as read back, are those that were read when the part was opened; the rest was compared.

        Without a digest they were compared with the original itself, which must still be the one that it was.
        """
        if digest is None:
            if not _vet_unchanged(source) and not _is_original(source):
                raise _changed(source)
            return
        kept = stl.HEAD + sum(len(piece) for piece in pieces if isinstance(piece, Region))
        with open(source.path, "rb", buffering=0) as stream:
            stream.seek(kept)
            digest.update(stream.read(source.size - kept))  # a cut facet that was not taken
        if digest.hexdigest() != source.sha256:
            if _is_original(source):
                raise WriteFailed("What was read back is not what was written.", "Write to another disk.")
            raise _changed(source)

    return pieces, check, total, ()


def _patch_3mf(data: bytes, source: Source, added: Added, choice: str | None) -> _Plan:
    patch = threemf_patch.patched(data, added, choice, source.choice)

    def check(written: Path) -> None:
        package = threemf.open_package(written.read_bytes(), DEFAULT, patch.runs)
        after = threemf.instances(package, source.choice)
        threemf_patch.vet_gain(patch.before, sum(i.mesh.triangle_count for i in after), patch.gain)

    return patch.pieces, check, patch.before + patch.gain, (patch.note,)


_TEXTS: Final[dict[Format, tuple[Callable[..., Content], Callable[..., Pieces]]]] = {
    "stl text": (stl_text.read, stl_text.patched),
    "obj": (obj.read, obj.patched),
    "ply": (ply.read, ply_patch.patched),
}


def _patch_text(data: bytes, source: Source, added: Added, form: Format) -> _Plan:
    """OBJ, PLY and ASCII STL: the whole result is parsed again and must hold the facets it did and the new ones."""
    read, patch = _TEXTS[form]
    before = read(data, source.choice, DEFAULT)
    pieces = patch(data, added, source.choice)
    total = len(before.triangles) + len(added.triangles)

    def check(written: Path) -> None:
        after = read(written.read_bytes(), source.choice, DEFAULT)
        corners = after.vertices[after.triangles[-len(added.triangles) :]]
        reach = 1e-4 + float(np.spacing(np.float32(np.abs(added.vertices).max(initial=0.0))))
        _vet_same(len(after.triangles) == total and bool((np.abs(corners - added.corners) <= reach).all()))

    notes = ("New vertices have the colours and other values of the first one.",) if form == "ply" else ()
    return pieces, check, total, notes
