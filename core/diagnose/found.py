"""What an inspection found, as frozen data that can be kept and sent to another process."""

from __future__ import annotations

from dataclasses import dataclass

from core.design.setup import PrintSetup
from core.diagnose.gaps import Gap
from core.diagnose.rows_present import RowPresent
from core.diagnose.sacrificial import Piece, Split
from core.diagnose.weak_spots import WeakSpot
from core.geometry.pose import Pose


@dataclass(frozen=True, eq=False)
class ListedSpot(WeakSpot):
    """A weak spot with a lasting name, ``key``, by which it is called fine as it is; ``dismissed`` when it was."""

    key: str = ""
    dismissed: bool = False


@dataclass(frozen=True)
class FileFacts:
    """What is told about the file: ``unit`` is the name of what one number of it means."""

    name: str
    triangles: int
    shells: int
    watertight: bool
    unit: str


@dataclass(frozen=True, eq=False)
class Inspection:
    """What was found. Geometry in bed mm of ``pose``; ``notes`` are plain sentences for the person.

    ``weak_spots`` come worst first, the dismissed ones among them; ``split`` tells the piece of every triangle.
    """

    file: FileFacts
    pose: Pose
    setup: PrintSetup
    weak_spots: tuple[ListedSpot, ...]
    gaps: tuple[Gap, ...]
    rows: tuple[RowPresent, ...]
    split: Split
    notes: tuple[str, ...]

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The bodies and limbs of the part."""
        return self.split.pieces

    @property
    def open_gaps(self) -> tuple[Gap, ...]:
        """Gaps that lack teeth."""
        return tuple(g for g in self.gaps if not g.enough)
