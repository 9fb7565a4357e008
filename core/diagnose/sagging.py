"""How much of a part would sag in a pose, told from a coarse cut: quick enough to try many poses."""

from __future__ import annotations

from typing import Final

import numpy as np

from core.design.setup import PrintSetup
from core.diagnose.layers import hanging
from core.geometry.slicing import slice_layers
from core.geometry.topology import Topology

#: Layers of the coarse cut. A flat ceiling shows in it whole; a slope shows by what it runs out too far.
COARSE_LAYERS: Final = 100


def sagging_area(topology: Topology, setup: PrintSetup) -> float:
    """Plan area, mm², of all that hangs farther out than the overhang limit lets it, over every layer of a coarse cut.

    ``topology`` is that of a mesh in bed mm. A ceiling counts but for the rim that the layer below still carries, a
    slope by the share of its plan that lies beyond the limit: rise · (tan slope − tan limit).
    """
    low, high = (float(z) for z in topology.mesh.bounds[:, 2])
    step = max(setup.layer_height, (high - low) / COARSE_LAYERS)
    heights = low + step * (np.arange(int((high - low) / step)) + 0.5)
    if not len(heights):
        return 0.0
    found = hanging(slice_layers(topology.mesh, heights, topology=topology), setup, topology)
    return float(sum(piece.region.area for piece in found.pieces))
