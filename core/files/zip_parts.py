"""ZIP archives, read with suspicion.

Source: PKWARE, APPNOTE.TXT 6.3.10; the numbers behind the field names are its section numbers. An archive says
everything twice, before each entry (4.3.7) and in the directory at its end (4.3.12); where the two disagree, two
readers would see two files, so it is refused.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass, replace
from typing import Final

from core.errors import RefusedFile, UnreadableFile
from core.files.guard import RAISE, Limits, quoted

LOCAL: Final = struct.Struct("<4s5H3I2H")
_CENTRAL: Final = struct.Struct("<4s6H3I5H2I")
_END: Final = struct.Struct("<4s4H2IH")
_END64: Final = struct.Struct("<4sQ2H2I4Q")
_LOCATOR: Final = struct.Struct("<4sIQI")
FULL: Final = 0xFFFFFFFF
"""A 32-bit field with this value has its real one in the ZIP64 extra field (4.5.3)."""

STORED: Final = 0
_DEFLATED: Final = 8
_ENCRYPTED: Final = 1 << 0 | 1 << 6 | 1 << 13
DESCRIPTOR: Final = 1 << 3
_AGAIN: Final = "Download or export the file again."


@dataclass(frozen=True)
class Entry:
    """One entry: its name, how it is packed, and where; ``end`` is where the next one, or the directory, begins."""

    name: str
    flags: int
    method: int
    crc: int
    packed: int
    size: int
    header_at: int
    data_at: int
    end: int
    central: bytes


@dataclass(frozen=True)
class Archive:
    """All entries in the order of the directory; ``directory_at`` and ``end_at`` are byte offsets."""

    data: bytes
    entries: tuple[Entry, ...]
    directory_at: int
    end_at: int

    def find(self, name: str) -> Entry | None:
        """The entry of an OPC part name; ASCII letters in any case (OPC, ISO/IEC 29500-2, 6.2.2.3)."""
        wanted = part_key(name)
        return next((entry for entry in self.entries if part_key(entry.name) == wanted), None)


def part_key(name: str) -> str:
    """What makes two names the same part."""
    return name.replace("\\", "/").lstrip("/").casefold()


def open_archive(data: bytes, limits: Limits) -> Archive:
    """Read the directory and hold it against the entries. Nothing is inflated.

    Raises UnreadableFile for damage and lies, RefusedFile for encryption, split archives and limits.
    """
    end_at = find_end(data)
    _, disk, start_disk, here, total, size, at, _ = _END.unpack_from(data, end_at)
    directory_end = end_at
    if FULL in (size, at) or total == 0xFFFF:
        directory_end, disk, start_disk, here, total, size, at = _end64(data, end_at)
    if disk or start_disk or here != total:
        raise RefusedFile("The archive is split over several files.", "Join it first.")
    if total > limits.zip_entries:
        raise RefusedFile(f"The archive has {total:,} entries; the limit is {limits.zip_entries:,}.", "Check the file.")
    if at + size != directory_end:
        raise UnreadableFile("The archive's directory is not where it should be.", _AGAIN)
    entries = _with_ends(_entries(data, at, directory_end, total), at)
    _vet_names(entries)
    return Archive(data, tuple(entries), at, directory_end)


def find_end(data: bytes) -> int:
    """The end record: the last one whose comment reaches exactly to the end of the file (4.3.16)."""
    at = data.rfind(b"PK\x05\x06", max(0, len(data) - _END.size - 0xFFFF))
    if at < 0 or at + _END.size > len(data) or at + _END.size + _END.unpack_from(data, at)[7] != len(data):
        raise UnreadableFile("The archive's end is missing or damaged; it was cut off or has bytes behind it.", _AGAIN)
    return at


def _end64(data: bytes, end_at: int) -> tuple[int, int, int, int, int, int, int]:
    """The fields of the ZIP64 end record (4.3.14), and where it begins."""
    locator_at = end_at - _LOCATOR.size
    if locator_at < 0 or data[locator_at : locator_at + 4] != b"PK\x06\x07":
        raise UnreadableFile("The archive's ZIP64 end record is missing.", _AGAIN)
    at = _LOCATOR.unpack_from(data, locator_at)[2]
    if at + _END64.size > locator_at or data[at : at + 4] != b"PK\x06\x06":
        raise UnreadableFile("The archive's ZIP64 end record is not where it should be.", _AGAIN)
    _, _, _, _, disk, start_disk, here, total, size, directory_at = _END64.unpack_from(data, at)
    return at, disk, start_disk, here, total, size, directory_at


def _entries(data: bytes, at: int, end: int, total: int) -> list[Entry]:
    out: list[Entry] = []
    for _ in range(total):
        if at + _CENTRAL.size > end or data[at : at + 4] != b"PK\x01\x02":
            raise UnreadableFile("The archive's directory is damaged.", _AGAIN)
        lengths = _CENTRAL.unpack_from(data, at)[10:13]
        stop = at + _CENTRAL.size + sum(lengths)
        if stop > end:
            raise UnreadableFile("The archive's directory is damaged.", _AGAIN)
        out.append(_entry(data, data[at:stop]))
        at = stop
    if at != end:
        raise UnreadableFile("The archive's directory has more bytes than entries.", _AGAIN)
    return out


def _entry(data: bytes, central: bytes) -> Entry:
    fields = _CENTRAL.unpack_from(central)
    flags, method, crc, packed, size = fields[3], fields[4], *fields[7:10]
    raw = central[_CENTRAL.size : _CENTRAL.size + fields[10]]
    name = raw.decode("utf-8" if flags & 1 << 11 else "cp437", "replace")
    size, packed, header_at = _wide(central, size, packed, fields[16], name)
    if flags & _ENCRYPTED:
        raise RefusedFile(f"{quoted(name)} in the archive is encrypted.", "Decrypt it in the program that made it.")
    data_at = _local(data, header_at, raw, name, (flags, method, crc, packed, size))
    return Entry(name, flags, method, crc, packed, size, header_at, data_at, 0, central)


def _wide(central: bytes, size: int, packed: int, at: int, name: str) -> tuple[int, int, int]:
    """Sizes and offset with the 64-bit values where the 32-bit ones say so (4.5.3)."""
    places = slots(central)
    values = [
        int.from_bytes(central[slot : slot + 8], "little") if slot else value
        for slot, value in zip(places, (size, packed, at), strict=True)
    ]
    if any(slot == 0 and value == FULL for slot, value in zip(places, (size, packed, at), strict=True)):
        raise UnreadableFile(f"{quoted(name)} in the archive lacks its ZIP64 sizes.", _AGAIN)
    return values[0], values[1], values[2]


def slots(central: bytes) -> tuple[int, int, int]:
    """Where in a directory record the 64-bit size, packed size and offset stand; 0 where the 32-bit field holds."""
    fields = _CENTRAL.unpack_from(central)
    at = _CENTRAL.size + fields[10]
    end = at + fields[11]
    found = [0, 0, 0]
    while at + 4 <= end:
        kind, length = struct.unpack_from("<HH", central, at)
        place, stop = at + 4, min(at + 4 + length, end)
        for i, value in enumerate((fields[9], fields[8], fields[16])):
            if kind == 1 and value == FULL and place + 8 <= stop:
                found[i] = place
                place += 8
        at += 4 + length
    return found[0], found[1], found[2]


def _local(data: bytes, at: int, raw: bytes, name: str, central: tuple[int, int, int, int, int]) -> int:
    """Hold the record before an entry against the directory; returns where the packed bytes begin."""
    if at + LOCAL.size > len(data) or data[at : at + 4] != b"PK\x03\x04":
        raise UnreadableFile(f"{quoted(name)} is not where the archive's directory says.", _AGAIN)
    _, _, flags, method, _, _, crc, packed, size, name_size, extra_size = LOCAL.unpack_from(data, at)
    mine = (crc, packed, size)
    later = bool(flags & DESCRIPTOR)
    same = all(a in (b, FULL) or (later and a == 0) for a, b in zip(mine, central[2:], strict=True))
    same = same and method == central[1] and not (flags ^ central[0]) & (1 | DESCRIPTOR)
    if not same or data[at + LOCAL.size : at + LOCAL.size + name_size] != raw:
        raise UnreadableFile(f"The archive says two different things about {quoted(name)}.", _AGAIN)
    return at + LOCAL.size + int(name_size) + int(extra_size)


def _with_ends(entries: list[Entry], directory_at: int) -> list[Entry]:
    """Every entry with the place where the next begins. Entries that overlap are refused: that is how bombs grow."""
    order = sorted(range(len(entries)), key=lambda i: entries[i].header_at)
    out = list(entries)
    end = directory_at
    for i in reversed(order):
        entry = entries[i]
        if entry.data_at + entry.packed > end:
            raise UnreadableFile(f"{quoted(entry.name)} overlaps another entry of the archive.", _AGAIN)
        out[i] = replace(entry, end=end)
        end = entry.header_at
    return out


def _vet_names(entries: list[Entry]) -> None:
    seen: set[str] = set()
    for entry in entries:
        key = part_key(entry.name)
        if key in seen:
            raise UnreadableFile(f"The archive holds {quoted(entry.name)} twice.", _AGAIN)
        seen.add(key)


def inflate(archive: Archive, entry: Entry, limits: Limits, spent: int = 0) -> bytes:
    """The bytes of one entry; ``spent`` bytes were inflated before and count against the same limit.

    Never inflates past the declared size, and checks size and CRC-32.
    """
    if entry.size + spent > limits.inflated_bytes:
        text = f"{quoted(entry.name)} inflates to {entry.size:,} bytes; the limit is {limits.inflated_bytes:,}."
        raise RefusedFile(text, RAISE)
    if entry.size > limits.ratio_from_bytes and entry.size > limits.inflation_ratio * entry.packed:
        times = entry.size // max(entry.packed, 1)
        text = f"{quoted(entry.name)} inflates {times:,} times; the limit is {limits.inflation_ratio:,.0f} times."
        raise RefusedFile(text, "Check where the file comes from.")
    packed = memoryview(archive.data)[entry.data_at : entry.data_at + entry.packed]
    out = _unpacked(packed, entry)
    if len(out) != entry.size or zlib.crc32(out) != entry.crc:
        raise UnreadableFile(f"{quoted(entry.name)} in the archive is damaged.", _AGAIN)
    return out


def _unpacked(packed: memoryview, entry: Entry) -> bytes:
    if entry.method == STORED:
        return bytes(packed)
    if entry.method != _DEFLATED:
        text = f"{quoted(entry.name)} is packed by method {entry.method}, which 3MF does not allow."
        raise RefusedFile(text, "Pack the file again with deflate.")
    engine = zlib.decompressobj(-15)
    try:
        out = engine.decompress(packed, entry.size + 1)
    except zlib.error as error:
        raise UnreadableFile(f"{quoted(entry.name)} in the archive is damaged.", _AGAIN) from error
    if not engine.eof and len(out) == entry.size and not engine.unconsumed_tail:
        out += engine.flush()
    return out if engine.eof and not engine.unused_data else b""
