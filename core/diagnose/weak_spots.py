"""Where a print will sag, worst first.

Layers are compared with the printable layers below them; what hangs free is joined over the layers into spots, judged
against the limits of the setup, and traced to the edges of the mesh that carry it. Overhang angles are from vertical.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from core.design.setup import PrintSetup
from core.diagnose.carriers import Carrier, carrier
from core.diagnose.joining import joined, weighed
from core.diagnose.layers import Hanging, hanging
from core.diagnose.pieces import Kind, Piece, judged, severity
from core.diagnose.underside import Underside
from core.geometry.mesh import F64, I64, Bool
from core.geometry.polyline import Polyline
from core.geometry.regions import united
from core.geometry.slicing import Layers
from core.geometry.topology import Topology

#: Spots that are no larger than the clear bridge and nearer to each other than twice that are one line in the list.
_NEAR = 2.0
#: Layers by which spots of one group may differ in height.
_LEVEL = 2


@dataclass(frozen=True, eq=False)
class WeakSpot:
    """A place that will sag. Lengths mm, area mm², bed frame.

    ``z`` height of the underside above the bed; ``length`` of a bridge its longest chord in the best direction, else
    along the edge; ``reach`` farthest distance to support (a slope: of one layer; infinite for an island); ``area``
    of all that hangs; ``severity`` 0..1 as ``pieces.severity``. ``path`` is the line on the mesh that carries the spot,
    ``layers`` its first and last layer, ``region`` the outlines of what hangs in the first one. ``count`` tells how
    many like it lie near by, ``pieces`` what hangs layer by layer, ``facets`` some triangles of its underside.
    """

    id: str
    kind: Kind
    z: float
    length: float
    reach: float
    area: float
    severity: float
    path: Polyline
    layers: tuple[int, int]
    region: tuple[F64, ...]
    pieces: tuple[Piece, ...]
    facets: I64
    count: int = 1


def find_weak_spots(
    layers: Layers,
    setup: PrintSetup,
    topology: Topology,
    *,
    ignore: Bool | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[WeakSpot]:
    """All weak spots of a print, worst first, with the ids w1, w2 … in that order.

    ``layers`` as ``diagnose.layers.print_layers`` makes them from the mesh of ``topology`` (bed mm). ``ignore`` (m,)
    bool marks triangles of sacrificial pieces: what hangs from them does not matter. ``progress`` is told the share
    done; what it raises ends the work. Left out: what lies on the bed, is within the setup's limits, or smaller than
    a line.
    """
    spots = spots_of(hanging(layers, setup, topology), setup, topology, progress=progress)
    return listed_spots(spots, setup, ignore)


def spots_of(
    found: Hanging,
    setup: PrintSetup,
    topology: Topology,
    *,
    progress: Callable[[float], None] | None = None,
) -> list[WeakSpot]:
    """Every spot of what hangs by itself, whatever carries it; without names and in no order. See ``listed_spots``."""
    pieces = [piece for loose in found.pieces for piece in judged(loose, setup)]
    spots = []
    underside = Underside.of(topology)
    groups = joined(pieces, setup.line_width)
    for i, group in enumerate(groups):
        if progress is not None:
            progress(i / len(groups))
        whole = weighed(group, setup, found.printable)
        if any(severity(p.excess) > 0 for p in whole):
            spots.append(_spot(whole, carrier(whole, underside, found.layers.heights)))
    return spots


def listed_spots(spots: Sequence[WeakSpot], setup: PrintSetup, ignore: Bool | None = None) -> list[WeakSpot]:
    """The spots of ``spots_of`` as they are told: small ones taken together, worst first, named w1, w2 …

    Those that hang from triangles marked in ``ignore`` (m,) bool are left out.
    """
    kept = [spot for spot in spots if not _is_ignored(spot.facets, ignore)]
    grouped = _grouped(sorted(kept, key=_order), setup)
    return [replace(spot, id=f"w{i}") for i, spot in enumerate(grouped, start=1)]


def _is_ignored(facets: I64, ignore: Bool | None) -> bool:
    return ignore is not None and len(facets) > 0 and bool(ignore[facets].mean() > 0.5)


def _spot(pieces: list[Piece], held: Carrier) -> WeakSpot:
    worst = max(pieces, key=lambda p: (p.excess, p.region.area))
    first = pieces[0].layer
    lowest = united([p.region for p in pieces if p.layer == first])
    return WeakSpot(
        id="",
        kind=worst.kind,
        z=held.z,
        length=held.length,
        reach=worst.reach,
        area=float(sum(p.region.area for p in pieces)),
        severity=severity(worst.excess),
        path=held.path,
        layers=(first, pieces[-1].layer),
        region=tuple(lowest.outlines),
        pieces=tuple(pieces),
        facets=held.facets,
    )


def _order(spot: WeakSpot) -> tuple[float, float, float]:
    """Worst first; of equally bad ones the larger, then the lower. Rounded, so that a turned part lists the same."""
    return (-round(spot.severity, 6), -round(spot.area, 3), round(spot.z, 3))


def _grouped(spots: list[WeakSpot], setup: PrintSetup) -> list[WeakSpot]:
    """Small spots of one kind at one height near each other as one, named by the worst of them."""
    small = [i for i, s in enumerate(spots) if _size(s) <= setup.clear_bridge]
    leader: dict[int, int] = {}
    for n, i in enumerate(small):
        for j in small[:n]:
            a, b = spots[i], spots[j]
            level = abs(a.layers[0] - b.layers[0]) <= _LEVEL
            if a.kind == b.kind and level and _apart(a, b) <= _NEAR * setup.clear_bridge:
                leader[i] = leader.get(j, j)
                break
    members: dict[int, list[WeakSpot]] = {}
    for i, j in leader.items():
        members.setdefault(j, []).append(spots[i])
    out = []
    for i, spot in enumerate(spots):
        if i not in leader:
            more = members.get(i, [])
            facets = np.concatenate([spot.facets, *(m.facets for m in more)])
            pieces = (*spot.pieces, *(p for m in more for p in m.pieces))
            area = spot.area + sum(m.area for m in more)
            out.append(replace(spot, count=1 + len(more), pieces=pieces, area=area, facets=facets) if more else spot)
    return out


def _size(spot: WeakSpot) -> float:
    """Diagonal of the plan box of all that hangs, mm."""
    box = np.array([p.region.bounds for p in spot.pieces])
    return float(np.linalg.norm(box[:, 2:].max(axis=0) - box[:, :2].min(axis=0)))


def _apart(a: WeakSpot, b: WeakSpot) -> float:
    return float(shapely.distance(shapely.MultiPoint(a.path.array[:, :2]), shapely.MultiPoint(b.path.array[:, :2])))
