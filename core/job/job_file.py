"""The job file: readable JSON that holds what the person decided, never the mesh and never a result.

The mesh is remembered by name, size and SHA-256 and looked for again when the job is opened: beside the job, at its
place seen from the job, at its place on the machine. A file with other bytes is never taken for it.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Final

import msgspec
from msgspec.structs import replace as replace_in

from core.errors import BadValue, RefusedFile, SnapcombError, UnreadableFile
from core.files.guard import DEFAULT, MIB, load, quoted, shown
from core.files.read import naming, read_part
from core.files.safe_write import write_safely
from core.geometry.part import Part
from core.job.job import Job
from core.job.job_record import JobRecord, SourceRecord, job_of, job_record
from core.job.landmark_record import landmark_records, with_figures
from core.job.repair_record import mended_again, repairs_of
from core.job.row_again import Figures

FORMAT: Final = "snapcomb.job"
NEWEST: Final = 3
SUFFIX: Final = ".snapcomb"
#: A job of a thousand long edges has about 20 MB; nothing sane has more than this.
MOST_BYTES: Final = 64 * MIB
#: As much of a file as is looked at to tell whether it is a job.
_HEAD: Final = 4096

Data = dict[str, Any]


def _to_version_2(data: Data) -> Data:
    """Version 1 knew nothing of what was printed before, nor of how a print went."""
    return data | {"lessons": [], "outcomes": []}


def _to_version_3(data: Data) -> Data:
    """Version 2 knew no repairs of the mesh."""
    return data | {"repairs": []}


#: What carries a file of version n over to version n + 1. A file older than the newest version goes through all.
MIGRATIONS: Final[Mapping[int, Callable[[Data], Data]]] = {1: _to_version_2, 2: _to_version_3}

#: No figures of rows.
NONE_KNOWN: Final[Mapping[int, Figures]] = {}
_NUMBER_LIST: Final = re.compile(r"\[\n\s+([-+\d.eE,\s]+?)\n\s+\]")


class MeshNotFound(UnreadableFile):
    """The mesh of a job is at none of its places; ``name`` is its name, ``looked`` the files looked for."""

    code = "mesh_not_found"

    def __init__(self, what: str, next_step: str = "", name: str = "", looked: tuple[str, ...] = ()) -> None:
        super().__init__(what, next_step)
        self.args = (what, next_step, name, looked)
        self.name, self.looked = name, looked


class MeshDiffers(RefusedFile):
    """A file was found in the place of the mesh, but it is not the one that the job was made on."""

    code = "mesh_differs"

    def __init__(self, what: str, next_step: str = "", path: str = "") -> None:
        super().__init__(what, next_step)
        self.args = (what, next_step, path)
        self.path = path


def is_job_file(path: Path) -> bool:
    """Whether a file looks like a job, by its first bytes; False for whatever cannot be read."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as stream:
            return f'"{FORMAT}"'.encode() in stream.read(_HEAD)
    except (OSError, ValueError):
        return False


def save_job(
    job: Job, path: Path, *, places: bool = True, remember: bool = True, figures: Mapping[int, Figures] = NONE_KNOWN
) -> None:
    """Write a job; the whole new file or the whole old one.

    ``places`` False leaves out the mesh's place on this machine, for passing the job on. ``remember`` False leaves out
    by what the mesh is known in a newer revision; to that belong the ``figures`` of rows by number, as far as they are
    at hand. Raises BadValue when the part came from no file or ``path`` is the mesh itself, and WriteFailed.
    """
    source = job.part.source
    if source is None:
        raise BadValue("The part came from no file, so a job could not find it again.", "Save the mesh first.")
    source_record = _source_record(job.part, path, places)
    if remember:
        source_record = replace_in(source_record, landmarks=landmark_records(job))
    record = with_figures(job_record(job, source_record, _written_by()), figures)

    def check(written: Path) -> None:
        if _record(written.read_bytes()) != record:
            raise BadValue("The job does not come back from its file as it was.", "Report this, with the job's log.")

    write_safely(path, [_text(record).encode()], check, inputs=[source.path])


def read_record(path: Path) -> JobRecord:
    """What a job file says, brought to the newest version; its mesh is not touched.

    Raises UnreadableFile, and RefusedFile for a version that this program does not know.
    """
    with naming(path):
        data, _ = load(path, replace(DEFAULT, file_bytes=MOST_BYTES))
        return _record(data)


def load_job(path: Path, mesh: Path | None = None) -> Job:
    """The job in a file, on its mesh, which must be the very one that it was made on.

    ``mesh`` is where the person says that the mesh is. Raises MeshNotFound, MeshDiffers, UnreadableFile and
    RefusedFile, each naming the file.
    """
    record = read_record(path)
    part = _find_part(record.source, path, mesh)
    with naming(path):
        try:
            return job_of(record, mended_again(part, repairs_of(record.repairs)))
        except BadValue as error:
            raise UnreadableFile(error.what, error.next_step) from error


