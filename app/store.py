"""The one mutable thing: the job in hand, with its undo steps.

Flow is one circle: a click or control calls ``apply``, a new Job comes out, ``changed`` goes round, and every panel
compares by identity the fields that it shows. A drag is begin, preview, then commit or abort: one step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from core.job.job import Job


@dataclass(frozen=True)
class Step:
    """One undo step: what it was called, and the jobs before and after."""

    label: str
    before: Job | None
    after: Job | None


class Store(QObject):
    """Holds the current Job (None on the start page). Only this class changes it."""

    changed = Signal(object, object)
    history_changed = Signal()
    #: Another job was begun, or (None) the one in hand put away.
    opened = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self._job: Job | None = None
        self._done: list[Step] = []
        self._undone: list[Step] = []
        self._drag: tuple[str, Job | None] | None = None
        self._saved: Job | None = None
        self._recovered = False

    @property
    def job(self) -> Job | None:
        """The current job."""
        return self._job

    @property
    def unsaved(self) -> bool:
        """Whether rows or decisions would be lost by closing."""
        return self._job is not None and self._job is not self._saved and (bool(self._done) or self._recovered)

    def open(self, job: Job | None, *, unsaved: bool = False) -> None:
        """Begin with a job; the history starts anew. ``unsaved`` is for one that is in no file of the person's yet."""
        self._done.clear()
        self._undone.clear()
        self._drag = None
        self._saved = None if unsaved else job
        self._recovered = unsaved
        self._set(job)
        self.opened.emit(job)
        self.history_changed.emit()

    def mark_saved(self) -> None:
        """The job as it is now is safe on disk."""
        self._saved = self._job
        self.history_changed.emit()

    def apply(self, label: str, edit: Callable[[Job], Job]) -> None:
        """Run an edit. The step is kept only after the edit succeeded and really changed something."""
        if self._job is None:
            return
        if self._drag is not None:
            self.end_drag(commit=False)
        after = edit(self._job)
        if after is self._job:
            return
        self._push(Step(label, self._job, after))
        self._set(after)

    def begin_drag(self, label: str) -> None:
        """Start a gesture whose previews make one step in the end."""
        if self._drag is None:
            self._drag = (label, self._job)

    @property
    def dragging(self) -> bool:
        """Whether a gesture is under way whose previews are not kept yet."""
        return self._drag is not None

    def preview(self, edit: Callable[[Job], Job]) -> None:
        """Show an edit of the job as it was when the drag began; nothing is kept yet."""
        if self._drag is not None and self._drag[1] is not None:
            self._set(edit(self._drag[1]))

    def end_drag(self, commit: bool) -> None:
        """Keep what the drag showed as one step, or go back to where it began."""
        if self._drag is None:
            return
        label, before = self._drag
        self._drag = None
        if not commit:
            self._set(before)
        elif self._job is not before:
            self._push(Step(label, before, self._job))

    def undo(self) -> None:
        """Back by one step."""
        self.end_drag(commit=False)
        if self._done:
            step = self._done.pop()
            self._undone.append(step)
            self._set(step.before)
            self.history_changed.emit()

    def redo(self) -> None:
        """Forward again by one step."""
        self.end_drag(commit=False)
        if self._undone:
            step = self._undone.pop()
            self._done.append(step)
            self._set(step.after)
            self.history_changed.emit()

    def jump(self, index: int) -> None:
        """To the state after ``index`` steps (0 is as opened), in one move. An index out of range changes nothing."""
        self.end_drag(commit=False)
        if not 0 <= index <= len(self._done) + len(self._undone) or index == len(self._done):
            return
        while len(self._done) > index:
            self._undone.append(self._done.pop())
        while len(self._done) < index:
            self._done.append(self._undone.pop())
        self._set(self._undone[-1].before if self._undone else self._done[-1].after)
        self.history_changed.emit()

    @property
    def undo_label(self) -> str | None:
        """Name of the step that undo would take back."""
        return self._done[-1].label if self._done else None

    @property
    def redo_label(self) -> str | None:
        """Name of the step that redo would bring again."""
        return self._undone[-1].label if self._undone else None

    @property
    def history(self) -> list[str]:
        """Names of the steps done, oldest first."""
        return [s.label for s in self._done]

    @property
    def undone(self) -> list[str]:
        """Names of the steps that redo would bring again, the next one first."""
        return [s.label for s in reversed(self._undone)]

    def _push(self, step: Step) -> None:
        self._done.append(step)
        self._undone.clear()
        self.history_changed.emit()

    def _set(self, job: Job | None) -> None:
        old, self._job = self._job, job
        if old is not job:
            self.changed.emit(old, job)
