"""Weld: triangle corners that are equal, bit for bit, become one vertex.

Nothing is moved and no tolerance is used, so the result does not depend on the scale of the part. The corners
are hashed into a numpy table: every corner writes its number at its place, reads back who won the place and
compares itself exactly with the winner. Those that differ from the winner try again with another hash. The
corners write in reverse, so the first appearance wins and the order of the file is kept.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import MeshProblem
from core.geometry.mesh import I32, I64

U64 = NDArray[np.uint64]

_MIXERS: Final = np.array(
    [0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93, 0xFF51AFD7ED558CCD],
    dtype=np.uint64,
)
"""Odd 64-bit multipliers with well spread bits (golden ratio and the constants of common public-domain hashes)."""

_ROUNDS: Final = 12
"""Retries before plain sorting takes over: only points chosen to collide under every multiplier get there."""

_CHUNK: Final = 1 << 15
"""Points at a time."""

_MAX_CORNERS: Final = 2**31 - 1
"""Corners are numbered with int32."""


def weld(corners: NDArray[np.floating]) -> tuple[NDArray[np.floating], I32]:
    """Index the corners (m, 3, 3), float32 or float64, of m triangles; any unit, any frame.

    Returns the vertices (n, 3), same dtype, in the order of their first appearance, and the triangles (m, 3)
    int32 that index them: ``vertices[triangles] == corners``. −0 and +0 are one number, which comes out as +0.
    Raises MeshProblem for another shape or dtype. Finiteness is the caller's business; equal NaNs weld.

    >>> vertices, triangles = weld(np.float32([[[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[1, 0, 0], [0, 1, 0], [1, 1, 0]]]))
    >>> triangles.tolist(), len(vertices)
    ([[0, 1, 2], [1, 2, 3]], 4)
    """
    if corners.ndim != 3 or corners.shape[1:] != (3, 3):
        raise MeshProblem(f"Corners have the shape {corners.shape}, not (m, 3, 3).")
    if corners.dtype not in (np.float32, np.float64):
        raise MeshProblem(f"Corners are {corners.dtype}, not float32 or float64.")
    if 3 * len(corners) > _MAX_CORNERS:
        raise MeshProblem(f"{len(corners):,} triangles are more than this program can index.")
    points = corners.reshape(-1, 3) + corners.dtype.type(0.0)  # −0 + 0 = +0: equal numbers get equal bits
    first = _first_appearance(_keys(points))
    return _numbered(points, first)


def first_equal(points: NDArray[np.floating]) -> I64:
    """For each of the points (n, 3), float32 or float64, any unit, the number of the first that equals it, (n,) int64.

    >>> first_equal(np.float64([[1, 2, 3], [0, 0, 0], [1, 2, 3]])).tolist()
    [0, 1, 0]
    """
    return _first_appearance(_keys(points + points.dtype.type(0.0)))


def _keys(points: NDArray[np.floating]) -> list[U64]:
    """The bits of every point in two (float32) or three (float64) uint64 columns: equal keys, equal points."""
    if points.dtype == np.float64:
        bits = points.view(np.uint64)
        return [np.ascontiguousarray(bits[:, i]) for i in range(3)]
    words = points.view(np.uint32)
    xy = words[:, 1].astype(np.uint64)
    xy <<= np.uint64(32)
    xy |= words[:, 0]
    return [xy, words[:, 2].astype(np.uint64)]


def _first_appearance(keys: list[U64]) -> I64:
    """For every point the number of the first point that equals it, (n,) int64."""
    count = len(keys[0])
    bits = max(8, int(np.ceil(np.log2(count + 1))))
    table = np.empty(1 << bits, dtype=np.int32)
    first, missed = _one_round(keys, table, bits, 0)
    for turn in range(1, _ROUNDS):
        if not len(missed):
            return first
        found, still = _one_round([key[missed] for key in keys], table, bits, turn)
        first[missed] = missed[found]  # misses point at themselves: harmless until a later turn finds them
        missed = missed[still]
    _by_sorting(keys, missed, first)
    return first


def _one_round(keys: list[U64], table: I32, bits: int, turn: int) -> tuple[I64, I64]:
    """The winner that every point equals, (n,) int64, and the numbers of the points that differ from theirs."""
    count = len(keys[0])
    place = np.empty(count, dtype=np.int64)
    for part in _chunks(count):
        _hash([key[part] for key in keys], bits, turn, out=place[part].view(np.uint64))
    for part in reversed(_chunks(count)):
        table[place[part][::-1].copy()] = np.arange(part.stop - 1, part.start - 1, -1, dtype=np.int32)
    missed = [_compare(keys, table, place, part) for part in _chunks(count)]
    return place, np.concatenate(missed) if missed else np.zeros(0, dtype=np.int64)


def _compare(keys: list[U64], table: I32, place: I64, part: slice) -> I64:
    """Replace the places of a chunk by their winners; returns the numbers of those that differ, now their own."""
    winner = table[place[part]].astype(np.int64)
    differs = keys[0][winner] != keys[0][part]
    for key in keys[1:]:
        differs |= key[winner] != key[part]
    missed: I64 = np.flatnonzero(differs)
    own: I64 = missed + part.start
    winner[missed] = own
    place[part] = winner
    return own


def _chunks(count: int) -> list[slice]:
    """Slices of a size whose scratch arrays stay in a core's cache and in memory that is already mapped."""
    return [slice(i, min(i + _CHUNK, count)) for i in range(0, count, _CHUNK)]


def _hash(keys: list[U64], bits: int, turn: int, out: U64) -> None:
    """The place of every point in a table of 2**bits, into ``out``; another turn, another hash."""
    np.multiply(keys[0], _MIXERS[turn % 5], out=out)
    for i, key in enumerate(keys[1:], 1):
        out ^= out >> np.uint64(29)
        out += key
        out *= _MIXERS[(turn + i + turn // 5) % 5]
    out >>= np.uint64(64 - bits)


def _by_sorting(keys: list[U64], todo: I64, first: I64) -> None:
    """The plain way for what is left: lexicographic sort, the first of each run of equals stands for it."""
    order = todo[np.lexsort([key[todo] for key in keys])]  # lexsort is stable: numbers ascend within a run
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = np.logical_or.reduce([key[order[1:]] != key[order[:-1]] for key in keys])
    starts = np.flatnonzero(fresh)
    first[order] = order[starts][np.cumsum(fresh) - 1]


def _numbered(points: NDArray[np.floating], first: I64) -> tuple[NDArray[np.floating], I32]:
    """Vertices in order of appearance, and the triangles that index them."""
    own = first == np.arange(len(first))
    index = np.cumsum(own, dtype=np.int32)
    index -= np.int32(1)
    return points[own], index[first].reshape(-1, 3)
