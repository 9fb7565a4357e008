"""What a format module hands over, before it is a part: the file's own numbers, checked and indexed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from core.errors import RefusedFile, UnreadableFile
from core.files.guard import RAISE, Limits
from core.geometry.mesh import F64, I32, I64, Mesh
from core.geometry.weld import weld
from core.units import MM_PER, UnitName

FLOAT32_STEP_MM: Final = 0.01
"""Coarsest step of float32 coordinates, mm, that goes unmentioned: a tenth of the thinnest usual layer."""

SMALLEST_USUAL_MM: Final = 10.0
"""Parts smaller than this are rare; the size of a fingernail (common practice, no source)."""

LARGEST_USUAL_MM: Final = 2000.0
"""Parts larger than this do not fit a filament printer (common practice, no source)."""

_INCHES: Final = (10.0 / 25.4, SMALLEST_USUAL_MM)
_METRES: Final = (0.01, 10.0 / 25.4)
_MICRONS: Final = (1e4, 2e6)


@dataclass(frozen=True, eq=False)
class Content:
    """Vertices (n, 3) float32 or float64 in file numbers and triangles (m, 3) int32; nothing is scaled yet.

    ``unit`` is None where the file says nothing about it.
    """

    vertices: NDArray[np.floating]
    triangles: I32
    unit: UnitName | None = None
    notes: tuple[str, ...] = ()
    metadata: tuple[tuple[str, str], ...] = ()
    name: str = ""


@dataclass(frozen=True, eq=False)
class Added:
    """The facets to append: vertices (n, 3) float64 in file numbers, triangles (m, 3) int32, outward."""

    vertices: F64
    triangles: I32

    @property
    def corners(self) -> F64:
        """Corner points (m, 3, 3), file numbers."""
        return self.vertices[self.triangles]


def counted(number: int, noun: str, plural: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "facet"), counted(1200, "facet"), counted(2, "vertex", "vertices")
    ('1 facet', '1,200 facets', '2 vertices')
    """
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"


def vet_count(triangles: int, limits: Limits) -> None:
    """Refuse more facets than the limit. Raises RefusedFile, and UnreadableFile for none at all."""
    if triangles == 0:
        raise UnreadableFile("The file holds no facets.", "Export it again as a mesh.")
    if triangles > limits.triangles:
        raise RefusedFile(
            f"The file has {triangles:,} facets; the limit is {limits.triangles:,}.",
            RAISE,
        )


def vet_numbers(points: NDArray[np.floating], limits: Limits, what: str = "facet", per: int = 3) -> None:
    """Every coordinate (n, 3), file numbers, is finite and not absurd; ``per`` points make one ``what``.

    Raises UnreadableFile and RefusedFile naming the first culprit.
    """
    if not points.size:
        return
    with np.errstate(invalid="ignore"):  # a signalling NaN is no reason to warn twice
        low, high = points.min(), points.max()  # NaN spreads through both
    if -limits.coordinate_mm <= low and high <= limits.coordinate_mm:
        return
    bad = np.flatnonzero(~np.isfinite(points).all(axis=1))
    if len(bad):
        raise UnreadableFile(
            f"{what.capitalize()} {bad[0] // per + 1:,} has a coordinate that is not a finite number.",
            "Export the mesh again.",
        )
    far = np.flatnonzero((np.abs(points) > limits.coordinate_mm).any(axis=1))[0]
    raise RefusedFile(
        f"{what.capitalize()} {far // per + 1:,} lies {np.abs(points[far]).max():.3g} units from the origin; "
        f"the limit is {limits.coordinate_mm:.0g}.",
        "Check the file; it may be damaged.",
    )


def vet_indices(triangles: I64, vertices: int, what: str = "facet") -> None:
    """Every index of (m, 3) names one of the ``vertices``. Raises UnreadableFile naming the first that does not."""
    if not triangles.size or (triangles.min() >= 0 and triangles.max() < vertices):
        return
    row, column = np.argwhere((triangles < 0) | (triangles >= vertices))[0]
    raise UnreadableFile(
        f"{what.capitalize()} {row + 1:,} names vertex {triangles[row, column]:,} (counted from 0), "
        f"but the file has {counted(vertices, 'vertex', 'vertices')}.",
        "Export the mesh again.",
    )


def welded(corners: NDArray[np.floating], unit: UnitName | None = None, notes: tuple[str, ...] = ()) -> Content:
    """Content of loose corners (m, 3, 3), file numbers: welded, collapsed facets left out and counted."""
    vertices, triangles = weld(corners)
    kept, dropped = _without_collapsed(triangles)
    if not dropped:  # every vertex comes from a facet
        return Content(vertices, triangles, unit, notes)
    return _compacted(vertices, kept, unit, (*notes, *dropped))


