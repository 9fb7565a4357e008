"""A ZIP archive with some entries replaced and all others copied as the packed bytes that they are.

Source: PKWARE, APPNOTE.TXT 6.3.10, as for core.files.zip_parts.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Final

from core.errors import RefusedFile
from core.files.guard import MIB
from core.files.zip_parts import DESCRIPTOR, FULL, LOCAL, STORED, Archive, Entry, find_end, slots

_LEVEL: Final = 4
"""Deflate level of changed parts: on model XML as small as level 6, in half the time (measured)."""

_BLOCK: Final = 2 * MIB
"""Bytes that one thread packs at a time."""


def deflated(data: bytes) -> bytes:
    """A raw deflate stream of the data, packed in blocks by several threads (zlib lets go of the interpreter).

    Every block begins with the window of the one before, so that the result is as small as in one go.
    """
    starts = range(0, max(len(data), 1), _BLOCK)
    with ThreadPoolExecutor(4) as pool:
        return b"".join(pool.map(lambda at: _deflated_block(data, at, at + _BLOCK >= len(data)), starts))


def _deflated_block(data: bytes, at: int, last: bool) -> bytes:
    engine = (
        zlib.compressobj(_LEVEL, zlib.DEFLATED, -15, zdict=data[max(0, at - 32768) : at])
        if at
        else zlib.compressobj(_LEVEL, zlib.DEFLATED, -15)
    )
    return engine.compress(data[at : at + _BLOCK]) + engine.flush(zlib.Z_FINISH if last else zlib.Z_SYNC_FLUSH)


def rebuilt(archive: Archive, changed: Mapping[str, bytes]) -> list[bytes | memoryview]:
    """The archive with some entries replaced, in pieces; ``changed`` is new bytes by entry name.

    All other entries, with whatever lies between them, are copied as they are.
    """
    view = memoryview(archive.data)
    by_place = sorted(archive.entries, key=lambda e: e.header_at)
    at = by_place[0].header_at if by_place else archive.directory_at
    pieces: list[bytes | memoryview] = [view[:at]]
    records: dict[str, bytes] = {}
    for entry in by_place:
        if entry.name in changed:
            new, record = _replaced(archive, entry, changed[entry.name], at)
            pieces += new
            at += sum(map(len, new))
        else:
            record = _central(entry, at, entry.flags, (entry.crc, entry.packed, entry.size))
            pieces.append(view[entry.header_at : entry.end])
            at += entry.end - entry.header_at
        records[entry.name] = record
    pieces += [records[entry.name] for entry in archive.entries]
    return [*pieces, _end(archive, at)]


def _replaced(archive: Archive, entry: Entry, data: bytes, at: int) -> tuple[list[bytes | memoryview], bytes]:
    """Local record and packed bytes of a changed entry, and its directory record."""
    packed = data if entry.method == STORED else deflated(data)
    facts = (zlib.crc32(data), len(packed), len(data))
    if max(facts[1:]) >= FULL:
        raise RefusedFile("The patched model is too large for its archive.", "Write STL instead.")
    fields = list(LOCAL.unpack_from(archive.data, entry.header_at))
    flags = entry.flags & ~DESCRIPTOR
    name_at = entry.header_at + LOCAL.size
    name = archive.data[name_at : name_at + fields[9]]
    fields[2], fields[6:9], fields[10] = flags, facts, 0
    return [LOCAL.pack(*fields), name, packed], _central(entry, at, flags, facts)


def _central(entry: Entry, at: int, flags: int, facts: tuple[int, int, int]) -> bytes:
    """The directory record with a new offset, flags, CRC and sizes; other fields and extras as they were."""
    out = bytearray(entry.central)
    struct.pack_into("<H", out, 8, flags)
    struct.pack_into("<I", out, 16, facts[0])
    for slot, place, value in zip(slots(entry.central), (24, 20, 42), (facts[2], facts[1], at), strict=True):
        if slot:
            struct.pack_into("<Q", out, slot, value)
        elif value >= FULL:
            raise RefusedFile("The patched archive grows past 4 GiB.", "Write STL instead.")
        else:
            struct.pack_into("<I", out, place, value)
    return bytes(out)


def _end(archive: Archive, directory_at: int) -> bytes:
    """Everything after the directory, with the directory's new offset."""
    out = bytearray(archive.data[archive.end_at :])
    size = archive.end_at - archive.directory_at
    if out[:4] == b"PK\x06\x06":
        struct.pack_into("<Q", out, 48, directory_at)
        locator = out.rindex(b"PK\x06\x07")
        struct.pack_into("<Q", out, locator + 8, directory_at + size)
    end = len(archive.data) - find_end(archive.data)
    place = len(out) - end + 16
    if struct.unpack_from("<I", out, place)[0] != FULL:
        struct.pack_into("<I", out, place, directory_at)
    return bytes(out)
