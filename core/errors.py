"""Every error that the program raises on purpose.

One root, :class:`SnapcombError`, so that a caller can catch "the program said no" in one place.
Each error carries two sentences for the person: what is wrong, naming the thing, and the next step.
Errors cross the boundary of a worker process, therefore they pickle with their fields.
"""

from __future__ import annotations


class SnapcombError(Exception):
    """What is wrong, in a sentence, and what to do next, in another.

    >>> str(MeshProblem("The mesh has no facets.", "Open another file."))
    'The mesh has no facets. Open another file.'
    """

    code = "problem"

    def __init__(self, what: str, next_step: str = "") -> None:
        super().__init__(what, next_step)
        self.what = what
        self.next_step = next_step

    def __str__(self) -> str:
        return f"{self.what} {self.next_step}".strip()


class UnreadableFile(SnapcombError, ValueError):
    """A file that cannot be read as what it claims to be."""

    code = "unreadable"


class RefusedFile(SnapcombError, ValueError):
    """A file that could be read but is refused, because of a limit or a feature that we would damage."""

    code = "refused"


class NeedsChoice(SnapcombError, ValueError):
    """Reading or writing can go on once the person has chosen; ``choices`` are stable words.

    Nothing is recovered or decided silently: the caller repeats the call with one of the words.
    """

    code = "needs_choice"

    def __init__(self, what: str, next_step: str = "", choices: tuple[str, ...] = ()) -> None:
        super().__init__(what, next_step)
        self.args = (what, next_step, choices)
        self.choices = choices


class WriteFailed(SnapcombError, OSError):
    """A file could not be written; the old one, if any, is whole."""

    code = "write_failed"

    def __init__(self, what: str, next_step: str = "") -> None:
        SnapcombError.__init__(self, what, next_step)


class MeshProblem(SnapcombError, ValueError):
    """The mesh does not allow what was asked."""

    code = "mesh"


class NotASolid(MeshProblem):
    """The part does not enclose a volume; ``where`` holds the first trouble spots (file mm)."""

    code = "not_a_solid"

    def __init__(
        self,
        what: str,
        next_step: str = "",
        where: tuple[tuple[float, float, float], ...] = (),
    ) -> None:
        super().__init__(what, next_step)
        self.args = (what, next_step, where)
        self.where = where


class SpanProblem(SnapcombError, ValueError):
    """The edge and the ledge that were chosen do not make a span."""

    code = "span"


class PlanRefused(SnapcombError, ValueError):
    """A wish that cannot be kept; ``limit`` is the figure (mm or a count) that stands in its way."""

    code = "plan"

    def __init__(self, what: str, next_step: str = "", field: str = "", limit: float | None = None) -> None:
        super().__init__(what, next_step)
        self.args = (what, next_step, field, limit)
        self.field = field
        self.limit = limit


class BadValue(SnapcombError, ValueError):
    """A figure that a person typed or a script passed and that is out of range or not a figure."""

    code = "value"


class Cancelled(SnapcombError):
    """Work that was given up because nobody waits for it any more; nothing is wrong."""

    code = "cancelled"
