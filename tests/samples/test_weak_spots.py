"""A layer check of its own: plain sections and shapely offsets find the stated weak spots and nothing else.

U_i = S_i − offset(S_{i−1}, h·tan 45°), sections at the middle of each layer; limits as the truth file states them.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
import shapely

from samples import truth

SETUP = truth()["setup"]
H, LINE = SETUP["layer_height_mm"], SETUP["line_width_mm"]
ADVANCE = H * np.tan(np.radians(SETUP["overhang_deg"]))


class Loose(NamedTuple):
    """A piece of a layer that nothing carries: floor of its layer, farthest point from support, area, contacts."""

    z: float
    reach: float
    area: float
    contacts: int
    piece: shapely.Polygon


@cache
def loose_pieces(known) -> list[Loose]:
    """Unsupported pieces of all layers but the first, slivers left out."""
    count = int(np.floor(known.mesh.bounds[1, 2] / H + 0.5))
    below, out = known.region(0.5 * H), []
    for i in range(1, count):
        here = known.region((i + 0.5) * H)
        grown = below.buffer(ADVANCE, quad_segs=16)
        out += [_loose(p, below, grown, i) for p in shapely.get_parts(here.difference(grown)) if _wide(p)]
        below = here
    return out


def _wide(piece) -> bool:
    return piece.geom_type == "Polygon" and not piece.buffer(-0.02).is_empty


def _loose(piece, below, grown, i) -> Loose:
    low, high = np.array(piece.bounds).reshape(2, 2)
    grid = np.stack(np.meshgrid(*(np.arange(a, b, 0.3) for a, b in zip(low, high, strict=True))), -1).reshape(-1, 2)
    grid = grid[shapely.contains_xy(piece, *grid.T)]
    rim = shapely.get_coordinates(piece.segmentize(0.25))
    reach = shapely.distance(shapely.points(np.vstack([rim, grid])), below).max()
    touching = piece.boundary.intersection(grown.buffer(1e-4))
    contacts = len([p for p in shapely.get_parts(shapely.line_merge(touching)) if p.length > 0.05])
    return Loose(round(i * H, 6), float(reach), piece.area, contacts, piece)


def _listed(found: Loose) -> bool:
    """Beyond the limits: an island wider than a line, or a reach that neither a ledge nor a bridge may have."""
    if found.piece.buffer(-LINE / 2).is_empty:
        return False
    if found.contacts == 0:
        return True
    limit = SETUP["clear_bridge_mm"] / 2 if found.contacts >= 2 else SETUP["free_overhang_mm"]
    return found.reach > limit


def test_exactly_the_stated_weak_spots_exist(known):
    listed = sorted((p for p in loose_pieces(known) if _listed(p)), key=lambda p: p.z)
    stated = sorted(known.truth["weak_spots"], key=lambda w: w["z_mm"])
    assert [p.z for p in listed] == pytest.approx([w["z_mm"] for w in stated], abs=1e-6)
    for found, weak in zip(listed, stated, strict=True):
        assert found.area == pytest.approx(weak["area_mm2"], rel=0.01), weak["id"]
        assert found.reach == pytest.approx(weak["reach_mm"], abs=0.06), weak["id"]
        path = shapely.LineString(known.on_bed(weak["path"])[:, :2])
        assert path.hausdorff_distance(found.piece) < max(2.5, weak["reach_mm"] / 2 + 0.1)
        assert path.distance(found.piece) < 0.05


def test_bridges_are_as_long_as_stated(known):
    for weak in known.truth["weak_spots"]:
        if weak["kind"] != "bridge":
            continue
        found = next(p for p in loose_pieces(known) if _listed(p) and p.z == pytest.approx(weak["z_mm"]))
        long = shapely.get_coordinates(found.piece.minimum_rotated_rectangle)
        sides = np.linalg.norm(np.diff(long[:3], axis=0), axis=1)
        assert np.abs(sides - weak["length_mm"]).min() < 0.02
        assert weak["clear_mm"] == pytest.approx(weak["length_mm"] + 2 * ADVANCE)


def test_what_must_not_be_listed_lies_within_the_limits(known):
    others = [p for p in loose_pieces(known) if not _listed(p)]
    assert max((p.reach for p in others), default=0.0) < SETUP["clear_bridge_mm"] / 2
    assert len(known.truth["not_listed"]) >= 2
    spots = [shapely.LineString(known.on_bed(w["path"])[:, :2]).buffer(0.5) for w in known.truth["weak_spots"]]
    assert all(s.area > 0 for s in spots)


def test_the_busy_panel_has_plenty_of_small_fry_and_islands(panel):
    others = [p for p in loose_pieces(panel) if not _listed(p)]
    assert len(others) > 40
    assert sum(p.contacts == 0 for p in others) == 5  # the drip nibs, 0.36 wide
