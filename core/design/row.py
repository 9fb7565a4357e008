"""A row as it is wished for and as it is planned: figures only, with the constants that the rules start from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from core.geometry.mesh import F64

#: The word for the form of a tooth: one of ours, or one that another package adds (core/design/shapes.py).
Shape = str
Across = Literal["flush", "centred"]
SHAPES: tuple[Shape, ...] = ("straight", "arc_tip", "arc_ledge", "rake", "post")

# Lengths in mm. Common practice, no source, unless said otherwise.
#: Clearance that the end teeth keep from the ends of edge and ledge: one line to one millimetre.
END_CLEARANCE = 1.0
#: The foot stands on about four lines or more (calculated for standing firmly while the next layer is laid).
FOOT_LINES = 4.5
#: Tip and thickness to start from, in lines; from memory (0.4 nozzle: 0.45 and 0.9, 0.6 nozzle: 0.7 and 1.3).
TIP_LINES, THICKNESS_LINES = 1.01, 2.0
#: Sink into the ledge and into the part, in layers (from memory: one to two, and none to one).
SINK_LEDGE_LAYERS, SINK_PART_LAYERS = 1.0, 0.5
#: A tooth stays this far inside the faces beside it, so that no two faces lie in one plane.
INSET_ACROSS = 0.02
#: Air between the feet of neighbouring teeth, at least; from memory.
LEAST_FOOT_AIR = 0.2
#: Teeth that stand end to end as one blade are drawn this far apart, so that each is a body of its own.
KERF = 0.02


@dataclass(frozen=True)
class RowWishes:
    """What the person set for a row; None means automatic. Lengths mm along the span, counts without unit.

    ``start`` and ``stop`` trim the span (mm from its start; from its end). ``left_out`` are tooth numbers from 0;
    ``moved`` shifts single teeth along the edge: (number, mm).
    """

    shape: Shape = "straight"
    teeth: int | None = None
    pitch: float | None = None
    foot: float | None = None
    tip: float | None = None
    thickness: float | None = None
    sink_ledge: float | None = None
    sink_part: float | None = None
    air_layers: int | None = None
    across: Across | None = None
    clear_bridge: float | None = None
    end_clearance: float | None = None
    start: float = 0.0
    stop: float = 0.0
    left_out: tuple[int, ...] = ()
    moved: tuple[tuple[int, float], ...] = ()

    def __post_init__(self) -> None:
        """Figures read off arrays become plain numbers: wishes are kept in files, which know no others."""
        for name, value in list(vars(self).items()):
            if isinstance(value, np.generic):
                object.__setattr__(self, name, value.item())
        object.__setattr__(self, "left_out", tuple(int(number) for number in self.left_out))
        object.__setattr__(self, "moved", tuple((int(number), float(by)) for number, by in self.moved))


@dataclass(frozen=True, eq=False)
class RowPlan:
    """A planned row. Arrays float64, mm: ``centres`` (n,) arc lengths, ``across_range`` (n, 2), ``heights`` (n,) gaps.

    ``numbers`` (n,) are the tooth numbers before any was left out. ``automatic`` names the figures that followed by
    rule. ``clear_bridge`` is the longest stretch of edge left between two tips, ``clear_limit`` the longest allowed.
    ``trimmed`` is what the person took off the start and the end of the span, ``left_out`` how many teeth.
    """

    shape: Shape
    centres: F64
    numbers: tuple[int, ...]
    across_range: F64
    heights: F64
    pitch: float
    foot: float
    tip: float
    thickness: float
    sink_ledge: float
    sink_part: float
    air: float
    across: Across
    clear_bridge: float
    clear_limit: float
    end_clearance: float
    automatic: frozenset[str] = field(default_factory=frozenset)
    trimmed: tuple[float, float] = (0.0, 0.0)
    left_out: int = 0

    @property
    def teeth(self) -> int:
        """How many teeth stand in the row."""
        return len(self.centres)

    @property
    def height(self) -> float:
        """Mean height from ledge to edge, mm."""
        return float(self.heights.mean()) if len(self.heights) else 0.0


AUTOMATIC = (
    "teeth", "pitch", "foot", "tip", "thickness", "sink_ledge", "sink_part", "air_layers", "across",
    "clear_bridge", "end_clearance",
)  # fmt: skip
