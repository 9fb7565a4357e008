"""What is wrong with the part in hand, and mending it: each repair is chosen, done in the background, one undo step."""

from __future__ import annotations

from collections.abc import Callable
from weakref import WeakKeyDictionary

from PySide6.QtCore import QObject, QTimer, Signal

from app.store import Store
from app.work.runner import Runner
from core.errors import SnapcombError
from core.geometry.defects import Defect, Fix
from core.geometry.part import Part
from core.geometry.repair import Repair
from core.job.job import Job
from core.job.mend import take_part

#: Quiet time before a part is looked through, ms: what the person waits for goes first.
SETTLE = 250
#: Defects that harm nothing as long as the teeth are lapped: they are shown only when asked for.
HARMLESS: tuple[Fix, ...] = ("sliver", "unite")


class Mending(QObject):
    """``defects`` of the part in hand, None until they are known. ``say`` passes a sentence on to the window."""

    changed = Signal()
    #: The view is to show the place of a defect.
    looked = Signal(object)

    def __init__(self, store: Store, runner: Runner, say: Callable[[str], None]) -> None:
        super().__init__()
        self.store, self.runner, self._say = store, runner, say
        self._known: WeakKeyDictionary[Part, tuple[Defect, ...]] = WeakKeyDictionary()
        self.chosen: Defect | None = None
        self._settle = QTimer(self, singleShot=True, interval=SETTLE)
        self._settle.timeout.connect(self._ask)
        store.changed.connect(self._changed)

    @property
    def part(self) -> Part | None:
        """The part in hand."""
        return self.store.job.part if self.store.job is not None else None

    @property
    def defects(self) -> tuple[Defect, ...] | None:
        """What is wrong with the part in hand; None while it is being looked through."""
        return None if self.part is None else self._known.get(self.part)

    @property
    def grave(self) -> tuple[Defect, ...]:
        """Defects that may make the part print wrong."""
        return tuple(d for d in self.defects or () if d.fix not in HARMLESS)

    @property
    def shown(self) -> tuple[Defect, ...]:
        """Defects to be marked in the view: the one that was asked for, else those that are grave."""
        return self.grave if self.chosen is None else (self.chosen,)

    def _changed(self, old: Job | None, new: Job | None) -> None:
        if new is not None and old is not None and new.part is old.part:
            return
        self.chosen = None
        if new is not None and new.part not in self._known:
            self._settle.start()
        self.changed.emit()

    def _ask(self) -> None:
        part = self.part
        if part is not None and part not in self._known:
            self.runner.post("defects", "defects", part, then=lambda found: self._found(part, found))

    def _found(self, part: Part, found: tuple[Defect, ...]) -> None:
        self._known[part] = found
        self.changed.emit()

    def look(self, defect: Defect) -> None:
        """Mark one defect in the view and fly there; looked at again, it is let go."""
        self.chosen = None if self.chosen is defect else defect
        if self.chosen is not None:
            self.looked.emit(defect)
        self.changed.emit()

    def mend(self, label: str, defect: Defect) -> None:
        """Do the repair of a defect in the background, then take it into the job as one step."""
        part = self.part
        if part is None or self.runner.busy("mend"):
            return
        repair = Repair(defect.fix, defect.within / part.mm_per_unit)

        def mended(better: Part) -> None:
            if self.part is part:
                self.store.apply(label, lambda job: take_part(job, better))
            self.changed.emit()

        def failed(problem: SnapcombError) -> None:
            self._say(str(problem))
            self.changed.emit()

        self.runner.post("mend", "mend", part, repair, then=mended, fail=failed)
        self.changed.emit()

    def take_back(self, label: str) -> None:
        """The part as it was filed, without any repair; one step like any other."""
        self.store.apply(label, lambda job: take_part(job, job.part.unmended()))