def migrated(data: Data, table: Mapping[int, Callable[[Data], Data]] = MIGRATIONS, newest: int = NEWEST) -> Data:
    """Job data of any known version as the newest one. Raises UnreadableFile and, for a newer version, RefusedFile."""
    if data.get("format") != FORMAT:
        raise UnreadableFile("This is not a job of Snapcomb.", "Choose a job file, or open a mesh instead.")
    number = data.get("version")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise UnreadableFile(f"The job names no sane version but {quoted(str(number))}.", "Take another copy of it.")
    if number > newest:
        raise RefusedFile(
            f"The job was written by a newer Snapcomb (job version {number}; this one knows up to {newest}).",
            "Update Snapcomb to open it.",
        )
    while number < newest:
        data = table[number](data)
        number += 1
        data["version"] = number
    return data


def _record(data: bytes) -> JobRecord:
    try:
        plain = msgspec.json.decode(data)
        if not isinstance(plain, dict):
            raise UnreadableFile("This is not a job of Snapcomb.", "Choose a job file, or open a mesh instead.")
        return msgspec.convert(migrated(plain), JobRecord)
    except msgspec.ValidationError as error:
        raise UnreadableFile(_where_and_what(error), "Mend it there, or take another copy of the job.") from error
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise UnreadableFile(f"This is not JSON ({error}).", "Take another copy of the job.") from error


def _where_and_what(error: msgspec.ValidationError) -> str:
    """msgspec says "Expected `int`, got `str` - at `$.rows[0].number`"; turned round for reading."""
    what, _, where = str(error).partition(" - at ")
    place = where.strip("`").removeprefix("$.") or "its top level"
    return f"The job is not well formed at {place}: {what[:1].lower()}{what[1:].replace('`', '')}."


def _text(record: JobRecord) -> str:
    """JSON with every list of numbers on one line, as a person would write it."""
    text = json.dumps(msgspec.to_builtins(record), indent=1, ensure_ascii=False, allow_nan=False)
    return _NUMBER_LIST.sub(lambda m: "[" + " ".join(m[1].split()) + "]", text) + "\n"


def _written_by() -> str:
    try:
        return f"snapcomb {version('snapcomb')}"
    except PackageNotFoundError:
        return "snapcomb"


def _source_record(part: Part, job_path: Path, places: bool) -> SourceRecord:
    source = part.source
    assert source is not None
    mesh = Path(os.path.abspath(source.path))
    try:
        relative = Path(os.path.relpath(mesh, os.path.abspath(job_path.parent))).as_posix()
    except ValueError:  # another drive
        relative = ""
    return SourceRecord(
        name=mesh.name,
        size=source.size,
        sha256=source.sha256,
        unit=part.unit,
        relative=relative if places else "",
        absolute=str(mesh) if places else "",
        choice=source.choice,
    )


def _find_part(source: SourceRecord, job_path: Path, mesh: Path | None) -> Part:
    """The mesh of a job, from the first place that holds the very bytes."""
    looked = [mesh] if mesh is not None else list(dict.fromkeys(_places(source, job_path)))
    other: Path | None = None
    for place in looked:
        if mesh is None and not place.is_file():
            continue
        part = _same_part(source, place, must=mesh is not None)
        if part is not None:
            return part
        other = other or place
    if other is not None:
        raise MeshDiffers(
            f"{shown(other)} is not the file that the job was made on: its contents are different.",
            "Give the original file, or make the job anew on this one.",
            str(other),
        )
    raise MeshNotFound(
        f"The mesh {quoted(source.name)} of the job {shown(job_path)} was not found.",
        f"Put it beside the job; looked for {', '.join(str(p) for p in looked)}.",
        source.name,
        tuple(str(p) for p in looked),
    )


def _places(source: SourceRecord, job_path: Path) -> Iterator[Path]:
    """Where the mesh may be, likeliest first. Places on other machines are not asked for."""
    folder = Path(os.path.abspath(job_path)).parent
    yield folder / Path(source.name).name
    if source.relative and not Path(source.relative).is_absolute():
        yield Path(os.path.normpath(folder / source.relative))
    if source.absolute and not source.absolute.startswith(("//", "\\\\")):
        yield Path(source.absolute)


def _same_part(source: SourceRecord, place: Path, *, must: bool) -> Part | None:
    """The part in a file when it is the one meant; ``must`` passes on why it cannot be read."""
    try:
        if place.stat().st_size != source.size:
            return None
        part = read_part(place, source.unit, choice=source.choice)
    except (OSError, SnapcombError) as error:
        if must and isinstance(error, SnapcombError):
            raise
        if must:
            raise UnreadableFile(f"{shown(place)} cannot be read.", "Check the path.") from error
        return None
    found = part.source
    return part if found is not None and found.sha256 == source.sha256 else None