def indexed(vertices: F64, triangles: I64, unit: UnitName | None = None, notes: tuple[str, ...] = ()) -> Content:
    """Content of an indexed mesh, vertices (n, 3) and triangles (m, 3) in file numbers.

    A mesh that is closed as filed keeps its vertices, because two bodies may touch at a point; in any other, vertices
    at one place are joined and counted. Vertices that no facet uses are left out and counted.
    """
    if not len(triangles) or is_closed(triangles):
        return tidied(vertices, triangles.astype(np.int32), unit, notes)
    joined, new = weld(vertices[triangles])
    used = np.zeros(len(vertices), dtype=bool)
    used[triangles.reshape(-1)] = True
    merged = int(used.sum()) - len(joined)
    if not merged:
        return tidied(vertices, triangles.astype(np.int32), unit, notes)
    return tidied(
        joined, new, unit, (*notes, f"{counted(merged, 'vertex', 'vertices')} at the place of another joined.")
    )


def tidied(vertices: NDArray[np.floating], triangles: I32, unit: UnitName | None, notes: tuple[str, ...]) -> Content:
    """Leave out facets with fewer than three different corners, then vertices without a facet; both are counted.

    Such facets have no area and join nothing, so the mesh encloses what it did. Raises UnreadableFile if none is left.
    """
    kept, dropped = _without_collapsed(triangles)
    return _compacted(vertices, kept, unit, (*notes, *dropped))


def _without_collapsed(triangles: I32) -> tuple[I32, tuple[str, ...]]:
    """The facets with three different corners, and a note on the others if there are any."""
    a, b, c = triangles.T
    good = (a != b) & (b != c) & (c != a)
    dropped = len(good) - int(np.count_nonzero(good))
    if not dropped:
        return triangles, ()
    if dropped == len(good):
        raise UnreadableFile("No facet of the file has three different corners.", "Export it again as a mesh.")
    what = f"{counted(dropped, 'facet')} with fewer than three different corners left out of the view and the checks"
    return triangles[good], (f"{what}; the file keeps them.",)


def _compacted(
    vertices: NDArray[np.floating], triangles: I32, unit: UnitName | None, notes: tuple[str, ...]
) -> Content:
    used = np.zeros(len(vertices), dtype=bool)
    used[triangles.reshape(-1)] = True
    loose = len(used) - int(np.count_nonzero(used))
    if loose:
        new = np.cumsum(used, dtype=np.int32) - np.int32(1)
        vertices, triangles = vertices[used], new[triangles]
        notes = (*notes, f"{counted(loose, 'vertex', 'vertices')} without a facet left out; the file keeps them.")
    return Content(vertices, triangles, unit, notes)


def is_closed(triangles: NDArray[np.integer]) -> bool:
    """Whether every directed edge of (m, 3) has its opposite.

    Compares the sums of a 64-bit hash over all edges and over all opposite edges, which are equal when the
    sets are and otherwise differ but for one chance in about 2^64.
    """
    corners = np.ascontiguousarray(triangles.T).astype(np.uint64)
    total = 0
    for i in range(3):
        start, end = corners[i], corners[(i + 1) % 3]
        total += int((_mix(start, end) - _mix(end, start)).sum(dtype=np.uint64))
    return total % 2**64 == 0


def _mix(start: NDArray[np.uint64], end: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """The finaliser of SplitMix64 (Steele, Lea, Flood 2014) over both numbers."""
    key = (start << np.uint64(32)) | end
    key = (key ^ (key >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    key = (key ^ (key >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return key ^ (key >> np.uint64(31))


def likely_unit(mesh: Mesh, read_as: UnitName = "millimeter") -> UnitName | None:
    """The unit that the size speaks for, when the unit in which the file was read gives an unusual size.

    ``mesh`` is in file mm, read as ``read_as``. None means that the size is usual, or that no unit makes it so.

    >>> cube = np.float64([[0, 0, 0], [2, 0, 0], [0, 3, 0]])
    >>> likely_unit(Mesh(cube, np.int32([[0, 1, 2]]))), likely_unit(Mesh(cube * 25.4, np.int32([[0, 1, 2]])))
    ('inch', None)
    """
    largest = float(np.ptp(mesh.bounds, axis=0).max(initial=0.0))
    if SMALLEST_USUAL_MM <= largest <= LARGEST_USUAL_MM:
        return None
    number = largest / MM_PER[read_as]
    guess: UnitName | None = None
    if _INCHES[0] <= number < _INCHES[1]:
        guess = "inch"
    elif _METRES[0] <= number < _METRES[1]:
        guess = "meter"
    elif SMALLEST_USUAL_MM <= number <= LARGEST_USUAL_MM:
        guess = "millimeter"
    elif _MICRONS[0] <= number <= _MICRONS[1]:
        guess = "micron"
    return guess if guess != read_as else None


def float32_step(mesh: Mesh) -> float:
    """The coarsest step of the mesh's coordinates as float32, mm (IEEE 754 binary32: 24 bits of significand)."""
    largest = float(np.abs(mesh.bounds).max(initial=0.0))
    return float(np.spacing(np.float32(largest)))


def step_note(mesh: Mesh) -> tuple[str, ...]:
    """A sentence when float32, which STL stores, is too coarse where the part lies (mesh in mm)."""
    step = float32_step(mesh)
    if step <= FLOAT32_STEP_MM:
        return ()
    text = f"The part lies so far from the origin that STL can place a corner only every {step:.3g} mm there."
    return (f"{text} Move it to the origin in the program that made it, or write 3MF.",)
