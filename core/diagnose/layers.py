"""The layers of a print: what of each will print, and what of that hangs free of the layer below.

U_i = P_i − grown(P_{i−1}, h·tan(limit)), where P is the printable part of a section: opened by half the least
printable width, for a hair-thin tip carries nothing. Sections are taken at the middle of each layer. All in bed mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from core.design.setup import PrintSetup
from core.diagnose.steep import steep_layers
from core.geometry.contours import Contours, thinned
from core.geometry.mesh import F64, Bool, Mesh
from core.geometry.regions import EMPTY, Region, arc_sides
from core.geometry.slicing import Layers, slice_layers
from core.geometry.topology import Topology

#: Widths are tested with this much less, so that a wall drawn exactly as wide as a line prints. Share of the width.
WIDTH_SLACK = 0.01
#: How far a printable region reaches past what the disc's middle can reach, in radii: a little more than the corner
#: of a square (√2), so that square corners stay square and only what is thin goes.
CORNER_REACH = 1.45
#: Outlines are judged for thin places after thinning to this, mm, with a disc larger by as much.
COARSE = 0.02
#: Areas of a shrunk region that differ from the rule for wide regions by more show a thin place, mm². A fin a tenth
#: of a millimetre too thin and 0.1 mm long makes as much.
THIN_AREA = 0.006
#: A corner sharper than this inside, degrees, counts as a thin place: its tip does not print.
SHARP_CORNER_DEG = 60.0
#: Hanging slivers narrower than this share of the layer height are rounding, not overhang. One degree past a limit
#: of 45° makes a sliver of 3.5 %.
SLIVER_SHARE = 0.02


@dataclass(frozen=True, eq=False)
class Loose:
    """A connected piece of a layer that hangs free: more than ``advance`` mm from ``carrier``, the layer below it."""

    layer: int
    region: Region
    carrier: Region
    advance: float

    def __reduce__(self) -> tuple[type[Loose], tuple[int, Region, Region, float]]:
        # Other processes only need what lies near.
        return Loose, (self.layer, self.region, self.below, self.advance)

    @cached_property
    def below(self) -> Region:
        """The part of the carrier that can be nearest to a point of the piece: its box, grown by its own size."""
        x0, y0, x1, y1 = self.region.bounds
        margin = math.hypot(x1 - x0, y1 - y0) + 2 * self.advance
        return self.carrier.within((x0 - margin, y0 - margin), (x1 + margin, y1 + margin))


@dataclass(frozen=True, eq=False)
class Hanging:
    """What of a print hangs free, layer by layer from the second one, with the layers it was found in."""

    layers: Layers
    printable: tuple[Region, ...]
    pieces: tuple[Loose, ...]
    advance: F64
    """How far each layer (k,) may reach past the one below, mm."""


def print_layers(
    mesh: Mesh,
    setup: PrintSetup,
    *,
    topology: Topology | None = None,
    phase: float = 0.0,
    progress: Callable[[float], None] | None = None,
) -> Layers:
    """The layers of a part (bed mm) as ``setup`` prints it, cut at their middles.

    ``phase`` (−0.5..0.5) shifts the cuts above the first by a share of the layer height: where a sharp edge falls
    between two cuts decides whether its own lowest layer prints.
    """
    top = float(mesh.bounds[1, 2])
    heights = np.array(setup.mid_heights(top))
    heights[1:] += phase * setup.layer_height
    return slice_layers(mesh, heights[heights <= top], topology=topology, progress=progress)


def printable(layers: Layers, width: float) -> tuple[tuple[Region, ...], Bool]:
    """Every layer without what is narrower than ``width`` (mm), and which layers lost something, (k,) bool.

    The first layer is left whole: pressed onto the bed, a thin line holds. Square corners stay square.
    """
    radius = 0.5 * width * (1 - WIDTH_SLACK)
    regions = list(layers.regions)
    changed = _may_be_thin(layers, radius)[layers.same_as]
    changed[:1] = False
    done: dict[int, Region] = {}
    for i in np.flatnonzero(changed):
        like = int(layers.same_as[i])
        if like not in done:
            done[like] = _opened(regions[i], radius)
        regions[i] = done[like]
    return tuple(regions), changed


def _opened(region: Region, radius: float) -> Region:
    core = region.grown(-radius)
    return region & core.grown(CORNER_REACH * radius) if not core.empty else EMPTY


def _may_be_thin(layers: Layers, radius: float) -> Bool:
    """Layers, (k,) bool, that may have places narrower than twice ``radius``; never wrong when it says no.

    A wide region shrinks by perimeter × r, less r²·tan(turn/2) at every convex corner and r²·turn/2 at every concave
    one (Steiner's formula for parallel sets), whose arc is drawn in chords. Thin places cannot lose as much as that.
    """
    if not len(layers.contours.owner):
        return np.array([not r.empty for r in layers.regions], np.bool_)
    coarse = _coarse_regions(thinned(layers.contours, COARSE), len(layers))
    r = radius + COARSE
    shrunk = [c.grown(-r, COARSE) for c in coarse]
    expected, sharp = _expected_areas(coarse, r)
    found = np.array([s.area for s in shrunk])
    lost = np.array([len(s) != len(c) for s, c in zip(shrunk, coarse, strict=True)])
    out: Bool = (np.abs(found - expected) > THIN_AREA) | sharp | lost
    return out


def _coarse_regions(contours: Contours, count: int) -> list[Region]:
    lines = contours.lines()
    ends = np.searchsorted(contours.owner, np.arange(count + 1)).tolist()
    return [Region.filled(lines[a:b]) for a, b in pairwise(ends)]


def _expected_areas(regions: Sequence[Region], r: float) -> tuple[F64, Bool]:
    """Area of every region (k,) after shrinking by ``r`` if nothing in it is thin, and whether a corner is sharp."""
    lines = [line for region in regions for line in region.outlines]
    owner = np.repeat(np.arange(len(regions)), [len(region.outlines) for region in regions])
    areas = np.array([region.area for region in regions])
    if not lines:
        return areas, np.zeros(len(regions), np.bool_)
    size = np.array([len(line) for line in lines])
    end = np.cumsum(size)
    points = np.concatenate(lines)
    after = np.arange(1, len(points) + 1)
    after[end - 1] = end - size
    step = points[after] - points
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    back = step[before]
    turn = np.arctan2(back[:, 0] * step[:, 1] - back[:, 1] * step[:, 0], np.einsum("ij,ij->i", back, step))
    corner = np.where(turn > 0, np.tan(np.clip(turn, 0, 3.0) / 2), -_fan_area(-turn, r)) * r * r
    change = corner - r * np.hypot(step[:, 0], step[:, 1])
    of = np.repeat(owner, size)
    sharp = np.bincount(of, weights=turn > np.pi - np.deg2rad(SHARP_CORNER_DEG), minlength=len(regions)) > 0
    return areas + np.bincount(of, weights=change, minlength=len(regions)), sharp


def _fan_area(turn: F64, r: float) -> F64:
    """Area of unit circle sectors of ``turn`` (n,) radians drawn in chords, as an offset by ``r`` mm draws them."""
    step = 2 * np.pi / arc_sides(r, COARSE)
    whole = np.maximum(np.ceil(turn / step) - 1, 0)
    out: F64 = (whole * np.sin(step) + np.sin(turn - whole * step)) / 2
    return out


def hanging(layers: Layers, setup: PrintSetup, topology: Topology) -> Hanging:
    """Every piece of every layer that hangs free. ``topology`` is that of the mesh the layers were cut from (bed mm).

    Slivers of rounding are left out. Meshes that had to be repaired are looked at in every layer.
    """
    whole, changed = printable(layers, setup.least_printable)
    gap = np.diff(layers.heights, prepend=layers.heights[:1])
    advance = gap * math.tan(math.radians(setup.overhang))
    look = changed.copy()
    look[1:] |= changed[:-1]
    if layers.notes:
        look[:] = True
    else:
        look |= steep_layers(topology, layers.heights, setup.overhang)
    pieces: list[Loose] = []
    for i in np.flatnonzero(look[1:]) + 1:
        if whole[i] is whole[i - 1]:
            continue
        pieces += _loose(int(i), whole[i], whole[i - 1], float(advance[i]), SLIVER_SHARE * float(gap[i]))
    return Hanging(layers, whole, tuple(pieces), advance)


def _loose(layer: int, here: Region, below: Region, advance: float, sliver: float) -> list[Loose]:
    if here.empty:
        return []
    free = here - below.grown(advance, sliver / 2)
    if free.area < sliver * sliver:
        return []
    out = []
    for piece in free.components():
        if 2 * piece.area > sliver * piece.perimeter:
            fewer = piece.simplified(sliver / 2)
            out.append(Loose(layer, piece if fewer.empty else fewer, below, advance))
    return out
