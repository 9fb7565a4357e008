"""``snapcomb sheet``: the job sheet with pictures."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from app.commands.options import Out
from app.commands.status import UsageError


def sheet(
    job: Annotated[Path, Parameter(metavar="JOB", help="A saved job.")],
    /,
    *,
    output: Annotated[Out, Parameter(help="The sheet to write, PDF or HTML by its ending.")],
) -> int:
    """Write the job sheet. Not part of this version yet."""
    raise UsageError("Job sheets cannot be written in this version.", "Save the job; a later version writes its sheet.")
