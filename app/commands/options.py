"""The options that several commands share, from what a person types to the figures that ``core`` takes.

Defaults are stated by ``--help`` from the signatures here, so the two can't drift apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter, Token

from core.errors import BadValue
from core.units import UnitName, parse_length, unit_name

if TYPE_CHECKING:
    from core.design.plan import RowWishes
    from core.design.setup import PrintSetup

SETUP, ROW = "Print setup", "Teeth (by rule when not given)"
SHAPE_WORDS = ("straight", "arc_tip", "arc_ledge", "rake", "post")


def to_length(_type: Any, tokens: Sequence[Token]) -> float:
    """A length in mm from ``1.5``, ``1,5mm`` or ``0.06in``."""
    return parse_length(tokens[0].value)


def to_unit(_type: Any, tokens: Sequence[Token]) -> UnitName:
    """A unit of length by any of its usual names."""
    return unit_name(tokens[0].value)


def to_up(_type: Any, tokens: Sequence[Token]) -> str | tuple[float, float, float]:
    """Which way is up: ``file``, ``auto`` or three numbers. Raises BadValue."""
    word = tokens[0].value.strip()
    if word in ("file", "auto"):
        return word
    try:
        x, y, z = (float(part) for part in word.split(","))
    except ValueError:
        x = y = z = 0.0
    if not math.isfinite(math.hypot(x, y, z)) or not math.hypot(x, y, z):
        raise BadValue(f"“{word}” is not a direction.", "Use file, auto or three numbers such as 0,0,1.")
    return x, y, z


def to_shape(_type: Any, tokens: Sequence[Token]) -> str:
    """A tooth shape, written with a hyphen or an underscore."""
    word = tokens[0].value.strip().lower().replace("-", "_")
    if word not in SHAPE_WORDS:
        from core.design.shapes import shape_names

        words = {name.replace("-", "_").lower(): name for name in shape_names()}
        if word not in words:
            known = ", ".join(name.replace("_", "-") for name in shape_names())
            raise BadValue(f"There is no tooth shape “{tokens[0].value}”.", f"Known are {known}.")
        return words[word]
    return word


def _length(text: str, group: str) -> Parameter:
    return Parameter(converter=to_length, help=text, group=group, metavar="LENGTH")


Unit = Annotated[
    UnitName | None,
    Parameter(
        converter=to_unit, metavar="UNIT", show_choices=False, show_default=lambda _value: "mm",
        help="What the numbers of a file without a unit are: mm, in, cm, m, ft or micron.",
    ),
]  # fmt: skip
Up = Annotated[
    str | tuple[float, float, float],
    Parameter(
        converter=to_up, negative="", n_tokens=1, accepts_keys=False, metavar="file|auto|X,Y,Z",
        help="Which direction of the file is up on the bed. file: its +Z; auto: the pose with the least overhang.",
    ),
]  # fmt: skip
Out = Annotated[Path, Parameter(name=["--output", "-o"], metavar="OUT")]
Json = Annotated[bool, Parameter(negative="", help="Print JSON instead of text.")]
Replace = Annotated[bool, Parameter(negative="", help="Allow the output to be the input itself.")]
Choice = Annotated[
    str | None, Parameter(metavar="WORD", help="The answer to a question that a file raises (the question names them).")
]
Bonds = Annotated[
    Literal["shells", "skin"],
    Parameter(help="Keep the teeth as lapped shells of their own, or unite all into one skin."),
]


@Parameter(name="*")
@dataclass(frozen=True)
class SetupOptions:
    """Printer and limits."""

    layer_height: Annotated[float, _length("Layer height in mm.", SETUP)] = 0.2
    first_layer: Annotated[
        float | None,
        Parameter(
            converter=to_length, group=SETUP, metavar="LENGTH", show_default=lambda _value: "as the layer height",
            help="Height of the first layer.",
        ),
    ] = None  # fmt: skip
    nozzle: Annotated[float, _length("Bore of the nozzle in mm.", SETUP)] = 0.4
    line_width: Annotated[float, _length("Width of a printed line in mm.", SETUP)] = 0.44
    walls: Annotated[
        Literal["fixed", "variable"], Parameter(group=SETUP, help="Whether the printer varies the width of thin walls.")
    ] = "fixed"
    air_layers: Annotated[
        int, Parameter(group=SETUP, metavar="COUNT", help="Layers left empty between teeth and part; 0 is touching.")
    ] = 0
    material: Annotated[str, Parameter(group=SETUP, metavar="NAME", help="PLA, PETG, ABS, ASA, PA12 or TPU.")] = "PLA"
    overhang: Annotated[
        float, Parameter(group=SETUP, metavar="DEGREES", help="Steepest overhang, measured from vertical.")
    ] = 45.0
    clear_bridge: Annotated[float, _length("Longest bridge left between teeth, in mm.", SETUP)] = 5.0

    def setup(self) -> PrintSetup:
        """The print setup. Raises BadValue for a figure out of range."""
        from core.design.setup import PrintSetup

        return PrintSetup(
            nozzle=self.nozzle,
            line_width=self.line_width,
            layer_height=self.layer_height,
            first_layer=self.layer_height if self.first_layer is None else self.first_layer,
            walls=self.walls,
            air_layers=self.air_layers,
            material=self.material,
            overhang=self.overhang,
            clear_bridge=self.clear_bridge,
        )


@Parameter(name="*")
@dataclass(frozen=True)
class RowOptions:
    """What may be set for the rows."""

    tip: Annotated[float | None, _length("Width of a tooth at the edge.", ROW)] = None
    foot: Annotated[float | None, _length("Width of a tooth on the ledge.", ROW)] = None
    thickness: Annotated[float | None, _length("Thickness of a tooth across the edge.", ROW)] = None
    teeth: Annotated[int | None, Parameter(group=ROW, metavar="COUNT", help="How many teeth.")] = None
    pitch: Annotated[float | None, _length("Distance of teeth from centre to centre.", ROW)] = None
    shape: Annotated[
        str | None,
        Parameter(
            converter=to_shape, group=ROW, metavar="SHAPE", show_default=lambda _value: "straight",
            help="straight, arc-tip, arc-ledge, rake or post.",
        ),
    ] = None  # fmt: skip
    sink: Annotated[float | None, _length("How far teeth reach into the ledge and into the part.", ROW)] = None
    across: Annotated[
        Literal["flush", "centred"] | None,
        Parameter(group=ROW, help="Flush with the edge and inward, or in the middle of the strip."),
    ] = None

    def wishes(self, like: RowWishes | None = None) -> RowWishes:
        """The wishes for a row; what is given here outranks a row taken as the pattern."""
        from dataclasses import replace

        from core.design.plan import RowWishes

        given = {
            "tip": self.tip, "foot": self.foot, "thickness": self.thickness, "teeth": self.teeth, "pitch": self.pitch,
            "shape": self.shape, "sink_ledge": self.sink, "sink_part": self.sink, "across": self.across,
        }  # fmt: skip
        return replace(like or RowWishes(), **{name: value for name, value in given.items() if value is not None})
