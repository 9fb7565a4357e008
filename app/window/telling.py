"""What the window says: title, hint, place of the cursor, progress, history, and sentences across it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QTimer

from app.panels.job_sheet import HAND_OVER, SPOTS, TEETH
from app.settings import Settings
from app.view.viewport import Viewport
from app.window.frame import WindowFrame
from app.work.runner import Runner
from core.errors import NeedsChoice
from core.job.job import Job


class WindowTelling(WindowFrame):
    """Keeps words and figures in step with the bench."""

    _hint: str = ""
    _answer: object = None

    def __init__(self, runner: Runner | None, remembered: Settings | None, view: Viewport | None) -> None:
        super().__init__(runner, remembered, view)
        self._sheet_due = QTimer(self, singleShot=True, interval=0)
        self._sheet_due.timeout.connect(self._refresh_sheet)

    def _refresh(self) -> None:
        job = self.bench.job
        if job is None:
            self.pages.setCurrentIndex(0)
            self.setWindowTitle(self.tr("Snapcomb"))
        else:
            self.setWindowTitle(f"{job.part.name}{'*' if self.store.unsaved else ''} — Snapcomb")
        for action in self.actions_by_name.values():
            action.setEnabled(job is not None or not action.data())
        self._history()
        self.tools.setVisible(job is not None)
        self.hint.setText(self._hint if job else self.tr("Drop a mesh, or press Ctrl+O."))

    def _follow(self, old: Job | None, new: Job | None) -> None:
        """Unfold the line of the sheet where the work goes on."""
        if new is None or old is None or old.part is not new.part:
            return
        if new.draft is not None and (old.draft is None or old.draft.number != new.draft.number):
            self.sheet.unfold(TEETH)
        elif new.draft is None and old.draft is not None:
            self.sheet.unfold(HAND_OVER if len(new.rows) > len(old.rows) else SPOTS)

    def _history(self) -> None:
        undo, redo = self.actions_by_name["undo"], self.actions_by_name["redo"]
        for action, label, words in (
            (undo, self.store.undo_label, self.tr("Undo")), (redo, self.store.redo_label, self.tr("Redo")),
        ):  # fmt: skip
            action.setEnabled(label is not None)
            action.setText(f"{words}: {label}" if label else words)

    def _show_hint(self, text: str) -> None:
        self._hint = text
        self.hint.setText(text)

    def _show_place(self, point: np.ndarray | None) -> None:
        scale = 25.4 if self.bench.view.unit == "inch" else 1.0
        self.cursor_label.setText("" if point is None else "x {:.2f}   y {:.2f}   z {:.2f}".format(*(point / scale)))

    def _progress(self, lane: str, fraction: float, text: str) -> None:
        self.progress.setText(f"{text}  {round(fraction * 100)} %" if fraction else text)

    def _busy(self, lane: str, busy: bool) -> None:
        if not busy and not any(self.runner.busy(name) for name in ("open", "inspect", "write")):
            self.progress.setText("")
        self._sheet_due.start()

    def _refresh_sheet(self) -> None:
        if self.bench.job is not None:
            self.sheet.refresh()

    def say(self, kind: str, text: str, steps: object) -> None:
        """A sentence across the window."""
        self._answer = None
        self.banner.show_message(text, tuple(steps), kind=kind)
        self.banner.show()

    def _choose(self, problem: NeedsChoice, go_on: Callable[[str], object]) -> None:
        """A question of a file format, answered by a button."""
        names = {
            "all": self.tr("All of them"),
            "copy": self.tr("A copy"),
            "take_whole_facets": self.tr("Take the whole facets"),
        }
        names |= {c: self.tr("Object {0}").format(c[7:]) for c in problem.choices if c.startswith("object:")}
        self.ask(str(problem), tuple((c, names.get(c, c.replace("_", " "))) for c in problem.choices), go_on)

    def ask(self, text: str, steps: tuple[tuple[str, str], ...], answer: Callable[[str], object]) -> None:
        """A question across the window, answered by a button."""
        self.banner.show_message(text, steps, kind="attention")
        self.banner.show()
        self._answer = answer

    def _answered(self, word: str) -> None:
        self.banner.hide()
        if callable(self._answer):
            self._answer(word)
