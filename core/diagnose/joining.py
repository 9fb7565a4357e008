"""Hanging pieces of single layers joined into spots: what a person sees as one place that sags."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from core.design.setup import PrintSetup
from core.diagnose.layers import Loose
from core.diagnose.pieces import Piece, best_chords, farthest, refined, rim_reach
from core.geometry.regions import EMPTY, Region, united

#: Layers in which a spot may be missing between two of its pieces.
_SKIP = 2
#: Pieces of one spot over several layers that are measured closely; the roughly worst first.
_MEASURED = 6
#: Slope pieces of one spot for which the run over several layers is tried.
_RUNS_TRIED = 12
#: Regions nearer than this touch. mm.
_TRIM = 0.01
#: A corner of what two regions share lies this near to both, mm: rounding of the booleans.
_MARK = 1e-5
#: Stacks are judged with outlines true to this, mm, and measured in so many of their layers, the last among them.
_COARSE, _ZONES_MEASURED = 0.01, 6


def joined(pieces: Sequence[Piece], line: float) -> list[list[Piece]]:
    """Pieces that continue one another from layer to layer, each group in the order of its layers.

    A piece continues what hangs within its advance and a line of it in the layer below. What starts in mid-air above
    a mere slope is a new spot, so a shelf on a flank is not lost in it; a slope that continues two places joins only
    one.
    """
    parents = _parents(pieces, line)
    root = list(range(len(pieces)))
    airy = [p.kind != "slope" for p in pieces]
    spot_airy = airy.copy()
    for i in sorted(range(len(pieces)), key=lambda i: pieces[i].layer):
        if airy[i]:
            chosen = [p for p in parents[i] if airy[p]]
        else:
            upper = [p for p in parents[i] if spot_airy[_root(root, p)]]
            chosen = upper[:1] or parents[i]
        for p in chosen:
            a, b = _root(root, p), _root(root, i)
            root[b] = a
            spot_airy[a] = spot_airy[a] or spot_airy[b]
    groups: dict[int, list[Piece]] = {}
    for i, piece in enumerate(pieces):
        groups.setdefault(_root(root, i), []).append(piece)
    return [sorted(g, key=lambda p: p.layer) for g in groups.values()]


def _root(root: list[int], i: int) -> int:
    while root[i] != i:
        root[i] = root[root[i]]
        i = root[i]
    return i


def _parents(pieces: Sequence[Piece], line: float) -> list[list[int]]:
    """For every piece the pieces of the layers just below that it touches or nearly so."""
    by_layer: dict[int, list[int]] = {}
    for i, piece in enumerate(pieces):
        by_layer.setdefault(piece.layer, []).append(i)
    out: list[list[int]] = [[] for _ in pieces]
    box = np.array([p.region.bounds for p in pieces]).reshape(-1, 4)
    shapes = [_sketch(p.region, line / 20) for p in pieces]
    for layer, here in by_layer.items():
        reach = pieces[here[0]].loose.advance + line
        todo = np.array(here)
        for down in range(1, _SKIP + 1):
            there = np.array(by_layer.get(layer - down, []), np.intp)
            if not len(there) or not len(todo):
                continue
            child, parent = _near_pairs(shapes, box, todo, there, reach)
            for c, p in zip(child.tolist(), parent.tolist(), strict=True):
                out[c].append(p)
            todo = np.array([i for i in todo.tolist() if not out[i]], np.intp)
    return out


def _sketch(region: Region, tolerance: float) -> shapely.Geometry:
    """A region with fewer points, or its outline alone where it is hardly wider than ``tolerance`` (mm)."""
    rough = region.simplified(tolerance) if region.area > 4 * tolerance * region.perimeter else EMPTY
    out = rough.shape if not rough.empty else shapely.simplify(region.border, tolerance)
    shapely.prepare(out)
    return out


def _near_pairs(
    shapes: Sequence[shapely.Geometry], box: np.ndarray, here: np.ndarray, there: np.ndarray, reach: float
) -> tuple[np.ndarray, np.ndarray]:
    a, b = box[here][:, None], box[there][None]
    near = ((a[..., :2] <= b[..., 2:] + reach) & (b[..., :2] <= a[..., 2:] + reach)).all(axis=-1)
    i, j = np.nonzero(near)
    child, parent = here[i], there[j]
    touch = shapely.dwithin([shapes[c] for c in child], [shapes[p] for p in parent], reach)
    return child[touch], parent[touch]


def weighed(spot: list[Piece], setup: PrintSetup, printable: Sequence[Region]) -> list[Piece]:
    """The pieces of a spot with the figures that only the whole spot tells.

    Layers that hang from one another count together: the reach of each is to what is not itself hanging there, and
    when the last of them closes a bridge (the crown of an arch), all are that bridge. A slope that does not run out
    farther than a strand may hang from one side, half the longest clear bridge, is within the limits.
    """
    airy = [p for p in spot if p.kind != "slope"]
    if len({p.layer for p in airy}) == 1:
        airy = [refined(p, setup) for p in airy]
    stack = [p for p in airy if p.region.area >= setup.line_width**2]
    if len({p.layer for p in stack}) > 1 and all(p.kind != "island" for p in stack):
        crumbs = [p for p in airy if p.region.area < setup.line_width**2]
        worst = sorted(stack, key=lambda p: -p.reach)
        first, rest = [refined(p, setup) for p in worst[:_MEASURED]], worst[_MEASURED:]
        if all(p.excess <= 1 for p in first):  # a rough reach alone must not make a spot of what is within its limits
            rest = [refined(p, setup) if p.excess > 1 else p for p in rest]
        stack = first + rest
        airy = [*_stacked(sorted(stack, key=lambda p: p.layer), setup, printable), *crumbs]
    slopes = sorted((p for p in spot if p.kind == "slope"), key=lambda p: -p.reach)
    if slopes and not _runs_out(spot, setup, printable):
        slopes = [replace(p, excess=0.0) for p in slopes]
    else:
        slopes = [refined(p, setup) for p in slopes[:_MEASURED]] + slopes[_MEASURED:]
    return sorted([*airy, *slopes], key=lambda p: p.layer)


def _stacked(airy: list[Piece], setup: PrintSetup, printable: Sequence[Region]) -> list[Piece]:
    """Pieces in several layers that hang from one another, judged by what hangs of the whole stack.

    A piece that is beyond its limit by itself stays so even when a bridge closes above it.
    """
    zones = _hanging_zones(airy, printable, setup.line_width**2)
    bridges = [best_chords(z) for z in zones[airy[-1].layer] if rim_reach(z.region, z.below) > setup.free_overhang]
    spans = [b for b in bridges if b is not None]
    if len(spans) == len(bridges):
        span, chord = max(spans, key=lambda b: b[0], default=(0.0, None))
        excess = span / setup.clear_bridge
        return [
            p if p.excess >= excess else replace(p, kind="bridge", excess=excess, span=span, chord=chord) for p in airy
        ]
    layers = sorted(zones)
    looked_at = {layers[i] for i in np.linspace(0, len(layers) - 1, _ZONES_MEASURED).astype(int)}
    reach = {i: max((farthest(z.region, z.below) for z in zones[i]), default=0.0) for i in looked_at}
    out = []
    for piece in airy:
        far = reach.get(piece.layer, 0.0)
        far = max(far, piece.reach) if math.isfinite(far) else piece.reach
        out.append(replace(piece, kind="cantilever", reach=far, excess=far / setup.free_overhang))
    return out


def _hanging_zones(airy: list[Piece], printable: Sequence[Region], least: float) -> dict[int, list[Loose]]:
    """What hangs of a stack, by layer: all that is farther than the advance from what does not hang itself.

    H_j = P_j − grown(P_{j−1} − H_{j−1}, advance), around the stack and touching it. Zones of less than ``least`` mm²
    are crumbs and left out.
    """
    box = np.array([p.region.bounds for p in airy])
    low, high = box[:, :2].min(axis=0), box[:, 2:].max(axis=0)
    margin = float(np.linalg.norm(high - low)) + 1.0
    first, last = airy[0].layer, airy[-1].layer
    hanging, out = EMPTY, {}
    below = printable[first - 1].within(low - margin, high + margin)
    for layer in range(first, last + 1):
        here = [p for p in airy if p.layer == layer]
        advance = here[0].loose.advance if here else airy[0].loose.advance
        grounded = below - hanging
        below = printable[layer].within(low - margin, high + margin)
        free = below - grounded.grown(advance, _COARSE)
        zones = _touching(free, united([hanging, *(p.region for p in here)]))
        out[layer] = [Loose(layer, z, grounded, advance) for z in zones if z.area >= least]
        hanging = united(zones).simplified(_COARSE)  # or round corners of round corners grow without end
    return out


def _touching(free: Region, stack: Region) -> list[Region]:
    """The components of ``free`` that touch or nearly touch ``stack``."""
    shared = free & stack.grown(_TRIM, _COARSE)
    marks = np.array([part.outlines[0][0] for part in shared.components()]).reshape(-1, 2)
    out = []
    for part in sorted(free.components(), key=lambda p: p.section.num_vert()):
        low, high = np.array(part.bounds).reshape(2, 2)
        beside = np.flatnonzero(((marks >= low - _MARK) & (marks <= high + _MARK)).all(axis=1))
        hit = beside[shapely.dwithin(part.shape, shapely.points(marks[beside]), _MARK)] if len(beside) else beside
        if len(hit):
            out.append(part)
            marks = np.delete(marks, hit, axis=0)
    return out


def _runs_out(spot: list[Piece], setup: PrintSetup, printable: Sequence[Region]) -> bool:
    """Whether the slopes of a spot run out farther than half a clear bridge, seen over as many layers as that takes."""
    limit = setup.clear_bridge / 2
    first, last = spot[0].layer, spot[-1].layer
    slopes = [p for p in spot if p.kind == "slope"]
    if len(spot) == len(slopes) and (last - first + 1) * setup.line_width <= limit:
        return False
    down = math.ceil(limit / setup.advance) + 1
    high = [p for p in slopes if p.layer - first >= min(down, last - first) - 1] or slopes
    for i in np.unique(np.linspace(0, len(high) - 1, _RUNS_TRIED).astype(int)):
        piece = high[i]
        carrier = printable[max(max(piece.layer - down, first) - 1, 0)]
        x0, y0, x1, y1 = piece.region.bounds
        margin = 2 * limit + setup.line_width
        near = carrier.within((x0 - margin, y0 - margin), (x1 + margin, y1 + margin))
        if rim_reach(piece.region, near) > limit:
            return True
    return False
