"""What a bench knows beside the job: how one looks at it, and what follows from it. Both can be thrown away."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from core.diagnose.edge_index import EdgeIndex
from core.diagnose.inspection import Inspection
from core.geometry.mesh import F64
from core.geometry.polyline import Polyline
from core.job.hand_over import HandedOver
from core.job.job import Job, Row
from core.proof.advice import Advice
from core.proof.prove import Proof
from core.units import UnitName

Mode = Literal["pick", "ledge", "measure", "seat", "axes", "points"]
#: Troubles that stand until the next edit or click, not only until the next look at the row in hand.
LASTING = ("pick", "setup", "wish", "wish_field")
#: Quiet time before slow work starts again after an edit, ms.
SETTLE = 120


@dataclass
class View:
    """What is looked at and how; never undone, never saved in a job."""

    mode: Mode = "pick"
    unit: UnitName = "millimeter"
    accepted: bool = False
    waiting: Polyline | None = None
    chosen_spot: int = 0
    layer: int | None = None
    measured: list[F64] = field(default_factory=list)
    #: Points picked on an underside for a wall or a post, bed mm.
    points: list[F64] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Proved:
    """A row as it was proved, what the proof follows from, and the proof, None where there can be none."""

    row: Row
    key: object
    proof: Proof | None


@dataclass
class Results:
    """What follows from the job, as far as it is known yet."""

    edges: EdgeIndex | None = None
    inspection: Inspection | None = None
    inspected: Job | None = None
    #: The proof of the row in hand or, with none in hand, of the row added last.
    proof: Proof | None = None
    proofs: dict[int, Proved] = field(default_factory=dict)
    advice: Advice | None = None
    handed: HandedOver | None = None
    #: What is wrong with the pick or the wishes in hand: where it was made, and the sentence.
    trouble: dict[str, str] = field(default_factory=dict)
