"""``snapcomb coupon``: the break-off test piece."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from app.commands.options import Out
from app.commands.status import UsageError


def coupon(*, output: Annotated[Out, Parameter(help="The mesh to write.")]) -> int:
    """Write the break-off test piece. Not part of this version yet."""
    raise UsageError(
        "The break-off test piece cannot be written in this version.", "Try the real row on a short piece of the part."
    )
